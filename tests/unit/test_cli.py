"""The command line: exit status, one line a fault, quiet pipes, help that teaches."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

import heatloop as hl
from heatloop import __main__ as cli

ROOT = Path(__file__).resolve().parents[2]
ALDER, MILL = (ROOT / "data" / name / "survey.toml" for name in ("alder-lodge", "mill-annexe"))


def run(*arguments: str, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    """The command line in a process of its own."""
    command = [sys.executable, "-m", "heatloop", *arguments]
    return subprocess.run(command, cwd=cwd, capture_output=True, text=True, timeout=120, check=False)


def test_size_prints_and_writes_the_same_answers_as_the_library(tmp_path: Path) -> None:
    done = run("size", str(MILL), "--json", str(tmp_path / "d.json"))
    design = hl.size(MILL)
    assert done.returncode == (1 if design.summary["checks_failed"] else 0)
    assert done.stderr == ""
    assert "\x1b" not in done.stdout
    assert f"{design.loops['flow_l_h'].iloc[0]:.0f}" in done.stdout
    exported = json.loads((tmp_path / "d.json").read_text(encoding="utf-8"))
    assert exported == json.loads(json.dumps(design.to_dict()))


def test_a_design_that_fails_a_check_exits_1(capsys: pytest.CaptureFixture[str]) -> None:
    failed = hl.size(ALDER).summary["checks_failed"]
    status = cli.main(["size", str(ALDER)])
    told = capsys.readouterr()
    assert failed > 0, "the demo is meant to fail a check"
    assert status == 1
    assert told.err == ""
    assert "Checks that fail" in told.out
    assert told.out.splitlines()[-1].startswith(f"NOT READY: {failed} check")


def test_wrong_input_exits_2_with_a_line_for_each_fault(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = MILL.read_text(encoding="utf-8").replace("outdoor_c = -4.0", 'outdoor_c = "cold"')
    text = text.replace("indoor_c = 21.0", "indoor_c = nan")
    (tmp_path / "survey.toml").write_text(text, encoding="utf-8")
    (tmp_path / "catalogue.toml").write_bytes((MILL.parent / "catalogue.toml").read_bytes())
    assert cli.main(["size", str(tmp_path / "survey.toml")]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    lines = told.err.splitlines()
    assert len(lines) == 2
    assert all(line.startswith("heatloop: ") and "survey.toml: " in line for line in lines)
    assert "outdoor_c" in lines[0]
    assert "indoor_c" in lines[1]


@pytest.mark.parametrize("arguments", [["size", "nowhere.toml"], ["report", "nowhere.toml", "-o", "out"]])
def test_a_missing_file_exits_2_with_one_line(
    arguments: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert cli.main(arguments) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert "nowhere.toml" in told
    assert list(tmp_path.iterdir()) == []


def test_a_json_file_that_cannot_be_written_exits_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["size", str(MILL), "--json", str(tmp_path / "no" / "d.json")]) == 2
    told = capsys.readouterr()
    assert told.err.count("\n") == 1
    assert "No such file" in told.err


@pytest.mark.parametrize(
    ("fault", "status", "words"),
    [(KeyboardInterrupt(), 130, "interrupted"), (RuntimeError("two\nlines"), 3, "RuntimeError: two lines")],
)
def test_no_traceback_ever(
    fault: BaseException, status: int, words: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(survey: object) -> None:
        raise fault

    monkeypatch.setattr(hl, "size", broken)
    assert cli.main(["size", str(MILL)]) == status
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert words in told.err


def test_help_teaches_by_example_and_tells_the_exit_status(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        cli.main(["--help"])
    assert stopped.value.code == 0
    told = capsys.readouterr().out
    assert max(map(len, told.splitlines())) <= 100
    for words in ("heatloop size survey.toml", "heatloop report survey.toml -o report", "exit status", "  3  "):
        assert words in told
    for command in cli.COMMANDS:
        assert command.name in told
        assert command.example.startswith(f"heatloop {command.name} ")
        cli.parser().parse_args(command.example.split()[1:])


@pytest.mark.parametrize("arguments", [[], ["fly"], ["size"], ["report", "survey.toml"]])
def test_a_wrong_command_exits_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        cli.main(arguments)
    assert stopped.value.code == 2
    assert "usage:" in capsys.readouterr().err


def test_a_reader_that_goes_away_is_no_fault() -> None:
    command = f"'{sys.executable}' -m heatloop size '{MILL}' | head -c 1 > /dev/null; echo ${{PIPESTATUS[0]}}"
    done = subprocess.run(["bash", "-c", command], cwd=ROOT, capture_output=True, text=True, timeout=120, check=False)
    assert done.stderr == ""
    assert done.stdout.strip() in ("0", "1")


def test_importing_the_package_and_help_bring_no_heavy_parts() -> None:
    heavy = ("numpy", "pandas", "scipy", "pydantic", "CoolProp", "matplotlib", "openpyxl", "nbclient", "IPython")
    code = f"import sys, heatloop, heatloop.__main__ as m; m.parser(); print([n for n in {heavy} if n in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.stdout.strip() == "[]", done.stderr


def test_every_public_name_comes_when_asked_for_and_no_module_takes_its_place() -> None:
    code = (
        "import heatloop.rate, heatloop as hl; "
        "print(all(getattr(hl, n) is not None and n in dir(hl) for n in hl.__all__), callable(hl.rate))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.stdout.strip() == "True True", done.stderr
    with pytest.raises(AttributeError, match="no attribute 'sise'"):
        hl.sise  # noqa: B018
