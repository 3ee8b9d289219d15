"""The command lowest-flow-temperature: what it prints and writes."""

from __future__ import annotations

import json

import heatloop as hl
from heatloop import __main__ as cli
from tests.helpers.paths import DATA

MILL = DATA / "mill-annexe" / "survey.toml"


def test_lowest_flow_temperature_prints_the_temperature_and_the_curve(capsys, mill_annexe):
    assert cli.main(["lowest-flow-temperature", str(MILL), "--presettings", "kept"]) == 0
    told = capsys.readouterr()
    lowest = hl.lowest_flow_temperature(mill_annexe, presettings="kept")
    assert f"{lowest.flow_temp_c:.1f} °C, determined by Annexe" in told.out
    assert "Presettings: kept." in told.out
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


def test_a_search_without_room_is_one_line(capsys):
    assert cli.main(["lowest-flow-temperature", str(MILL), "--min-flow-temp", "95"]) == 2
    assert capsys.readouterr().err == (
        "heatloop: lowest_flow_temperature: min_flow_temp_c: found 95; "
        "required: below 82 °C, the maximum of the source\n"
    )
