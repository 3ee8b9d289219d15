"""Shared pipework of many dwellings side by side: temperatures, flows and pressure drops of all trunks as arrays.

The equations are those of :mod:`heatloop.hydraulics.network.trunk_loss`. Trunks are calculated level by level: first
those at the sources of all dwellings, then those that continue from them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

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

    Of links (M): flow_kg_s, inlet_c, outlet_c, density_kg_m3, drop_pa, loss_w. Of streams (N), as in `LotTrunks`:
    stream_kg_s, and stream_drop_pa, the drop of all trunks on the way out and back. Of circuits (P): flow at the pump,
    and mixed return temperature. supply_c (L) and bypass_c (B): of the water that reaches each loop and each bypass.
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
    bypass_c: Array


@dataclass(frozen=True, eq=False)
class LotTrunks:
    """Shared pipework of many dwellings.

    Dwellings (K) have loops (L), bypasses (B), links (M), circuits (P) and nodes, numbered one dwelling after the
    other. Streams (N) are the loops, then the bypasses, then the draws (D) of mixed circuits. on_link (M, N),
    of_circuit (P, N) and less as in `SharedPipework` and `TrunkLoss`. levels: links on the flow side by their distance
    from the source, each with the mixed circuits that begin there. mixed: mixed circuits by level of mixing, those
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
    bypass_node: Index
    bypass_circuit: Index
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

    @property
    def bypasses(self) -> slice:
        """The bypasses among the streams."""
        return slice(self.loops, self.loops + int(self.bypass_node.size))

    @property
    def loses(self) -> bool:
        """Whether any trunk loses heat."""
        return bool(self.loss_w_k.any())

    def ahead(self, flow: Array, circuit_c: Array, guess_c: Array, fluid: Fluid) -> tuple[Array, Array, Array]:
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


class TrunkPasses:
    """Passes of the water from the sources to the loops and back, repeated until nothing moves.

    circuit_c (P) and max_c (L): maximum temperature of each circuit, and at each loop. bypass_kg_s (B): flow of the
    bypasses. Every solution starts from the one before.
    """

    def __init__(self, trunks: LotTrunks, circuit_c: Array, max_c: Array, fluid: Fluid) -> None:
        self.trunks, self.fluid, self.max_circuit_c, self.max_c = trunks, fluid, circuit_c[:, None], max_c[:, None]
        count = trunks.bypasses.stop + int((trunks.parent >= 0).sum())
        self.bypass_kg_s = np.zeros(trunks.bypass_node.size)
        self.streams, self.back = np.zeros((count, 1)), np.zeros((count, 1))
        self.inlet = circuit_c[trunks.link_circuit][:, None].copy()
        self.outlet = self.inlet.copy()
        self.returns = np.flatnonzero(~trunks.is_flow)
        self.members = csr_matrix(vstack([trunks.of_circuit, trunks.on_link[self.returns]]))
        self.less_w = np.zeros((self.members.shape[0], 1))
        self.node_c = self.mixed_c = np.zeros((0, 1))

    def supply_c(self, loop_kg_s: Array, drop_k: Array) -> Array:
        """Temperature of the water that reaches each loop (L) at these flows; of the water of loops, the drop (L).

        The drop decides how much mixed circuits draw. Without mixed circuits only the way to the loops is calculated.
        """
        trunks = self.trunks
        if trunks.mixed or self.mixes:
            self.solve(loop_kg_s, drop_k)
        else:
            flow = (trunks.on_link @ np.concatenate([loop_kg_s, self.bypass_kg_s]))[:, None]
            for _ in range(PASSES):
                before_c = self.outlet
                self.node_c, _, self.outlet = trunks.ahead(flow, self.max_circuit_c, before_c, self.fluid)
                if np.abs(self.outlet - before_c).max() < PASS_K:
                    break
        return self._supply_c()[:, 0]

    @cached_property
    def mixes(self) -> bool:
        """Whether a loop is mixed to a lower temperature than that of its circuit."""
        return bool((self.max_c < self.max_circuit_c[self.trunks.loop_circuit]).any())

    def _supply_c(self) -> Array:
        return np.minimum(self.max_c, self.node_c[self.trunks.loop_node])

    def solve(self, loop_kg_s: Array, drop_k: Array) -> TrunkState:
        """All temperatures and draws at these flows of the loops, and drops of their water, (L) each."""
        for _ in range(PASSES):
            if self._pass(loop_kg_s[:, None], drop_k[:, None]):
                break
        return self._state()

    def _pass(self, loop_kg_s: Array, drop_k: Array) -> bool:
        """Take one pass; return whether nothing moved."""
        trunks, fluid, loops = self.trunks, self.fluid, self.trunks.loops
        before_c, before_kg_s = self.outlet.copy(), self.streams.copy()
        self.node_c, circuit_c, end_c = trunks.ahead(
            trunks.on_link @ self.streams, self.max_circuit_c, self.outlet, fluid
        )
        ahead = trunks.is_flow
        self.outlet[ahead], self.inlet[ahead] = end_c[ahead], self.node_c[trunks.start[ahead]]
        supply_c = self._supply_c()
        self.back[:loops] = supply_c - drop_k
        share = loop_draw_share(fluid, self.node_c[trunks.loop_node], supply_c, self.back[:loops])
        self.streams[:loops] = loop_kg_s * share
        self.streams[trunks.bypasses, 0] = self.bypass_kg_s
        self.back[trunks.bypasses] = self.node_c[trunks.bypass_node]
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

    def _state(self) -> TrunkState:
        trunks, fluid, circuits = self.trunks, self.fluid, self.trunks.parent.size
        inlet, outlet, streams = self.inlet[:, 0], self.outlet[:, 0], self.streams[:, 0]
        flow = trunks.on_link @ streams
        density, viscosity = fluid.density_and_viscosity((inlet + outlet) / 2.0)
        drop = np.zeros(flow.size)
        if trunks.elements is not None:
            drop = trunks.elements.drop(flow, density, viscosity)[0]
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
            supply_c=self._supply_c()[:, 0],
            bypass_c=self.node_c[trunks.bypass_node, 0],
        )
