"""How accurate solved channel temperatures are, and cells cut where they are not.

The solver's own quadrature balances water and emission to rounding; here the emission is integrated again in
another way from the temperatures it found. The two differ by the discretisation error.
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
"""Relative discretisation error of a run's heat above which its worst cells are cut: where water or wall passes
the room's temperature the characteristic has a kink, and smooth rules lose their order."""

POINTS, WEIGHTS = np.polynomial.legendre.leggauss(5)


def _quintic(x: Array) -> Array:
    """Weights of the Hermite quintic on [0, 1] at places x: of its values and then its slopes at 0, 1/2 and 1."""
    powers = np.arange(6)
    at = np.array([0.0, 0.5, 1.0])[:, None]
    values, slopes = at**powers, powers * at ** np.maximum(powers - 1, 0)
    return np.asarray(x[:, None] ** powers @ np.linalg.inv(np.concatenate([values, slopes])))


GAUSS_FROM_KNOWN = _quintic((POINTS + 1.0) / 2.0)
"""Temperatures at the points of the rule from those at both nodes and in the middle and what they change by there."""

MAX_CUTS = 10


def solve_accurately(runs: ChannelRuns, capacity_w_k: Array, inlet_c: Array) -> tuple[ChannelSolution, Index]:
    """Divide, solve and cut the cells whose heat is not accurate: the result and the parts of each cell (M)."""
    fine, parts = subdivide(runs, capacity_w_k, inlet_c)
    for _ in range(MAX_CUTS):
        solved = solve_channels(fine, np.repeat(capacity_w_k, parts, axis=1), inlet_c)
        cuts = refinement_needed(solved)
        if cuts is None:
            break
        fine, parts = refine(fine, cuts), np.add.reduceat(cuts, np.cumsum(parts) - parts)
    return solved, parts


def refinement_needed(channels: ChannelSolution, check_w: Array | None = None) -> Index | None:
    """Into how many parts each cell is to be divided so that the heat of its run is accurate; None for none.

    `check_w` is the result of emission_by_cell_w where it is known already.
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
    """Heat emitted by each run, W (R), integrated on its own: see emission_by_cell_w."""
    return np.add.reduceat(emission_by_cell_w(channels), channels.runs.start[:-1])


def emission_by_cell_w(channels: ChannelSolution, equations: ChannelEquations | None = None) -> Array:
    """Heat emitted by each cell, W (M), integrated on its own from the solved temperatures.

    A five-point Gauss rule on the quintic through both nodes and the middle of a cell (values and
    slopes), not the quadrature of the solver: it differs by the discretisation error. `equations`: those that the
    channels were solved with, where they are at hand.
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
    known[:, 3:] = equations.rate(equations.wall(known[:, :3]))[0]
    emission = equations.emission(equations.wall(GAUSS_FROM_KNOWN @ known)).sum(axis=0)
    return np.asarray((WEIGHTS / 2.0) @ emission * h)
