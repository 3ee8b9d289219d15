"""Runs of skirting as input of the channel solver, solved runs, and division of runs into cells.

Arrays are channel first: (C, M) over cells and (C, M + R) over nodes. The cells of all R runs are stored one run after
the other. Run r has the cells from start[r] up to, but not including, start[r + 1].
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
"""Maximum eigenvalue times cell length; it keeps the discretisation error of the heat of a smooth run below 1e-9."""

MAX_EVEN_PARTS = 512
"""A cell divided into more parts than this has thin parts at its ends and longer ones between."""

LAYER_PARTS, LAYER_GROWTH = 140, 1.15
"""Number of thin parts at each end, over which a linear layer falls by e^-25, and length ratio of the parts between."""


@dataclass(frozen=True, eq=False)
class ChannelGrid:
    """Positions of nodes, unknowns and equations of all runs in their banded system of K unknowns.

    The unknowns are the temperatures: node after node, C at each node. The equations have this order: at the first node
    of a run the inlets of the outward channels; then C equations for each cell; after the last cell the conditions of
    the return channels at the far end.

    first, last, counts (R): first node, last node and number of nodes of each run. left (M): the node at the start of
    each cell. ends (C, 2, M): both ends of every cell among the unknowns. at_cells (C, M): the equations of the cells.
    band (K, rows): the band of LAPACK, column by column, filled only with the conditions at the ends of runs (for one
    outward channel). at_slopes (2, C, C, M): positions in the band of the derivatives of cells by left and right node.
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
        """Build the grid of runs that start at these cells."""
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
    """R runs of skirting with M cells in all; every run has the same channels.

    start (R + 1) int, length_m (M), emission_w_mkn (C, M), exponent (M), link_w_mk (C - 1, M), room_c (M). film_mk_w
    (C, M), or None for no film. loss_w_mk (C, M) or None. direction: C values of +1 or -1.
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
        """Number of the run to which each cell belongs, (M)."""
        return np.repeat(np.arange(self.start.size - 1), np.diff(self.start))

    def some(self, first: int, last: int) -> ChannelRuns:
        """The runs from `first` up to, but not including, `last`."""
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
        """The grid of nodes and unknowns of these cells."""
        return ChannelGrid.of(self.start, self.run_of_cell, self.direction)

    @cached_property
    def room_span_c(self) -> tuple[Array, Array]:
        """Minimum and maximum room temperature of every run, (R) each."""
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

    temp_c (C, M + R): water at the nodes. middle_c (C, M): water half-way along each cell.

    surface_c (C, M + R): wall at the nodes. A node has the wall temperature of the cell that ends there; the first node
    has that of the cell that starts there. The mean of the two cells is not used.

    wall_ends_c (C, 2, M): wall at both ends of each cell; the two values at a node differ where film or room change.
    emitted_w (C, M): heat emitted by each cell and channel wall. lost_w (C, M): the part of it that the room does not
    receive. given_w (C, M): heat given up by the water. residual_k: maximum residual of all equations in K.
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
        """Whether heat given by water and heat emitted by walls differ by at most this share in every run."""
        starts = self.runs.start[:-1]
        emitted = np.add.reduceat(self.emitted_w.sum(axis=0), starts)
        apart = np.add.reduceat(self.given_w.sum(axis=0), starts) - emitted
        return bool((np.abs(apart) <= share * np.abs(emitted) + 1e-12).all())

    @property
    def return_c(self) -> Array:
        """Temperature of each channel where it leaves the run, (C, R)."""
        return leaving_c(self.runs, self.temp_c)


def leaving_c(runs: ChannelRuns, temp_c: Array) -> Array:
    """Temperature of each channel where it leaves the run, (C, R), from those at the nodes, (C, M + R)."""
    start, index = runs.start, np.arange(runs.start.size - 1)
    first, last = start[:-1] + index, start[1:] + index
    return np.array([temp_c[i, last if d > 0 else first] for i, d in enumerate(runs.direction)])


def subdivide(
    runs: ChannelRuns, capacity_w_k: Array, inlet_c: Array, cell_number: float | Array = CELL_NUMBER
) -> tuple[ChannelRuns, Index]:
    """Divide cells where the water cools fast; return the runs and the number of parts of each cell (M).

    capacity_w_k (C, M) is mass flow times heat capacity in each channel; inlet_c (R). cell_number: one number for all
    runs or one for each run. Cells are divided by the square root of the norm of the squared Jacobian. This measure is
    exact for an even two-pass pair of channels.
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
    """Lengths of the parts of one cell that would have `even` equal parts.

    Beyond MAX_EVEN_PARTS the water temperature changes within thin layers at the ends of the cell. The parts in these
    layers keep their short length. Between the layers the parts become longer by LAYER_GROWTH from both sides.
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
    """Cut every cell into the given number of equal parts (M); return the runs."""
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


def interpolated_c(temp_c: Array, runs: ChannelRuns, fine: ChannelRuns) -> Array:
    """Temperatures at the nodes of `fine` (C, nodes), linear between those of the same runs in other cells."""
    at, known = _along(fine), _along(runs)
    return np.array([np.interp(at, known, row) for row in temp_c])


def _along(runs: ChannelRuns) -> Array:
    """A coordinate of all nodes that increases along every run and from one run to the next."""
    starts = np.concatenate([[0.0], np.cumsum(runs.length_m)])
    counts = np.diff(runs.start) + 1
    nodes = np.arange(counts.sum()) - np.repeat(np.arange(counts.size), counts)
    return np.asarray(starts[nodes] + np.repeat(np.arange(counts.size), counts))
