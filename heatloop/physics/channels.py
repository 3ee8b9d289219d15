"""Temperatures along the channels of skirting: a boundary-value problem for many runs at once.

Per metre of run, for channel i with direction d_i (+1 out, -1 home), water T_i, wall S_i, room T_r::

    d_i m_i cp dT_i/dx = -q_i
    q_i = (T_i - S_i)/r_i = e_i (S_i - T_r)^n + l_i (S_i - T_r) + sum_j W_ij (S_i - S_j)

with e_i the channel's share of the characteristic, W/(m K^n), l_i what it loses elsewhere than to the room (a profile
in the floor, downwards), W/(m K), r_i the water film's resistance, m K/W (0: the wall is as warm as the water) and
W_ij the link between neighbouring channels through the metal, W/(m K). Out-going channels start at the inlet
temperature; home channels start at the far end with the mixed temperature of the out-going ones.

Method: mono-implicit Runge-Kutta collocation of order six on every cell (Cash and Singhal 1982, IMA J.
Numer. Anal. 2, 167-172; weights re-derived and confirmed here by convergence tests) and Newton's
method on all nodes of all runs together, one banded system. Nothing is marched, so tiny
flow and strong links are as well conditioned as the physics. The heat of a cell is the sixth-order
quadrature that the equations use, so water and emission balance to rounding.

Arrays are channel first: (C, M) over cells, (C, M + R) over nodes; cells of all R runs lie one after
the other and run r owns cells start[r] to start[r + 1].
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack

from heatloop.physics.channel_law import Law, link_matrix, product

Array = NDArray[np.float64]
Index = NDArray[np.intp]

CELL_NUMBER = 0.18
"""Greatest eigenvalue times cell length: keeps the discretisation error of a smooth run's heat below 1e-9."""

RENEW_K = 0.3
"""Above a change of this much, Newton's method takes new slopes."""

CHUNK_CELLS = 4000
"""Many runs are solved in lots of about this many cells, which fit the processor's cache."""

MOST_EVEN_PARTS = 512
"""A cell that wants more parts than this has them thin at its ends and growing between."""

LAYER_PARTS, LAYER_GROWTH = 140, 1.15
"""Thin parts at each end, over which a linear layer falls by e^-25, and the ratio of neighbours between them."""


@dataclass(frozen=True)
class Runs:
    """R runs of skirting made of M cells, all with the same channels.

    start (R + 1) int, length_m (M), emission_w_mkn (C, M), exponent (M), link_w_mk (C - 1, M),
    room_c (M), film_mk_w (C, M) or None for no film, loss_w_mk (C, M) or None, direction C times +1 or -1.
    """

    start: Index
    length_m: Array
    emission_w_mkn: Array
    exponent: Array
    link_w_mk: Array
    room_c: Array
    direction: tuple[int, ...]
    film_mk_w: Array | None = None
    loss_w_mk: Array | None = None

    @property
    def run_of_cell(self) -> Index:
        """Which run each cell belongs to, (M)."""
        return np.repeat(np.arange(self.start.size - 1), np.diff(self.start))

    def some(self, first: int, last: int) -> Runs:
        """Runs `first` to `last` (not included) by themselves."""
        a, b = self.start[first], self.start[last]
        return Runs(
            self.start[first : last + 1] - a,
            self.length_m[a:b],
            self.emission_w_mkn[:, a:b],
            self.exponent[a:b],
            self.link_w_mk[:, a:b],
            self.room_c[a:b],
            self.direction,
            None if self.film_mk_w is None else self.film_mk_w[:, a:b],
            None if self.loss_w_mk is None else self.loss_w_mk[:, a:b],
        )

    @property
    def left_node(self) -> Index:
        """The node at the start of each cell, (M)."""
        return np.arange(self.length_m.size) + self.run_of_cell


@dataclass(frozen=True)
class Channels:
    """The solved runs.

    temp_c (C, M + R) at the nodes, middle_c (C, M) half-way along each cell, surface_c (C, M + R) of the
    wall at the nodes (the mean of both cells' walls is not formed: each node takes the cell that
    starts there, the last node the cell that ends there). emitted_w (C, M) per cell and channel wall, lost_w (C, M)
    the part of it that the room does not get, given_w (C, M) heat given up by the water. residual_k: greatest defect
    of any equation, K.
    """

    runs: Runs
    temp_c: Array
    middle_c: Array
    surface_c: Array
    emitted_w: Array
    lost_w: Array
    given_w: Array
    residual_k: float
    iterations: int

    @property
    def return_c(self) -> Array:
        """Temperature of each channel where it leaves the run, (C, R)."""
        first = self.runs.start[:-1] + np.arange(self.runs.start.size - 1)
        last = self.runs.start[1:] + np.arange(self.runs.start.size - 1)
        ends = [self.temp_c[i, last if d > 0 else first] for i, d in enumerate(self.runs.direction)]
        return np.array(ends)


