"""Temperatures along the channels of skirting: a boundary-value problem for many runs at once.

Per metre of run, for channel i with direction d_i (+1 out, -1 home), water T_i, wall S_i, room T_r::

    d_i m_i cp dT_i/dx = -q_i
    q_i = (T_i - S_i)/r_i = e_i (S_i - T_r)^n + sum_j W_ij (S_i - S_j)

with e_i the channel's share of the characteristic, W/(m K^n), r_i the water film's resistance,
m K/W (0: the wall is as warm as the water) and W_ij the link between neighbouring channels through
the metal, W/(m K). Out-going channels start at the inlet temperature; home channels start at the
far end with the mixed temperature of the out-going ones.

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

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack

Array = NDArray[np.float64]
Index = NDArray[np.intp]

CELL_NUMBER = 0.18
"""Greatest eigenvalue times cell length: keeps the discretisation error of a run's heat below 1e-9."""

MOST_PARTS = 512
"""A cell is divided into at most this many parts; beyond it the flow is so small that its heat does
not matter (the water is at the room's temperature within a few centimetres)."""


@dataclass(frozen=True)
class Runs:
    """R runs of skirting made of M cells, all with the same channels.

    start (R + 1) int, length_m (M), emission_w_mkn (C, M), exponent (M), link_w_mk (C - 1, M),
    room_c (M), film_mk_w (C, M) or None for no film, direction C times +1 or -1.
    """

    start: Index
    length_m: Array
    emission_w_mkn: Array
    exponent: Array
    link_w_mk: Array
    room_c: Array
    direction: tuple[int, ...]
    film_mk_w: Array | None = None

    @property
    def run_of_cell(self) -> Index:
        """Which run each cell belongs to, (M)."""
        return np.repeat(np.arange(self.start.size - 1), np.diff(self.start))

    @property
    def left_node(self) -> Index:
        """The node at the start of each cell, (M)."""
        return np.arange(self.length_m.size) + self.run_of_cell


@dataclass(frozen=True)
class Channels:
    """The solved runs.

    temp_c (C, M + R) at the nodes, middle_c (C, M) half-way along each cell, surface_c (C, M + R) of the
    wall at the nodes (the mean of both cells' walls is not formed: each node takes the cell that
    starts there, the last node the cell that ends there). emitted_w (C, M) per cell and channel wall,
    given_w (C, M) heat given up by the water. residual_k: greatest defect of any equation, K.
    """

    runs: Runs
    temp_c: Array
    middle_c: Array
    surface_c: Array
    emitted_w: Array
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


def divide(runs: Runs, capacity_w_k: Array, inlet_c: Array, cell_number: float = CELL_NUMBER) -> tuple[Runs, Index]:
    """The same runs with cells divided where the water cools fast, and the parts per cell (M).

    capacity_w_k (C, M) is mass flow times heat capacity in each channel, inlet_c (R). The measure is
    the square root of the norm of the squared Jacobian, exact for an even there-and-back pair.
    """
    excess = np.abs(inlet_c[runs.run_of_cell] - runs.room_c)
    slope = runs.exponent * runs.emission_w_mkn * np.maximum(excess, 1e-3) ** (runs.exponent - 1.0)
    jacobian = _link_matrix(runs.link_w_mk, slope)
    jacobian /= -np.asarray(runs.direction, float)[:, None, None] * capacity_w_k[:, None, :]
    norm = np.abs(_product(jacobian, jacobian)).sum(axis=1).max(axis=0)
    parts = np.clip(np.ceil(np.sqrt(norm) * runs.length_m / cell_number), 1, MOST_PARTS).astype(np.intp)
    if parts.max(initial=1) == 1:
        return runs, parts
    spread = np.repeat(np.arange(parts.size), parts)
    counts = np.concatenate([[0], np.cumsum(parts)])
    return (
        replace(
            runs,
            start=counts[runs.start],
            length_m=(runs.length_m / parts)[spread],
            emission_w_mkn=runs.emission_w_mkn[:, spread],
            exponent=runs.exponent[spread],
            link_w_mk=runs.link_w_mk[:, spread],
            room_c=runs.room_c[spread],
            film_mk_w=None if runs.film_mk_w is None else runs.film_mk_w[:, spread],
        ),
        parts,
    )


