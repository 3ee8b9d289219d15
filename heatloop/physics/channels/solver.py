"""Temperatures along the channels of skirting: a boundary-value problem for many runs at once.

Per metre of run, for channel i with direction d_i (+1 out, -1 return), water T_i, wall S_i, room T_r::

    d_i m_i cp dT_i/dx = -q_i
    q_i = (T_i - S_i)/r_i = e_i (S_i - T_r)^n + l_i (S_i - T_r) + sum_j W_ij (S_i - S_j)

with e_i the channel's share of the characteristic, W/(m K^n), l_i what it loses elsewhere than to the room (a profile
in the floor, downwards), W/(m K), r_i the water film's resistance, m K/W (0: the wall is as warm as the water) and
W_ij the link between neighbouring channels through the metal, W/(m K). Outward channels start at the inlet
temperature. Return channels start at the far end with the mixed temperature of the outward ones.

Method: mono-implicit Runge-Kutta collocation of order six on every cell (Cash and Singhal 1982, IMA J.
Numer. Anal. 2, 167-172; weights re-derived and confirmed here by convergence tests) and Newton's
method on all nodes of all runs together, one banded system (heatloop.physics.channels.newton). No marching along
the channel is used, so very small flows and strong links do not make the solution less accurate. The heat of a cell is
calculated with the sixth-order quadrature of the equations, so water and emission balance to rounding.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from heatloop.physics.channels.grid import CELL_NUMBER, ChannelRuns, ChannelSolution, refine, subdivide
from heatloop.physics.channels.newton import ChannelNewtonSolver

__all__ = [
    "CELL_NUMBER",
    "ChannelSolution",
    "ChannelNewtonSolver",
    "ChannelRuns",
    "subdivide",
    "solve_channels",
    "refine",
]

Array = NDArray[np.float64]

CHUNK_CELLS = 4000
"""Many runs are solved in batches of about this many cells, which fit the processor's cache."""

MAX_STEPS = 40


def solve_channels(
    runs: ChannelRuns,
    capacity_w_k: Array,
    inlet_c: Array,
    initial_guess_c: Array | None = None,
    tolerance_k: float = 1e-9,
) -> ChannelSolution:
    """Solve the water temperatures of all runs.

    capacity_w_k (C, M) must be above 0. inlet_c (R). initial_guess_c (C, M + R): temperatures of an earlier solution.

    Raises ArithmeticError if Newton's method does not converge in 40 steps. By the maximum principle this does not
    occur with finite input.
    """
    lots = np.unique(np.searchsorted(runs.start, np.arange(0, runs.start[-1], CHUNK_CELLS)))
    if lots.size <= 2:
        return _solve_batch(runs, capacity_w_k, inlet_c, initial_guess_c, tolerance_k)
    solved = []
    for first, last in pairwise([*lots, runs.start.size - 1]):
        a, b = runs.start[first], runs.start[last]
        initial_guess_kg_s = None if initial_guess_c is None else initial_guess_c[:, a + first : b + last]
        batch = runs.some(int(first), int(last))
        solved.append(_solve_batch(batch, capacity_w_k[:, a:b], inlet_c[first:last], initial_guess_kg_s, tolerance_k))
    joined = {
        name: np.concatenate([getattr(batch, name) for batch in solved], axis=-1)
        for name in ("temp_c", "middle_c", "surface_c", "wall_ends_c", "emitted_w", "lost_w", "given_w")
    }
    residual_k, iterations = max(batch.residual_k for batch in solved), max(batch.iterations for batch in solved)
    return ChannelSolution(runs, **joined, residual_k=residual_k, iterations=iterations)


def _solve_batch(
    runs: ChannelRuns, capacity_w_k: Array, inlet_c: Array, initial_guess_c: Array | None, tolerance_k: float
) -> ChannelSolution:
    newton = ChannelNewtonSolver(runs, capacity_w_k, inlet_c, initial_guess_c)
    for _ in range(MAX_STEPS):
        newton.step()
        if newton.left_k < tolerance_k:
            return newton.result()
    raise ArithmeticError("the channel temperatures did not converge: a length or flow is not finite")
