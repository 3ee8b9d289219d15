"""Drive of the water of a circuit: a differential pressure, a flow, or a pump with its curve.

Each characteristic gives the head in Pa and its slope in Pa/(m3/s) at a volume flow in m3/s. Between the points of a
curve the head is a monotone cubic (Fritsch and Butland 1984). Beyond the last point it falls along the last slope, also
below zero. So a calculation with too small a pump still gives a result.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from heatloop.survey.water_system import PumpCurve

Array = NDArray[np.float64]

MAX_TRIES = 200
"""Steps of the search for a speed."""

HOUR_S = 3600.0

SLOWEST = 0.02
"""Minimum share of full speed to which a pump is set."""


class PumpCharacteristic(Protocol):
    """Head of whatever drives a circuit."""

    def head_pa(self, flow_m3_s: Array) -> tuple[Array, Array]:
        """Head in Pa and its slope in Pa/(m3/s) at these flows."""
        ...


@dataclass(frozen=True)
class ConstantHead:
    """A head in Pa that does not depend on the flow: one number, or one for each scenario."""

    value_pa: float | Array

    def head_pa(self, flow_m3_s: Array) -> tuple[Array, Array]:
        """The same head at any flow."""
        return np.broadcast_to(np.asarray(self.value_pa, float), flow_m3_s.shape), np.zeros(flow_m3_s.shape)


@dataclass(frozen=True, eq=False)
class MonotoneCubic:
    """A monotone cubic Hermite curve through points of increasing x, as `PchipInterpolator` of scipy.

    It is written here because loading that package takes long.
    """

    x: Array
    y: Array
    slope: Array

    @classmethod
    def through(cls, x: Array, y: Array) -> MonotoneCubic:
        """Curve through at least two points, with slopes by Fritsch and Butland 1984."""
        step = np.diff(x)
        rise = np.diff(y) / step
        if rise.size == 1:
            return cls(x, y, np.repeat(rise, 2))
        slope, left, right = np.zeros(x.size), 2.0 * step[1:] + step[:-1], step[1:] + 2.0 * step[:-1]
        same = rise[1:] * rise[:-1] > 0.0
        mean = left[same] / rise[:-1][same] + right[same] / rise[1:][same]
        slope[1:-1][same] = (left + right)[same] / mean
        slope[0] = _end_slope(step[0], step[1], rise[0], rise[1])
        slope[-1] = _end_slope(step[-1], step[-2], rise[-1], rise[-2])
        return cls(x, y, slope)

    def at(self, x: Array) -> tuple[Array, Array]:
        """Value and slope at x within the points."""
        i = np.clip(np.searchsorted(self.x, x, side="right") - 1, 0, self.x.size - 2)
        step, along = self.x[i + 1] - self.x[i], x - self.x[i]
        rise, first = (self.y[i + 1] - self.y[i]) / step, self.slope[i]
        bend = (first + self.slope[i + 1] - 2.0 * rise) / step
        cubic, square = bend / step, (rise - first) / step - bend
        value = self.y[i] + along * (first + along * (square + along * cubic))
        return np.asarray(value), np.asarray(first + along * (2.0 * square + 3.0 * along * cubic))


def _end_slope(step: float, next_step: float, rise: float, next_rise: float) -> float:
    """Slope at an end by the parabola through three points, limited to what keeps the curve monotone."""
    slope = ((2.0 * step + next_step) * rise - step * next_rise) / (step + next_step)
    if slope * rise <= 0.0:
        return 0.0
    return 3.0 * rise if rise * next_rise < 0.0 and abs(slope) > 3.0 * abs(rise) else slope


def zero_between(function: Callable[[float], float], low: float, high: float, tolerance: float) -> float:
    """Zero of a continuous function between bounds at which its signs differ (Ridders 1979), within `tolerance`.

    Raises ValueError where the signs do not differ.
    """
    at_low, at_high = function(low), function(high)
    if at_low * at_high > 0.0:
        raise ValueError(f"no zero between {low:g} and {high:g}: the function has one sign at both")
    for _ in range(MAX_TRIES):
        if at_low == 0.0 or at_high == 0.0 or abs(high - low) <= tolerance:
            break
        middle = (low + high) / 2.0
        at_middle = function(middle)
        root = np.sqrt(at_middle * at_middle - at_low * at_high)
        estimate = middle + (middle - low) * np.sign(at_low - at_high) * at_middle / root if root > 0.0 else middle
        at_estimate = function(estimate)
        ends = sorted([(low, at_low), (middle, at_middle), (estimate, at_estimate), (high, at_high)])
        pair = next(i for i in range(3) if ends[i][1] * ends[i + 1][1] <= 0.0)
        (low, at_low), (high, at_high) = ends[pair], ends[pair + 1]
    return float(low if abs(at_low) <= abs(at_high) else high)


@dataclass(frozen=True, eq=False)
class PumpCurveAtSpeed:
    """A pump at `speed`, a share of the full speed for which its points are stated.

    Affinity laws: flow is proportional to speed, head to its square (centrifugal pumps of unchanged geometry; any
    handbook of pumps, such as Karassik). They are less exact at low speeds.
    """

    flow_m3_s: tuple[float, ...]
    points_pa: tuple[float, ...]
    speed: float = 1.0

    @cached_property
    def _curve(self) -> MonotoneCubic:
        return MonotoneCubic.through(np.asarray(self.flow_m3_s, float), np.asarray(self.points_pa, float))

    def head_pa(self, flow_m3_s: Array) -> tuple[Array, Array]:
        """Head on the curve: before its first point that of the first point, beyond the last along the last slope."""
        at_full = flow_m3_s / self.speed
        first, last = self.flow_m3_s[0], self.flow_m3_s[-1]
        value, slope = self._curve.at(np.clip(at_full, first, last))
        end_slope = (self.points_pa[-1] - self.points_pa[-2]) / (last - self.flow_m3_s[-2])
        head = value + np.where(at_full > last, end_slope * (at_full - last), 0.0)
        slope = np.where(at_full > last, end_slope, np.where(at_full < first, 0.0, slope))
        return head * self.speed**2, slope * self.speed


@dataclass(frozen=True)
class ProportionalHead:
    """A differential `at_pa` at the flow `at_m3_s` and `minimum` of it at no flow; linear between and beyond."""

    at_pa: float
    at_m3_s: float
    minimum: float = 0.5

    def head_pa(self, flow_m3_s: Array) -> tuple[Array, Array]:
        """Head rising with flow."""
        slope = (1.0 - self.minimum) * self.at_pa / self.at_m3_s
        return self.minimum * self.at_pa + slope * flow_m3_s, np.full(flow_m3_s.shape, slope)


@dataclass(frozen=True)
class LimitedByCurve:
    """A controlled head, limited by the curve of the pump at full speed."""

    required: PumpCharacteristic
    curve: PumpCurveAtSpeed

    def head_pa(self, flow_m3_s: Array) -> tuple[Array, Array]:
        """The lower of the controlled head and the curve, at each flow."""
        (head, slope), (maximum, falls) = self.required.head_pa(flow_m3_s), self.curve.head_pa(flow_m3_s)
        weak = maximum < head
        return np.where(weak, maximum, head), np.where(weak, falls, slope)


def full_speed(pump: PumpCurve) -> PumpCurveAtSpeed:
    """The pump's curve at full speed."""
    return PumpCurveAtSpeed(tuple(v / HOUR_S for v in pump.flow_m3_h), tuple(1000.0 * v for v in pump.head_kpa))


