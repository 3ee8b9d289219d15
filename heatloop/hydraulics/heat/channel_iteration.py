"""Heat of a group of arms, one step at a time between steps of the network, for many scenarios at once.

The group is repeated once for each scenario and solved as one set of runs. Heat capacity and film are calculated again
before every step from the temperatures so far.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_groups import ArmGroup, CellChanges, repeat_group
from heatloop.hydraulics.heat.channel_heat import (
    GroupSolution,
    current_cell_properties,
    far_end_capacity_w_k,
    film_resistances,
    return_temperature_c,
    runs_at_flow,
)
from heatloop.hydraulics.heat.group_temperatures import GroupTemperatures
from heatloop.physics.channels.accuracy import MAX_CUTS, emission_by_cell_w, refinement_needed
from heatloop.physics.channels.equations import NO_FILM_DROPS
from heatloop.physics.channels.grid import CELL_NUMBER, ChannelRuns, ChannelSolution, interpolated_c, refine, subdivide
from heatloop.physics.channels.newton import ChannelNewtonSolver
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]
Index = NDArray[np.intp]

REGROUP = 1.3
"""If the flow of a run falls by more than this after its cells were divided, they are divided again."""

BALANCED, MAX_POLISHED = 1e-9, 8
"""At very small flow, an error of 1e-9 K in temperature is a large part of the heat. A few more steps are then taken,
until the heat given by the water and the heat emitted agree to this share."""


class ChannelIteration:
    """One group in S scenarios. Arrays over runs are (R, S), over channels (C, R, S).

    `changes`: what differs in the cells of the scenarios. `initial_guess`: an earlier solution of the group in one
    scenario, from which all scenarios start.
    """

    def __init__(
        self,
        group: ArmGroup,
        fluid: Fluid,
        scenarios: int,
        changes: CellChanges | None = None,
        cell_number: float = CELL_NUMBER,
        initial_guess: GroupTemperatures | None = None,
    ) -> None:
        self.initial_guess = initial_guess
        self.fluid, self.scenarios, self.own = fluid, scenarios, group
        self.group = repeat_group(group, scenarios, changes)
        runs = self.group.runs
        self.cell_number, self.cuts_made, self.polished = cell_number, 0, 0
        self.run_of_cell = runs.run_of_cell
        self.direction = np.asarray(runs.direction)
        self.has_film = bool(self.group.film.any())
        self.by_flow = bool(self.group.flow_exponent.any())
        self.newton: ChannelNewtonSolver | None = None
        self.solved: ChannelSolution | None = None
        self.check_w: Array | None = None
        self.flow = np.zeros((len(self.direction), runs.start.size - 1))
        self.divided_at = self.flow

    def _flat(self, values: Array) -> Array:
        """(..., R, S) to (..., S R): scenario after scenario."""
        if self.scenarios == 1:
            return values[..., 0]
        return np.ascontiguousarray(np.swapaxes(values, -1, -2)).reshape(*values.shape[:-2], -1)

    def _folded(self, values: Array) -> Array:
        """(..., S R) back to (..., R, S)."""
        if self.scenarios == 1:
            return values[..., None]
        return np.swapaxes(values.reshape(*values.shape[:-1], self.scenarios, -1), -1, -2)

    def step(self, flow_kg_s: Array, inlet_c: Array) -> float:
        """Take one step at channel flows (C, R, S) above 0 and inlets (R, S); return the largest change in K."""
        flow, inlet = self._flat(flow_kg_s), self._flat(inlet_c)
        self.flow, self.solved = flow, None
        if self.newton is None or (flow * REGROUP < self.divided_at).any():
            self._divide(flow, inlet)
        else:
            self._go_on(flow, inlet)
        newton = self.newton
        assert newton is not None
        if self.by_flow:
            emission = runs_at_flow(self.group, flow).emission_w_mkn[:, self.spread]
            newton.runs = replace(newton.runs, emission_w_mkn=emission)
            newton.equations.set_emission(emission)
        moved = newton.step()
        self._renew()
        return moved

    def _go_on(self, flow: Array, inlet: Array) -> None:
        """Continue from the temperatures so far, at other flows and inlets."""
        newton = self.newton
        assert newton is not None
        if not (inlet == newton.inlet).all():
            newton.set_inlet(inlet)
        far_end = far_end_capacity_w_k(newton, flow, self.fluid)
        newton.change(flow.take(self.run_of_fine, axis=1) * self.heat_capacity, self.film, far_end)

    def _divided(self, flow: Array, inlet: Array) -> tuple[ChannelRuns, Index]:
        capacity = (flow * self.fluid.heat_capacity_j_kgk(inlet))[:, self.run_of_cell]
        return subdivide(runs_at_flow(self.group, flow), capacity, inlet, self.cell_number)

    def _divide(self, flow: Array, inlet: Array) -> None:
        """Divide the cells for these flows; start from the temperatures so far or from those of the inlets."""
        fine, parts = self._divided(flow, inlet)
        self.divided, self.divided_at, self.cuts_made = parts, flow, 0
        self._start_iteration(fine, parts, inlet)

    def _start_iteration(self, fine: ChannelRuns, parts: Index, inlet: Array) -> None:
        before, self.parts = self.newton, parts
        self.whole = bool(parts.max() == 1)
        self.spread = np.repeat(np.arange(parts.size), parts)
        self.fine_start = np.concatenate([[0], np.cumsum(parts)])
        self.run_of_fine = fine.run_of_cell
        initial_temp_c: Array | None = None
        film_drop_k = NO_FILM_DROPS
        flow, temp = self.flow.take(self.run_of_fine, axis=1), inlet.take(self.run_of_fine)
        if before is not None:
            initial_temp_c = interpolated_c(before.temp, before.runs, fine)
        elif self.initial_guess is not None:
            initial_temp_c, film_drop_k = self.initial_guess.on_cells(self.scenarios, fine, parts)
        if initial_temp_c is not None:
            left = fine.left_node
            temp = (initial_temp_c[:, left] + initial_temp_c[:, left + 1]) / 2.0
        self.heat_capacity = self.fluid.heat_capacity_j_kgk(temp)
        self.film: Array | None = None
        if self.has_film:
            self.film = film_resistances(self.group, flow, temp, self.spread, self.fluid)
        self.newton = ChannelNewtonSolver(
            fine, flow * self.heat_capacity, inlet, initial_temp_c, self.film, film_drop_k
        )
        self.nodes = self._coarse_nodes()

    def _coarse_nodes(self) -> Index:
        """Positions in the vector of unknowns of the nodes of the original path, (C, nodes)."""
        runs, channels = self.group.runs, len(self.direction)
        if self.whole:
            return np.arange(runs.length_m.size + runs.start.size - 1) * channels + np.arange(channels)[:, None]
        index = np.arange(runs.start.size - 1)
        nodes = np.empty(runs.length_m.size + index.size, dtype=np.intp)
        nodes[runs.left_node] = self.fine_start[:-1] + self.run_of_cell
        nodes[runs.start[1:] + index] = self.fine_start[runs.start[1:]] + index
        return nodes * channels + np.arange(channels)[:, None]

    def _renew(self) -> None:
        """Calculate heat capacity and film from the present temperatures."""
        newton = self.newton
        assert newton is not None
        self.heat_capacity, middle_c = current_cell_properties(newton, self.fluid)
        if self.has_film:
            flow = self.flow.take(self.run_of_fine, axis=1)
            self.film = film_resistances(self.group, flow, middle_c, self.spread, self.fluid)

    @property
    def return_c(self) -> Array:
        """Mixed temperature of the water that leaves each arm, (R, S)."""
        newton = self.newton
        assert newton is not None
        at = newton.first if (self.direction < 0).any() else newton.last
        temp = newton.vector.take(at * self.direction.size + np.arange(self.direction.size)[:, None])
        return self._folded(return_temperature_c(self.fluid, newton.runs.direction, self.flow, temp))

    def coarse(self, shut: NDArray[np.bool_] | None = None) -> tuple[Array, Array]:
        """Temperatures at the nodes (C nodes, S) and means of the cells (C M, S) of the original path.

        A mean is calculated by Simpson's rule, so that it does not depend on how finely a cell is divided. Arms that
        are `shut` (R, S) are as warm as their rooms.
        """
        newton = self.newton
        assert newton is not None
        ends = newton.vector.take(newton.ends)
        mean = 4.0 * newton.middle_c
        mean += ends[:, 0]
        mean += ends[:, 1]
        mean *= 1.0 / 6.0
        if not self.whole:
            lengths = newton.runs.length_m
            mean = np.add.reduceat(mean * lengths, self.fine_start[:-1], axis=1) / self.group.runs.length_m
        nodes = newton.vector.take(self.nodes)
        if shut is not None:
            runs, cold = self.group.runs, self._flat(shut.astype(float)) > 0.0
            counts = np.diff(runs.start) + 1
            cell = np.arange(nodes.shape[1]) - np.repeat(np.arange(counts.size), counts)
            cell = np.minimum(cell, np.repeat(runs.start[1:] - 1, counts))
            nodes = np.where(np.repeat(cold, counts), runs.room_c[cell], nodes)
            mean = np.where(cold[self.run_of_cell], runs.room_c, mean)
        return self._columns(nodes), self._columns(mean)

    def room_at_start_c(self) -> Array:
        """Room temperature where each arm begins, (R, S)."""
        return self._folded(self.group.runs.room_c[self.group.runs.start[:-1]])

    def _columns(self, values: Array) -> Array:
        """(C, S n) to (C n, S)."""
        if self.scenarios == 1:
            return values.reshape(-1, 1)
        channels = values.shape[0]
        return np.swapaxes(values.reshape(channels, self.scenarios, -1), 1, 2).reshape(-1, self.scenarios)

    def is_fine(self) -> bool:
        """Whether heat balances, and the cells are small enough and were divided for the present flows.

        If not, more iterations are required. Cells are divided again or cut first, where they are the cause.
        """
        newton = self.newton
        assert newton is not None
        many = self.cuts_made == 0 and int(self.divided.max()) > 1
        if many and not np.array_equal(self._divided(self.flow, newton.inlet)[1], self.divided):
            self._divide(self.flow, newton.inlet)
            return False
        self.solved = newton.result()
        if self.polished < MAX_POLISHED and not self.solved.balances(BALANCED):
            self.polished += 1
            return False
        self.check_w = emission_by_cell_w(self.solved, newton.equations)
        cuts = refinement_needed(self.solved, self.check_w)
        if cuts is None or self.cuts_made == MAX_CUTS:
            return True
        self.cuts_made += 1
        parts = np.add.reduceat(cuts, self.fine_start[:-1])
        self._start_iteration(refine(newton.runs, cuts), parts, newton.inlet)
        return False

    def finish(self) -> GroupSolution:
        """The solved group, with all scenarios one after the other."""
        newton = self.newton
        assert newton is not None
        solved = newton.result() if self.solved is None else self.solved
        return GroupSolution(
            group=self.group,
            fine=newton.runs,
            parts=self.parts,
            temp_c=solved.temp_c,
            middle_c=solved.middle_c,
            film_drop_k=dict(newton.equations.film_drop_k),
            heat_capacity_j_kgk=self.heat_capacity,
            flow_kg_s=self.flow,
            inlet_c=newton.inlet,
            divided=self.divided,
            joined_c=return_temperature_c(self.fluid, newton.runs.direction, self.flow, solved.return_c),
            channels=solved,
        )
