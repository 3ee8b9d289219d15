"""The shared pipework during the alternating solution of heat and flow: trunks, bypasses and mixed circuits."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.mixing import (
    draw_off_share,
    estimated_mixed_temperature_c,
    loop_draw_share,
    mixed_temperature_c,
)
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.solver.problem import OperatingProblem
from heatloop.hydraulics.solver.pump_boundary import source_feed
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]


class DistributionState:
    """Temperatures of shared pipework, bypasses and circuits in S scenarios, and the draw of mixed circuits.

    loop_share (L, S): share of its flow that a loop draws where its tails join; less than 1 where it is mixed to a
    lower temperature there. None where no loop is mixed.
    """

    def __init__(self, network: PipeNetwork, problem: OperatingProblem, fluid: Fluid) -> None:
        solver_index, s = network.solver_index, problem.scenarios
        self.network, self.fluid = network, fluid
        self.max_supply_c, self.max_circuit_c = problem.supply_c, problem.circuit_c
        self.supply_c, self.circuit_c, self.circuit_return_c = problem.supply_c, problem.circuit_c, problem.circuit_c
        self.join_c = problem.circuit_c[network.loop_circuit]
        mixed = bool((problem.supply_c < self.join_c).any())
        self.loop_share = np.ones(problem.supply_c.shape) if mixed else None
        self.main_start_c = problem.circuit_c[solver_index.link_circuit]
        self.main_end_c = self.main_start_c  # the same array: without heat loss both ends are equal
        self.bypass_c = problem.circuit_c[solver_index.bypass_circuit]
        self.warm_c = problem.circuit_c[solver_index.parents]
        self.stream_kg_s = np.zeros((network.shared_pipework.on_link.shape[1], s))
        self.inflow_kg_s = np.zeros((network.node_equations.unknown.size, s))
        """Inflow to the unknown nodes of the network: draw-off and return of mixed circuits and mixed loops."""
        self.beside_loops = bool(self.stream_kg_s.shape[0] > len(network.loops))
        self.lost_w: Array | None = None
        self.mixed_c: Array | None = None

    def start_from(self, temp_c: Array) -> None:
        """Start from the temperatures of shared pipework in the vector of all, (T, S)."""
        index, solver_index = self.network.temperatures, self.network.solver_index
        self.main_start_c[solver_index.back_links] = temp_c[index.main_start][solver_index.back_links]
        if solver_index.losses is not None:
            self.main_end_c = temp_c[index.main_end].copy()

    def go_out(self, link_kg_s: Array) -> None:
        """Calculate the shares of pump flow that reach loops, bypasses and mixing points where trunks lose heat.

        At flows of links (links, S).
        """
        network, losses = self.network, self.network.solver_index.losses
        if losses is None:
            return
        ahead = losses.ahead(link_kg_s[network.main_link], self.max_circuit_c, self.main_end_c, self.fluid)
        self.circuit_c, self.bypass_c, self.warm_c = ahead.circuit_c, ahead.bypass_c, ahead.warm_c
        self.join_c = ahead.node_c[network.loop_nodes[:, 0]]
        self.supply_c = np.minimum(self.max_supply_c, self.join_c)
        self.main_start_c[losses.is_flow], self.main_end_c = ahead.start_c[losses.is_flow], ahead.end_c

    def water_returns(self, link_kg_s: Array, loop_kg_s: Array, back_c: Array) -> None:
        """Calculate temperatures in shared pipework from the return temperatures of loops, back_c (L, S).

        The draws of mixed circuits follow from them.
        """
        shared_pipework, losses = self.network.shared_pipework, self.network.solver_index.losses
        drawn_kg_s = loop_kg_s
        if self.loop_share is not None:
            self.loop_share = loop_draw_share(self.fluid, self.join_c, self.supply_c, back_c)
            drawn_kg_s = self.loop_share * loop_kg_s
        self.stream_kg_s[shared_pipework.loop_streams] = drawn_kg_s
        if self.beside_loops:
            self.stream_kg_s[shared_pipework.bypass_streams] = link_kg_s[self.network.bypass_link]
        self._mix(back_c)
        if losses is not None:
            streams, start_c, end_c = self.stream_kg_s, self.main_start_c, self.main_end_c
            self.lost_w, self.main_end_c = losses.return_losses(streams, start_c, end_c, self.fluid)
            self._mix(back_c)
        if len(shared_pipework.circuits) > 1 or self.loop_share is not None:
            source_feed(
                self.network, self.inflow_kg_s, self.stream_kg_s[shared_pipework.draw_streams], loop_kg_s - drawn_kg_s
            )

    def _mix(self, back_c: Array) -> None:
        """Mix return streams, after deducting the heat loss of return pipes."""
        shared_pipework, lost_w, streams = self.network.shared_pipework, self.lost_w, self.stream_kg_s
        circuits, draws = len(shared_pipework.circuits), shared_pipework.draw_streams.start
        stream_c = back_c
        if self.beside_loops:
            stream_c = np.concatenate([back_c, self.bypass_c, self.circuit_return_c[1:]])
        for p in range(circuits - 1, 0, -1):
            own_w = None if lost_w is None else lost_w[[p]]
            joined_c = mixed_temperature_c(
                self.fluid, shared_pipework.of_circuit[[p]], streams, stream_c, less_w=own_w
            )[0]
            stream_c[draws + p - 1] = joined_c
            share = draw_off_share(self.fluid, self.warm_c[p], self.circuit_c[p], joined_c)
            streams[draws + p - 1] = share * (shared_pipework.of_circuit[p] @ streams)
        members = self.network.solver_index.members
        if self.mixed_c is None and lost_w is None:  # temperatures are not accurate yet
            self.mixed_c = estimated_mixed_temperature_c(members, streams, stream_c)
        else:
            self.mixed_c = mixed_temperature_c(self.fluid, members, streams, stream_c, self.mixed_c, lost_w)
        self.circuit_return_c = self.mixed_c[:circuits]
        self.main_start_c[self.network.solver_index.back_links] = self.mixed_c[circuits:]

    def write(self, temp_c: Array) -> None:
        """Write the temperatures to their positions in the vector of all, (T, S)."""
        index = self.network.temperatures
        temp_c[index.supply], temp_c[index.bypass] = self.supply_c, self.bypass_c
        temp_c[index.main_start], temp_c[index.main_end] = self.main_start_c, self.main_end_c
