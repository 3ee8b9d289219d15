"""Runs of skirting as the channel solver takes them, the solved runs, and runs divided into cells.

Arrays are channel first: (C, M) over cells, (C, M + R) over nodes; cells of all R runs lie one after
the other and run r owns cells start[r] to start[r + 1].
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heatloop.physics.channels.equations import link_matrix, matrix_product

Array = NDArray[np.float64]
Index = NDArray[np.intp]

CELL_NUMBER = 0.18
"""Greatest eigenvalue times cell length: keeps the discretisation error of a smooth run's heat below 1e-9."""

MAX_EVEN_PARTS = 512
"""A cell divided into more parts than this has thin parts at its ends and longer ones between."""

LAYER_PARTS, LAYER_GROWTH = 140, 1.15
"""Thin parts at each end, over which a linear layer falls by e^-25, and the ratio of neighbours between them."""


@dataclass(frozen=True, eq=False)
class ChannelGrid:
    """Where nodes, unknowns and equations of runs stand, for the banded system of all of them (K unknowns).

    Unknowns are the temperatures node after node, C each. Equations too: at the first node of a run the inlets of the
    out-going channels, then of every cell its C, with those of the return channels at the far ends after the last.
    first, last, counts (R): end nodes and number of nodes of each run; left (M): the node at the start of each cell.
    ends (C, 2, M): both ends of every cell among the unknowns. at_cells (C, M): the equations of the cells.
    band (K, rows): LAPACK's band, column by column, with the conditions at the ends of runs (for one out-going
    channel) and nothing else; at_slopes (2, C, C, M): places in it of the derivatives of cells by left and right node.
    """

    first: Index
    last: Index
    counts: Index
    left: Index
    ends: Index
    at_cells: Index
    lower: int
    upper: int
    band: Array
    at_slopes: Index

    @classmethod
    def of(cls, start: Index, run_of_cell: Index, direction: tuple[int, ...]) -> ChannelGrid:
        """For runs that begin at these cells."""
        n, cells, index = len(direction), np.diff(start), np.arange(start.size - 1)
        out, returning = ([i for i, d in enumerate(direction) if d == sign] for sign in (1, -1))
        first, last, left = start[:-1] + index, start[1:] + index, np.arange(start[-1]) + run_of_cell
        lower, upper = len(out) + n - 1, 2 * n - 1 - len(out)
        rows, diagonal = 2 * lower + upper + 1, lower + upper
        equation, unknown = np.arange(n)[:, None, None], np.arange(n)[None, :, None]
        by_left = (left * n + unknown) * rows + diagonal + len(out) + equation - unknown
        band = np.zeros(((int(start[-1]) + index.size) * n, rows))
        for row, i in enumerate(out):
            band[first * n + i, diagonal + row - i] = 1.0
        for row, i in enumerate(returning):
            band[last * n + i, diagonal + len(out) + row - i] = 1.0
            for j in out:
                band[last * n + j, diagonal + len(out) + row - j] = -1.0
        return cls(
            first=first,
            last=last,
            counts=cells + 1,
            left=left,
            ends=(left + np.array([[0], [1]])) * n + np.arange(n)[:, None, None],
            at_cells=left * n + len(out) + np.arange(n)[:, None],
            lower=lower,
            upper=upper,
            band=band,
            at_slopes=np.stack([by_left, by_left + n * (rows - 1)]),
        )


