"""Curves through points and zeros between bounds, for what is needed at every start of the program.

The same as scipy's `CubicSpline`, `PchipInterpolator` and `brentq` give, whose packages take a tenth of the time of
sizing a house to load.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_banded

Array = NDArray[np.float64]

MAX_TRIES = 200


def spline_coefficients(values: Array) -> Array:
    """Coefficients of the cubic spline (not-a-knot) through `values` (N, K) at 0, 1, 2 and so on, (4, N - 1, K) by
    rising power of the distance from the left end of each interval. N at least 4. de Boor, A Practical Guide to
    Splines, chapter IV."""
    rise = np.diff(values, axis=0)
    band = np.ones((3, values.shape[0]))
    band[1, 1:-1] = 4.0
    band[0, 1] = band[2, -2] = 2.0
    right = np.empty_like(values)
    right[1:-1] = 3.0 * (rise[:-1] + rise[1:])
    right[0], right[-1] = (5.0 * rise[0] + rise[1]) / 2.0, (rise[-2] + 5.0 * rise[-1]) / 2.0
    slope = solve_banded((1, 1), band, right)
    bend = slope[:-1] + slope[1:] - 2.0 * rise
    return np.stack([values[:-1], slope[:-1], rise - slope[:-1] - bend, bend])


@dataclass(frozen=True, eq=False)
class MonotoneCubic:
    """A cubic Hermite curve through points (x rising) that is monotone wherever they are."""

    x: Array
    y: Array
    slope: Array

    @classmethod
    def through(cls, x: Array, y: Array) -> MonotoneCubic:
        """The curve through these points, two at least, with slopes after Fritsch and Butland 1984."""
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
    """Slope at an end by the parabola through three points, kept within what is monotone."""
    slope = ((2.0 * step + next_step) * rise - step * next_rise) / (step + next_step)
    if slope * rise <= 0.0:
        return 0.0
    return 3.0 * rise if rise * next_rise < 0.0 and abs(slope) > 3.0 * abs(rise) else slope


def zero_between(function: Callable[[float], float], low: float, high: float, tolerance: float) -> float:
    """Where a continuous function is zero between bounds at which its signs differ (Ridders 1979), within
    `tolerance`. ValueError where they do not differ."""
    at_low, at_high = function(low), function(high)
    if at_low * at_high > 0.0:
        raise ValueError(f"no zero between {low:g} and {high:g}: the function has one sign at both")
    for _ in range(MAX_TRIES):
        if at_low == 0.0 or at_high == 0.0 or abs(high - low) <= tolerance:
            break
        middle = (low + high) / 2.0
        at_middle = function(middle)
        root = np.sqrt(at_middle * at_middle - at_low * at_high)
        found = middle + (middle - low) * np.sign(at_low - at_high) * at_middle / root if root > 0.0 else middle
        at_found = function(found)
        ends = sorted([(low, at_low), (middle, at_middle), (found, at_found), (high, at_high)])
        pair = next(i for i in range(3) if ends[i][1] * ends[i + 1][1] <= 0.0)
        (low, at_low), (high, at_high) = ends[pair], ends[pair + 1]
    return float(low if abs(at_low) <= abs(at_high) else high)
