"""What stays with the house: settings, water record, user's page and annual checks, each against the design."""

from __future__ import annotations

import dataclasses
import math
import re
from functools import cache

import numpy as np
import pandas as pd
import pytest

import heatloop as hl
from heatloop.findings.limits import TOUCH, TOUCH_C
from heatloop.handover.commissioning import final_settings, user_documents
from heatloop.handover.commissioning.filling import remote_ends
from heatloop.handover.commissioning.pressures import Pressures, pressures
from heatloop.handover.commissioning.water_treatment import TreatmentInputs, doses_table, treatment_inputs
from heatloop.handover.first_fix.hidden_pipes import unknown_routes
from heatloop.hydraulics.analysis.water_content import system_water_l
from heatloop.hydraulics.pumps import (
    Array,
    ConstantHead,
    LimitedByCurve,
    ProportionalHead,
    PumpCharacteristic,
    PumpCurveAtSpeed,
)
from heatloop.layout.model import PlacedCrossing
from heatloop.physics.water import plain_water
from heatloop.survey.loops import RouteWalls
from heatloop.survey.water_system import Additive, CommissioningWeather, Vessel, WaterSystem
from tests.helpers.altered import with_survey

CURVE = (0.0, 1.0 / 3600.0)
"""Flows in m3/s of the curve of a pump."""


class OtherDrive:
    """A drive of a kind that has no setting of its own."""

    def head_pa(self, flow_m3_s: Array) -> tuple[Array, Array]:
        return np.full(flow_m3_s.shape, 5e3), np.zeros(flow_m3_s.shape)


@cache
def days(design: hl.Design) -> pd.DataFrame:
    return design.commissioning().part_load


def parts(design: hl.Design, **system: object) -> tuple[hl.Design, Pressures, TreatmentInputs]:
    """The design with other values of its closed system, its pressures and what decides the treatment of its water."""
    held = dataclasses.replace(design.survey.system, **system)  # type: ignore[arg-type]
    changed = with_survey(design, system=held)
    content_l = system_water_l(changed.survey, changed.operation.network)
    found = pressures(changed.survey, changed.layout, content_l, design.summary["flow_temp_c"], plain_water())
    return changed, found, treatment_inputs(changed.survey, content_l)


def topics(design: hl.Design, **system: object) -> dict[str, tuple[str, str]]:
    """Text and cautions by topic."""
    changed, found, _ = parts(design, **system)
    table = user_documents.user_table(changed.system, found, days(design))
    return {row.topic: (row.text, row.safety_notices) for row in table.itertuples()}


# --- settings ----------------------------------------------------------------------------------------------


def test_settings_are_those_of_the_design(alder_lodge: hl.Design) -> None:
    pack = alder_lodge.commissioning()
    table = pack.settings_as_left
    rows = {(row.item, row.where): (row.designed, row.unit) for row in table.itertuples()}
    assert len(rows) == len(table)
    for outdoor_c, days in pack.part_load.groupby("outdoor_c"):
        item = f"flow temperature at {outdoor_c:g} °C outdoors"
        assert rows[item, "heat source"] == (days["flow_temp_c"].max(), "degC")
    assert rows["temperature of mixing valve", 'trunk "nursery"'] == (43.0, "degC")
    required = f"(required: {pack.facts['pump_head_kpa']:.1f} kPa)"
    assert rows[f"constant head {required}", "pump at the heat source"] == (
        alder_lodge.survey.source.pump.constant_kpa,
        "kPa",
    )
    assert rows["flow rate", "pump at the heat source"] == (pack.facts["pump_flow_l_h"], "l/h")
    own = alder_lodge.pumps.set_index("pump").loc["nursery"]
    assert 6.6 < own["head_kpa"] < 6.7
    assert rows["constant head (required: 6.7 kPa)", 'pump of trunk "nursery"'] == (6.7, "kPa")
    assert rows["precharge", "expansion vessel"] == (0.58, "bar")
    assert rows["cold fill pressure", "gauge"] == (pack.pressures.fill_kpa / 100.0, "bar")
    assert rows["relief valve", "heat source"] == (3.0, "bar")
    for row in alder_lodge.valves.to_dict("records"):
        arm = f", arm {row['arm']}" if row["arm"] else ""
        at = f"setting of {row['valve']}", f"loop {row['loop']}, {row['side']}{arm}"
        assert rows[at] == (row["nearest_setting"], "setting")
    assert set(table["as_left"]) == {""}


# --- water record ------------------------------------------------------------------------------------------


def record(design: hl.Design, **system: object) -> dict[str, tuple[str, str, str]]:
    table = user_documents.water_record_table(parts(design, **system)[2])
    boxes = table[["at_fill", "after_4_weeks", "after_1_year"]]
    assert (boxes == "").all(axis=None)
    return {row.item: (row.target, row.unit, row.source) for row in table.itertuples()}