@dataclass(frozen=True)
class ChannelRuns:
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

    @cached_property
    def run_of_cell(self) -> Index:
        """Which run each cell belongs to, (M)."""
        return np.repeat(np.arange(self.start.size - 1), np.diff(self.start))

    def some(self, first: int, last: int) -> ChannelRuns:
        """Runs `first` to `last` (not included) by themselves."""
        a, b = self.start[first], self.start[last]
        return ChannelRuns(
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

    @cached_property
    def grid(self) -> ChannelGrid:
        """Nodes and unknowns of these cells."""
        return ChannelGrid.of(self.start, self.run_of_cell, self.direction)

    @cached_property
    def room_span_c(self) -> tuple[Array, Array]:
        """Coldest and warmest room of every run, (R)."""
        starts = self.start[:-1]
        return np.minimum.reduceat(self.room_c, starts), np.maximum.reduceat(self.room_c, starts)

    def with_film(self, film_mk_w: Array) -> ChannelRuns:
        """The same runs with another resistance of the film (C, M)."""
        return replace(self, film_mk_w=film_mk_w)

    @property
    def left_node(self) -> Index:
        """The node at the start of each cell, (M)."""
        return self.grid.left


@dataclass(frozen=True)
class ChannelSolution:
    """The solved runs.

    temp_c (C, M + R) at the nodes, middle_c (C, M) half-way along each cell, surface_c (C, M + R) of the
    wall at the nodes (the mean of both cells' walls is not formed: each node takes the cell that
    ends there, the first node the cell that starts there); wall_ends_c (C, 2, M) of the wall at both ends of each cell,
    which differ at a node where film or room change. emitted_w (C, M) per cell and channel wall, lost_w (C, M)
    the part of it that the room does not get, given_w (C, M) heat given up by the water. residual_k: largest defect
    of any equation, K.
    """

    runs: ChannelRuns
    temp_c: Array
    middle_c: Array
    surface_c: Array
    wall_ends_c: Array
    emitted_w: Array
    lost_w: Array
    given_w: Array
    residual_k: float
    iterations: int

    def balances(self, share: float) -> bool:
        """Whether what water gives and what walls emit are the same in every run, within that share of it."""
        starts = self.runs.start[:-1]
        emitted = np.add.reduceat(self.emitted_w.sum(axis=0), starts)
        apart = np.add.reduceat(self.given_w.sum(axis=0), starts) - emitted
        return bool((np.abs(apart) <= share * np.abs(emitted) + 1e-12).all())

    @property
    def return_c(self) -> Array:
        """Temperature of each channel where it leaves the run, (C, R)."""
        first, last = self.runs.grid.first, self.runs.grid.last
        ends = [self.temp_c[i, last if d > 0 else first] for i, d in enumerate(self.runs.direction)]
        return np.array(ends)


def subdivide(
    runs: ChannelRuns, capacity_w_k: Array, inlet_c: Array, cell_number: float | Array = CELL_NUMBER
) -> tuple[ChannelRuns, Index]:
    """The same runs with cells divided where the water cools fast, and the parts per cell (M).

    capacity_w_k (C, M) is mass flow times heat capacity in each channel, inlet_c (R), cell_number one
    for all or one a run. The measure is the square root of the norm of the squared Jacobian, exact for an
    even there-and-back pair.
    """
    run_of_cell = runs.run_of_cell
    coldest, warmest = runs.room_span_c
    high, low = np.maximum(inlet_c, warmest).take(run_of_cell), np.minimum(inlet_c, coldest).take(run_of_cell)
    excess = np.maximum(high - runs.room_c, runs.room_c - low)
    if isinstance(cell_number, np.ndarray):
        cell_number = cell_number[run_of_cell]
    slope = runs.exponent * runs.emission_w_mkn * np.maximum(excess, 1e-3) ** (runs.exponent - 1.0)
    if runs.loss_w_mk is not None:
        slope = slope + runs.loss_w_mk
    jacobian = link_matrix(runs.link_w_mk, slope)
    jacobian /= -np.asarray(runs.direction, float)[:, None, None] * capacity_w_k[:, None, :]
    norm = np.abs(matrix_product(jacobian, jacobian)).sum(axis=1).max(axis=0)
    even = np.sqrt(norm) * runs.length_m / cell_number
    if even.max(initial=0.0) <= MAX_EVEN_PARTS:
        parts = np.maximum(np.ceil(even), 1.0).astype(np.intp)
        return refine(runs, parts), parts
    lengths = [_layered(length, count) for length, count in zip(runs.length_m, even, strict=True)]
    parts = np.array([part_lengths.size for part_lengths in lengths], dtype=np.intp)
    return replace(refine(runs, parts), length_m=np.concatenate(lengths)), parts


def _layered(length_m: float, even: float) -> Array:
    """Lengths of the parts of one cell that is to have `even` equal parts.

    Beyond MAX_EVEN_PARTS the water changes within thin layers at the cell's ends: there the parts stay as short, and
    between them they grow by LAYER_GROWTH from both sides.
    """
    if even <= MAX_EVEN_PARTS:
        count = max(int(np.ceil(even)), 1)
        return np.full(count, length_m / count)
    minimum = length_m / even
    inner = length_m - 2.0 * LAYER_PARTS * minimum
    count = int(np.ceil(np.log1p(inner / 2.0 / minimum * (LAYER_GROWTH - 1.0)) / np.log(LAYER_GROWTH)))
    growing = LAYER_GROWTH ** np.arange(count)
    growing *= inner / 2.0 / growing.sum()
    layer = np.full(LAYER_PARTS, minimum)
    return np.concatenate([layer, growing, growing[::-1], layer])


def refine(runs: ChannelRuns, parts: Index) -> ChannelRuns:
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
