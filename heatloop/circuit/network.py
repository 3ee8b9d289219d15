"""The hydraulic network: links of elements in series between nodes, solved for flow and pressure.

Global gradient method (Todini and Pilati 1988): Newton's method on flows and pressures together, one
symmetric system in the pressures a step. Elements in series are one link, so nodes stand only where
water divides or meets. Flow is mass flow in kg/s, positive from the link's first node to its second.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from heatloop.physics.friction import FrictionTable

Array = NDArray[np.float64]
Index = NDArray[np.intp]

DENSE_NODES = 150
"""Up to this many nodes a dense solve is quicker than a sparse one."""

LEAST_FLOW_KG_S = 1e-10
"""Below this a link's drop is taken as its laminar, linear law, which it follows there anyway."""


@dataclass(frozen=True)
class Elements:
    """E hydraulic elements sorted by link, as arrays: what their pressure drop depends on.

    link (E) int, first (L) int the first element of each link, area_m2, hydraulic_diameter_m, length_m,
    zeta, kv_m3_h (inf where there is no valve), friction (E) int which curve of `table`.
    """

    link: Index
    first: Index
    area_m2: Array
    hydraulic_diameter_m: Array
    length_m: Array
    zeta: Array
    kv_m3_h: Array
    friction: Index
    table: FrictionTable

    def drop(self, flow_kg_s: Array, density_kg_m3: Array, viscosity_pa_s: Array) -> tuple[Array, Array, Array]:
        """Pressure drop of each element in Pa with the sign of its flow, its slope Pa/(kg/s), and Reynolds number.

        flow_kg_s (E), density_kg_m3 (E), viscosity_pa_s (E).
        """
        size = np.maximum(np.abs(flow_kg_s), LEAST_FLOW_KG_S)
        re = size * self.hydraulic_diameter_m / (self.area_m2 * viscosity_pa_s)
        factor, log_slope = self.table.factor_and_slope(re, self.friction)
        dynamic = size * size / (2.0 * density_kg_m3 * self.area_m2**2)
        friction = factor * self.length_m / self.hydraulic_diameter_m * dynamic
        valve = 1e5 / 1000.0 * (3600.0 * size / self.kv_m3_h) ** 2 / density_kg_m3
        local = self.zeta * dynamic + valve
        slope = ((2.0 + log_slope) * friction + 2.0 * local) / size
        return (friction + local) * (flow_kg_s / size), slope, re


@dataclass(frozen=True)
class Network:
    """Nodes and links. `start` and `end` (L) are node numbers; `fixed` the nodes of known pressure."""

    nodes: int
    start: Index
    end: Index
    fixed: Index


@dataclass(frozen=True)
class NetworkState:
    """A solved network: flow_kg_s (L), pressure_pa (N), residuals and the steps it took.

    mass_residual: greatest imbalance of a free node over the greatest flow; head_residual: greatest
    misfit of a link's drop and its nodes' pressures over the greatest pressure difference.
    """

    flow_kg_s: Array
    pressure_pa: Array
    mass_residual: float
    head_residual: float
    iterations: int


LinkDrop = Callable[[Array], tuple[Array, Array]]
"""Drop of each link in Pa and its slope at given link flows (L)."""


def solve_network(
    network: Network,
    fixed_pa: Array,
    link_drop: LinkDrop,
    guess_kg_s: Array,
    inflow_kg_s: Array | None = None,
    tolerance: float = 1e-12,
    most_steps: int = 60,
) -> NetworkState:
    """Flows and pressures with the pressures `fixed_pa` at the fixed nodes and water fed in at others.

    Each step solves A G^-1 A^T p = ... for the free pressures, then updates flows; a step that makes the
    misfit worse is halved. Raises ArithmeticError if it does not settle.
    """
    inflow = np.zeros(network.nodes) if inflow_kg_s is None else inflow_kg_s
    free = np.ones(network.nodes, bool)
    free[network.fixed] = False
    number = np.full(network.nodes, -1)
    number[free] = np.arange(int(free.sum()))
    pressure = np.zeros(network.nodes)
    pressure[network.fixed] = fixed_pa
    flow = guess_kg_s.astype(float)
    drop, slope = link_drop(flow)
    for step in range(1, most_steps + 1):
        conductance = 1.0 / slope
        # flow after the step: flow + (p_start - p_end - drop) / slope, balanced at every free node
        carried = flow - drop * conductance
        pressure = _pressures(network, free, number, pressure, conductance, carried, inflow)
        change = (pressure[network.start] - pressure[network.end] - drop) * conductance
        scale = max(float(np.abs(flow + change).max()), LEAST_FLOW_KG_S)
        misfit = float(np.abs(change).max()) / scale
        flow, drop, slope = _line_search(flow, change, pressure, network, link_drop, misfit)
        if misfit < tolerance:
            break
    else:
        raise ArithmeticError(f"the network did not settle in {most_steps} steps")
    return NetworkState(flow, pressure, *residuals(network, flow, pressure, drop, inflow), step)


def residuals(network: Network, flow: Array, pressure: Array, drop: Array, inflow: Array) -> tuple[float, float]:
    """Relative imbalance of mass at the free nodes and of head along the links."""
    balance = inflow + np.bincount(network.end, flow, network.nodes) - np.bincount(network.start, flow, network.nodes)
    balance[network.fixed] = 0.0
    misfit = pressure[network.start] - pressure[network.end] - drop
    head = max(float(np.ptp(pressure)), 1e-300)
    return (
        float(np.abs(balance).max(initial=0.0)) / max(float(np.abs(flow).max()), 1e-300),
        float(np.abs(misfit).max(initial=0.0)) / head,
    )


def _line_search(
    flow: Array, change: Array, pressure: Array, network: Network, link_drop: LinkDrop, misfit: float
) -> tuple[Array, Array, Array]:
    """Take the step, halved while it makes the greatest relative error of the flows worse."""
    share = 1.0
    while True:
        new = flow + share * change
        drop, slope = link_drop(new)
        error = np.abs((pressure[network.start] - pressure[network.end] - drop) / slope).max()
        scale = max(float(np.abs(new).max()), LEAST_FLOW_KG_S)
        if error / scale <= max(misfit, 1e-12) or share < 1e-3:
            return new, drop, slope
        share /= 2.0


def _pressures(
    network: Network,
    free: NDArray[np.bool_],
    number: Index,
    pressure: Array,
    conductance: Array,
    carried: Array,
    inflow: Array,
) -> Array:
    """Pressures that balance the linearised flows carried + conductance * (p_start - p_end)."""
    n = int(free.sum())
    if n == 0:
        return pressure
    known = np.where(free, 0.0, pressure)
    leaving = carried + conductance * (known[network.start] - known[network.end])
    source = (
        inflow + np.bincount(network.end, leaving, network.nodes) - np.bincount(network.start, leaving, network.nodes)
    )
    i, j = number[network.start], number[network.end]
    both = (i >= 0) & (j >= 0)
    rows = np.concatenate([i[i >= 0], j[j >= 0], i[both], j[both]])
    columns = np.concatenate([i[i >= 0], j[j >= 0], j[both], i[both]])
    values = np.concatenate([conductance[i >= 0], conductance[j >= 0], -conductance[both], -conductance[both]])
    if n <= DENSE_NODES:
        matrix = np.zeros((n, n))
        np.add.at(matrix, (rows, columns), values)
        solved = np.linalg.solve(matrix, source[free])
    else:
        solved = spsolve(coo_matrix((values, (rows, columns)), shape=(n, n)).tocsc(), source[free])
    result = pressure.copy()
    result[free] = solved
    return result