def solve(
    runs: Runs, capacity_w_k: Array, inlet_c: Array, guess_c: Array | None = None, tolerance_k: float = 1e-9
) -> Channels:
    """Solve all runs: capacity_w_k (C, M) above 0, inlet_c (R), guess_c (C, M + R) from an earlier solve.

    Raises ArithmeticError if Newton's method does not settle in 40 steps, which the maximum
    principle rules out for finite input.
    """
    newton = Newton(runs, capacity_w_k, inlet_c, guess_c)
    for _ in range(40):
        if newton.step() < tolerance_k:
            return newton.result()
    raise ArithmeticError("the channel temperatures did not settle: a length or flow is not finite")


def emission_check_w(channels: Channels) -> Array:
    """Heat emitted by each run, W (R), integrated on its own from the solved temperatures.

    A five-point Gauss rule on the quintic through both nodes and the middle of a cell (values and
    slopes), not the quadrature of the solver: it differs by the discretisation error.
    """
    runs = channels.runs
    left = runs.left_node
    h = runs.length_m
    t0, tm, t1 = channels.temp_c[:, left], channels.middle_c, channels.temp_c[:, left + 1]
    # slopes dT/dx scaled by the cell: from the water's own heat, so capacity comes back from given_w
    drop = np.where(t0 == t1, 1.0, t0 - t1)
    capacity = np.where(t0 == t1, np.inf, channels.given_w / (np.asarray(runs.direction, float)[:, None] * drop))
    law = _Law(runs, np.abs(capacity))
    d0, dm, d1 = (law.rate(t)[0] * h for t in (t0, tm, t1))
    points, weights = np.polynomial.legendre.leggauss(5)
    total = np.zeros(h.size)
    for x, w in zip((points + 1) / 2, weights / 2, strict=True):
        total += w * law.emission(_quintic(x, t0, tm, t1, d0, dm, d1)).sum(axis=0) * h
    return np.add.reduceat(total, runs.start[:-1])


def _quintic(x: float, t0: Array, tm: Array, t1: Array, d0: Array, dm: Array, d1: Array) -> Array:
    """Hermite quintic on [0, 1] through values and slopes at 0, 1/2 and 1."""
    y = 2.0 * x - 1.0
    even, odd = (t0 + t1) / 2 - tm, (t1 - t0) / 2
    slope_even, slope_odd, slope_mid = (d1 + d0) / 4, (d1 - d0) / 4, dm / 2
    # T = tm + a1 y + a2 y^2 + a3 y^3 + a4 y^4 + a5 y^5
    a1 = slope_mid
    a4 = slope_odd / 2 - even
    a2 = even - a4
    a5 = (slope_even - a1 - 3 * (odd - a1)) / 2
    a3 = odd - a1 - a5
    return tm + y * (a1 + y * (a2 + y * (a3 + y * (a4 + y * a5))))


def _product(a: Array, b: Array) -> Array:
    """Matrix products over the last axis: (C, C, M) times (C, C, M)."""
    return np.asarray((a[:, :, None, :] * b[None, :, :, :]).sum(axis=1))


def _link_matrix(link: Array, diagonal: Array) -> Array:
    """(C, C, M): link conduction between neighbouring channels, with `diagonal` (C, M) added."""
    matrix = np.zeros((diagonal.shape[0], *diagonal.shape))
    for i in range(diagonal.shape[0]):
        matrix[i, i] = diagonal[i]
    for i in range(link.shape[0]):
        matrix[i, i] += link[i]
        matrix[i + 1, i + 1] += link[i]
        matrix[i, i + 1] -= link[i]
        matrix[i + 1, i] -= link[i]
    return matrix


