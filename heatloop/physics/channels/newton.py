"""Newton's method on the channel temperatures of all runs together: equations of a cell and their banded system.

A cell has five points: its ends, its quarters and its middle. The scheme is a mono-implicit Runge-Kutta method of order
six, see `heatloop.physics.channels.solver`. Each next point is a fixed combination of T at both ends and of h f at the
points before it. The residual of the cell is such a combination too. The small matrices below hold the numbers.

The derivatives of a small cell by its ends are approximate. They use the derivatives of the scheme for a constant
Jacobian, I -+ z/2 + z^2/10 -+ z^3/120, where z is the mean of h J at both ends. The first-order effect of the
difference in z between the ends is included. The square of this difference is neglected: this changes a step by 1/10
000 of itself or less and saves a third of the work. The solved equations remain exact. Where a cell is long for its
flow (between thin layers, see `subdivide` in grid.py), the derivatives of all cells are calculated in full.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack

from heatloop.physics.channels.equations import NO_FILM_DROPS, ChannelEquations, matrix_product, matrix_vector
from heatloop.physics.channels.grid import ChannelRuns, ChannelSolution

Array = NDArray[np.float64]

# columns: T left, T right, then h f at left, right, quarter, three quarters, middle
QUARTERS = np.array([[27 / 32, 5 / 32, 9 / 64, -3 / 64], [5 / 32, 27 / 32, 3 / 64, -9 / 64]])
MIDDLE_POINT = np.array([[1 / 2, 1 / 2, -5 / 24, 5 / 24, 2 / 3, -2 / 3]])
"""Fourth order by design: its error cancels that of the quarters in the sum of the cell."""
CLOSING = np.array(
    [
        [-1.0, 1.0, -7 / 90, -7 / 90, -32 / 90, -32 / 90, -12 / 90],
        [1 / 2, 1 / 2, 1 / 24, -1 / 24, 1 / 6, -1 / 6, 0.0],
    ]
)
"""The residual of the cell, and its temperature half-way."""
QUADRATURE = np.array([7 / 90, 7 / 90, 32 / 90, 32 / 90, 12 / 90])

RENEW_K = 0.3
"""For a larger change than this, the slopes are calculated again."""

SMALL_CELL = 0.5
"""Up to this h J slopes are those of a Jacobian that does not change along the cell."""

SLOWEST = 0.1
"""Slopes are used again while every step is at most this share of the step before."""


class ChannelNewtonSolver:
    """Newton's method on the temperatures of all runs: repeat `step` until the change is small, then read `result`.

    Between steps `change` can set other capacities and films; the next step starts from the temperatures so far.
    """

    def __init__(
        self,
        runs: ChannelRuns,
        capacity_w_k: Array,
        inlet_c: Array,
        initial_guess_c: Array | None = None,
        film_mk_w: Array | None = None,
        initial_film_drop_k: Mapping[str, Array] = NO_FILM_DROPS,
    ) -> None:
        self.runs = runs
        self.equations = ChannelEquations(runs, capacity_w_k, initial_film_drop_k)
        if film_mk_w is not None:
            self.equations.set_film(film_mk_w)
        count, self.grid = len(runs.direction), runs.grid
        self.channels = count
        self.out = [i for i, d in enumerate(runs.direction) if d > 0]
        self.returning = [i for i, d in enumerate(runs.direction) if d < 0]
        self.first, self.last, self.ends = self.grid.first, self.grid.last, self.grid.ends
        temp = np.repeat(inlet_c, self.grid.counts)[:, None] if initial_guess_c is None else initial_guess_c.T
        self.vector = np.empty(self.grid.band.shape[0])
        """The unknowns: temperatures node after node."""
        self.vector.reshape(-1, count)[:] = temp
        self.set_inlet(inlet_c)
        if len(self.out) == 1:  # from here on every step keeps to it
            for i in self.returning:
                self.vector[self.last * count + i] = self.vector[self.last * count + self.out[0]]
        self.stages = np.empty((count, 7, runs.length_m.size))
        """T at both ends and h f at all points, in the order of CLOSING."""
        ends = self.vector.take(self.ends)
        self.middle_c = (ends[:, 0] + ends[:, 1]) / 2.0
        """Temperature half-way along each cell as of the last step, (C, M)."""
        self.iterations = 0
        self.from_nowhere = initial_guess_c is None
        self.factors: tuple[Array, Array] | None = None
        self.moved_k = self.moved_before_k = np.inf
        self._set_capacity(capacity_w_k)

    @property
    def temp(self) -> Array:
        """Temperatures at the nodes, (C, M + R)."""
        return self.vector.reshape(-1, self.channels).T

    def set_inlet(self, inlet_c: Array) -> None:
        """Use other inlet temperatures (R); all temperatures are limited to the range between inlets and rooms."""
        self.inlet = inlet_c
        coldest, warmest = self.runs.room_span_c
        low, high = np.minimum(inlet_c, coldest), np.maximum(inlet_c, warmest)
        each = self.grid.counts * self.channels
        self.low_c, self.high_c = np.repeat(low, each), np.repeat(high, each)
        run = self.runs.run_of_cell
        self.low_cell_c, self.high_cell_c = low.take(run), high.take(run)
        for i in self.out:
            self.vector[self.first * self.channels + i] = inlet_c
        self._bound()

    def _set_capacity(self, capacity_w_k: Array) -> None:
        self.capacity = capacity_w_k
        self.equations.set_capacity(capacity_w_k)
        if len(self.out) > 1:
            at_end = capacity_w_k[self.out][:, self.runs.start[1:] - 1]
            self.mixing = at_end / at_end.sum(axis=0)

    def change(self, capacity_w_k: Array, film_mk_w: Array | None = None, far_end_w_k: Array | None = None) -> None:
        """Use other capacities (C, M) and another film (C, M) from now on.

        Several outward channels mix at the far end by `far_end_w_k` (O, R): for each channel, its flow times the mean
        heat capacity between its own and the mixed temperature. The heat that arrives is then equal to the heat that
        returns. Without this argument the capacities of the last cells are used.
        """
        self._set_capacity(capacity_w_k)
        if far_end_w_k is not None:
            self.mixing = far_end_w_k / far_end_w_k.sum(axis=0)
        if film_mk_w is not None:
            self.equations.set_film(film_mk_w)

    def step(self) -> float:
        """Take one step; return the largest change of a water or wall temperature in K.

        The first step without initial temperatures goes to the solution of the linearised equations and returns
        infinity. After a small step the factors of the last full step are used again while the steps continue to
        shrink.
        """
        self.equations.wall_moved_k = 0.0
        nowhere, self.from_nowhere = self.from_nowhere, False
        renew = self.factors is None or self.moved_k > RENEW_K or self.moved_k > SLOWEST * self.moved_before_k
        defect, slopes = self._straight() if nowhere else self._equations(renew)
        if slopes is not None:
            self._factorise(slopes)
        change = self._solve(defect)
        moved = max(float(np.abs(change).max()), self.equations.wall_moved_k)
        self.vector += change
        self._bound()
        at_ends = change.take(self.ends)
        self.middle_c += 0.5 * (at_ends[:, 0] + at_ends[:, 1])
        np.maximum(self.middle_c, self.low_cell_c, out=self.middle_c)
        np.minimum(self.middle_c, self.high_cell_c, out=self.middle_c)
        self.iterations += 1
        if nowhere:
            self.factors = None
            return np.inf
        self.moved_before_k, self.moved_k = self.moved_k, moved
        return moved

    @property
    def mixes(self) -> bool:
        """Whether several outward channels mix at the far end and return from there."""
        return len(self.out) > 1 and bool(self.returning)

    @property
    def far_end_c(self) -> tuple[Array, Array]:
        """Temperatures of the outward channels at the far end (O, R), and of the returning water (R)."""
        out = self.vector.take(self.last * self.channels + np.array(self.out)[:, None])
        return out, self.vector.take(self.last * self.channels + self.returning[0])

    @property
    def left_k(self) -> float:
        """Remaining change in K, estimated from the ratio of the last step to the previous step."""
        if not np.isfinite(self.moved_before_k):
            return self.moved_k
        return self.moved_k * min(self.moved_k / max(self.moved_before_k, 1e-300), 1.0)

    def _bound(self) -> None:
        """Limit all temperatures to the range between inlet and rooms, whatever the trial values are."""
        np.maximum(self.vector, self.low_c, out=self.vector)
        np.minimum(self.vector, self.high_c, out=self.vector)

    def _straight(self) -> tuple[Array, Array]:
        """Residuals and derivatives of the equations, linearised about the mean water temperature of each run.

        The mean is estimated for one uniform channel; all water is at the inlet temperature so far.
        """
        equations, runs, starts = self.equations, self.runs, self.runs.start[:-1]
        inlet = self.vector.take(self.ends[:, :1])
        excess = inlet - equations.room
        whole_m = np.add.reduceat(runs.length_m, starts)
        level = np.abs(np.add.reduceat(excess[0, 0] * runs.length_m, starts)) / whole_m
        constant = runs.emission_w_mkn.sum(axis=0).take(starts) * whole_m
        emission_w_m = constant * np.maximum(level, 1e-6) ** equations.power.take(starts)
        cooled = emission_w_m / (emission_w_m + 2.0 * self.capacity[self.out].sum(axis=0).take(starts))
        mean = inlet - excess * cooled.take(self.runs.run_of_cell)
        rate = np.empty_like(inlet)
        z = equations.rate_and_jacobian(rate, mean, "ends")[:, :, 0]
        mean_drop_k = equations.film_drop_k.pop("ends", None)
        if mean_drop_k is not None:
            equations.film_drop_k = dict.fromkeys(("ends", "quarters", "middle"), mean_drop_k)
        return -rate[:, 0] - matrix_vector(z, (inlet - mean)[:, 0]), _slopes(z, None)

    def _equations(self, with_slopes: bool) -> tuple[Array, Array | None]:
        """Residual of every cell (C, M) and, on request, its derivatives by both ends (2, C, C, M)."""
        equations, stages = self.equations, self.stages
        ends = self.vector.take(self.ends, out=stages[:, :2], mode="clip")
        slopes = None
        if with_slopes:
            z = equations.rate_and_jacobian(stages[:, 2:4], ends, "ends")
            if max(z.max(), -z.min()) > SMALL_CELL:
                slopes = self._slopes_in_full(z)
            else:
                slopes = _slopes(0.5 * (z[:, :, 0] + z[:, :, 1]), 0.1 * (z[:, :, 0] - z[:, :, 1]))
        else:
            equations.rate_into(stages[:, 2:4], ends, "ends")
        equations.rate_into(stages[:, 4:6], QUARTERS @ stages[:, :4], "quarters")
        equations.rate_into(stages[:, 6:], MIDDLE_POINT @ stages[:, :6], "middle")
        closing = CLOSING @ stages
        self.middle_c = np.minimum(np.maximum(closing[:, 1], self.low_cell_c), self.high_cell_c)
        return closing[:, 0], slopes

    def _slopes_in_full(self, z: Array) -> Array:
        """Derivatives of the residual of every cell (2, C, C, M), point by point; z (C, C, 2, M) is h J at the ends."""
        equations, stages = self.equations, self.stages
        unit = np.eye(self.channels)[:, :, None]
        spare = np.empty((self.channels, 3, stages.shape[2]))
        stages[:, 4:6] = QUARTERS @ stages[:, :4]
        zq = equations.rate_and_jacobian(spare[:, :2], stages[:, 4:6], "quarters")
        stages[:, 4:6] = spare[:, :2]
        zm = equations.rate_and_jacobian(spare[:, 2:], MIDDLE_POINT @ stages[:, :6], "middle")[:, :, 0]
        slopes = np.empty((2, *zm.shape))
        for end, sign in ((0, 1.0), (1, -1.0)):
            own = z[:, :, end]
            by_quarter = [QUARTERS[q, end] * unit + QUARTERS[q, 2 + end] * own for q in (0, 1)]
            q, t = matrix_product(zq[:, :, 0], by_quarter[0]), matrix_product(zq[:, :, 1], by_quarter[1])
            m = matrix_product(zm, 0.5 * unit - sign * 5 / 24 * own + 2 / 3 * (q - t))
            slopes[end] = -sign * unit - (7 * own + 32 * (q + t) + 12 * m) / 90
        return slopes

    def _factorise(self, slopes: Array) -> None:
        """LU factors of the banded system of cells with these derivatives."""
        grid = self.grid
        band = grid.band.copy()
        band.reshape(-1)[grid.at_slopes] = slopes
        if len(self.out) > 1:
            n, diagonal = self.channels, grid.lower + grid.upper
            for row in range(len(self.returning)):
                for share, j in zip(self.mixing, self.out, strict=True):
                    band[self.last * n + j, diagonal + len(self.out) + row - j] = -share
        factors, pivots, info = lapack.dgbtrf(band.T, grid.lower, grid.upper, overwrite_ab=1)
        if info != 0:
            raise ArithmeticError("the channel equations are singular: a flow is zero or not finite")
        self.factors = factors, pivots

    def _solve(self, defect: Array) -> Array:
        """Change of every unknown that removes the residuals, with fixed inlets."""
        assert self.factors is not None
        rhs = np.zeros(self.vector.size)
        rhs[self.grid.at_cells] = defect
        if len(self.out) > 1:
            n = self.channels
            mixed = (self.mixing * [self.vector.take(self.last * n + i) for i in self.out]).sum(axis=0)
            for row, i in enumerate(self.returning):
                rhs[self.last * n + len(self.out) + row] = self.vector.take(self.last * n + i) - mixed
        band, pivots = self.factors
        change, _ = lapack.dgbtrs(band, self.grid.lower, self.grid.upper, rhs, pivots, overwrite_b=1)
        return np.asarray(np.negative(change, out=change))

    def result(self) -> ChannelSolution:
        """Heat of every cell by the quadrature of the equations, and the remaining residuals."""
        equations, length, stages = self.equations, self.runs.length_m, self.stages
        ends = self.vector.take(self.ends, out=stages[:, :2], mode="clip")
        walls = np.empty((self.channels, 5, length.size))
        emission = np.empty_like(walls)

        def evaluate(points: slice, temp: Array, slot: str) -> None:
            wall = walls[:, points] = equations.wall(temp, equations.film_drop_k.get(slot))
            stages[:, 2 + points.start : 2 + points.stop], emission[:, points] = equations.rate(wall)

        evaluate(slice(0, 2), ends, "ends")
        evaluate(slice(2, 4), QUARTERS @ stages[:, :4], "quarters")
        evaluate(slice(4, 5), MIDDLE_POINT @ stages[:, :6], "middle")
        closing = CLOSING @ stages
        lost = np.zeros((self.channels, length.size))
        if self.runs.loss_w_mk is not None:
            lost = self.runs.loss_w_mk * (QUADRATURE @ (walls - equations.room)) * length
        inlet = max(np.abs(self.vector.take(self.first * self.channels + i) - self.inlet).max() for i in self.out)
        temp = np.ascontiguousarray(self.temp)
        surface = temp
        if equations.film is not None:
            surface = np.empty_like(temp)
            surface[:, self.grid.left] = walls[:, 0]
            surface[:, self.grid.left + 1] = walls[:, 1]
        runs = self.runs if equations.film is None else self.runs.with_film(equations.film[:, 0])
        direction = np.asarray(runs.direction, float)[:, None]
        return ChannelSolution(
            runs=runs,
            temp_c=temp,
            middle_c=closing[:, 1],
            surface_c=surface,
            wall_ends_c=walls[:, :2],
            emitted_w=(QUADRATURE @ emission) * length,
            lost_w=lost,
            given_w=direction * self.capacity * (ends[:, 0] - ends[:, 1]),
            residual_k=float(max(np.abs(closing[:, 0]).max(initial=0.0), inlet)),
            iterations=self.iterations,
        )


def _slopes(z: Array, differs: Array | None) -> Array:
    """Derivatives of the residual of a cell by its left and right temperatures, (2, C, C, M).

    z (C, C, M): mean of h J at both ends. differs: a tenth of the difference, left less right.
    """
    square = matrix_product(z, z)
    odd = matrix_product(square, z)
    odd *= 1.0 / 120.0
    odd += 0.5 * z
    square *= 0.1
    for i in range(z.shape[0]):
        square[i, i] += 1.0
    slopes = np.empty((2, *z.shape))
    np.add(square, odd, out=slopes[0])
    np.negative(slopes[0], out=slopes[0])
    np.subtract(square, odd, out=slopes[1])
    if differs is not None:
        slopes[0] -= differs
        slopes[1] += differs
    return slopes
