"""Shared pipework of many dwellings side by side: temperatures, flows and pressure drops of all trunks as arrays.

The equations are those of :mod:`heatloop.hydraulics.network.trunk_loss`. Trunks are calculated level by level: first
those at the sources of all dwellings, then those that continue from them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, vstack

from heatloop.hydraulics.heat.mixing import draw_off_share, loop_draw_share, mixed_temperature_c
from heatloop.hydraulics.network.links import ElementArrays
from heatloop.hydraulics.network.pipe_loss import log_mean_k, temperature_after_loss_c
from heatloop.hydraulics.network.trunk_loss import PASS_K, PASSES, TOLERANCE_K
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class TrunkState:
    """Trunks at sized flows.

    Of links (K): flow_kg_s, inlet_c, outlet_c, density_kg_m3, drop_pa, loss_w. Of streams (N), loops first, then the
    draws of mixed circuits: stream_kg_s and stream_drop_pa, the drop of all trunks on the way out and back. Of circuits
    (P): flow at the pump, and mixed return temperature. supply_c (L): of the water that reaches each loop.
    """

    flow_kg_s: Array
    inlet_c: Array
    outlet_c: Array
    density_kg_m3: Array
    drop_pa: Array
    loss_w: Array
    stream_kg_s: Array
    stream_drop_pa: Array
    circuit_flow_kg_s: Array
    circuit_return_c: Array
    supply_c: Array


@dataclass(frozen=True, eq=False)
class Shares:
    """Share of its flow that each loop (L), and each mixed circuit (D), draws from the water that reaches it."""

    loops: Array
    draws: Array


@dataclass(frozen=True, eq=False)
class LotTrunks:
    """Shared pipework of many dwellings, without bypasses.

    Dwellings (K) have loops (L), links (M), circuits (P) and nodes, numbered one dwelling after the other. Streams (N)
    are the loops, then the draws (D) of mixed circuits. on_link (M, N), of_circuit (P, N) and less as in
    `SharedPipework` and `TrunkLoss`. levels: links on the flow side by their distance from the source, each with the
    mixed circuits that begin there. mixed: mixed circuits by level of mixing, those
    farthest from the source first.
    """

    link_dwelling: Index
    link_circuit: Index
    label: tuple[str, ...]
    start: Index
    end: Index
    is_flow: NDArray[np.bool_]
    loss_w_k: Array
    around_c: Array
    elements: ElementArrays | None
    circuit_dwelling: Index
    circuit_name: tuple[str, ...]
    parent: Index
    flow_node: Index
    draws_at: Index
    draw_of: Index
    loop_node: Index
    loop_circuit: Index
    node_circuit: Index
    levels: tuple[tuple[Index, Index], ...]
    mixed: tuple[Index, ...]
    on_link: csr_matrix
    of_circuit: csr_matrix
    less: csr_matrix

    @property
    def loops(self) -> int:
        """Number of loops."""
        return int(self.loop_node.size)

    def no_shares(self) -> Shares:
        """Shares before anything is known: every loop and circuit draws all its water."""
        return Shares(np.ones(self.loops), np.ones(int((self.parent >= 0).sum())))

    def streams_kg_s(self, loop_kg_s: Array, shares: Shares) -> Array:
        """Flows of all streams (N) from those of the loops."""
        streams = np.concatenate([shares.loops * loop_kg_s, np.zeros(shares.draws.size)])
        for circuits in self.mixed:
            draws = self.draw_of[circuits]
            streams[draws] = shares.draws[draws - self.loops] * (self.of_circuit[circuits] @ streams)
        return streams

    def supply_c(self, loop_kg_s: Array, shares: Shares, circuit_c: Array, max_c: Array, fluid: Fluid) -> Array:
        """Temperature of the water that reaches each loop (L), at most `max_c`, at these flows.

        circuit_c (P): maximum temperature of each circuit.
        """
        if not self.loss_w_k.any():
            return max_c
        flow = (self.on_link @ self.streams_kg_s(loop_kg_s, shares))[:, None]
        end_c = circuit_c[self.link_circuit][:, None]
        for _ in range(PASSES):
            node_c, _, ahead_c = self._ahead(flow, circuit_c[:, None], end_c, fluid)
            moved, end_c = np.abs(ahead_c - end_c).max(), ahead_c
            if moved < PASS_K:
                break
        return np.asarray(np.minimum(max_c, node_c[self.loop_node, 0]))

    def _ahead(self, flow: Array, circuit_c: Array, guess_c: Array, fluid: Fluid) -> tuple[Array, Array, Array]:
        """Temperatures of the flow side: of nodes, of circuits, and at the ends of links, (…, 1) each."""
        circuit_c, end_c = circuit_c.copy(), guess_c.copy()
        node_c = circuit_c[self.node_circuit]
        for links, begun in self.levels:
            if begun.size:
                circuit_c[begun] = np.minimum(circuit_c[begun], node_c[self.draws_at[begun]])
                node_c[self.flow_node[begun]] = circuit_c[begun]
            end_c[links] = temperature_after_loss_c(
                self.loss_w_k[links],
                self.around_c[links],
                flow[links],
                node_c[self.start[links]],
                guess_c[links],
                fluid,
            )
            node_c[self.end[links]] = end_c[links]
        return node_c, circuit_c, end_c

    def solve(self, loop_kg_s: Array, return_c: Array, circuit_c: Array, max_c: Array, fluid: Fluid) -> TrunkState:
        """All temperatures and draws at these flows and return temperatures of the loops (L)."""
        passing = _Passing(self, loop_kg_s, return_c, circuit_c, max_c, fluid)
        for _ in range(PASSES):
            if passing.once():
                break
        return passing.state()


class _Passing:
    """Repeated passes from the sources to the loops and back, until nothing moves."""

    def __init__(
        self, trunks: LotTrunks, loop_kg_s: Array, return_c: Array, circuit_c: Array, max_c: Array, fluid: Fluid
    ) -> None:
        self.trunks, self.fluid, self.max_circuit_c, self.max_c = trunks, fluid, circuit_c[:, None], max_c
        count = int((trunks.parent >= 0).sum())
        self.loop_kg_s = loop_kg_s
        self.streams = np.concatenate([loop_kg_s, np.zeros(count)])[:, None]
        self.back = np.concatenate([return_c, np.zeros(count)])[:, None]
        self.inlet = circuit_c[trunks.link_circuit][:, None].copy()
        self.outlet = self.inlet.copy()
        self.returns = np.flatnonzero(~trunks.is_flow)
        self.members = csr_matrix(vstack([trunks.of_circuit, trunks.on_link[self.returns]]))
        self.less_w = np.zeros((self.members.shape[0], 1))
        self.node_c = self.mixed_c = np.zeros((0, 1))

    def once(self) -> bool:
        """Take one pass; return whether nothing moved."""
        trunks, fluid, loops = self.trunks, self.fluid, self.trunks.loops
        before_c, before_kg_s = self.outlet.copy(), self.streams.copy()
        self.node_c, circuit_c, end_c = trunks._ahead(
            trunks.on_link @ self.streams, self.max_circuit_c, self.outlet, fluid
        )
        ahead = trunks.is_flow
        self.outlet[ahead], self.inlet[ahead] = end_c[ahead], self.node_c[trunks.start[ahead]]
        join_c, max_c = self.node_c[trunks.loop_node], self.max_c[:, None]
        share = loop_draw_share(fluid, join_c, np.minimum(max_c, join_c), self.back[:loops])
        self.streams[:loops] = self.loop_kg_s[:, None] * share
        for circuits in trunks.mixed:
            self._draw(circuits, circuit_c)
        self.mixed_c = mixed_temperature_c(fluid, self.members, self.streams, self.back, less_w=self.less_w)
        self.inlet[self.returns] = self.mixed_c[trunks.parent.size :]
        self._go_back()
        moved_k = np.abs(self.outlet - before_c).max(initial=0.0)
        moved_kg_s = np.abs(self.streams - before_kg_s).max(initial=0.0)
        return bool(moved_k < TOLERANCE_K and moved_kg_s < TOLERANCE_K * self.streams.max())

    def _draw(self, circuits: Index, circuit_c: Array) -> None:
        """Return temperature and draw of mixed circuits of one level."""
        trunks, fluid = self.trunks, self.fluid
        own, draws = trunks.of_circuit[circuits], trunks.draw_of[circuits]
        self.back[draws] = mixed_temperature_c(fluid, own, self.streams, self.back, less_w=self.less_w[circuits])
        share = draw_off_share(fluid, self.node_c[trunks.draws_at[circuits]], circuit_c[circuits], self.back[draws])
        self.streams[draws] = share * (own @ self.streams)

    def _go_back(self) -> None:
        """Ends of return links, and the heat that they lose."""
        trunks, fluid, back = self.trunks, self.fluid, self.returns
        if not back.size:
            return
        flow, starts = trunks.on_link[back] @ self.streams, self.inlet[back]
        ends = temperature_after_loss_c(
            trunks.loss_w_k[back], trunks.around_c[back], flow, starts, self.outlet[back], fluid
        )
        lost_w = np.zeros(self.inlet.shape)
        lost_w[back] = flow * (fluid.enthalpy_j_kg(starts) - fluid.enthalpy_j_kg(ends))
        self.less_w, self.outlet[back] = trunks.less @ lost_w, ends

    def state(self) -> TrunkState:
        """The state after the last pass."""
        trunks, fluid, circuits = self.trunks, self.fluid, self.trunks.parent.size
        inlet, outlet, streams = self.inlet[:, 0], self.outlet[:, 0], self.streams[:, 0]
        flow = trunks.on_link @ streams
        density, viscosity = fluid.density_and_viscosity((inlet + outlet) / 2.0)
        drop = np.zeros(flow.size)
        if trunks.elements is not None:
            drop = trunks.elements.drop(flow, density, viscosity)[0]
        own = trunks.loop_node
        return TrunkState(
            flow_kg_s=flow,
            inlet_c=inlet,
            outlet_c=outlet,
            density_kg_m3=density,
            drop_pa=drop,
            loss_w=trunks.loss_w_k * log_mean_k(inlet - trunks.around_c, outlet - trunks.around_c),
            stream_kg_s=streams,
            stream_drop_pa=np.asarray(trunks.on_link.T @ drop),
            circuit_flow_kg_s=np.asarray(trunks.of_circuit @ streams),
            circuit_return_c=self.mixed_c[:circuits, 0],
            supply_c=np.minimum(self.max_c, self.node_c[own, 0]),
        )
