"""Effect of isolating a loop on the other loops.

Only flows are calculated, at the temperatures of the system before. Isolating a loop changes the flows of the others by
some per cent and their temperatures by tenths of a kelvin. The effect on the viscosity is very small.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.network.flow_solver import TOLERANCE, LinkDrop, newton_step, start_iteration
from heatloop.hydraulics.network.links import FlowResistance
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.pumps import ConstantHead, PumpCharacteristic
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.hydraulics.solver.pump_boundary import linearised_pump, source_feed

Array = NDArray[np.float64]

AT_ONCE = 64
STEPS = 200

ROUNDED, ROUNDED_AFTER = 1e-8, 30
"""Relative changes of flow below this, after so many steps, are those of rounding: they do not decrease further."""


@dataclass(frozen=True)
class IsolationResult:
    """S scenarios in which loops are isolated.

    Flow of each loop (L, S) in kg/s; differential pressure where the tails of each loop join (L, S) in Pa; head of the
    pump of each circuit (P, S) in Pa; flow of all elements (E, S). `open_loop_flow_kg_s` (L): flows with all loops open
    and the same pumps.
    """

    loop_flow_kg_s: Array
    differential_pa: Array
    head_pa: Array
    flow_kg_s: Array
    open_loop_flow_kg_s: Array


def isolate_each_loop(state: SystemState, pumps: Sequence[PumpCharacteristic], density_kg_m3: Array) -> IsolationResult:
    """Isolate each loop in turn (S = L), with the others unchanged; density_kg_m3 (P) at the pumps."""
    return isolate_loops(state, pumps, density_kg_m3, np.eye(len(state.network.loops), dtype=bool))


def isolate_loops(
    state: SystemState, pumps: Sequence[PumpCharacteristic], density_kg_m3: Array, which: NDArray[np.bool_]
) -> IsolationResult:
    """Isolate the loops of `which` (L, S), scenario by scenario. Raises ArithmeticError without convergence."""
    which = np.concatenate([np.zeros((which.shape[0], 1), bool), which], axis=1)
    lots = [which[:, i : i + AT_ONCE] for i in range(0, which.shape[1], AT_ONCE)]
    flows, pressures = (
        np.concatenate(parts, axis=1)
        for parts in zip(*(_solve(state, pumps, density_kg_m3, lot) for lot in lots), strict=True)
    )
    network = state.network
    nodes = network.loop_nodes
    loops, elements = flows[network.loop_link], flows[network.elements.link]
    return IsolationResult(
        loop_flow_kg_s=loops[:, 1:],
        differential_pa=(pressures[nodes[:, 0]] - pressures[nodes[:, 1]])[:, 1:],
        head_pa=np.array([pressures[c.flow, 1:] - pressures[c.back, 1:] for c in network.circuits]),
        flow_kg_s=elements[:, 1:],
        open_loop_flow_kg_s=loops[:, 0],
    )


def _solve(
    state: SystemState, pumps: Sequence[PumpCharacteristic], density: Array, which: NDArray[np.bool_]
) -> tuple[Array, Array]:
    network, count = state.network, which.shape[1]
    flow = np.repeat(_link_flows(network, state)[:, None], count, axis=1)
    link_drop = _law(network, state, flow)
    held = np.full(flow.shape, np.nan)
    held[network.loop_link] = np.where(which, 0.0, np.nan)
    iterate = start_iteration(network.graph, flow, np.zeros((len(network.circuits), count)), link_drop)
    tight = _still_bypasses(network, state)
    held[network.bypass_link[tight]] = 0.0
    for step in range(STEPS):
        inflow = _inflow(network, state, iterate.flow)
        pump = linearised_pump(network, pumps, np.repeat(density[:, None], count, axis=1), iterate, inflow)
        iterate = newton_step(network.node_equations, iterate, link_drop, inflow, pump, held)
        if np.all(iterate.moved < (ROUNDED if step > ROUNDED_AFTER else TOLERANCE * 100.0)):
            return iterate.flow, iterate.pressure
    raise ArithmeticError("the flows with a loop shut did not converge")


def _law(network: PipeNetwork, state: SystemState, flow: Array) -> LinkDrop:
    """Pressure drops of links at the temperatures of the system before.

    Tee losses, buoyancy and the opening pressure of a bypass are not changed.
    """
    resistance = FlowResistance.of(network.elements)
    viscosity = state.viscosity_pa_s[resistance.is_pipe, None]
    count, ends = flow.shape[1], state.pressure_pa
    plain = resistance.at(np.repeat(state.density_kg_m3[:, None], count, axis=1), np.repeat(viscosity, count, axis=1))
    shut = flow == 0.0
    more = (ends[network.graph.start] - ends[network.graph.end])[:, None] - plain(flow)[0]
    more = np.where(shut, 0.0, more)

    def drop_of_loop(at: Array) -> tuple[Array, Array]:
        drop, slope = plain(at)
        return drop + more, slope

    return drop_of_loop


def _link_flows(network: PipeNetwork, state: SystemState) -> Array:
    flows = np.zeros(network.graph.start.size)
    flows[network.elements.link] = state.flow_kg_s
    return flows


def _inflow(network: PipeNetwork, state: SystemState, flow: Array) -> Array:
    """Inflow into nodes: mixed circuits draw as before, mixed loops the same share of their flow (links, S)."""
    count = flow.shape[1]
    inflow = np.zeros((network.node_equations.unknown.size, count))
    drawn = np.repeat(state.drawn_kg_s[:, None], count, axis=1)
    source_feed(network, inflow, drawn, (1.0 - state.loop_draw_share[:, None]) * flow[network.loop_link])
    return inflow


def _still_bypasses(network: PipeNetwork, state: SystemState) -> NDArray[np.bool_]:
    """Keep bypasses with an opening pressure closed if they are closed now: the cautious assumption for other loops."""
    opens = np.array([b.opens_at_kpa is not None for b in network.bypasses], dtype=bool)
    return np.asarray(opens & (state.bypass_kg_s <= 0.0))


def system_curve(
    state: SystemState, pumps: Sequence[PumpCharacteristic], density_kg_m3: Array, circuit: int, heads_pa: Array
) -> Array:
    """Flow of the pump of a circuit (S) in kg/s at these heads (S), with valves unchanged and other pumps as they run.

    At the temperatures of the system before. density_kg_m3 (P) at the pumps.
    """
    network, count = state.network, heads_pa.size
    boundaries = [ConstantHead(heads_pa) if p == circuit else pump for p, pump in enumerate(pumps)]
    none = np.zeros((len(network.loops), count), bool)
    flow, _ = _solve(state, boundaries, density_kg_m3, none)
    node, graph = network.circuits[circuit].flow, network.graph
    leaving = flow[graph.start == node].sum(axis=0) - flow[graph.end == node].sum(axis=0)
    return np.asarray(leaving - _inflow(network, state, flow)[np.searchsorted(network.node_equations.unknown, node)])
