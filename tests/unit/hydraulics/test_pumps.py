"""Curves of pumps, their settings, and the search for a zero: against other libraries and by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from heatloop.hydraulics.pumps import (
    SLOWEST,
    ConstantHead,
    LimitedByCurve,
    MonotoneCubic,
    ProportionalHead,
    PumpCurveAtSpeed,
    full_speed,
    power_w,
    pump_as_commissioned,
    pump_characteristic,
    zero_between,
)
from heatloop.survey.water_system import PumpCurve

CURVES = (
    ((0.0, 1.0, 2.0), (30.0, 25.0, 12.0)),
    ((0.0, 0.5, 2.0, 2.1, 5.0), (40.0, 39.0, 30.0, 29.5, 1.0)),
    ((0.0, 1.0, 2.0, 3.0), (10.0, 20.0, 15.0, 15.0)),
    ((0.0, 1.0, 1.1, 4.0), (10.0, 9.9, 2.0, 1.9)),
    ((0.0, 2.0, 2.5, 3.0), (0.0, 0.1, 5.0, 4.0)),
)
POINTS = PumpCurve((0.0, 0.5, 1.0), (30.0, 25.0, 12.0))
DUTY_M3_S = 0.4 / 3600.0


@pytest.mark.parametrize(("x", "y"), CURVES)
def test_the_curve_is_that_of_scipy(x: tuple[float, ...], y: tuple[float, ...]) -> None:
    ours = MonotoneCubic.through(np.array(x), np.array(y))
    theirs = PchipInterpolator(x, y)
    at = np.linspace(x[0], x[-1], 201)
    value, slope = ours.at(at)
    assert value == pytest.approx(theirs(at), abs=1e-12)
    assert slope == pytest.approx(theirs.derivative()(at), abs=1e-10)


def test_two_points_are_joined_by_a_straight_line() -> None:
    value, slope = MonotoneCubic.through(np.array([1.0, 3.0]), np.array([10.0, 4.0])).at(np.array([1.0, 1.5, 3.0]))
    assert value == pytest.approx([10.0, 8.5, 4.0])
    assert slope == pytest.approx([-3.0, -3.0, -3.0])


def test_a_pump_before_its_first_point_and_beyond_its_last() -> None:
    pump = PumpCurveAtSpeed((1e-4, 2e-4, 4e-4), (30e3, 26e3, 10e3))
    head, slope = pump.head_pa(np.array([0.0, 0.5e-4, 4e-4, 6e-4]))
    assert head == pytest.approx([30e3, 30e3, 10e3, 10e3 - 2e-4 * 16e3 / 2e-4])
    assert list(slope[:2]) == [0.0, 0.0]
    assert slope[3] == pytest.approx(-16e3 / 2e-4)
    slow, falls = replace(pump, speed=0.5).head_pa(np.array([1e-4, 3e-4]))
    assert slow == pytest.approx([0.25 * 26e3, 0.25 * (10e3 - 16e3)])
    assert falls[1] == pytest.approx(0.5 * -16e3 / 2e-4)


def test_heads_that_stand_and_that_rise_with_flow() -> None:
    head, slope = ConstantHead(5e3).head_pa(np.array([0.0, 1.0]))
    assert (head.tolist(), slope.tolist()) == ([5e3, 5e3], [0.0, 0.0])
    head, slope = ProportionalHead(8e3, 2e-4).head_pa(np.array([0.0, 1e-4, 2e-4, 3e-4]))
    assert head == pytest.approx([4e3, 6e3, 8e3, 10e3])
    assert slope == pytest.approx([4e3 / 2e-4] * 4)
    head, _ = ProportionalHead(8e3, 2e-4, minimum=0.25).head_pa(np.array([0.0, 2e-4]))
    assert head == pytest.approx([2e3, 8e3])


def test_a_controlled_head_ends_at_the_curve() -> None:
    curve = PumpCurveAtSpeed((0.0, 4e-4), (10e3, 2e3))
    head, slope = LimitedByCurve(ConstantHead(6e3), curve).head_pa(np.array([1e-4, 2e-4, 3e-4]))
    assert head == pytest.approx([6e3, 6e3, 4e3])
    assert slope == pytest.approx([0.0, 0.0, -8e3 / 4e-4])


def test_a_pump_of_the_survey_at_full_speed_is_in_si_units() -> None:
    assert full_speed(POINTS).flow_m3_s == pytest.approx((0.0, 0.5 / 3600.0, 1.0 / 3600.0))
    assert full_speed(POINTS).points_pa == pytest.approx((30e3, 25e3, 12e3))


def test_laws_as_the_survey_sets_them() -> None:
    assert pump_characteristic(POINTS) == full_speed(POINTS) or pump_characteristic(POINTS).speed == 1.0  # type: ignore[attr-defined]
    assert pump_characteristic(replace(POINTS, speed=0.7)).speed == 0.7  # type: ignore[attr-defined]
    held = pump_characteristic(replace(POINTS, constant_kpa=9.0))
    assert isinstance(held, LimitedByCurve)
    assert held.required == ConstantHead(9e3)
    rising = pump_characteristic(replace(POINTS, proportional_kpa=9.0))
    assert isinstance(rising, LimitedByCurve)
    assert rising.required == ProportionalHead(9e3, 1.0 / 3600.0), "at the last point of its curve unless stated"
    stated = pump_characteristic(replace(POINTS, proportional_kpa=9.0, proportional_m3_h=0.6))
    assert isinstance(stated, LimitedByCurve)
    assert stated.required == ProportionalHead(9e3, 0.6 / 3600.0)


def test_a_pump_is_turned_down_to_its_duty_within_its_range() -> None:
    set_down = pump_as_commissioned(POINTS, DUTY_M3_S, 11e3)
    assert isinstance(set_down, PumpCurveAtSpeed)
    assert SLOWEST < set_down.speed < 1.0
    assert float(set_down.head_pa(np.array([DUTY_M3_S]))[0][0]) == pytest.approx(11e3, rel=1e-9)
    slowest = pump_as_commissioned(POINTS, 0.0, 1.0)
    assert isinstance(slowest, PumpCurveAtSpeed)
    assert slowest.speed == SLOWEST == 0.02, "30 kPa at full speed leave 12 Pa at a fiftieth of it"
    at_full = float(full_speed(POINTS).head_pa(np.array([DUTY_M3_S]))[0][0])
    exact = pump_as_commissioned(POINTS, DUTY_M3_S, at_full)
    assert isinstance(exact, PumpCurveAtSpeed)
    assert exact.speed == 1.0
    for own in ({"speed": 0.8}, {"constant_kpa": 9.0}, {"proportional_kpa": 9.0}):
        kept = pump_as_commissioned(replace(POINTS, **own), DUTY_M3_S, 11e3)  # type: ignore[arg-type]
        law = pump_characteristic(replace(POINTS, **own))  # type: ignore[arg-type]
        flows = np.array([0.0, DUTY_M3_S])
        assert kept.head_pa(flows)[0] == pytest.approx(law.head_pa(flows)[0])
    assert pump_as_commissioned(None, DUTY_M3_S, 11e3) == ConstantHead(11e3)


def test_power_is_flow_times_head_over_efficiency() -> None:
    assert power_w(2e-4, 15e3, 0.4) == pytest.approx(7.5)


@pytest.mark.parametrize(
    ("function", "low", "high", "zero"),
    [
        (lambda x: x * x - 2.0, 0.0, 2.0, math.sqrt(2.0)),
        (lambda x: 2.0 - x * x, 0.0, 2.0, math.sqrt(2.0)),
        (lambda x: math.exp(x) - 5.0, 0.0, 10.0, math.log(5.0)),
        (lambda x: (x - 1.0) ** 3, -3.0, 2.0, 1.0),
        (lambda x: math.atan(50.0 * (x - 0.3)), -1.0, 4.0, 0.3),
    ],
)
def test_a_zero_is_found_between_its_bounds(function, low: float, high: float, zero: float) -> None:  # type: ignore[no-untyped-def]
    calls: list[float] = []

    def counted(x: float) -> float:
        calls.append(x)
        return float(function(x))

    assert zero_between(counted, low, high, 1e-12) == pytest.approx(zero, abs=1e-9)
    assert all(low <= x <= high for x in calls)
    assert len(calls) <= 2.0 + 2.0 * math.log2((high - low) / 1e-12), "each step of two calls halves at least"


def test_a_zero_at_a_bound_is_that_bound_and_one_sign_is_refused() -> None:
    assert zero_between(lambda x: x - 1.0, 1.0, 3.0, 1e-12) == 1.0
    assert zero_between(lambda x: x - 3.0, 1.0, 3.0, 1e-12) == 3.0
    with pytest.raises(ValueError, match="no zero between 1 and 3: the function has one sign at both"):
        zero_between(lambda x: x, 1.0, 3.0, 1e-12)


@pytest.mark.parametrize("seed", range(60))
def test_monotone_curves_are_those_of_scipy(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 8))
    x = np.cumsum(rng.uniform(0.1, 1.0, count))
    y = (rng.normal(size=count), -np.sort(rng.normal(size=count)), np.round(rng.normal(size=count)))[seed % 3]
    at, theirs = rng.uniform(x[0], x[-1], 50), PchipInterpolator(x, y)
    value, slope = MonotoneCubic.through(x, y).at(at)
    np.testing.assert_allclose(value, theirs(at), rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(slope, theirs.derivative()(at), rtol=1e-10, atol=1e-11)


@pytest.mark.parametrize("cube", [1e-9, 0.2, 1.0, 3.3])
def test_zeros_are_found_between_bounds(cube):
    def miss(x):
        return x**3 - cube

    assert zero_between(miss, 0.0, 1.5, 1e-14) == pytest.approx(brentq(miss, 0.0, 1.5, xtol=1e-15), abs=2e-14)
    assert zero_between(lambda x: -miss(x), 0.0, 1.5, 1e-14) == pytest.approx(cube ** (1.0 / 3.0), abs=2e-14)


def test_bounds_of_one_sign_are_refused():
    with pytest.raises(ValueError, match="no zero between 1 and 2"):
        zero_between(lambda x: x, 1.0, 2.0, 1e-9)


@pytest.mark.parametrize("size", [1e-6, 1e3])
def test_a_zero_is_found_in_as_many_steps_whatever_the_size_of_the_function(size: float) -> None:
    """The method weighs values against each other alone: 2 to the tenth or a millionth of it makes no difference."""
    counts = []
    for scale in (1.0, 2.0 ** round(math.log2(size))):
        asked: list[float] = []

        def scaled(x: float, scale: float = scale, asked: list[float] = asked) -> float:
            asked.append(x)
            return scale * (x**3 - 2.0)

        assert zero_between(scaled, 0.5, 2.0, 1e-12) == pytest.approx(2.0 ** (1.0 / 3.0), abs=1e-11)
        counts.append(len(asked))
    assert counts[0] == counts[1]
