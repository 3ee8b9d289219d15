"""Bad input at the command line: status 2, plain lines that name the place, and no file touched."""

import pytest

from heatloop.__main__ import main
from tests.helpers.bad_surveys import BAD, CASES, changed

EARLIER = '{"schema_version": 1, "summary": {}}'
WHOLE_FILES = ("not_toml.toml", "unfinished.toml", "latin_1.toml", "empty.toml", "several_faults.toml", "no_such.toml")


def refused(arguments, capsys, kept):
    """Run the command; the lines it printed, after checking status, output and the file that was there before."""
    kept.write_text(EARLIER, encoding="utf-8")
    status = main([str(argument) for argument in arguments])
    out, err = capsys.readouterr()
    assert status == 2
    assert out == ""
    assert "Traceback" not in err
    assert kept.read_text(encoding="utf-8") == EARLIER
    return err.splitlines()


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_a_changed_survey(case, tmp_path, capsys):
    survey = changed(tmp_path / "job", case["change"], case.get("file", "survey"))
    kept = tmp_path / "answer.json"
    lines = refused(["size", survey, "--json", kept], capsys, kept)
    assert any(case["place"] in line and " found " in line and "; required: " in line for line in lines)


@pytest.mark.parametrize("file", WHOLE_FILES)
@pytest.mark.parametrize("command", ["size", "report"])
def test_a_whole_file(file, command, tmp_path, capsys):
    folder = tmp_path / "out"
    folder.mkdir()
    kept = folder / "design.json"
    target = ["--json", kept] if command == "size" else ["-o", folder]
    lines = refused([command, BAD / file, *target], capsys, kept)
    assert lines
    assert all(line.startswith(str(BAD)) or ".toml" in line for line in lines)
    assert sorted(path.name for path in folder.iterdir()) == ["design.json"]


def test_a_drop_that_no_flow_gives(tmp_path, capsys):
    survey = changed(tmp_path / "job", [["delta_t_k = 8", "delta_t_k = 26"]])
    kept = tmp_path / "answer.json"
    lines = refused(["size", survey, "--json", kept], capsys, kept)
    assert "delta_t_k: found a design drop of 26 K; required: at most" in lines[0]
