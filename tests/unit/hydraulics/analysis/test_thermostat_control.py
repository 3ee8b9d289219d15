"""Steps of the search for what thermostatic valves let through: slopes, bounds, and where a room may stay."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from heatloop.hydraulics.analysis.thermostat_control import (
    MAX_SLOPE,
    MIN_KG_S,
    MIN_SLOPE,
    MIN_STEP,
    _learn,
    _may_stay,
    _next,
    _others,
    _place,
    _Search,
)
from heatloop.hydraulics.solver.problem import CLOSED_KG_S


def search(**values: object) -> _Search:
    return _Search([0], 1000.0, **values)  # type: ignore[arg-type]


def state(flow_kg_s: list[float], throttled: list[bool] | None = None) -> SimpleNamespace:
    return SimpleNamespace(
        loop_flow_kg_s=np.array(flow_kg_s), throttled=np.array(throttled or [False] * len(flow_kg_s))
    )


def test_the_place_of_a_room_is_that_of_its_loops_together() -> None:
    two = _Search([0, 2], 1000.0)
    open_flow = np.array([0.02, 0.5, 0.04])
    assert _place(two, state([0.01, 0.5, 0.02]), open_flow) == pytest.approx(math.log(0.5))  # type: ignore[arg-type]
    assert _place(two, state([0.0, 0.5, 0.0]), open_flow) == pytest.approx(math.log(MIN_KG_S / 0.06))  # type: ignore[arg-type]


def test_others_are_all_but_ones_own() -> None:
    assert _others([0.5, -0.7, 0.1], 0) == 0.7
    assert _others([0.5, -0.7, 0.1], 1) == 0.5
    assert _others([0.5], 0) == 0.0


def test_a_slope_is_heat_over_the_way_of_the_flow_and_kept_within_bounds() -> None:
    """From 1200 to 1100 W while ln flow falls by 0.2: 500 W, as a share of 1100 W."""
    one = search(last=(0.0, 200.0))
    _learn(one, -0.2, 1100.0, 0.0)
    assert one.slope == pytest.approx(500.0 / 1100.0)
    assert one.last == (-0.2, pytest.approx(100.0))
    for given_w, slope in ((1199.0, MIN_SLOPE), (500.0, MAX_SLOPE)):
        one = search(last=(0.0, 200.0))
        _learn(one, -0.2, given_w, 0.0)
        assert one.slope == slope


@pytest.mark.parametrize(("others", "learns"), [(0.39, True), (0.41, False)])
def test_a_slope_is_learnt_where_ones_own_flow_moved_half_as_far_as_others(others: float, learns: bool) -> None:
    one = search(last=(0.0, 200.0))
    _learn(one, -0.2, 1100.0, others)
    assert (one.slope != 0.5) is learns


def test_bounds_close_in_on_the_heat_required_and_give_way_to_what_others_move() -> None:
    one = search()
    _learn(one, 0.0, 1200.0, 0.0)
    assert (one.low, one.high) == (-math.inf, 0.0)
    _learn(one, -1.0, 800.0, 0.0)
    assert (one.low, one.high) == (-1.0, 0.0)
    _learn(one, -0.5, 1100.0, 0.1)
    assert (one.low, one.high) == (pytest.approx(-1.1), -0.5)
    _learn(one, -1.2, 1050.0, 0.0)
    assert (one.low, one.high) == (-math.inf, -1.2), "too much below what was too little: that bound was wrong"
    _learn(one, -0.3, 900.0, 0.0)
    assert (one.low, one.high) == (-0.3, math.inf)


def test_the_next_try_is_the_secants_and_half_way_where_that_leaves_the_bounds() -> None:
    one = search(slope=0.5)
    assert _next(one, 0.0, 1100.0, 1.0) == pytest.approx(-100.0 / (0.5 * 1100.0))
    assert _next(one, 0.0, 1100.0, 0.5) == pytest.approx(-50.0 / (0.5 * 1100.0))
    assert _next(one, 0.0, 200.0, 1.0) == 1.5, "up to four and a half times the flow"
    assert _next(search(slope=0.02), 0.0, 5000.0, 1.0) == -3.0, "down to a twentieth of it"
    between = search(slope=0.5, low=-0.1, high=0.0)
    assert _next(between, 0.0, 1100.0, 1.0) == pytest.approx(-0.05)
    inside = search(slope=0.5, low=-0.3, high=0.0)
    assert _next(inside, 0.0, 1100.0, 1.0) == pytest.approx(-100.0 / 550.0)


OPEN, SHUT = [0.02], [0.5 * CLOSED_KG_S]


@pytest.mark.parametrize(
    ("given_w", "flow", "throttled", "width", "stays"),
    [
        (1000.0, OPEN, True, 1.0, True),  # the heat required
        (1000.0 + 9e-5, OPEN, True, 1.0, True),  # within a ten-millionth of it
        (1000.0 + 2e-4, OPEN, True, 1.0, False),
        (1100.0, OPEN, True, 1.0, False),  # too much, and not yet shut
        (1100.0, SHUT, True, 1.0, True),  # too much though shut
        (900.0, OPEN, True, 1.0, False),  # too little, and not yet open
        (900.0, OPEN, False, 1.0, True),  # too little though open
        (900.0, SHUT, True, 1.0, False),  # shut, and too little
        (900.0, SHUT, True, 0.5 * MIN_STEP, True),  # shut, and the least flow is too much
    ],
)
def test_a_room_stays_with_its_heat_or_at_a_limit_of_its_valves(
    given_w: float, flow: list[float], throttled: bool, width: float, stays: bool
) -> None:
    one = search(low=-5.0, high=-5.0 + width)
    assert bool(_may_stay(one, given_w, state(flow, [throttled]), 1e-7)) is stays  # type: ignore[arg-type]


def test_a_room_that_gets_half_a_watt_too_much_through_an_open_valve_may_not_stay() -> None:
    """Beyond a tolerance of 0.1 W; half a watt too little through an open valve is all that there is."""
    flowing = state([0.01])
    assert not _may_stay(search(), 1000.5, flowing, 1e-4)  # type: ignore[arg-type]
    assert _may_stay(search(), 999.5, flowing, 1e-4)  # type: ignore[arg-type]
    assert _may_stay(search(), 1000.05, flowing, 1e-4)  # type: ignore[arg-type]