def test_the_record_holds_targets_with_their_sources(alder_lodge: hl.Design) -> None:
    by = record(alder_lodge)
    assert by["pH"][:2] == ("7 to 8.5", "pH")
    assert by["inhibitor strength"] == ("inhibitor (invented): as on its label", "", "label of the inhibitor")
    assert by["water content"] == ("78", "l", "water_content")
    assert by["cleanser added"] == by["inhibitor added"] == ("0.78", "l", "treatment")
    assert by["conductivity after flushing"][0] == "mains water ± 10 %"
    assert by["appearance of a sample"] == ("clear, no particles", "", "common practice")
    assert list(by)[8] == "dissolved aluminium"
    assert by["dissolved aluminium"] == ("not rising", "mg/l", "common practice")
    assert len(by) == 13


def test_the_record_without_additives_and_without_aluminium(alder_lodge: hl.Design) -> None:
    by = record(alder_lodge, inhibitor=None, cleanser=None, ph=(7.5, 9.0))
    assert by["inhibitor strength"][0] == "as on its label"
    assert by["cleanser added"][0] == by["inhibitor added"][0] == "as on its label"
    assert by["pH"] == ("7.5 to 9", "pH", "survey")
    stock = alder_lodge.survey.catalogue
    lined = tuple(dataclasses.replace(profile, wetted_metal="copper") for profile in stock.profiles)
    survey = dataclasses.replace(alder_lodge.survey, catalogue=dataclasses.replace(stock, profiles=lined))
    items = list(user_documents.water_record_table(treatment_inputs(survey, 78.0))["item"])
    assert "dissolved aluminium" not in items
    assert len(items) == 12


# --- user's page -------------------------------------------------------------------------------------------


def test_water_temperatures_are_those_of_the_weather(alder_lodge: hl.Design) -> None:
    warmest = days(alder_lodge).groupby("outdoor_c")["flow_temp_c"].max()
    said, cautions = topics(alder_lodge)["Water temperature"]
    listed = ", ".join(f"{flow_c:.0f} °C at {outdoor_c:g} °C outside" for outdoor_c, flow_c in warmest.items())
    assert f"from the outdoor temperature: {listed}. Do not change" in said
    assert cautions == ""
    assert "Water temperature" not in topics(alder_lodge, weather=CommissioningWeather(compensated=False))


def test_the_gauge_in_bar(alder_lodge: hl.Design) -> None:
    found = parts(alder_lodge)[1]
    said, cautions = topics(alder_lodge)["Pressure"]

    def bar(kpa: float) -> str:
        return f"{kpa / 100.0:.1f} bar"

    hot_kpa = alder_lodge.commissioning().summary["running_kpa"]
    assert found.min_fill_kpa < found.fill_kpa < hot_kpa < found.hot_kpa < found.final_kpa < found.relief_kpa
    assert f"about {bar(found.fill_kpa)}; on the coldest days about {bar(hot_kpa)}." in said
    assert bar(hot_kpa) == "1.7 bar"
    assert (
        f"less than 1.0 or more than 1.9 bar with cold water, or more than {bar(found.final_kpa)} at any time." in said
    )
    assert found.min_fill_kpa == pytest.approx(97.0, abs=0.5)
    assert cautions == "Pressure"
    unsettled = topics(alder_lodge, vessel=Vessel(volume_l=1.0))["Pressure"][0]
    assert unsettled.startswith("Not decided yet")


def test_the_hottest_skirting_and_rooms_too_hot_for_children(alder_lodge: hl.Design, alder_draft: hl.Design) -> None:
    hottest_c = alder_lodge.temperature_profile["surface_temp_c"].max()
    found = topics(alder_lodge)
    assert f"reaches {hottest_c:.0f} °C (Nursery 42 °C)." in found["Hot surfaces"][0]
    assert "Nursery" not in found, "its skirting stays below the limit"
    warm = topics(alder_draft)["Nursery"]
    assert f"more than the {TOUCH_C:g} °C" in warm[0]
    assert found["Hot surfaces"][1] == warm[1] == "Hot surfaces"


