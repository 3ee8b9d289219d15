"""The pumps of all circuits for the network solver, linearised at their present flows."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.network.flow_solver import NewtonState
from heatloop.hydraulics.network.links import PumpBoundary
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.pumps import ConstantHead, PumpCharacteristic

Array = NDArray[np.float64]


def linearised_pump(
    network: PipeNetwork,
    pumps: Sequence[PumpCharacteristic | Array],
    density_kg_m3: Array,
    iterate: NewtonState,
    inflow: Array,
) -> PumpBoundary:
    """The drives of all circuits, each characteristic linearised at its present flow; density_kg_m3 (P, S) at the
    pumps."""
    count, s = density_kg_m3.shape
    by_pressure, by_flow, required = np.ones((count, s)), np.zeros((count, s)), np.zeros((count, s))
    for p, pump in enumerate(pumps):
        if isinstance(pump, np.ndarray):
            by_pressure[p], by_flow[p], required[p] = 0.0, 1.0, pump
            continue
        if isinstance(pump, ConstantHead):
            required[p] = pump.value_pa
            continue
        flow = node_outflow(network, iterate, inflow, p)
        head, slope = pump.head_pa(flow / density_kg_m3[p])
        by_flow[p] = -slope / density_kg_m3[p]
        required[p] = head + by_flow[p] * flow
    return PumpBoundary(network.solver_index.driven, by_pressure, by_flow, required)


def node_outflow(network: PipeNetwork, iterate: NewtonState, inflow: Array, p: int) -> Array:
    """Flow of the pump of a circuit (S): the outflow of its flow node."""
    solver_index = network.solver_index
    return np.asarray(solver_index.leaving[p] @ iterate.flow - inflow[solver_index.driven[p]])


def source_feed(network: PipeNetwork, inflow: Array, drawn_kg_s: Array, again_kg_s: Array) -> None:
    """Add to `inflow` (n, S) the draws of mixed circuits and the mixing of mixed loops.

    The draw of mixed circuits (P - 1, S) leaves and enters the nodes of their parents. The return water that mixed
    loops mix in (L, S) goes from the node of their return tail to that of their flow tail.
    """
    inflow[:] = 0.0
    for circuit, drawn in zip(network.circuits[1:], drawn_kg_s, strict=True):
        _move(network, inflow, circuit.draws_at, -drawn)
    for nodes, again in zip(network.loop_nodes, again_kg_s, strict=True):
        _move(network, inflow, nodes, again)


def _move(network: PipeNetwork, inflow: Array, nodes: Sequence[int] | NDArray[np.intp], flow: Array) -> None:
    """Add to `inflow` a flow (S) out of the second node into the first, where these are unknown nodes."""
    unknown = network.node_equations.unknown
    for node, sign in zip(nodes, (1.0, -1.0), strict=True):
        place = int(np.searchsorted(unknown, node))
        if place < unknown.size and unknown[place] == node:
            inflow[place] += sign * flow
