"""Temperatures within the loops, from supply to return, during the alternating solution of heat and flow."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.channel_iteration import ChannelIteration
from heatloop.hydraulics.heat.group_temperatures import GroupTemperatures
from heatloop.hydraulics.heat.mixing import mixed_temperature_c
from heatloop.hydraulics.model import Side
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.solver.problem import CLOSED_KG_S, OperatingProblem
from heatloop.physics.channels.grid import CELL_NUMBER
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

SHUT_ARM_KG_S = 0.02
"""Flow for solving the arms of a closed loop; the result is not used."""


class HeatState:
    """Temperatures of tails, other emitters and skirting of all loops in S scenarios."""

    def __init__(
        self, network: PipeNetwork, problem: OperatingProblem, fluid: Fluid, heats: Sequence[GroupTemperatures] = ()
    ) -> None:
        """`heats`: the groups of arms solved before, from which the iteration starts."""
        self.network, self.fluid, s = network, fluid, problem.scenarios
        changes, known = problem.changes or (None,) * len(network.groups), heats or (None,) * len(network.groups)
        self.groups = [
            ChannelIteration(group, fluid, s, changed, problem.cell_number or CELL_NUMBER, heat)
            for group, changed, heat in zip(network.groups, changes, known, strict=True)
        ]
        self.coldest_c = min(float(heat.group.runs.room_c.min()) for heat in self.groups)
        self.tail_c = self.head_c = self.foot_c = self.back_c = problem.supply_c
        self.arm_return_c = problem.supply_c[network.arm_loop]
        self.arm_kg_s = np.zeros((len(network.arms), s))
        self.emitter_in_c, self.emitter_out_c = np.zeros((2, network.emitters.count, s))
        self.shut = np.zeros(problem.supply_c.shape, bool)

    def step(self, link_kg_s: Array, loop_kg_s: Array, supply_c: Array) -> float:
        """Take one step of all temperatures at flows of links and loops, with supply_c (L, S).

        Returns the largest change in K within the groups of arms.
        """
        fluid, solver_index = self.fluid, self.network.solver_index
        any_shut, kelvin = self._shut_now(loop_kg_s), 0.0
        self.tail_c = solver_index.tails.flow_outlet_c(loop_kg_s, supply_c, self.tail_c, fluid)
        self.head_c = self._through_emitters("flow", loop_kg_s, self.tail_c)
        self.cells: list[tuple[Array, Array]] = []
        for heat, links, arms, loop in zip(
            self.groups, solver_index.links, solver_index.arms, solver_index.loops, strict=True
        ):
            flow = np.maximum(link_kg_s.take(links, axis=0), CLOSED_KG_S)
            if any_shut:
                flow = np.where(self.shut[loop], SHUT_ARM_KG_S, flow)
            kelvin = max(kelvin, heat.step(flow, self.head_c.take(loop, axis=0)))
            back_c = heat.return_c
            if any_shut:
                back_c = np.where(self.shut[loop], heat.room_at_start_c(), back_c)
            self.arm_return_c[arms] = back_c
            if solver_index.joined is not None:
                self.arm_kg_s[arms] = flow[heat.direction > 0].sum(axis=0)
            self.cells.append(heat.coarse(self.shut[loop] if any_shut else None))
        self.foot_c = self.arm_return_c
        if solver_index.joined is not None:
            self.foot_c = mixed_temperature_c(fluid, solver_index.joined, self.arm_kg_s, self.arm_return_c)
        tail_c = self._through_emitters("return", loop_kg_s, self.foot_c)
        self.back_c = solver_index.tails.return_outlet_c(loop_kg_s, tail_c, self.back_c, fluid)
        return kelvin

    def _shut_now(self, loop_kg_s: Array) -> bool:
        """Find which loops (L, S) count as closed; return whether any does."""
        if loop_kg_s.min() > 2.0 * CLOSED_KG_S:
            self.shut = np.zeros(loop_kg_s.shape, bool)
            return False
        self.shut = loop_kg_s <= np.where(self.shut, 2.0 * CLOSED_KG_S, CLOSED_KG_S)
        return bool(self.shut.any())

    def _through_emitters(self, side: Side, loop_kg_s: Array, inlet_c: Array) -> Array:
        """Temperature (L, S) of the water of each loop after the other emitters on one of its sides."""
        emitters = self.network.emitters
        if not emitters.count:
            return inlet_c
        passed = emitters.passed(side, np.arange(loop_kg_s.shape[0]), loop_kg_s, inlet_c, self.fluid)
        for at in passed.steps:
            self.emitter_in_c[at.emitter] = at.inlet_c
            self.emitter_out_c[at.emitter] = at.outlet_c
        return passed.outlet_c

    def write(self, temp_c: Array) -> None:
        """Write the temperatures to their positions in the vector of all, (T, S)."""
        index = self.network.temperatures
        temp_c[index.loop_return], temp_c[index.head], temp_c[index.foot] = self.back_c, self.head_c, self.foot_c
        temp_c[index.arm_return] = self.arm_return_c
        temp_c[index.emitter_in], temp_c[index.emitter_out] = self.emitter_in_c, self.emitter_out_c
        for at_nodes, at_cells, (node_c, cell_c) in zip(index.group_nodes, index.group_cells, self.cells, strict=True):
            temp_c[at_nodes], temp_c[at_cells] = node_c, cell_c

    def is_fine(self) -> bool:
        """Whether the cells of all groups are small enough; if not, they are divided again."""
        fine = [heat.is_fine() for heat in self.groups]
        return all(fine)