def divide(
    runs: Runs, capacity_w_k: Array, inlet_c: Array, cell_number: float | Array = CELL_NUMBER
) -> tuple[Runs, Index]:
    """The same runs with cells divided where the water cools fast, and the parts per cell (M).

    capacity_w_k (C, M) is mass flow times heat capacity in each channel, inlet_c (R), cell_number one
    for all or one a run. The measure is the square root of the norm of the squared Jacobian, exact for an
    even there-and-back pair.
    """
    run_of_cell = runs.run_of_cell
    low, high = (
        pick(inlet_c, pick.reduceat(runs.room_c, runs.start[:-1]))[run_of_cell] for pick in (np.minimum, np.maximum)
    )
    excess = np.maximum(high - runs.room_c, runs.room_c - low)
    if isinstance(cell_number, np.ndarray):
        cell_number = cell_number[run_of_cell]
    slope = runs.exponent * runs.emission_w_mkn * np.maximum(excess, 1e-3) ** (runs.exponent - 1.0)
    if runs.loss_w_mk is not None:
        slope = slope + runs.loss_w_mk
    jacobian = link_matrix(runs.link_w_mk, slope)
    jacobian /= -np.asarray(runs.direction, float)[:, None, None] * capacity_w_k[:, None, :]
    norm = np.abs(product(jacobian, jacobian)).sum(axis=1).max(axis=0)
    even = np.sqrt(norm) * runs.length_m / cell_number
    if even.max(initial=0.0) <= MOST_EVEN_PARTS:
        parts = np.maximum(np.ceil(even), 1.0).astype(np.intp)
        return split(runs, parts), parts
    lengths = [_layered(length, count) for length, count in zip(runs.length_m, even, strict=True)]
    parts = np.array([found.size for found in lengths], dtype=np.intp)
    return replace(split(runs, parts), length_m=np.concatenate(lengths)), parts


def _layered(length_m: float, even: float) -> Array:
    """Lengths of the parts of one cell that wants `even` parts alike.

    Beyond MOST_EVEN_PARTS the water changes within thin layers at the cell's ends: there the parts stay as short, and
    between them they grow by LAYER_GROWTH from both sides.
    """
    if even <= MOST_EVEN_PARTS:
        count = max(int(np.ceil(even)), 1)
        return np.full(count, length_m / count)
    least = length_m / even
    inner = length_m - 2.0 * LAYER_PARTS * least
    count = int(np.ceil(np.log1p(inner / 2.0 / least * (LAYER_GROWTH - 1.0)) / np.log(LAYER_GROWTH)))
    growing = LAYER_GROWTH ** np.arange(count)
    growing *= inner / 2.0 / growing.sum()
    layer = np.full(LAYER_PARTS, least)
    return np.concatenate([layer, growing, growing[::-1], layer])


def split(runs: Runs, parts: Index) -> Runs:
    """The same runs with every cell cut into so many equal parts (M)."""
    if parts.max(initial=1) == 1:
        return runs
    spread = np.repeat(np.arange(parts.size), parts)
    counts = np.concatenate([[0], np.cumsum(parts)])
    return replace(
        runs,
        start=counts[runs.start],
        length_m=(runs.length_m / parts)[spread],
        emission_w_mkn=runs.emission_w_mkn[:, spread],
        exponent=runs.exponent[spread],
        link_w_mk=runs.link_w_mk[:, spread],
        room_c=runs.room_c[spread],
        film_mk_w=None if runs.film_mk_w is None else runs.film_mk_w[:, spread],
        loss_w_mk=None if runs.loss_w_mk is None else runs.loss_w_mk[:, spread],
    )


