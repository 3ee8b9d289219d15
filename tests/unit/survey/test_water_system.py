"""The table [system] of a survey: every key reaches its value, and contradictions are reported in a line."""

from __future__ import annotations

import copy
import tomllib
from typing import Any

import pytest

import heatloop as hl
from heatloop.findings.input_errors import InputError
from heatloop.survey.entry import read_survey
from heatloop.survey.read import survey_of
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import (
    AdditionalVolume,
    Additive,
    CommissioningWeather,
    PressureTest,
    Vessel,
    WaterSystem,
)
from heatloop.workflows.commission import commission
from tests.helpers.paths import DATA

PATH = DATA / "mill-annexe" / "survey.toml"
TABLES = tomllib.loads(PATH.read_text(encoding="utf-8"))

WHOLE = """
fill_c = 12.0
max_temp_c = 75
expansion = "EN 12828"
relief_kpa = 250
static_margin_kpa = 20.0
highest_point_m = 3.0
vessel = { volume_l = 18.0, precharge_kpa = 80, level_m = 0.5, max_pressure_kpa = 600 }
test = { factor = 1.5, settle_minutes = 10, minutes = 120, source = "the client" }
additional_volume = [{ name = "buffer", water_l = 40.0 }]
hose_kpa = 200
purge_velocity_m_s = 0.6
old_system = true
metals = ["copper", "stainless steel"]
softened_fill = true
softened_fill_allowed = true
ph = [7.2, 8.4]
flush_volumes = 5
cleanse_minutes = 90
filter_line_mm = 28
inhibitor = { name = "a", per_cent = 1.5, container_l = 1.0, mixed_metals = true, source = "its label" }
cleanser = { name = "b", dose_ml_per_l = 10.0 }
weather = { compensated = false, outdoor_c = 5, flow_temp_c = 60.0 }
"""


def survey_with(text: str) -> SurveyData:
    tables: dict[str, Any] = copy.deepcopy(TABLES)
    tables["system"] = tomllib.loads(text)
    return survey_of(tables, PATH)


def test_every_key_reaches_its_value() -> None:
    assert survey_with(WHOLE).system == WaterSystem(
        fill_c=12.0,
        max_temp_c=75.0,
        expansion="EN 12828",
        relief_kpa=250.0,
        static_margin_kpa=20.0,
        highest_point_m=3.0,
        vessel=Vessel(18.0, 80.0, 0.5, 600.0),
        test=PressureTest(1.5, None, 10.0, 120.0, "the client"),
        additional_volume=(AdditionalVolume("buffer", 40.0),),
        hose_kpa=200.0,
        purge_velocity_m_s=0.6,
        old_system=True,
        metals=("copper", "stainless steel"),
        softened_fill=True,
        softened_fill_allowed=True,
        ph=(7.2, 8.4),
        flush_volumes=5.0,
        cleanse_minutes=90.0,
        filter_line_mm=28.0,
        inhibitor=Additive("a", 1.5, None, 1.0, True, "its label"),
        cleanser=Additive("b", None, 10.0),
        weather=CommissioningWeather(False, 5.0, 60.0),
    )


def test_a_survey_without_it_reads_as_before() -> None:
    assert survey_of(copy.deepcopy(TABLES), PATH).system == WaterSystem()
    assert survey_with("").system == WaterSystem()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("relief = 300", 'system: found the key "relief"; required: a key; the nearest is "relief_kpa"'),
        ("relief_kpa = 50", "system, relief_kpa: found 50; required: a number in kPa, gauge, more than 50"),
        ("max_temp_c = 8.0", "system, max_temp_c: found 8; required: more than fill_c, 10"),
        ('inhibitor = { name = "a" }', "system, inhibitor: found no dose; required: per_cent or dose_ml_per_l"),
        (
            'cleanser = { name = "a", per_cent = 1, dose_ml_per_l = 9 }',
            "system, cleanser: found per_cent and dose_ml_per_l; required: one of them",
        ),
        (
            "vessel = { precharge_kpa = 320 }",
            "system, vessel, precharge_kpa: found 320; required: less than relief_kpa",
        ),
        ("ph = [9.0, 7.0]", "system, ph: found 9 and 7; required: two values of pH, the smaller first"),
        ("ph = [7.0]", "system, ph: found a list of 1; required: a list of 2 values of pH"),
        ('metals = ["tin"]', "system, metals, value 1: found the text 'tin'; required: \"copper\""),
        ('additional_volume = [{ name = "b", water_l = 0 }]', 'system, additional_volume "b", water_l: found 0'),
        ("test = { factor = 0.9 }", "system, test, factor: found 0.9; required: a number, at least 1"),
        ('expansion = "table"', 'system, expansion: found the text \'table\'; required: "density" or "EN 12828"'),
    ],
)
def test_what_is_wrong_is_told_in_one_line(text: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        survey_with(text)
    assert message in str(caught.value)
    assert len(str(caught.value).splitlines()) == 1


def test_a_pack_from_every_key() -> None:
    pack = commission(hl.size(survey_with(WHOLE)))
    table = pack.tables["pressures"].set_index("quantity")
    assert table["value"]["strength test"] == pytest.approx(1.5 * 250.0)
    assert table["source"]["strength test"] == "the client"
    assert table["value"]["water content"] == pytest.approx(13.994 + 40.0, abs=0.002)
    assert table["source"]["vessel"] == "survey"
    assert pack.today.flow_temp_c == 60.0
    assert (pack.tables["purging"]["purge_velocity_m_s"] - 0.6).abs().max() < 1e-6
    doses = pack.tables["doses"].set_index("use")["dose_l"]
    assert doses["inhibitor"] == pytest.approx(0.015 * 53.994, abs=1e-4)
    assert doses["cleanser"] == pytest.approx(0.010 * 53.994, abs=1e-4)


def test_the_demo_shows_the_table() -> None:
    system = read_survey(DATA / "alder-lodge" / "draft.toml").system
    assert system.inhibitor is not None
    assert "invented" in system.inhibitor.name
    assert system.metals == ("copper", "brass")
