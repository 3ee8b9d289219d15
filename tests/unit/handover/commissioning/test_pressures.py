"""Pressures of the closed system worked by hand, what each row of the table says, and the verdicts on them."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import replace
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.handover.commissioning.pressure_checks import pressure_checks, pressures_table
from heatloop.handover.commissioning.pressures import (
    COMMON_SIZES_L,
    PressureRating,
    Pressures,
    _next_size_l,
    pressures,
)
from heatloop.layout.build import build_layout
from heatloop.physics.pressurisation import expansion_by_density, expansion_en_12828
from heatloop.physics.water import plain_water
from heatloop.survey.entry import read_survey
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import Antifreeze, PressureTest, Vessel, WaterSystem
from tests.helpers.emitters_alone import written

WATER = plain_water()
G_M_S2 = 9.80665
STATED = WaterSystem(
    fill_c=12.0,
    max_temp_c=80.0,
    relief_kpa=600.0,
    static_margin_kpa=25.0,
    highest_point_m=7.0,
    vessel=Vessel(volume_l=200.0, precharge_kpa=110.0, level_m=1.0, max_pressure_kpa=600.0),
    test=PressureTest(pressure_kpa=900.0, settle_minutes=20.0, minutes=45.0, source="the maker"),
    hose_kpa=250.0,
)


def density(temp_c: float) -> float:
    return float(WATER.density_kg_m3(temp_c))


def of(design: hl.Design, content_l: float, system: WaterSystem, survey: SurveyData | None = None) -> Pressures:
    survey = dataclasses.replace(survey or design.survey, system=system)
    return pressures(survey, design.layout, content_l, 62.0, WATER)


def rows(design: hl.Design, found: Pressures, system: WaterSystem) -> dict[str, tuple[float, str, str, str]]:
    """Value, unit, formula and source by quantity."""
    table = pressures_table(dataclasses.replace(design.survey, system=system), found)
    return {row[0]: tuple(row[1:]) for row in table.itertuples(index=False)}  # type: ignore[misc]


def test_everything_stated(alder_lodge: hl.Design) -> None:
    """A thousand litres: the reserve is half a per cent of them, 5 l; the relief valve leaves a tenth below it."""
    found = of(alder_lodge, 1000.0, STATED)
    grown_l = 1000.0 * (density(12.0) / density(80.0) - 1.0)
    gas = 200.0 * (110.0 + 100.0)
    least, most = gas / 195.0 - 100.0, gas / (gas / 640.0 + grown_l) - 100.0
    fill = 0.5 * (least + most)
    expected = {
        "content_l": 1000.0,
        "max_temp_c": 80.0,
        "expansion": grown_l / 1000.0,
        "expansion_l": grown_l,
        "static_kpa": density(12.0) * G_M_S2 * 6.0 / 1000.0,
        "below_kpa": density(12.0) * G_M_S2 * 1.0 / 1000.0,
        "precharge_kpa": 110.0,
        "final_kpa": 540.0,
        "reserve_l": 5.0,
        "min_vessel_l": (grown_l + 5.0) * 640.0 / 430.0,
        "vessel_l": 200.0,
        "min_fill_kpa": least,
        "max_fill_kpa": most,
        "fill_kpa": fill,
        "hot_kpa": gas / (gas / (fill + 100.0) - grown_l) - 100.0,
        "test_kpa": 900.0,
    }
    for name, value in expected.items():
        assert getattr(found, name) == pytest.approx(value, rel=1e-9), name
    assert (found.test_source, found.precharge_stated, found.vessel_stated) == ("the maker", True, True)
    warm_l = 1000.0 * (density(12.0) / density(45.0) - 1.0)
    assert found.running_kpa(WATER, 45.0) == pytest.approx(gas / (gas / (fill + 100.0) - warm_l) - 100.0, rel=1e-9)
    assert found.running_kpa(WATER, 12.0) == found.running_kpa(WATER, 5.0) == found.fill_kpa


def test_nothing_stated(alder_lodge: hl.Design) -> None:
    """The top is that of the skirting upstairs (2.65 m + 0.14 m), the vessel stands on the ground floor."""
    found = of(alder_lodge, 80.0, WaterSystem())
    grown_l = 80.0 * (density(10.0) / density(55.0) - 1.0)  # the source gives 55 °C at most
    static = density(10.0) * G_M_S2 * 2.79 / 1000.0
    per_litre = (250.0 + 100.0) / (250.0 - static - 30.0)
    small_l = grown_l * per_litre / (1.0 - 0.2 * per_litre)
    assert (found.highest_point_m, found.vessel_m, found.below_kpa) == (pytest.approx(2.79), 0.0, 0.0)
    assert found.static_kpa == pytest.approx(static)
    assert found.precharge_kpa == pytest.approx(static + 30.0)
    assert found.min_vessel_l == pytest.approx(small_l)
    assert found.reserve_l == pytest.approx(0.2 * small_l), "a fifth of a vessel of up to 15 litres"
    assert (found.vessel_l, found.test_kpa) == (8.0, pytest.approx(1.3 * 300.0))
    assert found.test_source.startswith("common practice; EN 14336, as quoted by others, ")
    assert not found.precharge_stated
    assert not found.vessel_stated


def test_the_reserve_between_small_and_large_is_three_litres(alder_lodge: hl.Design) -> None:
    assert of(alder_lodge, 400.0, WaterSystem()).reserve_l == 3.0
    assert of(alder_lodge, 600.0, WaterSystem()).reserve_l == pytest.approx(3.0)
    assert of(alder_lodge, 700.0, WaterSystem()).reserve_l == pytest.approx(3.5)


def test_the_vessel_is_the_next_common_size_or_the_least_volume_beyond_them(alder_lodge: hl.Design) -> None:
    large = of(alder_lodge, 20_000.0, WaterSystem())
    assert large.min_vessel_l > 600.0
    assert large.vessel_l == large.min_vessel_l


def test_the_maximum_temperature_is_stated_or_the_sources_or_the_designs(alder_lodge: hl.Design) -> None:
    survey = alder_lodge.survey
    unlimited = dataclasses.replace(survey, source=dataclasses.replace(survey.source, max_flow_temp_c=None))
    assert of(alder_lodge, 80.0, WaterSystem(max_temp_c=70.0)).max_temp_c == 70.0
    assert of(alder_lodge, 80.0, WaterSystem()).max_temp_c == 55.0
    assert of(alder_lodge, 80.0, WaterSystem(), unlimited).max_temp_c == 62.0
    assert of(alder_lodge, 80.0, WaterSystem(max_temp_c=8.0)).max_temp_c == 10.0, "never below that of filling"


def test_antifreeze_expands_by_its_density_whatever_the_rule(alder_lodge: hl.Design) -> None:
    survey = alder_lodge.survey
    project = dataclasses.replace(survey.project, antifreeze=Antifreeze("ethylene glycol", percent_by_volume=30.0))
    rule = WaterSystem(expansion="EN 12828", max_temp_c=70.0)
    assert of(alder_lodge, 80.0, rule).by_table
    found = of(alder_lodge, 80.0, rule, dataclasses.replace(survey, project=project))
    assert not found.by_table
    table = pressures_table(dataclasses.replace(survey, project=project), found)
    row = table.set_index("quantity").loc["expansion"]
    assert (row["formula"], row["source"]) == ("density cold / density hot − 1", "Melinder through CoolProp")


def test_a_vessel_that_cannot_work_has_no_fill_and_none_when_hot(alder_lodge: hl.Design) -> None:
    small = of(alder_lodge, 80.0, WaterSystem(vessel=Vessel(volume_l=1.0)))
    assert math.isnan(small.fill_kpa)
    assert math.isnan(small.hot_kpa)
    assert math.isnan(small.running_kpa(WATER, 45.0))
    assert small.min_vessel_l > 1.0
    high = of(alder_lodge, 80.0, WaterSystem(highest_point_m=30.0))
    assert math.isnan(high.min_vessel_l)
    assert math.isnan(high.reserve_l)
    assert math.isnan(high.fill_kpa)


def test_rows_of_the_table(alder_lodge: hl.Design) -> None:
    found = of(alder_lodge, 1000.0, STATED)
    by = rows(alder_lodge, found, STATED)
    assert list(by) == [
        "water content", "temperature when filled", "maximum temperature", "expansion", "expansion volume",
        "static head", "precharge for the calculation", "precharge to set at the vessel",
        "relief valve", "maximum working pressure", "reserve of the vessel",
        "minimum vessel", "vessel", "minimum cold fill", "maximum cold fill", "cold fill pressure",
        "pressure at the top, cold", "pressure at the maximum temperature", "strength test",
        "wait before the strength test", "duration of the strength test", "lowest pressure rating of a part",
        "pressure at the filling hose", "parts without a stated pressure rating",
    ]  # fmt: skip
    values = {name: row[0] for name, row in by.items()}
    assert values["expansion"] == pytest.approx(100.0 * (density(12.0) / density(80.0) - 1.0))
    assert by["expansion"][1:] == ("%", "density cold / density hot − 1", "IAPWS-95 through CoolProp")
    assert by["static head"][2] == "density × g × (7.00 m − 1.00 m)"
    assert by["precharge for the calculation"][2:] == ("as stated", "survey")
    assert by["vessel"][3] == "survey"
    assert values["pressure at the top, cold"] == pytest.approx(values["cold fill pressure"] - values["static head"])
    assert by["strength test"][2:] == ("stated", "the maker")
    assert by["wait before the strength test"][:2] == (20.0, "min")
    assert by["duration of the strength test"][:2] == (45.0, "min")
    assert by["wait before the strength test"][3] == by["duration of the strength test"][3] == "the maker"
    assert by["lowest pressure rating of a part"][:3] == (600.0, "kPa", "vessel: expansion vessel")
    assert by["pressure at the filling hose"][0] == 250.0
    assert {row[1] for name, row in by.items() if "fill" in name and "temp" not in name} == {"kPa"}


def test_rows_of_what_is_not_stated(alder_lodge: hl.Design) -> None:
    own = WaterSystem(expansion="EN 12828")
    found = of(alder_lodge, 80.0, own)
    by = rows(alder_lodge, found, own)
    assert by["expansion"][0] == pytest.approx(100.0 * (0.0031 + 3.9e-6 * 55.0**2))
    assert by["expansion"][2:] == ("EN 12828 table, filled at 10 °C", "EN 12828 annex D, from memory")
    assert by["precharge for the calculation"][3] == "EN 12828 annex D, from memory"
    assert by["vessel"][3] == by["wait before the strength test"][3] == "common practice"
    assert by["strength test"][2] == "1.3 × relief valve"
    assert math.isnan(by["lowest pressure rating of a part"][0])
    assert by["lowest pressure rating of a part"][2] == "no rating is stated for any part"
    assert by["parts without a stated pressure rating"][0] == len(found.parts)
    assert "pressure at the filling hose" not in by
    stated = of(alder_lodge, 80.0, WaterSystem(test=PressureTest(pressure_kpa=500.0)))
    assert stated.test_source == "survey"


def test_every_part_under_pressure_is_listed_once(alder_lodge: hl.Design) -> None:
    """Against the survey and the placed joints and ends of the layout."""
    survey = alder_lodge.survey
    found = of(alder_lodge, 80.0, WaterSystem()).parts
    assert len(found) == len(set(found))
    by: dict[str, set[str]] = {}
    for part in found:
        by.setdefault(part.kind, set()).add(part.name)
    loops = survey.loops
    pipes = {trunk.pipe for trunk in survey.trunks} | {loop.tails.pipe for loop in loops}
    pipes |= {loop.crossing.pipe for loop in loops if loop.crossing is not None}
    valves = {
        name
        for loop in loops
        for pair in (loop.valves, *loop.arm_valves)
        for name in (pair.flow, pair.return_)
        if name is not None
    }
    assert by["profile"] == {profile.name for profile in survey.profiles}
    assert by["pipe"] == pipes
    assert by["valve"] == valves
    assert by["emitter"] == {item.emitter for loop in loops for item in loop.emitters}
    assert by["source"] == {survey.source.kind}
    assert by["vessel"] == {"expansion vessel"}
    assert by["joint"] <= {joint.name for joint in survey.catalogue.joints}
    assert by["end"] == {"valve end", "turn end"}


def test_the_weakest_part_is_that_of_the_lowest_rating(alder_lodge: hl.Design) -> None:
    survey, stock = alder_lodge.survey, alder_lodge.survey.catalogue
    ratings = {"inside corner": 450.0, "crossing": 410.0, "copper 22": 700.0}
    rated = dataclasses.replace(
        stock,
        joints=tuple(dataclasses.replace(one, max_pressure_kpa=ratings.get(one.name)) for one in stock.joints),
        pipes=tuple(dataclasses.replace(one, max_pressure_kpa=ratings.get(one.name)) for one in stock.pipes),
    )
    found = of(alder_lodge, 80.0, WaterSystem(), dataclasses.replace(survey, catalogue=rated))
    assert found.weakest == PressureRating("joint", "crossing", 410.0)
    assert found.weakest.words == "joint: crossing"
    assert len(found.unrated) == len(found.parts) - 3
    assert of(alder_lodge, 80.0, WaterSystem()).weakest is None


def checked(found: Pressures) -> dict[tuple[str, str], tuple[float, float, str]]:
    return {(row.check, row.location): (row.calculated, row.limit, row.verdict) for row in pressure_checks(found)}


def test_each_check_compares_its_two_pressures(alder_lodge: hl.Design) -> None:
    found = of(alder_lodge, 1000.0, STATED)
    by = checked(found)
    assert by["precharge of the vessel", "vessel"] == (110.0, pytest.approx(found.static_kpa + 25.0), "pass")
    assert by["precharge below the maximum working pressure", "vessel"] == (110.0, 540.0, "pass")
    assert by["vessel volume", "vessel"] == (200.0, found.min_vessel_l, "pass")
    assert by["pressure when hot", "system"] == (found.hot_kpa, 540.0, "pass")
    # the lowest part lies a metre below the vessel and carries that much more
    weakest = "maximum pressure of the weakest part", "vessel: expansion vessel"
    assert by[weakest] == (600.0, pytest.approx(600.0 + density(12.0) * G_M_S2 / 1000.0), "fail")
    assert by["strength test within the rating of every part", "vessel: expansion vessel"] == (600.0, 900.0, "caution")
    assert by["strength test within the proof pressure of seals", "seals of joints and ends"] == (900.0, 1000.0, "pass")
    assert len(by) == 7


def test_a_seal_is_proved_at_ten_bar_and_its_check_goes_where_all_are_rated(alder_lodge: hl.Design) -> None:
    seal = "strength test within the proof pressure of seals", "seals of joints and ends"
    at = of(alder_lodge, 80.0, WaterSystem(test=PressureTest(pressure_kpa=1000.0)))
    assert checked(at)[seal][2] == "pass"
    above = of(alder_lodge, 80.0, WaterSystem(test=PressureTest(pressure_kpa=1001.0)))
    assert checked(above)[seal] == (1001.0, 1000.0, "caution")
    rated = [p for p in above.parts if p.kind not in ("joint", "end")]
    assert seal not in checked(dataclasses.replace(above, parts=tuple(rated)))


def test_a_low_precharge_and_a_small_vessel_are_seen(alder_lodge: hl.Design) -> None:
    low = checked(of(alder_lodge, 80.0, WaterSystem(vessel=Vessel(precharge_kpa=50.0))))
    assert low["precharge of the vessel", "vessel"][2] == "caution"
    small = checked(of(alder_lodge, 80.0, WaterSystem(vessel=Vessel(volume_l=1.0))))
    assert small["vessel volume", "vessel"][2] == "fail"
    assert ("pressure when hot", "system") not in small
    high = checked(of(alder_lodge, 80.0, WaterSystem(highest_point_m=30.0)))
    assert high["precharge below the maximum working pressure", "vessel"][2] == "fail"
    assert ("vessel volume", "vessel") not in high


def test_common_sizes_are_those_of_the_trade():
    assert COMMON_SIZES_L == (8, 12, 18, 25, 35, 50, 80, 100, 140, 200, 250, 300, 400, 500, 600)


@pytest.mark.parametrize(
    ("max_temp_c", "by_table"), [(29.9, False), (30.0, True), (30.1, True)], ids=["below", "at", "above"]
)
def test_the_rule_of_the_standard_begins_at_30_degrees(mill_annexe: hl.Design, max_temp_c: float, by_table: bool):
    survey = replace(mill_annexe.survey, system=WaterSystem(expansion="EN 12828", max_temp_c=max_temp_c))
    found = pressures(survey, mill_annexe.system.layout, 100.0, 28.0, WATER)
    density = expansion_by_density(WATER, survey.system.fill_c, max_temp_c)
    assert found.expansion == pytest.approx(expansion_en_12828(max_temp_c) if by_table else density, rel=1e-12)


@pytest.mark.parametrize("litres", [60.0, 600.0])
def test_the_vessel_is_the_next_common_size_above_the_least(mill_annexe: hl.Design, litres: float):
    survey = replace(mill_annexe.survey, system=WaterSystem())
    found = pressures(survey, mill_annexe.system.layout, litres, 70.0, WATER)
    below = [one for one in COMMON_SIZES_L if one < found.vessel_l]
    assert found.vessel_l in COMMON_SIZES_L
    assert max(below, default=0.0) < found.min_vessel_l <= found.vessel_l


def test_a_vessel_above_the_system_gets_the_margin_alone(mill_annexe: hl.Design) -> None:
    high = WaterSystem(static_margin_kpa=25.0, highest_point_m=2.0, vessel=Vessel(level_m=5.0))
    found = of(mill_annexe, 100.0, high)
    assert found.static_kpa < 0.0
    assert found.precharge_kpa == 25.0


def test_without_skirting_the_top_is_the_highest_floor_with_an_emitter(tmp_path: Path) -> None:
    survey = read_survey(written(tmp_path))
    found = pressures(survey, build_layout(survey), 60.0, 55.0, WATER)
    assert (found.highest_point_m, found.vessel_m) == (3.0, 0.0)


def test_a_precharge_as_high_as_the_working_pressure_leaves_no_vessel(mill_annexe: hl.Design) -> None:
    """A relief valve of 300 kPa leaves 250 kPa."""
    found = of(mill_annexe, 100.0, WaterSystem(vessel=Vessel(precharge_kpa=250.0)))
    assert found.precharge_kpa == found.final_kpa
    assert math.isnan(found.min_vessel_l)
    assert math.isnan(found.fill_kpa)


def test_a_least_volume_that_is_a_common_size_is_that_size() -> None:
    assert [_next_size_l(litres) for litres in (12.0, 12.1, 600.0, 600.1)] == [12.0, 18.0, 600.0, 600.1]