def solve(
    runs: Runs, capacity_w_k: Array, inlet_c: Array, guess_c: Array | None = None, tolerance_k: float = 1e-9
) -> Channels:
    """Solve all runs: capacity_w_k (C, M) above 0, inlet_c (R), guess_c (C, M + R) from an earlier solve.

    Raises ArithmeticError if Newton's method does not settle in 40 steps, which the maximum
    principle rules out for finite input.
    """
    lots = np.unique(np.searchsorted(runs.start, np.arange(0, runs.start[-1], CHUNK_CELLS)))
    if lots.size <= 2:
        return _solve_lot(runs, capacity_w_k, inlet_c, guess_c, tolerance_k)
    solved = []
    for first, last in pairwise([*lots, runs.start.size - 1]):
        a, b = runs.start[first], runs.start[last]
        guess = None if guess_c is None else guess_c[:, a + first : b + last]
        lot = runs.some(int(first), int(last))
        solved.append(_solve_lot(lot, capacity_w_k[:, a:b], inlet_c[first:last], guess, tolerance_k))
    joined = {
        name: np.concatenate([getattr(lot, name) for lot in solved], axis=1)
        for name in ("temp_c", "middle_c", "surface_c", "emitted_w", "lost_w", "given_w")
    }
    residual_k = max(lot.residual_k for lot in solved)
    return Channels(runs, **joined, residual_k=residual_k, iterations=max(lot.iterations for lot in solved))


def _solve_lot(runs: Runs, capacity_w_k: Array, inlet_c: Array, guess_c: Array | None, tolerance_k: float) -> Channels:
    newton = Newton(runs, capacity_w_k, inlet_c, guess_c)
    for _ in range(40):
        if newton.step() < tolerance_k:
            return newton.result()
    raise ArithmeticError("the channel temperatures did not settle: a length or flow is not finite")


