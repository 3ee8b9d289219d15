"""The command lowest-flow-temperature: what it prints and writes."""

from __future__ import annotations

import json
import re

import pytest

import heatloop as hl
from heatloop import __main__ as cli
from tests.helpers.paths import DATA

MILL = DATA / "mill-annexe" / "survey.toml"


def test_lowest_flow_temperature_prints_the_temperature_and_the_curve(capsys, mill_annexe):
    assert cli.main(["lowest-flow-temperature", str(MILL), "--presettings", "kept"]) == 0
    told = capsys.readouterr()
    lowest = hl.lowest_flow_temperature(mill_annexe, presettings="kept")
    assert f"{lowest.flow_temp_c:.1f} °C (rounded up to 0.1 °C), determined by Annexe" in told.out
    assert "Valves kept (presettings: kept)." in told.out
    assert "Mill Annexe, weather curve" in told.out
    assert told.err == ""


def test_lowest_flow_temperature_writes_all_tables_as_json(tmp_path, capsys):
    file = tmp_path / "lowest.json"
    arguments = ["lowest-flow-temperature", str(MILL), "--presettings", "kept", "--json"]
    assert cli.main([*arguments, str(file)]) == 0
    assert "Annexe" in capsys.readouterr().out
    held = json.loads(file.read_text(encoding="utf-8"))
    assert set(held) == {"schema_version", "summary", "margins", "weather_curve", "room_flow_temps"}
    assert held["summary"]["presettings"] == "kept"
    assert held["summary"]["slope"] > 1.0
    assert cli.main([*arguments, str(file)]) == 0, "a file of heatloop is replaced"
    capsys.readouterr()
    assert cli.main([*arguments, "-"]) == 0
    assert json.loads(capsys.readouterr().out) == held


def test_a_year_file_adds_energy_and_cost(tmp_path, capsys, mill_annexe):
    file, year = tmp_path / "year.json", tmp_path / "year.toml"
    lines = (MILL.parent / "year.toml").read_text(encoding="utf-8").splitlines()
    year.write_text("\n".join(line for line in lines if not re.search(r"= (0|5|10|15)\.0, hours", line)))
    arguments = ["lowest-flow-temperature", str(MILL), "--presettings", "kept", "--year", str(year)]
    assert cli.main([*arguments, "--json", str(file)]) == 0
    summary = hl.yearly_energy(mill_annexe, year).summary
    assert f"Cost: {summary['cost']:.0f} EUR." in " ".join(capsys.readouterr().out.split())
    held = json.loads(file.read_text(encoding="utf-8"))
    assert len(held["year_bins"]) == 2
    assert held["summary"]["cost"] == pytest.approx(summary["cost"], rel=1e-6)


def test_every_fault_of_a_year_file_is_a_line_and_the_survey_is_not_sized(tmp_path, capsys, monkeypatch):
    def never(*arguments):
        raise AssertionError("sized although the year file has faults")

    monkeypatch.setattr("heatloop.workflows.flow_temperature.lowest_flow_temperature", never)
    year = tmp_path / "year.toml"
    year.write_text((MILL.parent / "year.toml").read_text("utf-8").replace("0.10", '"dear"').replace("60 }", "-1 }"))
    assert cli.main(["lowest-flow-temperature", str(MILL), "--year", str(year)]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 2
    assert all(line.startswith(f"heatloop: {year}: ") for line in lines)


@pytest.mark.parametrize(
    ("asked", "required"), [("95", "below 82 °C, the maximum of the source"), ("-300", "at least 0.1 °C")]
)
def test_a_search_without_room_is_one_line(asked, required, capsys):
    assert cli.main(["lowest-flow-temperature", str(MILL), "--min-flow-temp", asked]) == 2
    line = f"heatloop: lowest_flow_temperature: min_flow_temp_c: found {asked}; required: {required}\n"
    assert capsys.readouterr().err == line