def test_hidden_pipes_are_listed_room_by_room(alder_lodge: hl.Design) -> None:
    found = topics(alder_lodge)
    hidden = {topic: text for topic, (text, cautions) in found.items() if topic.startswith("Hidden pipes: ")}
    crossings = [
        element
        for loop in alder_lodge.layout.loops
        for arm in loop.arms
        for element in arm.elements
        if isinstance(element, PlacedCrossing)
    ]
    assert len(crossings) > 3
    for element in crossings:
        said = hidden[f"Hidden pipes: {element.room}"]
        if element.wall is None:
            assert f"ipe of {element.length_m:.1f} m to " in said
            assert f"({element.length_m:.1f} m)" in found["Pipes of unknown route"][0]
        elif element.to_wall in (None, element.wall):
            low, high = sorted((element.from_m, element.to_m))
            between = f"from {low - 0.1:.2f} to {high + 0.1:.2f} m"
            words = f"all {element.wall} {between}, in the floor past {element.reason}"
            assert words in said
    corner = (
        "Wall 5 from 0.09 to 1.05 m and wall 1 from 0.00 to 0.10 m, in the floor past nursery door and 0.10 m of wall "
        "beside it"
    )
    assert corner in hidden["Hidden pipes: Landing"]
    assert "Pipe of 1.8 m to Study, its route unknown: wall 4 from 1.05 to 1.25 m" in hidden["Hidden pipes: Hall"]
    sills = [
        (piece.room, f"Skirting in the floor in front of {piece.floor_section}")
        for loop in alder_lodge.layout.loops
        for arm in loop.arms
        for piece in arm.pieces
        if piece.floor_section is not None
    ]
    assert sills
    for room, words in sills:
        assert words in hidden[f"Hidden pipes: {room}"]


def test_hidden_pipes_include_those_to_the_heat_source(alder_lodge: hl.Design) -> None:
    found = topics(alder_lodge)
    positions = alder_lodge.first_fix().pipe_positions
    tails = positions[positions["use"] == "tail"]
    assert len(tails) == 14
    for (room, wall), own in tails.groupby(["room", "wall"]):
        said = found[f"Hidden pipes: {room}"][0]
        ends = said[said.index("ipes to the heat source: ") :]
        stretches = re.findall(rf"wall {wall} from (\d+\.\d\d) to (\d+\.\d\d) m", ends)
        for at_m in own["from_left_m"] if len(wall_line(own)) == 1 else ():
            assert any(float(first) <= at_m <= float(last) for first, last in stretches), (room, wall, at_m)
    in_hall = "Pipes to the heat source: wall 1 from 2.70 to 2.90 m and wall 2 from 0.00 to 0.07 m"
    assert in_hall in found["Hidden pipes: Hall"][0]
    unknown, cautions = found["Pipes of unknown route"]
    assert "between the skirting and the heat source; from Hall to Study (1.8 m); " in unknown
    assert 'and the place of the heat emitter "plinth emitter 450" in Kitchen-diner are not in the design' in unknown
    assert cautions == "Drilling and cutting"


def test_a_leak_names_the_loops_that_are_open_on_one_side(alder_lodge: hl.Design, mill_annexe: hl.Design) -> None:
    leak = topics(alder_lodge)["A leak"][0]
    open_loops = 'Loops "Kitchen" (Kitchen-diner), "Hall and study" (Hall, Study), "Nursery" and "Bathroom"'
    assert f"{open_loops} cannot be closed on both sides: water runs on" in leak
    assert "Only in this case turn a lockshield valve, and count its turns." in leak
    assert all(pair.flow and pair.return_ for pair in (loop.valves for loop in mill_annexe.survey.loops))
    assert "cannot be closed" not in topics(mill_annexe)["A leak"][0]


def wall_line(rows: pd.DataFrame) -> list[str]:
    """The walls of the one wall line of some pipes."""
    (walls,) = set(rows["straight_walls"])
    return str(walls).split(" + ")


def test_without_pipe_to_the_source_no_route_is_unknown(mill_annexe: hl.Design) -> None:
    assert "Pipes of unknown route" in topics(mill_annexe)
    loops = tuple(
        dataclasses.replace(loop, tails=dataclasses.replace(loop.tails, flow_m=0.0, return_m=0.0))
        for loop in mill_annexe.survey.loops
    )
    survey = dataclasses.replace(mill_annexe.survey, loops=loops, trunks=())
    assert list(unknown_routes(survey, mill_annexe.layout)) == []


def test_one_thermostat_for_several_rooms(alder_lodge: hl.Design) -> None:
    said = topics(alder_lodge)["One thermostatic head, several rooms"][0]
    for loop in alder_lodge.survey.loops:
        rooms = list(dict.fromkeys(one.room for arm in loop.arms for one in arm if isinstance(one, RouteWalls)))
        others = [room for room in rooms if room != loop.sensor_room]
        if loop.sensor_room and others:
            assert f"he thermostatic head for {loop.sensor_room} also controls {' and '.join(others)}" in said
    assert said[0] == "T"


def test_one_thermostat_in_one_room_rules_no_other(mill_annexe: hl.Design) -> None:
    assert "One thermostatic head, several rooms" not in topics(mill_annexe)