class Newton:
    """Newton's method on the temperatures of all runs: `step` until it returns little, then `result`.

    Between steps `change` may give other capacities and films, which belong to the temperatures so far.
    """

    def __init__(self, runs: Runs, capacity_w_k: Array, inlet_c: Array, guess_c: Array | None = None) -> None:
        self.runs = runs
        self.law = Law(runs, capacity_w_k)
        self.channels = len(runs.direction)
        self.out = [i for i, d in enumerate(runs.direction) if d > 0]
        self.home = [i for i, d in enumerate(runs.direction) if d < 0]
        index = np.arange(runs.start.size - 1)
        self.first, self.last = runs.start[:-1] + index, runs.start[1:] + index
        self.left = runs.left_node
        counts = np.diff(runs.start) + 1
        self.set_inlet(inlet_c)
        self.kl = len(self.out) + self.channels - 1
        self.ku = 2 * self.channels - 1 - len(self.out)
        if guess_c is None:
            self.temp = np.repeat(inlet_c, counts)[None, :] * np.ones((self.channels, 1))
        else:
            self.temp = np.clip(guess_c, self.low_c, self.high_c)
        self.middle_c = (self.temp[:, self.left] + self.temp[:, self.left + 1]) / 2
        """Temperature half-way along each cell as of the last step, (C, M)."""
        self.iterations = 0
        self.rough_steps = 2 if guess_c is None else 0
        self.factors: tuple[Array, Array] | None = None
        self.moved_k = self.moved_before_k = np.inf
        self._set_capacity(capacity_w_k)

    def set_inlet(self, inlet_c: Array) -> None:
        """Go on with other inlet temperatures (R): all temperatures lie between them and the rooms'."""
        self.inlet, starts, counts = inlet_c, self.runs.start[:-1], np.diff(self.runs.start) + 1
        low = np.minimum(inlet_c, np.minimum.reduceat(self.runs.room_c, starts))
        high = np.maximum(inlet_c, np.maximum.reduceat(self.runs.room_c, starts))
        self.low_c, self.high_c = np.repeat(low, counts), np.repeat(high, counts)

    def _set_capacity(self, capacity_w_k: Array) -> None:
        self.capacity = capacity_w_k
        self.law.set_capacity(capacity_w_k)
        at_end = capacity_w_k[:, self.runs.start[1:] - 1]
        self.mixing = at_end[self.out] / at_end[self.out].sum(axis=0)

    def change(self, capacity_w_k: Array, film_mk_w: Array | None) -> None:
        """Go on with other capacities (C, M) and another film (C, M)."""
        self._set_capacity(capacity_w_k)
        if film_mk_w is not None:
            self.runs = replace(self.runs, film_mk_w=film_mk_w)
            self.law.film = film_mk_w

    def step(self) -> float:
        """Take one step; returns the greatest change of a water or wall temperature, K.

        The first two steps from nowhere use the trapezoidal rule, which is rough and cheap. Once a step is
        small the factors of the last full step serve again, as long as they make the steps shrink.
        """
        self.law.wall_moved_k = 0.0
        rough = self.rough_steps > 0
        renew = rough or self.factors is None or self.moved_k > RENEW_K or self.moved_k > 0.1 * self.moved_before_k
        if rough:
            self.rough_steps -= 1
            defect, *slopes = self._rough_equations(self.temp)
        else:
            defect, *slopes = self._cell_equations(self.temp, with_slopes=renew)
        if renew:
            self.factors = self._factors(*slopes)
        step = self._solve(self._right_hand_side(defect))
        self.factors = None if rough else self.factors
        before, self.temp = self.temp, np.clip(self.temp + step, self.low_c, self.high_c)
        change = self.temp - before
        self.middle_c += (change[:, self.left] + change[:, self.left + 1]) / 2
        self.iterations += 1
        moved = max(float(np.abs(step).max()), self.law.wall_moved_k)
        self.moved_before_k, self.moved_k = (np.inf, np.inf) if rough else (self.moved_k, moved)
        return np.inf if rough else moved

    def _factors(self, by_left: Array, by_right: Array) -> tuple[Array, Array]:
        """LU factors of the banded system whose cells have these slopes."""
        n, k = self.channels, len(self.out)
        band = np.zeros((2 * self.kl + self.ku + 1, self.temp.size), order="F")
        middle = self.kl + self.ku
        node = self.left * n
        for i in range(n):
            for j in range(n):
                band[middle + k + i - j, node + j] = by_left[i, j]
                band[middle + k + i - j - n, node + n + j] = by_right[i, j]
        start, end = self.first * n, self.last * n
        for row, i in enumerate(self.out):
            band[middle + row - i, start + i] = 1.0
        for row, i in enumerate(self.home):
            band[middle + k + row - i, end + i] = 1.0
            for share, j in zip(self.mixing, self.out, strict=True):
                band[middle + k + row - j, end + j] = -share
        factors, pivots, info = lapack.dgbtrf(band, self.kl, self.ku, overwrite_ab=1)
        if info != 0:
            raise ArithmeticError("the channel equations are singular: a flow is zero or not finite")
        return factors, pivots

    def _right_hand_side(self, defect: Array) -> Array:
        n, k, temp = self.channels, len(self.out), self.temp
        rhs = np.zeros(temp.size)
        for i in range(n):
            rhs[self.left * n + k + i] = -defect[i]
        for row, i in enumerate(self.out):
            rhs[self.first * n + row] = self.inlet - temp[i, self.first]
        if self.home:
            mixed = (self.mixing * temp[self.out][:, self.last]).sum(axis=0)
            for row, i in enumerate(self.home):
                rhs[self.last * n + k + row] = mixed - temp[i, self.last]
        return rhs

    def _solve(self, rhs: Array) -> Array:
        """The change of every node's temperature, (C, M + R)."""
        assert self.factors is not None
        change, _ = lapack.dgbtrs(self.factors[0], self.kl, self.ku, rhs, self.factors[1], overwrite_b=1)
        return np.asarray(change.reshape(-1, self.channels).T)

    def _set_middle(self, middle_c: Array) -> None:
        """Temperatures half-way, which lie within the same bounds as all others however rough a trial is."""
        self.middle_c = np.clip(middle_c, self.low_c[self.left], self.high_c[self.left])

    def _rough_equations(self, temp: Array) -> tuple[Array, Array, Array]:
        """As the cell equations, by the trapezoidal rule."""
        h = self.runs.length_m
        t0, t1 = temp[:, self.left], temp[:, self.left + 1]
        f0, j0 = self.law.rate_and_jacobian(t0, "left")
        f1, j1 = self.law.rate_and_jacobian(t1, "right")
        self._set_middle((t0 + t1) / 2 + h * (f0 - f1) / 8)
        eye = np.eye(self.channels)[:, :, None]
        return t1 - t0 - h / 2 * (f0 + f1), -eye - h / 2 * j0, eye - h / 2 * j1

    def _cell_equations(self, temp: Array, with_slopes: bool) -> tuple[Array, ...]:
        """Defect of every cell (C, M) and, if asked, its derivatives by the left and right node (C, C, M)."""
        h, law = self.runs.length_m, self.law
        t0, t1 = temp[:, self.left], temp[:, self.left + 1]
        f0, j0 = law.rate_and_jacobian(t0, "left", with_slopes)
        f1, j1 = law.rate_and_jacobian(t1, "right", with_slopes)
        quarter, three_quarter = _quarters(t0, t1, h * f0, h * f1)
        fq, jq = law.rate_and_jacobian(quarter, "quarter", with_slopes)
        ft, jt = law.rate_and_jacobian(three_quarter, "three quarters", with_slopes)
        middle = _middle(t0, t1, h * f0, h * f1, h * fq, h * ft)
        fm, jm = law.rate_and_jacobian(middle, "middle", with_slopes)
        self._set_middle((t0 + t1) / 2 + h * ((f0 - f1) / 24 + (fq - ft) / 6))
        defect = t1 - t0 - h * (7 * (f0 + f1) + 32 * (fq + ft) + 12 * fm) / 90
        if not with_slopes:
            return (defect,)
        eye = np.eye(self.channels)[:, :, None]
        hj0, hj1, hjq, hjt, hjm = (h * j for j in (j0, j1, jq, jt, jm))
        q0 = product(hjq, 27 / 32 * eye + 9 / 64 * hj0)
        q1 = product(hjq, 5 / 32 * eye - 3 / 64 * hj1)
        r0 = product(hjt, 5 / 32 * eye + 3 / 64 * hj0)
        r1 = product(hjt, 27 / 32 * eye - 9 / 64 * hj1)
        m0 = product(hjm, eye / 2 - 5 / 24 * hj0 + 2 / 3 * (q0 - r0))
        m1 = product(hjm, eye / 2 + 5 / 24 * hj1 + 2 / 3 * (q1 - r1))
        by_left = -eye - (7 * hj0 + 32 * (q0 + r0) + 12 * m0) / 90
        by_right = eye - (7 * hj1 + 32 * (q1 + r1) + 12 * m1) / 90
        return defect, by_left, by_right

    def result(self) -> Channels:
        """Heat of every cell by the quadrature of the equations, and the defects left over."""
        h, law, temp = self.runs.length_m, self.law, self.temp
        t0, t1 = temp[:, self.left], temp[:, self.left + 1]
        (f0, e0), (f1, e1) = law.rate(t0, "left"), law.rate(t1, "right")
        quarter, three_quarter = _quarters(t0, t1, h * f0, h * f1)
        (fq, eq), (ft, et) = law.rate(quarter, "quarter"), law.rate(three_quarter, "three quarters")
        middle = _middle(t0, t1, h * f0, h * f1, h * fq, h * ft)
        fm, em = law.rate(middle, "middle")
        emitted = h * (7 * (e0 + e1) + 32 * (eq + et) + 12 * em) / 90
        lost = np.zeros_like(emitted)
        if self.runs.loss_w_mk is not None:
            l0, l1, lq, lt, lm = (law.lost(t) for t in (t0, t1, quarter, three_quarter, middle))
            lost = h * (7 * (l0 + l1) + 32 * (lq + lt) + 12 * lm) / 90
        defect = np.abs(t1 - t0 - h * (7 * (f0 + f1) + 32 * (fq + ft) + 12 * fm) / 90).max(initial=0.0)
        inlet = max(np.abs(temp[i, self.first] - self.inlet).max() for i in self.out)
        surface = np.empty_like(temp)
        surface[:, self.left + 1] = law.wall(t1, "right")
        surface[:, self.left] = law.wall(t0, "left")
        direction = np.asarray(self.runs.direction, float)[:, None]
        return Channels(
            runs=self.runs,
            temp_c=temp,
            middle_c=(t0 + t1) / 2 + h * ((f0 - f1) / 24 + (fq - ft) / 6),
            surface_c=surface,
            emitted_w=emitted,
            lost_w=lost,
            given_w=direction * self.capacity * (t0 - t1),
            residual_k=float(max(defect, inlet)),
            iterations=self.iterations,
        )


def _quarters(t0: Array, t1: Array, hf0: Array, hf1: Array) -> tuple[Array, Array]:
    return (
        27 / 32 * t0 + 5 / 32 * t1 + 9 / 64 * hf0 - 3 / 64 * hf1,
        5 / 32 * t0 + 27 / 32 * t1 + 3 / 64 * hf0 - 9 / 64 * hf1,
    )


def _middle(t0: Array, t1: Array, hf0: Array, hf1: Array, hfq: Array, hft: Array) -> Array:
    # fourth order by design: its error cancels that of the quarters in the sum of the cell
    return (t0 + t1) / 2 - 5 / 24 * (hf0 - hf1) + 2 / 3 * (hfq - hft)