def _inverse(a: Array) -> Array:
    """Inverses of (C, C, M) matrices."""
    if a.shape[0] == 1:
        return np.asarray(1.0 / a)
    if a.shape[0] == 2:
        flipped = np.array([[a[1, 1], -a[0, 1]], [-a[1, 0], a[0, 0]]])
        return np.asarray(flipped / (a[0, 0] * a[1, 1] - a[0, 1] * a[1, 0]))
    return np.asarray(np.moveaxis(np.linalg.inv(np.moveaxis(a, -1, 0)), 0, -1), dtype=np.float64)


class _Law:
    """The right-hand side dT/dx = f(T) of the cells and its Jacobian.

    With a film the wall temperatures at each point of a cell (`slot`) are carried from step to step, so that
    Newton's method on the water solves for the walls as well, at one evaluation a point and step.
    """

    def __init__(self, runs: Runs, capacity_w_k: Array) -> None:
        self.room, self.exponent = runs.room_c, runs.exponent
        self.emission_w_mkn, self.link, self.film = runs.emission_w_mkn, runs.link_w_mk, runs.film_mk_w
        self.direction = np.asarray(runs.direction, float)[:, None]
        self.linked = bool(np.any(runs.link_w_mk))
        self.walls: dict[str, Array] = {}
        self.wall_moved_k = 0.0
        self.set_capacity(capacity_w_k)

    def set_capacity(self, capacity_w_k: Array) -> None:
        self.scale = -1.0 / (self.direction * capacity_w_k)

    def wall(self, temp: Array) -> Array:
        """Wall temperatures (C, M) that belong to these water temperatures, solved to rounding."""
        surface = temp
        if self.film is None:
            return surface
        for _ in range(30):
            step, _, _ = self._wall_step(temp, surface)
            surface = surface + step
            if np.abs(step).max(initial=0.0) < 1e-12:
                break
        return surface

    def emission(self, temp: Array) -> Array:
        """Emission of each channel's wall, (C, M) W/m."""
        return self._characteristic(self.wall(temp))[0]

    def rate(self, temp: Array) -> tuple[Array, Array]:
        """dT/dx (C, M) at these temperatures, and the emission (C, M) in W/m."""
        surface = self.wall(temp)
        emission = self._characteristic(surface)[0]
        return (emission + self._conduction(surface)) * self.scale, emission

    def rate_and_jacobian(self, temp: Array, slot: str) -> tuple[Array, Array]:
        """dT/dx (C, M) and its Jacobian (C, C, M)."""
        if self.film is None:
            emission, slope = self._characteristic(temp)
            jacobian = _link_matrix(self.link, slope) if self.linked else _diagonal(slope)
            return (emission + self._conduction(temp)) * self.scale, jacobian * self.scale[:, None, :]
        surface = self.walls.get(slot, temp)
        step, heat, jacobian = self._wall_step(temp, surface)
        self.walls[slot] = surface + step
        self.wall_moved_k = max(self.wall_moved_k, float(np.abs(step).max(initial=0.0)))
        return heat * self.scale, jacobian * self.scale[:, None, :]

    def _wall_step(self, temp: Array, surface: Array) -> tuple[Array, Array, Array]:
        """A Newton step of the walls S + r q(S) = T, the heat q there to first order, and dq/dT."""
        emission, slope = self._characteristic(surface)
        heat = emission + self._conduction(surface)
        by_wall = _link_matrix(self.link, slope) if self.linked else _diagonal(slope)
        film = np.zeros_like(temp) if self.film is None else self.film
        matrix = film[:, None, :] * by_wall
        for i in range(temp.shape[0]):
            matrix[i, i] += 1.0
        inverse = _inverse(matrix)
        step = -_apply(inverse, surface - temp + film * heat)
        return step, heat + _apply(by_wall, step), _product(by_wall, inverse)

    def _characteristic(self, surface: Array) -> tuple[Array, Array]:
        excess = surface - self.room
        power = self.emission_w_mkn * np.abs(excess) ** (self.exponent - 1.0)
        return excess * power, self.exponent * power

    def _conduction(self, surface: Array) -> Array:
        flow = np.zeros_like(surface)
        if self.linked:
            between = self.link * (surface[:-1] - surface[1:])
            flow[:-1] += between
            flow[1:] -= between
        return flow


