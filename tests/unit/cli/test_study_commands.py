"""The commands improve and study: remedies are listed and applied, many surveys are sized; no file is overwritten."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path

import pytest

import heatloop as hl
from heatloop import __main__ as cli
from tests.helpers.paths import DATA
from tests.helpers.studies import small_houses


@pytest.fixture
def cold(tmp_path: Path) -> Path:
    """Mill Annexe with cooler water, in a folder of its own."""
    folder = shutil.copytree(DATA / "mill-annexe", tmp_path / "annexe")
    path = folder / "survey.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("flow_temp_c = 70.0", "flow_temp_c = 65.0"), encoding="utf-8")
    return path


def test_a_remedy_is_applied_to_a_new_file(cold: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = cold.read_bytes()
    better = tmp_path / "better.toml"
    assert cli.main(["improve", str(cold), "--apply", "1", "-o", str(better)]) == 0
    printed = capsys.readouterr().out
    assert "applied: temperature drop of loop Annexe" in printed
    assert f"{better}: {hl.size(better).verdict.headline}" in printed
    assert cold.read_bytes() == before
    kept = better.read_text(encoding="utf-8")
    assert kept.count("#") == before.decode().count("#")
    assert 'catalogue = "annexe/catalogue.toml"' in kept
    assert cli.main(["improve", str(cold), "--apply", "1", "-o", str(better)]) == 2
    assert "a file there already" in capsys.readouterr().err
    assert better.read_text(encoding="utf-8") == kept
    assert cli.main(["improve", str(cold), "--apply", "1", "-o", str(cold)]) == 2
    assert cold.read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "found"),
    [
        (["--apply", "1"], "--apply without -o"),
        (["-o", "new.toml"], "-o without --apply, --cheapest or --flow-temp"),
        (["--apply", "1", "--cheapest", "-o", "new.toml"], "--apply and --cheapest"),
    ],
)
def test_a_remedy_and_a_file_go_together(
    cold: Path, arguments: list[str], found: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["improve", str(cold), *arguments]) == 2
    assert f"improve: found {found}; required:" in capsys.readouterr().err


def test_no_file_is_written_if_no_survey_passes(cold: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    better = tmp_path / "better.toml"
    assert cli.main(["improve", str(cold), "--cheapest", "--flow-temp", "30", "-o", str(better)]) == 2
    printed = capsys.readouterr()
    assert "Mill Annexe, remedies" in printed.out
    assert "found 30.0, at which no design without a failed check was found; required: a flow temp" in printed.err
    assert not better.exists()


def test_the_cheapest_design_is_written_for_the_lowest_flow_temperature(
    cold: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    better = tmp_path / "better.toml"
    assert cli.main(["improve", str(cold), "--flow-temp", "70", "--flow-temp", "66", "-o", str(better)]) == 0
    assert hl.read_survey(better).project.flow_temp_c == 66.0
    other = tmp_path / "other.toml"
    assert cli.main(["improve", str(cold), "--flow-temp", "30", "--flow-temp", "66", "-o", str(other)]) == 2
    message = capsys.readouterr().err
    assert "found 30.0, at which no design without a failed check was found; required: 66\n" in message
    assert not other.exists()


def test_the_tables_are_written_as_json_with_the_status_of_the_present_survey(
    cold: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["improve", str(cold), "--json", "-"]) == 1
    held = json.loads(capsys.readouterr().out)
    assert {"remedies", "remedy_rooms", "remedy_parts", "summary"} <= set(held)
    assert held["remedies"][0]["number"] == 1
    assert held["summary"]["headline"].startswith("Not ready for installation: Annexe")


def test_study_prints_the_counts_and_writes_the_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    houses = small_houses(tmp_path / "homes", 2)
    arguments = ["study", str(houses), "-o", str(tmp_path / "results"), "--jobs", "1"]
    assert cli.main([*arguments, "--flow-temp", "70"]) == 0
    printed = capsys.readouterr()
    assert "Study of 2 dwellings" in printed.out
    assert "Cases with no failed check: 2, of these with cautions: 2; with failed checks: 0; not sized: 0." in " ".join(
        printed.out.split()
    )
    assert printed.err == ""
    assert (tmp_path / "results" / "index.html").is_file()
    assert cli.main(arguments) == 2
    refused = capsys.readouterr()
    assert refused.out == ""
    assert refused.err.count("\n") == 1
    assert "found a study of other cases; required: another folder" in refused.err


@pytest.mark.parametrize(("flow_temp", "text"), [("45", "heat to the room"), ("70", "not sized: 1")])
def test_study_exits_1_if_a_dwelling_fails_or_is_not_sized(
    tmp_path: Path, flow_temp: str, text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    houses = small_houses(tmp_path / "homes", 1)
    if flow_temp == "70":
        (houses / "broken.toml").write_text("[project")
    assert cli.main(["study", str(houses), "-o", str(tmp_path / "r"), "--flow-temp", flow_temp, "--jobs", "1"]) == 1
    assert text in " ".join(capsys.readouterr().out.split())


def test_study_lists_all_faults_of_a_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "cases.csv").write_text("survey,project.delta_t_k\nnone.toml,5\n,0\n")
    assert cli.main(["study", str(tmp_path / "cases.csv"), "-o", str(tmp_path / "r")]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert [line.partition("cases.csv: ")[2].partition(":")[0] for line in lines] == [
        "line 2, survey", "line 3, survey", "line 3, project.delta_t_k",
    ]  # fmt: skip


def test_study_without_its_library_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    assert cli.main(["study", str(small_houses(tmp_path / "homes", 1)), "-o", str(tmp_path / "r")]) == 2
    message = capsys.readouterr().err
    assert message.count("\n") == 1
    assert 'requires pyarrow, which is not installed; install heatloop with its optional part "study"' in message
    assert not (tmp_path / "r").exists()
