"""How accurate solved channel temperatures are, and cells cut where they are not.

The solver's own quadrature balances water and emission to rounding; here the emission is integrated again in
another way from the temperatures it found. The two differ by the discretisation error.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from heatloop.physics.channel_law import Law
from heatloop.physics.channels import Channels, Runs, divide, solve, split

Array = NDArray[np.float64]
Index = NDArray[np.intp]

ACCURACY = 2e-10
"""Relative discretisation error of a run's heat above which its worst cells are cut: where water or wall passes
the room's temperature the characteristic has a kink, and smooth rules lose their order."""

POINTS, WEIGHTS = np.polynomial.legendre.leggauss(5)

POINTS_OF_CELL = (POINTS[:, None] + 1.0) / 2.0
"""The points of the rule along a cell from 0 to 1, (P, 1)."""

MOST_CUTS = 10


def solve_accurately(runs: Runs, capacity_w_k: Array, inlet_c: Array) -> tuple[Channels, Index]:
    """Divide, solve and cut the cells whose heat is not accurate: the result and the parts of each cell (M)."""
    fine, parts = divide(runs, capacity_w_k, inlet_c)
    for _ in range(MOST_CUTS):
        solved = solve(fine, np.repeat(capacity_w_k, parts, axis=1), inlet_c)
        cuts = cuts_wanted(solved)
        if cuts is None:
            break
        fine, parts = split(fine, cuts), np.add.reduceat(cuts, np.cumsum(parts) - parts)
    return solved, parts


def cuts_wanted(channels: Channels, check_w: Array | None = None) -> Index | None:
    """Into how many parts each cell wants to be cut so that the heat of its run is accurate; None for no cuts.

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


def emission_check_w(channels: Channels) -> Array:
    """Heat emitted by each run, W (R), integrated on its own: see emission_by_cell_w."""
    return np.add.reduceat(emission_by_cell_w(channels), channels.runs.start[:-1])


def emission_by_cell_w(channels: Channels, law: Law | None = None) -> Array:
    """Heat emitted by each cell, W (M), integrated on its own from the solved temperatures.

    A five-point Gauss rule on the quintic through both nodes and the middle of a cell (values and
    slopes), not the quadrature of the solver: it differs by the discretisation error. `law`: the equations that the
    channels were solved with, where they are at hand.
    """
    runs = channels.runs
    left, h = runs.left_node, runs.length_m
    t0, tm, t1 = channels.temp_c[:, left], channels.middle_c, channels.temp_c[:, left + 1]
    if law is None:
        # the water's own heat tells its capacity, which gives the slopes at both ends and in the middle
        still = t0 == t1
        drop = np.where(still, 1.0, t0 - t1)
        direction = np.asarray(runs.direction, float)[:, None]
        law = Law(runs, np.where(still, np.inf, np.abs(channels.given_w / (direction * drop))))
    nodes = np.stack([t0, tm, t1], axis=1)
    slopes = law.rate(law.wall(nodes))[0]
    gauss = _quintic(POINTS_OF_CELL, *np.moveaxis(nodes, 1, 0)[:, :, None], *np.moveaxis(slopes, 1, 0)[:, :, None])
    emission = law.emission(law.wall(gauss)).sum(axis=0)
    return np.asarray((WEIGHTS / 2.0) @ emission * h)


def _quintic(x: Array, t0: Array, tm: Array, t1: Array, d0: Array, dm: Array, d1: Array) -> Array:
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
