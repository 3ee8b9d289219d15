"""Conditions of the day of commissioning, from what is known of it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.handover.commissioning.conditions import (
    COMPENSATED,
    CONSTANT,
    DESIGN_DAY,
    HELD,
    READ,
    CommissioningConditions,
    commissioning_conditions,
    exponent,
    indoor_c,
    within_source_output,
)
from heatloop.physics.weather_compensation import compensated_temperatures
from heatloop.survey.water_system import CommissioningWeather, WaterSystem
from heatloop.workflows.commission import state_at_conditions
from tests.helpers.altered import with_survey


def with_system(design: hl.Design, **keys: object) -> hl.Design:
    return with_survey(design, system=WaterSystem(**keys))  # type: ignore[arg-type]


def test_nothing_known_of_the_day_is_the_design(lodge: hl.Design) -> None:
    today = commissioning_conditions(lodge.system)
    assert (today.outdoor_c, today.flow_temp_c, today.share, today.how) == (-3.0, 50.0, 1.0, DESIGN_DAY)


def test_outdoor_temperature_alone_asks_weather_compensation(annexe: hl.Design) -> None:
    """One room at 21 °C, 70/55 at -4 °C, exponent 1.30: the formula worked by hand at 6 °C."""
    today = commissioning_conditions(annexe.system, outdoor_c=6.0)
    share = 15.0 / 25.0
    flow_c = 21.0 + 41.5 * share ** (1.0 / 1.3) + 7.5 * share
    assert (today.share, today.how) == (pytest.approx(share), COMPENSATED)
    assert today.flow_temp_c == pytest.approx(flow_c, abs=1e-6)


def test_a_reading_at_the_source_goes_before_the_formula(lodge: hl.Design) -> None:
    today = commissioning_conditions(lodge.system, outdoor_c=6.0, flow_temp_c=42.5)
    assert (today.flow_temp_c, today.how) == (42.5, READ)
    assert today.share == pytest.approx((indoor_c(lodge.system) - 6.0) / (indoor_c(lodge.system) + 3.0))
    alone = commissioning_conditions(lodge.system, flow_temp_c=42.5)
    assert math.isnan(alone.share)
    assert math.isnan(alone.outdoor_c)


def test_the_survey_may_hold_the_day(lodge: hl.Design) -> None:
    held = with_system(lodge, weather=CommissioningWeather(outdoor_c=5.0))
    assert commissioning_conditions(held.system).outdoor_c == 5.0
    assert commissioning_conditions(held.system, outdoor_c=1.0).outdoor_c == 1.0
    fixed = with_system(lodge, weather=CommissioningWeather(compensated=False, outdoor_c=5.0))
    assert (commissioning_conditions(fixed.system).flow_temp_c, commissioning_conditions(fixed.system).how) == (
        50.0,
        CONSTANT,
    )


def test_indoor_temperature_and_exponent_are_the_buildings(lodge: hl.Design) -> None:
    rooms = lodge.rooms
    by_hand = (rooms["indoor_c"] * rooms["heat_loss_w"]).sum() / rooms["heat_loss_w"].sum()
    assert indoor_c(lodge.system) == pytest.approx(by_hand)
    assert exponent(lodge.system) == pytest.approx(1.28)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"outdoor_c": 500.0}, "outdoor_c: found 500; required: -60 to 40"),
        ({"outdoor_c": math.nan}, "outdoor_c: found nan"),
        ({"flow_temp_c": -3.0}, "flow_temp_c: found -3; required: 0.1 to 110"),
        ({"outdoor_c": math.inf, "flow_temp_c": 200.0}, "flow_temp_c: found 200"),
        ({"flow_temp_c": 15.0}, "flow_temp_c: found 15; required: above 22, the warmest room"),
    ],
)
def test_a_day_that_cannot_be_is_refused(lodge: hl.Design, asked: dict[str, float], says: str) -> None:
    with pytest.raises(hl.InputError, match=says):
        commissioning_conditions(lodge.system, **asked)


@pytest.mark.parametrize("name", ["lodge", "annexe"])
@pytest.mark.parametrize("outdoor_c", [0.0, 7.0])
def test_compensated_water_carries_the_load_of_the_day(
    name: str, outdoor_c: float, request: pytest.FixtureRequest
) -> None:
    """The solved system at the flow temperature of the formula gives the share of the load that it asks for."""
    design = request.getfixturevalue(name)
    today = commissioning_conditions(design.system, outdoor_c=outdoor_c)
    state = state_at_conditions(design.system, today.flow_temp_c)
    assert state is not None
    given = sum(float(arm.given_w) for arm in state.arms) / sum(float(arm.given_w) for arm in design.operation.arms)
    # the film gets better in warmer water: output falls a little more than the characteristic has it
    assert given == pytest.approx(today.share, rel=0.05)
    formula = compensated_temperatures(
        indoor_c(design.system),
        outdoor_c,
        design.summary["outdoor_c"],
        design.summary["flow_temp_c"],
        design.summary["return_temp_c"],
        exponent(design.system),
    )
    assert state.source_return_c == pytest.approx(formula.return_c, abs=0.6)


@pytest.mark.parametrize(
    ("held_c", "how", "flow_c"),
    [(None, DESIGN_DAY, 50.0), (math.nan, DESIGN_DAY, 50.0), (50.0, DESIGN_DAY, 50.0), (49.9, HELD, 49.9)],
)
def test_water_is_no_warmer_than_the_source_can_hold(held_c: float | None, how: str, flow_c: float) -> None:
    today = within_source_output(CommissioningConditions(-3.0, 50.0, 1.0, DESIGN_DAY), held_c)
    assert (today.how, today.flow_temp_c, today.outdoor_c, today.share) == (how, flow_c, -3.0, 1.0)
    read = CommissioningConditions(-3.0, 50.0, 1.0, READ)
    assert within_source_output(read, held_c) is read


def test_a_small_source_is_commissioned_at_the_temperature_that_it_holds(annexe: hl.Design) -> None:
    drawn_kw = annexe.summary["source_heat_w"] / 1000.0
    small = hl.size(replace(annexe.survey, source=replace(annexe.survey.source, output_kw=0.95 * drawn_kw)))
    pack = small.commissioning()
    held_c = small.summary["held_flow_temp_c"]
    assert held_c < small.summary["flow_temp_c"]
    assert (pack.summary["flow_temp_c"], pack.summary["flow_temp_from"]) == (held_c, HELD)
    (loop,) = pack.commissioning["expected_flow_temp_c"]
    assert loop == pytest.approx(held_c, abs=0.2)
    assert small.commissioning(flow_temp_c=68.0).summary["flow_temp_c"] == 68.0