def _apply(matrix: Array, vector: Array) -> Array:
    """Products over the last axis: (C, C, M) times (C, M)."""
    return np.asarray((matrix * vector[None]).sum(axis=1))


def _diagonal(diagonal: Array) -> Array:
    matrix = np.zeros((diagonal.shape[0], *diagonal.shape))
    for i in range(diagonal.shape[0]):
        matrix[i, i] = diagonal[i]
    return matrix


class Newton:
    """Newton's method on the temperatures of all runs: `step` until it returns little, then `result`.

    Between steps `change` may give other capacities and films, which belong to the temperatures so far.
    """

    def __init__(self, runs: Runs, capacity_w_k: Array, inlet_c: Array, guess_c: Array | None = None) -> None:
        self.runs, self.inlet = runs, inlet_c
        self.law = _Law(runs, capacity_w_k)
        self.channels = len(runs.direction)
        self.out = [i for i, d in enumerate(runs.direction) if d > 0]
        self.home = [i for i, d in enumerate(runs.direction) if d < 0]
        index = np.arange(runs.start.size - 1)
        self.first, self.last = runs.start[:-1] + index, runs.start[1:] + index
        self.left = runs.left_node
        low = np.minimum(inlet_c, np.minimum.reduceat(runs.room_c, runs.start[:-1]))
        high = np.maximum(inlet_c, np.maximum.reduceat(runs.room_c, runs.start[:-1]))
        counts = np.diff(runs.start) + 1
        self.low_c, self.high_c = np.repeat(low, counts), np.repeat(high, counts)
        self.kl = len(self.out) + self.channels - 1
        self.ku = 2 * self.channels - 1 - len(self.out)
        if guess_c is None:
            self.temp = np.repeat(inlet_c, counts)[None, :] * np.ones((self.channels, 1))
        else:
            self.temp = np.clip(guess_c, self.low_c, self.high_c)
        self.iterations = 0
        self._set_capacity(capacity_w_k)

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
        """Take one step; returns the greatest change of a water or wall temperature, K."""
        self.law.wall_moved_k = 0.0
        step = self.newton_step(self.temp)
        self.temp = np.clip(self.temp + step, self.low_c, self.high_c)
        self.iterations += 1
        return max(float(np.abs(step).max()), self.law.wall_moved_k)

    def newton_step(self, temp: Array) -> Array:
        """The change of every node's temperature, (C, M + R)."""
        defect, by_left, by_right = self.cell_equations(temp)
        n, k = self.channels, len(self.out)
        band = np.zeros((2 * self.kl + self.ku + 1, temp.size), order="F")
        rhs = np.zeros(temp.size)
        middle = self.kl + self.ku
        node = self.left * n
        for i in range(n):
            rhs[node + k + i] = -defect[i]
            for j in range(n):
                band[middle + k + i - j, node + j] = by_left[i, j]
                band[middle + k + i - j - n, node + n + j] = by_right[i, j]
        start, end = self.first * n, self.last * n
        for row, i in enumerate(self.out):
            rhs[start + row] = self.inlet - temp[i, self.first]
            band[middle + row - i, start + i] = 1.0
        mixed = (self.mixing * temp[self.out][:, self.last]).sum(axis=0) if self.home else None
        for row, i in enumerate(self.home):
            rhs[end + k + row] = mixed - temp[i, self.last]
            band[middle + k + row - i, end + i] = 1.0
            for share, j in zip(self.mixing, self.out, strict=True):
                band[middle + k + row - j, end + j] = -share
        _, _, step, info = lapack.dgbsv(self.kl, self.ku, band, rhs, overwrite_ab=1, overwrite_b=1)
        if info != 0:
            raise ArithmeticError("the channel equations are singular: a flow is zero or not finite")
        return np.asarray(step.reshape(-1, n).T)

    def cell_equations(self, temp: Array) -> tuple[Array, Array, Array]:
        """Defect of every cell (C, M) and its derivatives by the left and right node (C, C, M)."""
        h, law = self.runs.length_m, self.law
        t0, t1 = temp[:, self.left], temp[:, self.left + 1]
        f0, j0 = law.rate_and_jacobian(t0, "left")
        f1, j1 = law.rate_and_jacobian(t1, "right")
        hj0, hj1 = h * j0, h * j1
        eye = np.eye(self.channels)[:, :, None]
        quarter, three_quarter = _quarters(t0, t1, h * f0, h * f1)
        fq, jq = law.rate_and_jacobian(quarter, "quarter")
        ft, jt = law.rate_and_jacobian(three_quarter, "three_quarter")
        hjq, hjt = h * jq, h * jt
        q0 = _product(hjq, 27 / 32 * eye + 9 / 64 * hj0)
        q1 = _product(hjq, 5 / 32 * eye - 3 / 64 * hj1)
        r0 = _product(hjt, 5 / 32 * eye + 3 / 64 * hj0)
        r1 = _product(hjt, 27 / 32 * eye - 9 / 64 * hj1)
        middle = _middle(t0, t1, h * f0, h * f1, h * fq, h * ft)
        fm, jm = law.rate_and_jacobian(middle, "middle")
        hjm = h * jm
        m0 = _product(hjm, eye / 2 - 5 / 24 * hj0 + 2 / 3 * (q0 - r0))
        m1 = _product(hjm, eye / 2 + 5 / 24 * hj1 + 2 / 3 * (q1 - r1))
        defect = t1 - t0 - h * (7 * (f0 + f1) + 32 * (fq + ft) + 12 * fm) / 90
        by_left = -eye - (7 * hj0 + 32 * (q0 + r0) + 12 * m0) / 90
        by_right = eye - (7 * hj1 + 32 * (q1 + r1) + 12 * m1) / 90
        return defect, by_left, by_right

    def result(self) -> Channels:
        """Heat of every cell by the quadrature of the equations, and the defects left over."""
        h, law, temp = self.runs.length_m, self.law, self.temp
        t0, t1 = temp[:, self.left], temp[:, self.left + 1]
        (f0, e0), (f1, e1) = law.rate(t0), law.rate(t1)
        quarter, three_quarter = _quarters(t0, t1, h * f0, h * f1)
        (fq, eq), (ft, et) = law.rate(quarter), law.rate(three_quarter)
        middle = _middle(t0, t1, h * f0, h * f1, h * fq, h * ft)
        fm, em = law.rate(middle)
        emitted = h * (7 * (e0 + e1) + 32 * (eq + et) + 12 * em) / 90
        defect = np.abs(t1 - t0 - h * (7 * (f0 + f1) + 32 * (fq + ft) + 12 * fm) / 90).max(initial=0.0)
        inlet = max(np.abs(temp[i, self.first] - self.inlet).max() for i in self.out)
        surface = np.empty_like(temp)
        surface[:, self.left + 1] = law.wall(t1)
        surface[:, self.left] = law.wall(t0)
        direction = np.asarray(self.runs.direction, float)[:, None]
        return Channels(
            runs=self.runs,
            temp_c=temp,
            middle_c=(t0 + t1) / 2 + h * ((f0 - f1) / 24 + (fq - ft) / 6),
            surface_c=surface,
            emitted_w=emitted,
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
