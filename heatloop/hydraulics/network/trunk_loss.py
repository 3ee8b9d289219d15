"""Heat loss of trunks: temperatures along the shared pipework, from the pumps to the loops and back.

Every shared pipe cools towards its surroundings as tails do: an exponential approach with the mean heat capacity
between its ends. Return streams are mixed by enthalpy, after deducting the heat loss of the return pipes.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.mixing import draw_off_share, loop_draw_share, mixed_temperature_c
from heatloop.hydraulics.network.pipe_loss import temperature_after_loss_c
from heatloop.hydraulics.network.shared_pipework import SharedPipework
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

PASSES = 60
TOLERANCE_K = 1e-12
PASS_K = 1e-9
"""At given flows only the heat capacity depends on the temperature at the end of a pipe: a pass leaves less than a
thousandth of the change of the pass before."""


@dataclass(frozen=True)
class TrunkTemperatures:
    """Temperatures on the flow side.

    Of every node that has been calculated (nodes, S). Of each circuit (P, S), at most the temperature that reaches its
    mixing point. At the start and the end of every link (K, S), with the ends of return links unchanged. Where bypasses
    leave (B, S), and where each circuit draws (P, S).
    """

    node_c: Array
    circuit_c: Array
    start_c: Array
    end_c: Array
    bypass_c: Array
    warm_c: Array


@dataclass(frozen=True)
class TrunkLoss:
    """Losses of shared pipework.

    `less` (P + return links, K): 1 where the loss of a return link is deducted from what returns to a circuit, or from
    what enters a return link.
    """

    shared_pipework: SharedPipework
    loss_w_k: Array
    around_c: Array
    is_flow: NDArray[np.bool_]
    less: Array

    @classmethod
    def of(cls, shared_pipework: SharedPipework) -> TrunkLoss | None:
        """Losses of this shared pipework; None where it loses nothing."""
        loss = np.array([link.loss_w_k for link in shared_pipework.links])
        if not loss.any():
            return None
        leaving = {link.start: k for k, link in enumerate(shared_pipework.links) if not link.is_flow}
        back = [k for k, link in enumerate(shared_pipework.links) if not link.is_flow]
        less = np.zeros((len(shared_pipework.circuits) + len(back), len(shared_pipework.links)))
        for k in back:
            less[shared_pipework.links[k].circuit, k] = 1.0
            onward = leaving.get(shared_pipework.links[k].end)
            while onward is not None:
                less[len(shared_pipework.circuits) + back.index(onward), k] = 1.0
                onward = leaving.get(shared_pipework.links[onward].end)
        return cls(
            shared_pipework,
            loss,
            np.array([link.around_c for link in shared_pipework.links]),
            np.array([link.is_flow for link in shared_pipework.links]),
            less,
        )

    def ahead(self, flow_kg_s: Array, circuit_c: Array, initial_guess_c: Array, fluid: Fluid) -> TrunkTemperatures:
        """Temperatures of the flow side at these flows of the links (K, S).

        circuit_c (P, S): maximum temperature of each circuit. initial_guess_c (K, S): estimated temperatures at the
        ends of the links.
        """
        circuits = self.shared_pipework.circuits
        node_c = np.broadcast_to(circuit_c[0], (self.shared_pipework.nodes, circuit_c.shape[1])).copy()
        circuit_c, end_c = circuit_c.copy(), initial_guess_c.copy()
        begun = {0}
        for k, link in enumerate(self.shared_pipework.links):
            if not link.is_flow:
                continue
            if link.circuit not in begun:  # parents come first, so its mixing point has its temperature
                begun.add(link.circuit)
                circuit = circuits[link.circuit]
                circuit_c[link.circuit] = np.minimum(circuit_c[link.circuit], node_c[circuit.draws_at[0]])
                node_c[circuit.flow] = circuit_c[link.circuit]
            own = slice(k, k + 1)
            inlet = node_c[link.start : link.start + 1]
            end_c[own] = temperature_after_loss_c(
                self.loss_w_k[own], self.around_c[own], flow_kg_s[own], inlet, initial_guess_c[own], fluid
            )
            node_c[link.end] = end_c[k]
        starts, hang, draw = self._nodes
        return TrunkTemperatures(
            node_c, circuit_c, node_c.take(starts, axis=0), end_c, node_c.take(hang, axis=0), node_c.take(draw, axis=0)
        )

    @cached_property
    def _nodes(self) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
        """Nodes where links start (K), where bypasses leave (B) and where circuits draw (P)."""
        shared_pipework = self.shared_pipework
        starts = [link.start for link in shared_pipework.links]
        hang = [shared_pipework.join[trunk][0] for trunk, _ in shared_pipework.bypasses]
        draw = [circuit.draws_at[0] for circuit in shared_pipework.circuits]
        return np.array(starts, np.intp), np.array(hang, np.intp), np.array(draw, np.intp)

    def return_losses(self, stream_kg_s: Array, start_c: Array, end_c: Array, fluid: Fluid) -> tuple[Array, Array]:
        """Heat lost before water reaches a circuit or a return link, and end temperatures of all links.

        start_c (K, S): start temperatures of the links. end_c: estimated end temperatures. The heat is (P + return
        links, S) in W. A reversed leakage through a closed bypass carries no heat, as in the mixing.
        """
        back = ~self.is_flow
        flow, starts = self.shared_pipework.on_link[back] @ np.maximum(stream_kg_s, 0.0), start_c[back]
        ends = temperature_after_loss_c(self.loss_w_k[back], self.around_c[back], flow, starts, end_c[back], fluid)
        lost, end_c = np.zeros(start_c.shape), end_c.copy()
        lost[back] = flow * (fluid.enthalpy_j_kg(starts) - fluid.enthalpy_j_kg(ends))
        end_c[back] = ends
        return self.less @ lost, end_c


@dataclass(frozen=True)
class ConvergedTrunks:
    """Shared pipework at given streams.

    stream_kg_s (N), with the draws of mixed circuits. Inlet, outlet and mean temperature of each link, (K). Temperature
    of the nodes on the flow side (nodes).
    """

    stream_kg_s: Array
    inlet_c: Array
    outlet_c: Array
    node_c: Array


def solve_trunk_temperatures(
    shared_pipework: SharedPipework, stream_kg_s: Array, back_c: Array, circuit_c: Array, loop_c: Array, fluid: Fluid
) -> ConvergedTrunks:
    """Solve all temperatures of shared pipework, and the draw of mixed circuits, at given flows.

    stream_kg_s and back_c (N): flows and return temperatures of loops and bypasses first; then the draws, not yet
    known. circuit_c (P, 1): maximum temperature of each circuit. loop_c (L): flow temperature of each loop. A loop that
    is mixed to this temperature draws less than its flow.
    """
    losses, circuits = TrunkLoss.of(shared_pipework), shared_pipework.circuits
    is_flow = np.array([link.is_flow for link in shared_pipework.links], dtype=bool)
    draws = shared_pipework.draw_streams.start
    streams, back = stream_kg_s[:, None].copy(), back_c[:, None].copy()
    less: Array | None = None
    inlet = circuit_c[shared_pipework.link_circuit].astype(float)
    outlet, node_c = inlet.copy(), np.repeat(circuit_c[:1], shared_pipework.nodes, axis=0)
    for p, circuit in enumerate(circuits):
        node_c[circuit.flow] = circuit_c[p]
    members = np.concatenate([shared_pipework.of_circuit, shared_pipework.on_link[~is_flow]])
    own = shared_pipework.loop_streams
    join = [shared_pipework.join[trunk][0] for trunk in shared_pipework.stream_trunks[own]]
    at = [shared_pipework.circuit_of[trunk] for trunk in shared_pipework.stream_trunks[own]]
    for _ in range(PASSES):
        before = outlet.copy(), streams.copy()
        now_c = circuit_c
        if losses is not None:
            ahead = losses.ahead(shared_pipework.on_link @ streams, circuit_c, outlet, fluid)
            node_c, now_c, outlet[is_flow] = ahead.node_c, ahead.circuit_c, ahead.end_c[is_flow]
            inlet[is_flow] = ahead.start_c[is_flow]
            back[shared_pipework.bypass_streams] = ahead.bypass_c
        join_c = now_c[at] if losses is None else node_c[join]
        streams[own] = stream_kg_s[own, None] * loop_draw_share(fluid, join_c, loop_c[:, None], back[own])
        for p in range(len(circuits) - 1, 0, -1):
            lost = less[[p]] if less is not None else None
            back[draws + p - 1] = mixed_temperature_c(
                fluid, shared_pipework.of_circuit[[p]], streams, back, less_w=lost
            )[0]
            warm_c = now_c[circuits[p].parent] if losses is None else node_c[circuits[p].draws_at[0]]
            share = draw_off_share(fluid, warm_c, now_c[p], back[draws + p - 1])
            streams[draws + p - 1] = share * (shared_pipework.of_circuit[p] @ streams)
        mixed_c = mixed_temperature_c(fluid, members, streams, back, less_w=less)
        inlet[~is_flow] = mixed_c[len(circuits) :]
        if losses is None:
            outlet[~is_flow] = inlet[~is_flow]
        else:
            less, outlet = losses.return_losses(streams, inlet, outlet, fluid)
        moved = np.abs(outlet - before[0]).max(initial=0.0), np.abs(streams - before[1]).max(initial=0.0)
        if moved[0] < TOLERANCE_K and moved[1] < TOLERANCE_K * streams.max():
            break
    return ConvergedTrunks(streams[:, 0], inlet[:, 0], outlet[:, 0], node_c[:, 0])


def with_mixed_draw_off(shared_pipework: SharedPipework, stream_kg_s: Array, share: Array) -> Array:
    """Flows of all streams (N), from those of loops and bypasses and the draw of mixed circuits.

    The draw is the share of its flow that each mixed circuit draws (P - 1).
    """
    at = shared_pipework.draw_streams.start
    streams = np.concatenate([stream_kg_s, np.zeros(share.size)])
    for p in range(share.size, 0, -1):
        streams[at + p - 1] = share[p - 1] * (shared_pipework.of_circuit[p] @ streams)
    return streams


def temperature_at_loops_c(
    losses: TrunkLoss | None,
    stream_kg_s: Array,
    circuit_c: Array,
    loop_nodes: NDArray[np.intp],
    max_c: Array,
    fluid: Fluid,
) -> Array:
    """Temperature of the water at each loop (L), at most `max_c`.

    `losses` of the shared pipework; None where it loses nothing. stream_kg_s (N) with all draws; circuit_c (P, 1).
    """
    if losses is None:
        return max_c
    flow = losses.shared_pipework.on_link @ stream_kg_s[:, None]
    end_c = circuit_c[losses.shared_pipework.link_circuit].astype(float)
    for _ in range(PASSES):
        ahead = losses.ahead(flow, circuit_c, end_c, fluid)
        moved, end_c = np.abs(ahead.end_c - end_c).max(), ahead.end_c
        if moved < PASS_K:
            break
    return np.asarray(np.minimum(max_c, ahead.node_c[loop_nodes, 0]))
