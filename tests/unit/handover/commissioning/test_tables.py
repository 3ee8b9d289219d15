"""The day of commissioning at its limits, surfaces and flows of the table, and what treatment applies."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

import heatloop as hl
from heatloop.findings.limits import CheckResult
from heatloop.handover.commissioning.conditions import (
    DESIGN_DAY,
    READ,
    commissioning_conditions,
    compensated_conditions,
    exponent,
    indoor_c,
    warmest_room_c,
)
from heatloop.handover.commissioning.tables import (
    contents_table,
    handover_checks_table,
    measured_flow_l_h,
    measured_return_temp_c,
    part_load_days,
    surfaces_table,
)
from heatloop.handover.commissioning.water_treatment import (
    PH_SOURCE,
    TreatmentRule,
    applicable_rules,
    doses_table,
    treatment_checks,
    treatment_inputs,
)
from heatloop.hydraulics.analysis.water_content import contents
from heatloop.survey.loops import Loop
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import Additive, Antifreeze, CommissioningWeather, WaterSystem
from tests.helpers.altered import with_survey


def with_weather(design: hl.Design, **weather: object) -> hl.Design:
    return with_survey(design, system=WaterSystem(weather=CommissioningWeather(**weather)))  # type: ignore[arg-type]


# --- the day -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "low", "high"), [("outdoor_c", -60.0, 40.0)])
def test_limits_of_the_weather_are_taken_and_no_more(
    alder_lodge: hl.Design, name: str, low: float, high: float
) -> None:
    for value in (low, high):
        assert commissioning_conditions(alder_lodge.system, flow_temp_c=45.0, outdoor_c=value).outdoor_c == value
    for value in (low - 0.1, high + 0.1):
        with pytest.raises(hl.InputError, match=name):
            commissioning_conditions(alder_lodge.system, outdoor_c=value)


def test_limits_of_the_water_are_taken_and_no_more(alder_lodge: hl.Design) -> None:
    assert commissioning_conditions(alder_lodge.system, flow_temp_c=110.0).flow_temp_c == 110.0
    for value in (110.1, 0.05):
        with pytest.raises(hl.InputError, match=r"0\.1 to 110 °C"):
            commissioning_conditions(alder_lodge.system, flow_temp_c=value)


def test_water_no_warmer_than_the_warmest_room_is_refused(alder_lodge: hl.Design) -> None:
    warmest_c = max(room.indoor_c for room in alder_lodge.survey.rooms)
    assert warmest_room_c(alder_lodge.system) == warmest_c
    with pytest.raises(hl.InputError, match="no return can be expected"):
        commissioning_conditions(alder_lodge.system, flow_temp_c=warmest_c)
    assert commissioning_conditions(alder_lodge.system, flow_temp_c=warmest_c + 0.1).how == READ


def test_a_room_that_is_not_heated_sets_no_limit(alder_lodge: hl.Design) -> None:
    rooms = alder_lodge.survey.rooms
    cold = dataclasses.replace(rooms[0], name="Store", indoor_c=60.0)
    changed = with_survey(alder_lodge, rooms=(*rooms, cold))
    assert warmest_room_c(changed.system) == warmest_room_c(alder_lodge.system)


def test_what_is_given_goes_before_the_survey_and_the_survey_before_the_design(alder_lodge: hl.Design) -> None:
    held = with_weather(alder_lodge, outdoor_c=5.0, flow_temp_c=41.0)
    today = commissioning_conditions(held.system)
    assert (today.outdoor_c, today.flow_temp_c, today.how) == (5.0, 41.0, READ)
    given = commissioning_conditions(held.system, outdoor_c=2.0, flow_temp_c=44.0)
    assert (given.outdoor_c, given.flow_temp_c) == (2.0, 44.0)
    alone = commissioning_conditions(with_weather(alder_lodge, flow_temp_c=41.0).system)
    assert (alone.flow_temp_c, alone.how, math.isnan(alone.outdoor_c)) == (41.0, READ, True)
    assert commissioning_conditions(with_weather(alder_lodge).system).how == DESIGN_DAY


def test_load_by_the_weather_with_a_constant_flow_temperature(alder_lodge: hl.Design) -> None:
    fixed = compensated_conditions(with_weather(alder_lodge, compensated=False).system, 7.0)
    inside_c = indoor_c(alder_lodge.system)
    assert (fixed.outdoor_c, fixed.flow_temp_c) == (7.0, 50.0)
    assert fixed.share == pytest.approx((inside_c - 7.0) / (inside_c + 3.0))


def test_rooms_that_lose_nothing_count_for_nothing(alder_lodge: hl.Design) -> None:
    losses = alder_lodge.system.room_losses
    gaining = dataclasses.replace(losses[0], total_w=-500.0, indoor_c=5.0)
    none = dataclasses.replace(losses[0], total_w=0.0, indoor_c=5.0)
    prepared = dataclasses.replace(alder_lodge.system.prepared, room_losses=(*losses, gaining, none))
    system = dataclasses.replace(alder_lodge.system, prepared=prepared)
    assert indoor_c(system) == pytest.approx(indoor_c(alder_lodge.system))


def test_the_mean_of_the_rooms_goes_by_their_shares_however_little_they_lose(alder_lodge: hl.Design) -> None:
    little = tuple(dataclasses.replace(one, total_w=1e-3 * one.total_w) for one in alder_lodge.system.room_losses)
    assert min(one.total_w for one in little) < 1.0
    prepared = dataclasses.replace(alder_lodge.system.prepared, room_losses=little)
    system = dataclasses.replace(alder_lodge.system, prepared=prepared)
    assert indoor_c(system) == pytest.approx(indoor_c(alder_lodge.system), rel=1e-12)


def test_the_exponent_is_weighted_by_output(harbour_loft: hl.Design) -> None:
    """Saloon gives 1036 W by its profile's exponent, the cabins 1120 W by another's."""
    profiles = dict(zip(("duo 130", "trio 180"), (1.1, 1.5), strict=True))
    stock = harbour_loft.survey.catalogue
    changed = dataclasses.replace(
        stock,
        profiles=tuple(
            dataclasses.replace(one, rating=dataclasses.replace(one.rating, exponent=profiles[one.name]))
            for one in stock.profiles
        ),
    )
    saloon, cabins = harbour_loft.survey.loops
    loops = (saloon, dataclasses.replace(cabins, profile="trio 180"))
    given = harbour_loft.loops.set_index("loop")["heat_to_rooms_w"]
    expected = (1.1 * given["Saloon"] + 1.5 * given["Cabins"]) / given.sum()
    assert exponent(with_survey(harbour_loft, catalogue=changed, loops=loops).system) == pytest.approx(expected)


def test_days_of_the_table_of_part_loads(alder_lodge: hl.Design, mill_annexe: hl.Design) -> None:
    assert [day.outdoor_c for day in part_load_days(alder_lodge.system)] == [-3.0, 0.0, 5.0, 10.0]
    assert [day.outdoor_c for day in part_load_days(mill_annexe.system)] == [-4.0, 0.0, 5.0, 10.0]
    mild = dataclasses.replace(alder_lodge.survey.project, outdoor_c=5.0)
    assert [day.outdoor_c for day in part_load_days(with_survey(alder_lodge, project=mild).system)] == [5.0, 10.0]
    hard = dataclasses.replace(alder_lodge.survey.project, outdoor_c=-14.0)
    cold = part_load_days(with_survey(alder_lodge, project=hard).system)
    assert [day.outdoor_c for day in cold] == [-14.0, -10.0, -5.0, 0.0, 5.0, 10.0]


# --- tables ------------------------------------------------------------------------------------------------


def test_a_flow_is_read_at_its_own_temperature(alder_lodge: hl.Design) -> None:
    """Litres an hour: mass flow over density at the loop's flow tail, and at the arm's valve in its return."""
    state = alder_lodge.operation
    for index, loop in enumerate(alder_lodge.survey.loops):
        hot = float(alder_lodge.system.fluid.density_kg_m3(float(state.supply_c[index])))
        litres = float(state.loop_flow_kg_s[index]) / hot * 3.6e6
        assert measured_flow_l_h(state, index, 0) == pytest.approx(litres, rel=2e-4), loop.name
        assert measured_return_temp_c(state, index, 0) == state.return_c[index]
    arms = [measured_return_temp_c(state, 0, arm) for arm in (1, 2)]
    assert arms == [state.arms[0].return_c, state.arms[1].return_c]
    with pytest.raises(ValueError, match="loop Kitchen: no place to measure the flow of arm 3"):
        measured_flow_l_h(state, 1, 3)


def test_a_surface_at_the_limit_passes(alder_lodge: hl.Design) -> None:
    table = surfaces_table(alder_lodge.system, alder_lodge.operation, 43.0)
    nursery_c = table["design_surface_temp_c"][0]
    assert table["expected_surface_temp_c"][0] == nursery_c
    assert surfaces_table(alder_lodge.system, None, nursery_c)["verdict"][0] == "pass"
    below = surfaces_table(alder_lodge.system, None, float(np.nextafter(nursery_c, 0.0)))
    assert below["verdict"][0] == "caution"
    assert table["limit_c"].isna().tolist() == [False, *[True] * (len(table) - 1)]


def test_water_content_ends_with_its_sum(alder_lodge: hl.Design) -> None:
    items = contents(alder_lodge.survey, alder_lodge.layout, alder_lodge.operation.network)
    table = contents_table(items)
    assert len(table) == len(items) + 1
    last = table.iloc[-1]
    assert (last["part"], last["loop"], last["item"]) == ("whole system", "", "")
    assert last["water_content_l"] == pytest.approx(table["water_content_l"].iloc[:-1].sum())
    assert math.isnan(last["channel_length_m"])
    assert math.isnan(last["content_l_m"])


def test_failed_checks_come_before_cautions_and_those_before_passes() -> None:
    verdicts = ("pass", "caution", "fail", "pass", "fail")
    rows = [
        CheckResult(f"check {number}", "here", 1.0, 1.0, "-", verdict, "source", "do")  # type: ignore[arg-type]
        for number, verdict in enumerate(verdicts)
    ]
    table = handover_checks_table(rows)
    assert list(table["check"]) == [f"check {number}" for number in (2, 4, 1, 0, 3)]


# --- treatment ---------------------------------------------------------------------------------------------


def of(survey: SurveyData, **system: object) -> SurveyData:
    return dataclasses.replace(survey, system=WaterSystem(**system))  # type: ignore[arg-type]


def test_metals_are_those_of_profiles_and_survey_each_once(alder_lodge: hl.Design) -> None:
    survey = alder_lodge.survey
    assert treatment_inputs(of(survey), 50.0).metals == ("aluminium", "copper")
    assert treatment_inputs(of(survey), 50.0).copper_assumed
    stated = treatment_inputs(of(survey, metals=("steel", "aluminium", "brass")), 50.0)
    assert (stated.metals, stated.copper_assumed) == (("aluminium", "steel", "brass"), False)
    assert (stated.ph, stated.ph_source) == ((7.0, 8.5), PH_SOURCE)
    own = treatment_inputs(of(survey, ph=(7.2, 8.0)), 50.0)
    assert (own.ph, own.ph_source) == ((7.2, 8.0), "survey")


def test_an_old_system_is_stated_or_where_an_emitter_stands_already(alder_lodge: hl.Design) -> None:
    survey = of(alder_lodge.survey)

    def with_emitters(existing: bool) -> SurveyData:
        def changed(loop: Loop) -> Loop:
            items = tuple(dataclasses.replace(one, existing=existing) for one in loop.emitters)
            return dataclasses.replace(loop, emitters=items)

        return dataclasses.replace(survey, loops=tuple(map(changed, survey.loops)))

    assert treatment_inputs(with_emitters(True), 50.0).old_system
    assert not treatment_inputs(with_emitters(False), 50.0).old_system
    said_new = dataclasses.replace(with_emitters(True), system=WaterSystem(old_system=False))
    assert not treatment_inputs(said_new, 50.0).old_system


def test_softened_water_is_allowed_only_where_it_is_filled_in(alder_lodge: hl.Design) -> None:
    survey = alder_lodge.survey
    allowed = treatment_inputs(of(survey, softened_fill_allowed=True), 50.0).conditions
    assert "softened water allowed" not in allowed
    assert "softened water refused" not in allowed
    filled = treatment_inputs(of(survey, softened_fill=True, softened_fill_allowed=True), 50.0).conditions
    assert "softened water allowed" in filled
    assert "softened water refused" in treatment_inputs(of(survey), 50.0).conditions


def test_glycol_by_mass_is_told_by_mass_and_not_dosed_by_volume(alder_lodge: hl.Design) -> None:
    glycol = Antifreeze("ethylene glycol", mass_fraction=0.25)
    project = dataclasses.replace(alder_lodge.survey.project, antifreeze=glycol)
    facts = treatment_inputs(dataclasses.replace(alder_lodge.survey, project=project), 50.0)
    (shown,) = applicable_rules(facts, (TreatmentRule("protect", "{antifreeze}"),))
    assert shown.what == "25 % by mass of ethylene glycol"
    assert math.isnan(facts.amount_l("antifreeze"))
    assert math.isnan(facts.amount_l(""))
    plain = treatment_inputs(alder_lodge.survey, 50.0)
    (none,) = applicable_rules(plain, (TreatmentRule("protect", "{antifreeze}"),))
    assert none.what == "no antifreeze"
    assert math.isnan(plain.amount_l("antifreeze"))
    assert plain.amount_l("flush") == 150.0, "three times the content unless stated"


def test_antifreeze_of_a_large_system_is_its_share_of_the_content(alder_lodge: hl.Design) -> None:
    project = dataclasses.replace(
        alder_lodge.survey.project, antifreeze=Antifreeze("propylene glycol", percent_by_volume=30.0)
    )
    facts = treatment_inputs(dataclasses.replace(alder_lodge.survey, project=project), 250.0)
    assert facts.amount_l("antifreeze") == pytest.approx(75.0)
    inhibitor = of(alder_lodge.survey, inhibitor=Additive("I", per_cent=2.0))
    assert treatment_inputs(inhibitor, 250.0).amount_l("inhibitor") == pytest.approx(5.0)


def test_what_is_not_entered_is_named_in_general(alder_lodge: hl.Design) -> None:
    facts = treatment_inputs(of(alder_lodge.survey, cleanse_minutes=90.0, filter_line_mm=28.0), 50.0)
    rule = TreatmentRule("x", "{cleanser}; {inhibitor}; {minutes}; {filter_mm}; {metals}")
    (shown,) = applicable_rules(facts, (rule,))
    assert shown.what == (
        "a cleanser for these metals (dose on its label); an inhibitor for these metals (dose on its label); 90; 28; "
        "aluminium and copper (copper is assumed: the survey names no metal of pipes and valves)"
    )


@pytest.mark.parametrize(("litres", "containers"), [(1.0, 2), (1.01, 3), (0.5, 1), (1.5 + 1e-12, 3)])
def test_containers_are_whole(alder_lodge: hl.Design, litres: float, containers: int) -> None:
    survey = of(alder_lodge.survey, inhibitor=Additive("I", per_cent=1.0, container_l=0.5))
    (row,) = doses_table(treatment_inputs(survey, 100.0 * litres)).to_dict("records")
    assert row["containers"] == containers


def test_checks_of_the_treatment_state_yes_or_no_and_the_last_pipe(
    alder_lodge: hl.Design, mill_annexe: hl.Design
) -> None:
    rows = treatment_checks(treatment_inputs(of(alder_lodge.survey, softened_fill=True), 50.0))
    by = {row.check: row for row in rows}
    assert (
        by["fill water suitable for bare aluminium"].calculated,
        by["fill water suitable for bare aluminium"].limit,
    ) == (
        0,
        1,
    )
    assert by["inhibitor suitable for mixed metals"].location == "inhibitor (none entered)"
    line = by["pipe size at the filter"]
    assert (line.location, line.calculated, line.limit) == ("last pipe before the source, copper 28", 28.0, 22.0)
    (narrow,) = (r for r in treatment_checks(treatment_inputs(of(mill_annexe.survey), 50.0)) if "filter" in r.check)
    assert (narrow.location, narrow.verdict) == ("last pipe before the source, copper 15", "caution")
    plain = {row.check for row in treatment_checks(treatment_inputs(of(alder_lodge.survey), 50.0))}
    assert plain == {"inhibitor suitable for mixed metals", "pipe size at the filter"}
    named = of(alder_lodge.survey, inhibitor=Additive("I", per_cent=1.0, mixed_metals=True))
    (suited,) = (r for r in treatment_checks(treatment_inputs(named, 50.0)) if "inhibitor" in r.check)
    assert (suited.location, suited.calculated, suited.verdict) == ("I", 1.0, "pass")