# --- annual checks -----------------------------------------------------------------------------------------


def yearly(design: hl.Design, **system: object) -> dict[str, tuple[str, str, str, str]]:
    changed, found, facts = parts(design, **system)
    table = user_documents.annual_checks_table(changed.system, found, facts)
    assert set(table["done"]) == {""}
    return {row.check: (row.criterion, row.responsible, row.safety_notices, row.source) for row in table.itertuples()}


def test_annual_checks_carry_the_figures_of_the_system(alder_lodge: hl.Design) -> None:
    by = yearly(alder_lodge)
    assert by["cold pressure"][0] == "1.0 to 1.9 bar at the gauge"
    assert by["precharge of the vessel"][0] == "0.58 to 0.67 bar, water side empty"
    assert by["relief valve"][:3] == (
        "3 bar; dry; discharge pipe ends in a safe place",
        "heating fitter",
        "Pressure; Scalding",
    )
    assert "pH 7 to 8.5" in by["inhibitor and pH"][0]
    for end in remote_ends(alder_lodge.survey, alder_lodge.layout):
        assert f"{end.end.room}, wall {end.end.wall}, {end.end.at_m:.2f} m" in by["air"][0]
    surfaces = by["surfaces where vulnerable people live"]
    assert surfaces == ("at most 43 °C, or guarded", "owner or fitter", "Hot surfaces", TOUCH.source)
    assert by["heat source"][1] == "licensed person"
    assert by["protective bonding and wiring"][1] == "electrician"
    assert len(by) == 13


def test_annual_checks_where_the_vessel_does_not_suit(alder_lodge: hl.Design) -> None:
    by = yearly(alder_lodge, vessel=Vessel(volume_l=1.0))
    assert by["cold pressure"][0] == "none: the vessel does not suit the system"


def test_no_vent_is_said(alder_lodge: hl.Design) -> None:
    stock = alder_lodge.survey.catalogue
    shut = tuple(dataclasses.replace(end, vent=False) for end in stock.ends)
    by = yearly(with_survey(alder_lodge, catalogue=dataclasses.replace(stock, ends=shut)))
    assert by["air"][0] == "no loop has a vent at its far end: vent at the heat source"


# --- doses -------------------------------------------------------------------------------------------------


def test_doses_state_the_label_and_where_it_is_from(alder_lodge: hl.Design) -> None:
    system = WaterSystem(
        cleanser=Additive("C", dose_ml_per_l=8.0, container_l=0.5),
        inhibitor=Additive("I", per_cent=0.5, source="label of March"),
    )
    content_l = 62.5
    facts = treatment_inputs(dataclasses.replace(alder_lodge.survey, system=system), content_l)
    rows = doses_table(facts).to_dict("records")
    assert {row["water_content_l"] for row in rows} == {content_l}
    assert [(row["use"], row["name"], row["source"]) for row in rows] == [
        ("cleanser", "C", "its label, as stated in the survey"),
        ("inhibitor", "I", "label of March"),
    ]
    assert rows[0]["dose_l"] == pytest.approx(0.008 * content_l)
    assert rows[1]["dose_l"] == pytest.approx(0.005 * content_l)
    assert (rows[0]["dose_ml_per_l"], rows[1]["dose_percent"]) == (8.0, 0.5)
    assert math.isnan(rows[0]["dose_percent"])
    assert math.isnan(rows[1]["dose_ml_per_l"])
    assert rows[0]["containers"] == 1.0, "half a litre to the millilitre"
    assert math.isnan(rows[1]["containers"])


@pytest.mark.parametrize(
    ("pump", "setting"),
    [
        (PumpCurveAtSpeed(CURVE, (30e3, 20e3), 0.8), ("speed", "pump", 80.0, "%", "")),
        (
            ProportionalHead(12e3, 0.5 / 3600.0),
            ("proportional head at 500 l/h (required: 11.2 kPa)", "pump", 12.0, "kPa", ""),
        ),
        (ConstantHead(np.array([9e3, 15e3])), ("constant head (required: 11.2 kPa)", "pump", 15.0, "kPa", "")),
        (
            LimitedByCurve(ConstantHead(14e3), PumpCurveAtSpeed(CURVE, (30e3, 20e3))),
            ("constant head (required: 11.2 kPa)", "pump", 14.0, "kPa", ""),
        ),
        (OtherDrive(), ("required head", "pump", 11.2, "kPa", "")),
    ],
)
def test_the_pump_is_set_by_its_kind_of_control(pump: PumpCharacteristic, setting: tuple[object, ...]) -> None:
    item, where, value, *rest = final_settings._pump_setting(pump, 11.2)
    assert (item, where, *rest) == (setting[0], setting[1], *setting[3:])
    assert value == pytest.approx(setting[2])
