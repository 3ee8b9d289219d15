"""Corners of a room by least squares from all measurements: walls, diagonals and stated turns.

Observation equations of distances and angles, with residuals divided by their standard deviations: Ghilani, Adjustment
Computations, 6th ed., chapters 14, 15 and 21 (chapter numbers from memory). Lengths are weighted by the scatter of
taping indoors, stated turns by a degree, so diagonals have more weight. Values of the scatter: common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from heatloop.survey.room_geometry import room_geometry

TAPE_FIXED_M, TAPE_SHARE = 0.005, 0.0005
"""Standard deviation of a length taped indoors: so much, and this share of the length."""

TURN_DEG, KEPT_TURN_DEG = 1.0, 0.3
"""Standard deviation of a turn that is stated: an ordinary corner, or a protractor. The smaller one holds where lengths
and diagonals do not fix every corner, so that a wrong length is not taken for corners out of square."""

FREE_TURN_DEG = 60.0
"""Standard deviation of a turn that has no effect where lengths fix the corner."""

MIN_CONTROL = 1e-6
"""Redundancy number below which nothing else measures the same: no error of that observation can be seen."""

STEPS, SMALL_STEP_M = 60, 1e-10


@dataclass(frozen=True)
class Traverse:
    """Measurements of a room: lengths (m) and turns (degrees, at the END of each wall), clockwise, and diagonals.

    A diagonal is (from, to, length in m): two corners by number from 1; corner n is the left-hand end of wall n.
    """

    lengths_m: tuple[float, ...]
    turns_deg: tuple[float, ...]
    diagonals: tuple[tuple[int, int, float], ...] = ()

    @property
    def taped_m(self) -> tuple[float, ...]:
        """Every length: walls first, then diagonals."""
        return (*self.lengths_m, *(length for _, _, length in self.diagonals))


@dataclass(frozen=True)
class Adjustment:
    """The most probable room: adjusted lengths (m) in the order of `Traverse.taped_m`, and turns (degrees).

    `deviations`: each residual as a multiple of its standard deviation, lengths first, then turns; 0 where no other
    measurement controls it. `misfit`: the sum of the weighted squares. `fixed_by_tape`: whether lengths and diagonals
    alone fix every corner.
    """

    lengths_m: tuple[float, ...]
    turns_deg: tuple[float, ...]
    deviations: tuple[float, ...]
    misfit: float
    fixed_by_tape: bool

    @property
    def largest_deviation(self) -> float:
        """The largest residual as a multiple of its standard deviation."""
        return max(map(abs, self.deviations))


def adjust(traverse: Traverse, left_out: int | None = None, turn_sd_deg: float | None = None) -> Adjustment:
    """Corners that fit the measurements best.

    `left_out`: index in `Traverse.taped_m` of a length that is ignored. `turn_sd_deg`: standard deviation of a stated
    turn; default: that of :func:`usual_turn_sd_deg`. Raises ValueError for fewer than three walls, or a diagonal
    between corners that do not exist.
    """
    turn_sd_deg = usual_turn_sd_deg(traverse) if turn_sd_deg is None else turn_sd_deg
    ends, count = _ends(traverse), len(traverse.lengths_m)
    equations = _equations(traverse, left_out, turn_sd_deg)
    corners = _least_squares_corners(equations, _first_guess(traverse))
    residuals, slopes = equations.at(corners)
    turned = residuals[len(ends) :] / equations.weights[-count:]
    return Adjustment(
        tuple(math.dist(corners[a], corners[b]) for a, b in ends),
        tuple(np.degrees(equations.stated + turned).tolist()),
        tuple(_deviations(residuals, slopes)),
        float(residuals @ residuals),
        _is_fixed(slopes[: len(ends)]),
    )


def adjust_by_tape(traverse: Traverse) -> Adjustment:
    """Corners by lengths and diagonals alone where these fix them all; as :func:`adjust` otherwise."""
    turn_sd_deg = usual_turn_sd_deg(traverse)
    return adjust(traverse, turn_sd_deg=FREE_TURN_DEG if turn_sd_deg == TURN_DEG else turn_sd_deg)


def usual_turn_sd_deg(traverse: Traverse) -> float:
    """Standard deviation of the stated turns: `TURN_DEG` where lengths and diagonals alone fix every corner."""
    _, slopes = _equations(traverse, None, TURN_DEG).at(_first_guess(traverse))
    return TURN_DEG if _is_fixed(slopes[: len(traverse.taped_m)]) else KEPT_TURN_DEG


def _ends(traverse: Traverse) -> list[tuple[int, int]]:
    """Corners, from 0, at the ends of every length."""
    count = len(traverse.lengths_m)
    ends = [(wall, (wall + 1) % count) for wall in range(count)]
    ends += [(start - 1, end - 1) for start, end, _ in traverse.diagonals]
    if any(not 0 <= corner < count or a == b for a, b in ends for corner in (a, b)):
        raise ValueError("a diagonal between corners that do not exist")
    return ends


def _equations(traverse: Traverse, left_out: int | None, turn_sd_deg: float) -> _Equations:
    """The equations of all lengths and turns with their weights."""
    taped, count = np.array(traverse.taped_m), len(traverse.lengths_m)
    weights = 1.0 / (TAPE_FIXED_M + TAPE_SHARE * taped)
    if left_out is not None:
        weights[left_out] = 0.0
    turn_weights = np.full(count, math.degrees(1.0) / turn_sd_deg)
    stated = np.radians(traverse.turns_deg)
    return _Equations(_ends(traverse), count, taped, stated, np.concatenate((weights, turn_weights)))


@dataclass(frozen=True)
class _Equations:
    """Weighted residuals and their slopes; the unknowns are all corners but the first and the east of the second."""

    ends: list[tuple[int, int]]
    count: int
    taped: Any
    stated: Any
    weights: Any

    def at(self, corners: Any) -> tuple[Any, Any]:
        residuals = np.zeros(len(self.ends) + self.count)
        slopes = np.zeros((len(residuals), 2 * self.count))
        bearings, turning = np.zeros(self.count), np.zeros((self.count, 2 * self.count))
        for row, (a, b) in enumerate(self.ends):
            dx, dy = corners[b] - corners[a]
            length = max(math.hypot(dx, dy), 1e-9)
            residuals[row] = length - self.taped[row]
            slopes[row, 2 * b : 2 * b + 2] = (dx / length, dy / length)
            slopes[row, 2 * a : 2 * a + 2] = (-dx / length, -dy / length)
            if row < self.count:
                bearings[row] = math.atan2(dx, dy)
                turning[row, 2 * b : 2 * b + 2] = (dy / length**2, -dx / length**2)
                turning[row, 2 * a : 2 * a + 2] = (-dy / length**2, dx / length**2)
        turned = np.roll(bearings, -1) - bearings - self.stated
        residuals[len(self.ends) :] = (turned + math.pi) % (2.0 * math.pi) - math.pi
        slopes[len(self.ends) :] = np.roll(turning, -1, axis=0) - turning
        return residuals * self.weights, (slopes * self.weights[:, None])[:, 3:]


def _first_guess(traverse: Traverse) -> Any:
    """Corners of the traverse with its misclosure distributed, wall 1 to the north."""
    corners = np.array(room_geometry(traverse.lengths_m, traverse.turns_deg).corners_m)
    angle = math.atan2(corners[1][0], corners[1][1])
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    return corners @ turn


def _least_squares_corners(equations: _Equations, corners: Any) -> Any:
    """Corners at the minimum sum of squares: Gauss-Newton steps, shortened until they reduce it."""
    residuals, slopes = equations.at(corners)
    for _ in range(STEPS):
        step = np.linalg.lstsq(slopes, -residuals, rcond=None)[0]
        share = 1.0
        while share > 1e-4:
            moved = corners + share * np.concatenate(([0.0, 0.0, 0.0], step)).reshape(-1, 2)
            tried, tried_slopes = equations.at(moved)
            if tried @ tried <= residuals @ residuals:
                break
            share /= 2.0
        else:
            return corners
        corners, residuals, slopes = moved, tried, tried_slopes
        if share * float(np.max(np.abs(step))) < SMALL_STEP_M:
            break
    return corners


def _deviations(residuals: Any, slopes: Any) -> list[float]:
    """Each weighted residual divided by the root of its redundancy number; 0 for a measurement without control."""
    inner = np.linalg.qr(slopes)[0]
    control = 1.0 - np.sum(inner * inner, axis=1)
    safe = np.where(control > MIN_CONTROL, control, 1.0)
    return np.where(control > MIN_CONTROL, residuals / np.sqrt(safe), 0.0).tolist()  # type: ignore[no-any-return]


def _is_fixed(slopes: Any) -> bool:
    """Whether lengths alone fix every corner."""
    values = np.linalg.svd(slopes, compute_uv=False)
    return bool(len(slopes) >= slopes.shape[1] and values[-1] > 0.02 * values[0])
