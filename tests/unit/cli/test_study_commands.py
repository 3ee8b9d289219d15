"""The command improve lists remedies, applies them to a new file and never writes over one."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

import heatloop as hl
from heatloop import __main__ as cli
from tests.helpers.paths import DATA


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
        (["-o", "new.toml"], "-o without --apply or --cheapest"),
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
    assert "improve: flow_temp_c: found 30.0; required: a search that finds a survey" in printed.err
    assert not better.exists()


def test_the_tables_are_written_as_json_with_the_status_of_the_present_survey(
    cold: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["improve", str(cold), "--json", "-"]) == 1
    held = json.loads(capsys.readouterr().out)
    assert {"remedies", "remedy_rooms", "remedy_parts", "summary"} <= set(held)
    assert held["remedies"][0]["number"] == 1
    assert held["summary"]["headline"].startswith("Not ready for installation: Annexe")
