"""The pumps of all circuits as the network solver takes them: made straight at their flows now."""

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
    assembly: PipeNetwork,
    drives: Sequence[PumpCharacteristic | Array],
    density_kg_m3: Array,
    now: NewtonState,
    inflow: Array,
) -> PumpBoundary:
    """The drives of all circuits, each law made straight at its flow now; density_kg_m3 (P, S) at the pumps."""
    count, s = density_kg_m3.shape
    by_pressure, by_flow, wanted = np.ones((count, s)), np.zeros((count, s)), np.zeros((count, s))
    for p, drive in enumerate(drives):
        if isinstance(drive, np.ndarray):
            by_pressure[p], by_flow[p], wanted[p] = 0.0, 1.0, drive
            continue
        if isinstance(drive, ConstantHead):
            wanted[p] = drive.value_pa
            continue
        flow = node_outflow(assembly, now, inflow, p)
        head, slope = drive.head_pa(flow / density_kg_m3[p])
        by_flow[p] = -slope / density_kg_m3[p]
        wanted[p] = head + by_flow[p] * flow
    return PumpBoundary(assembly.frame.driven, by_pressure, by_flow, wanted)


def node_outflow(assembly: PipeNetwork, now: NewtonState, inflow: Array, p: int) -> Array:
    """Flow of a circuit's pump, (S): what leaves its flow node."""
    frame = assembly.frame
    return np.asarray(frame.leaving[p] @ now.flow - inflow[frame.driven[p]])


def source_feed(assembly: PipeNetwork, inflow: Array, drawn_kg_s: Array, again_kg_s: Array) -> None:
    """What mixed circuits draw, (P - 1, S), leaves and enters their parents' nodes; what mixed loops mix in of their
    return, (L, S), goes from the node of their return tail to that of their flow tail: into `inflow` (n, S)."""
    inflow[:] = 0.0
    for circuit, drawn in zip(assembly.circuits[1:], drawn_kg_s, strict=True):
        _move(assembly, inflow, circuit.draws_at, -drawn)
    for nodes, again in zip(assembly.loop_nodes, again_kg_s, strict=True):
        _move(assembly, inflow, nodes, again)


def _move(assembly: PipeNetwork, inflow: Array, nodes: Sequence[int] | NDArray[np.intp], flow: Array) -> None:
    """Flow into the first of two nodes, (S), that comes out of the second, into `inflow` where they are unknown."""
    unknown = assembly.wiring.unknown
    for node, sign in zip(nodes, (1.0, -1.0), strict=True):
        place = int(np.searchsorted(unknown, node))
        if place < unknown.size and unknown[place] == node:
            inflow[place] += sign * flow
