"""Accuracy of solved channel temperatures, and refinement of cells that are not accurate enough.

The solver's own quadrature balances water and emission to rounding. Here the emission is integrated a second time, by
another rule, from the solved temperatures. The difference between the two is the discretisation error.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from heatloop.physics.channels.equations import ChannelEquations
from heatloop.physics.channels.grid import ChannelRuns, ChannelSolution, refine, subdivide
from heatloop.physics.channels.solver import solve_channels

Array = NDArray[np.float64]
Index = NDArray[np.intp]

ACCURACY = 2e-10
"""Relative discretisation error of the heat of a run above which its worst cells are cut. Where water or wall passes
the room temperature, the characteristic is not smooth and the rules are less accurate."""

POINTS, WEIGHTS = np.polynomial.legendre.leggauss(5)


def _quintic(x: Array) -> Array:
    """Weights of the Hermite quintic on [0, 1] at places x: of its values and then its slopes at 0, 1/2 and 1."""
    powers = np.arange(6)
    at = np.array([0.0, 0.5, 1.0])[:, None]
    values, slopes = at**powers, powers * at ** np.maximum(powers - 1, 0)
    return np.asarray(x[:, None] ** powers @ np.linalg.inv(np.concatenate([values, slopes])))


GAUSS_FROM_KNOWN = _quintic((POINTS + 1.0) / 2.0)
"""Temperatures at the points of the rule, from the values and slopes at both nodes and the middle."""

_PLACES = np.concatenate([[0.0, 0.5, 1.0], (POINTS + 1.0) / 2.0])
BETWEEN_ENDS = np.stack([1.0 - _PLACES, _PLACES], axis=1)
"""Values at both nodes, the middle and the points of the rule, between those at both nodes of a cell."""

MAX_CUTS = 10


def solve_accurately(runs: ChannelRuns, capacity_w_k: Array, inlet_c: Array) -> tuple[ChannelSolution, Index]:
    """Solve the runs, with cells refined until their heat is accurate; return also the parts of each cell (M)."""
    fine, parts = subdivide(runs, capacity_w_k, inlet_c)
    for _ in range(MAX_CUTS):
        solved = solve_channels(fine, np.repeat(capacity_w_k, parts, axis=1), inlet_c)
        cuts = refinement_needed(solved)
        if cuts is None:
            break
        fine, parts = refine(fine, cuts), np.add.reduceat(cuts, np.cumsum(parts) - parts)
    return solved, parts


def refinement_needed(channels: ChannelSolution, check_w: Array | None = None) -> Index | None:
    """Number of parts (M) into which each cell must be cut for accurate heat; None where no cell must be cut.

    `check_w`: the result of `emission_by_cell_w`, if it has been calculated already.
    """
    check_w = emission_by_cell_w(channels) if check_w is None else check_w
    error = np.abs(check_w - channels.emitted_w.sum(axis=0))
    starts = channels.runs.start[:-1]
    whole = np.maximum(np.add.reduceat(np.abs(channels.emitted_w).sum(axis=0), starts), 1e-9)
    if np.all(np.add.reduceat(error, starts) <= ACCURACY * whole):
        return None
    cells = np.diff(channels.runs.start)
    rough = error > np.repeat(0.5 * ACCURACY * whole / np.minimum(cells, 8), cells)
    return np.where(rough, 4, 1).astype(np.intp)


def emission_check_w(channels: ChannelSolution) -> Array:
    """Heat emitted by each run in W (R), integrated independently of the solver: see `emission_by_cell_w`."""
    return np.add.reduceat(emission_by_cell_w(channels), channels.runs.start[:-1])


def emission_by_cell_w(channels: ChannelSolution, equations: ChannelEquations | None = None) -> Array:
    """Heat emitted by each cell in W (M), integrated independently of the solver from the solved temperatures.

    A quintic is laid through the values and slopes at both nodes and the middle of a cell. It is integrated with a
    five-point Gauss rule. The solver uses another quadrature; the difference is the discretisation error. `equations`:
    those with which the channels were solved, if they are available.
    """
    runs = channels.runs
    left, h = runs.left_node, runs.length_m
    t0, tm, t1 = channels.temp_c[:, left], channels.middle_c, channels.temp_c[:, left + 1]
    if equations is None:
        # the heat of the water gives its capacity, and that the slopes at both ends and in the middle
        still = t0 == t1
        drop = np.where(still, 1.0, t0 - t1)
        direction = np.asarray(runs.direction, float)[:, None]
        equations = ChannelEquations(runs, np.where(still, np.inf, np.abs(channels.given_w / (direction * drop))))
    known = np.empty((len(runs.direction), 6, h.size))
    known[:, 0], known[:, 1], known[:, 2] = t0, tm, t1
    # the walls are solved again; those of the solver are only where the search begins
    drop_k = BETWEEN_ENDS @ (known[:, [0, 2]] - channels.wall_ends_c)
    known[:, 3:] = equations.rate(equations.wall(known[:, :3], drop_k[:, :3]))[0]
    emission = equations.emission(equations.wall(GAUSS_FROM_KNOWN @ known, drop_k[:, 3:])).sum(axis=0)
    return np.asarray((WEIGHTS / 2.0) @ emission * h)
