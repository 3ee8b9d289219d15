"""Commands for site: commission and diagnose say what the library says."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import heatloop as hl
from heatloop import __main__ as cli
from heatloop.text.summary import line_width
from tests.helpers.paths import DATA

ALDER, MILL = DATA / "alder-lodge" / "draft.toml", DATA / "mill-annexe" / "survey.toml"


def test_commission_writes_the_sheet_of_the_day_and_leaves_readings_that_are_there(
    mill_annexe: hl.Design, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "site"
    assert cli.main(["commission", str(MILL), "-o", str(folder), "--outdoor", "5", "--flow-temp", "58"]) == 0
    sheet, form = folder / "commissioning.html", folder / "readings.csv"
    assert capsys.readouterr().out.splitlines() == [mill_annexe.verdict.headline, str(sheet), str(form)]
    words = sheet.read_text(encoding="utf-8")
    assert "58.0\N{NO-BREAK SPACE}°C (read at the source)" in words
    rows = mill_annexe.commissioning(5.0, 58.0).tables["commissioning"]
    flow_c, return_c = (rows[name].iloc[0] for name in ("expected_flow_temp_c", "return_temp_heads_removed_c"))
    assert f">{flow_c:.1f}, {return_c:.1f}<" in words
    form.write_text("what a fitter wrote", encoding="utf-8")
    assert cli.main(["commission", str(MILL), "-o", str(folder)]) == 0
    assert capsys.readouterr().out.splitlines() == [mill_annexe.verdict.headline, str(sheet)]
    assert form.read_text(encoding="utf-8") == "what a fitter wrote"


@pytest.mark.parametrize("day", [["--outdoor", "500"], ["--flow-temp", "nan"], ["--outdoor", "inf"]])
def test_commission_refuses_a_day_that_cannot_be(
    day: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["commission", str(MILL), "-o", str(tmp_path / "site"), *day]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("heatloop: commissioning: ")
    assert len(told.err.splitlines()) == 1
    assert not (tmp_path / "site").exists()


def test_diagnose_says_what_the_library_says(
    alder_draft: hl.Design, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    readings = ALDER.parent / "readings-air.csv"
    found = hl.diagnose(alder_draft, readings)
    assert cli.main(["diagnose", str(ALDER), str(readings), "--json", str(tmp_path / "found.json")]) == 1
    told = capsys.readouterr()
    assert told.err == ""
    with line_width(80):
        assert told.out == found.text
    assert 'The loop "Nursery and bathroom" receives too little water' in told.out
    written = json.loads((tmp_path / "found.json").read_text(encoding="utf-8"))
    assert written["summary"]["verdict"] == "fault"
    assert cli.main(["diagnose", str(ALDER), str(ALDER.parent / "readings-after.csv")]) == 0


def test_readings_that_cannot_be_used_are_lines_with_their_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A loop left out, Fahrenheit, a row twice and a decimal comma in quotes, in a file with a byte-order mark."""
    text = (ALDER.parent / "readings-air.csv").read_text(encoding="utf-8")
    text = text.replace("flow temperature,Kitchen,,48.2,degC,0.5\n", "")
    text = text.replace("return temperature,Kitchen,,41.1,degC,0.5", "return temperature,Kitchen,,106,degF,0.5")
    text = text.replace("flow temperature,Bedrooms,,47.5", 'flow temperature,Bedrooms,,"47,5"')
    text += "flow temperature,Living room,,48.5,degC,0.5\n"
    (tmp_path / "visit.csv").write_text(text, encoding="utf-8-sig")
    assert cli.main(["diagnose", str(ALDER), str(tmp_path / "visit.csv")]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    lines = told.err.splitlines()
    assert len(lines) == 4
    assert all(line.startswith(f"heatloop: {tmp_path / 'visit.csv'}: ") for line in lines)
    for words in (
        'no flow temperature of the loop "Kitchen"',
        "106 °F is 41.1 °C",
        "a decimal point, not a comma",
        "line 4 has it",
    ):
        assert words in told.err


def test_a_return_above_its_flow_is_a_question_beside_the_diagnosis(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (ALDER.parent / "readings-after.csv").read_text(encoding="utf-8")
    text = text.replace("flow temperature,Kitchen,,41.9", "flow temperature,Kitchen,,37")
    text = text.replace("return temperature,Kitchen,,37,", "return temperature,Kitchen,,41.9,")
    (tmp_path / "visit.csv").write_text(text, encoding="utf-8")
    assert cli.main(["diagnose", str(ALDER), str(tmp_path / "visit.csv")]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert 'Flow and return of the loop "Kitchen" are swapped' in told
    assert "the return of Kitchen, 41.9 °C, is above its flow, 37 °C" in told


@pytest.mark.parametrize("seconds", ["-5", "0", "nan", "inf"])
def test_a_cutting_time_that_is_none_is_one_line_before_the_calculation(seconds, capsys) -> None:
    site = DATA / "alder-lodge"
    asked = ["price", str(site / "survey.toml"), "--prices", str(site / "prices.csv"), "--cutting-time", seconds]
    assert cli.main(asked) == 2
    line = f"heatloop: price: --cutting-time: found {seconds}; required: a number of seconds above 0\n"
    assert capsys.readouterr().err == line