def pump_characteristic(pump: PumpCurve) -> PumpCharacteristic:
    """Law of a pump as set in the survey: at its speed (default: full), or a differential limited by its curve."""
    full = full_speed(pump)
    if pump.constant_kpa is not None:
        return LimitedByCurve(ConstantHead(1000.0 * pump.constant_kpa), full)
    if pump.proportional_kpa is not None:
        at_m3_h = pump.flow_m3_h[-1] if pump.proportional_m3_h is None else pump.proportional_m3_h
        return LimitedByCurve(ProportionalHead(1000.0 * pump.proportional_kpa, at_m3_h / HOUR_S), full)
    return replace(full, speed=pump.speed or 1.0)


def pump_as_commissioned(pump: PumpCurve | None, flow_m3_s: float, head_pa: float) -> PumpCharacteristic:
    """Law of a pump that is set for this duty at commissioning.

    A pump with a setting in the survey keeps it. Otherwise its speed is reduced until its curve gives the head at this
    flow; a pump that is too weak stays at full speed. Without a pump in the survey the differential is constant.
    """
    if pump is None:
        return ConstantHead(head_pa)
    if any(value is not None for value in (pump.speed, pump.constant_kpa, pump.proportional_kpa)):
        return pump_characteristic(pump)
    full = full_speed(pump)

    def short_pa(speed: float) -> float:
        return head_pa - float(replace(full, speed=speed).head_pa(np.array(flow_m3_s))[0])

    if short_pa(1.0) >= 0.0:
        return full
    if short_pa(SLOWEST) <= 0.0:
        return replace(full, speed=SLOWEST)
    return replace(full, speed=zero_between(short_pa, SLOWEST, 1.0, 1e-14))


def power_w(flow_m3_s: float, head_pa: float, efficiency: float) -> float:
    """Electric power of a pump in W: flow times head over its efficiency, water to wire."""
    return flow_m3_s * head_pa / efficiency
