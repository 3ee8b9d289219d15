"""Flows and pressures of a network during the alternating solution of heat and flow."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.network.flow_solver import LinkDrop, NewtonState, newton_step, residuals, start_iteration
from heatloop.hydraulics.network.links import PumpBoundary
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.network.tee_losses import tee_drops_pa
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.solver.bypasses import BypassState
from heatloop.hydraulics.solver.distribution_state import DistributionState
from heatloop.hydraulics.solver.problem import CLOSED_KG_S, OperatingProblem
from heatloop.hydraulics.solver.pump_boundary import linearised_pump
from heatloop.physics.constants import GRAVITY_M_S2
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]
Index = NDArray[np.intp]

FLOWS_TOLERANCE = 5e-2
"""Convergence of the flows alone before the heat is solved; after that, one step of the network in each iteration is
sufficient."""

FLOW_STEPS = 60

LIKELY_KG_S = 0.02
"""Initial flow of a loop without an estimate."""

MAX_WARMING = 0.5
"""Limit of the slope of viscosity by flow, so that the slopes of pressure drops stay well above 0."""


class FlowState:
    """Flows, pressures, drops and slopes of all links in S scenarios, and the values on which they depend.

    excess_k (S): the largest excess of supply over any room. guess (L, S): estimated loop flows.
    """

    def __init__(
        self,
        network: PipeNetwork,
        problem: OperatingProblem,
        fluid: Fluid,
        excess_k: Array,
        initial_guess_kg_s: Array | None,
    ) -> None:
        self.network, self.problem, self.fluid = network, problem, fluid
        self.resistance = (network.elements if problem.elements is None else problem.elements).resistance
        self.bypasses = BypassState(network, problem.scenarios)
        self.excess_k, self.source_c = excess_k, problem.source_c
        self.source_pa_s = fluid.viscosity_pa_s(self.source_c)
        self.warming: Array | None = None
        self.tee_drop_pa = np.zeros((len(network.locations), problem.scenarios)) if network.tees else None
        self.throttling = np.zeros(problem.supply_c.shape, bool)
        self.held_kg_s: Array | None = None
        self.loop_share: Array | None = None
        self.steady: PumpBoundary | None = None
        """Linearised pumps, kept if they do not depend on the flow."""
        self.link_kg_s = self._first_flows(initial_guess_kg_s)
        self.iterate: NewtonState | None = None

    def _first_flows(self, initial_guess_kg_s: Array | None) -> Array:
        network, shared_pipework = self.network, self.network.shared_pipework
        loops = (
            np.full(self.problem.supply_c.shape, LIKELY_KG_S)
            if initial_guess_kg_s is None
            else np.asarray(initial_guess_kg_s, float)
        )
        mean = loops.mean(axis=0)
        owner = network.solver_index.loop_of_link[:, None]
        flow = np.where(owner < 0, mean, loops[owner[:, 0]])
        streams = np.zeros((shared_pipework.on_link.shape[1], self.problem.scenarios))
        streams[shared_pipework.loop_streams] = loops
        flow[network.main_link] = np.maximum(shared_pipework.on_link @ streams, mean)
        return flow

    def step(self, temp_c: Array, shared: DistributionState, may_warm: bool) -> Array:
        """Calculate flows at these temperatures; return their largest relative change in the last step, (S).

        One step of the network, or more while the flows are far from converged. temp_c (T, S): all temperatures.
        `shared`: temperatures at the pumps, and inflow into the unknown nodes. `may_warm`: the slopes include the
        effect of flow on temperature, and so on viscosity.
        """
        circuit_c, inflow, self.loop_share = shared.circuit_c, shared.inflow_kg_s, shared.loop_share
        iterate = self.iterate
        is_close = iterate is not None and bool((iterate.moved < FLOWS_TOLERANCE).all())
        link_drop = self._law(temp_c, is_close and may_warm)
        if iterate is None:
            fixed = np.zeros((len(self.network.circuits), self.problem.scenarios))
            iterate = start_iteration(self.network.graph, self.link_kg_s, fixed, link_drop)
        else:
            iterate = _at(iterate, link_drop)
        if is_close:
            iterate = self._network_step(iterate, None, circuit_c, inflow)
        else:
            for _ in range(FLOW_STEPS):
                iterate = self._network_step(iterate, link_drop, circuit_c, inflow)
                if np.all(iterate.moved < FLOWS_TOLERANCE):
                    break
        self.iterate, self.link_kg_s = iterate, iterate.flow
        return iterate.moved

    def finish(self, temp_c: Array, shared: DistributionState) -> tuple[NewtonState, Array, Array]:
        """Flows with the drops at the last temperatures, and residuals of mass and head, (S) each.

        The flows take a last step at these temperatures, unless the cells of the arms are divided into a stated
        number of parts, which many scenarios have in common.
        """
        assert self.iterate is not None
        circuit_c, inflow, self.loop_share = shared.circuit_c, shared.inflow_kg_s, shared.loop_share
        link_drop = self._law(temp_c)
        iterate = _at(self.iterate, link_drop)
        if self.problem.cell_number is None:
            iterate = _at(self._network_step(iterate, None, circuit_c, inflow), link_drop)
        mass, head = residuals(
            self.network.node_equations, iterate, inflow, self.network.solver_index.driven, self.held_kg_s
        )
        return iterate, mass, head

    def _law(self, temp_c: Array, sensitive: bool = False) -> LinkDrop:
        """Drops of links at these temperatures; `sensitive`: slopes include the effect of flow on viscosity."""
        mean_c = self.network.element_temps.mean @ temp_c
        self.density, self.viscosity = self.fluid.density_and_viscosity(mean_c)
        is_pipe = self.resistance.is_pipe
        if sensitive and self.warming is None:
            self.warming = self._warming(mean_c, is_pipe)
        warming = self.warming if sensitive else None
        of_links = self.resistance.at(self.density, self.viscosity.take(is_pipe, axis=0), warming)
        offset = self._offsets()
        if offset is None:
            return of_links

        def drop_of_links(flow: Array) -> tuple[Array, Array]:
            drop, slope = of_links(flow)
            return drop + offset, slope

        return drop_of_links

    def _warming(self, mean_c: Array, is_pipe: Index) -> Array:
        """Estimate of d ln viscosity / d ln flow of the elements `is_pipe`, for the slopes of Newton's method.

        With more flow, water would be warmer by as much as it has cooled since the source. The effect is smaller the
        nearer the water is to the temperature of the coldest room.
        """
        cooled = (self.source_c - mean_c.take(is_pipe, axis=0)) / self.excess_k
        np.maximum(cooled, 0.0, out=cooled)
        np.minimum(cooled, 1.0, out=cooled)
        slope = np.log(self.source_pa_s / self.viscosity.take(is_pipe, axis=0))
        slope *= (1.0 - cooled) * (1.0 + 0.5 * cooled)
        np.maximum(slope, -MAX_WARMING, out=slope)
        return np.asarray(np.minimum(slope, MAX_WARMING, out=slope))

    def _offsets(self) -> Array | None:
        """Additional pressure drops of links: opening pressures of bypasses and tees, less the buoyancy of warm water.

        Tees are calculated at the present flows.
        """
        network = self.network
        offset = None
        if network.climbs:
            weight = GRAVITY_M_S2 * (self.density - self.density.mean(axis=0)) * network.rise_m[:, None]
            offset = np.add.reduceat(weight, network.elements.first_element, axis=0)
        offset = self.bypasses.opening_pa(offset, self.link_kg_s.shape)
        if network.tees:
            self.tee_drop_pa = tee_drops_pa(network.tees, self._at_tees(), self.density)
            at_tees = np.add.reduceat(self.tee_drop_pa, network.elements.first_element, axis=0)
            offset = at_tees if offset is None else offset + at_tees
        return offset

    def _at_tees(self) -> Array:
        """Flows of links (links, S); those of mixed loops as between tee and mixing point."""
        if self.loop_share is None:
            return self.link_kg_s
        flow, elements = self.link_kg_s.copy(), self.network.elements
        for i, place in enumerate(self.network.locations):
            if place.element.kind == "tee" and place.loop >= 0:
                link = elements.link[i]
                flow[link] = self.loop_share[place.loop] * self.link_kg_s[link]
        return flow

    def _drive(self, iterate: NewtonState, circuit_c: Array, inflow: Array) -> PumpBoundary:
        """The pumps, linearised at their present flows."""
        if self.steady is not None:
            return self.steady
        pumps = self.problem.pumps
        straight = linearised_pump(self.network, pumps, self.fluid.density_kg_m3(circuit_c), iterate, inflow)
        if all(isinstance(pump, np.ndarray | ConstantHead) for pump in pumps):
            self.steady = straight
        return straight

    def _held(self, iterate: NewtonState) -> Array | None:
        """Flows that are fixed now, NaN where free: closed and throttling loops, and closed bypasses."""
        maximum = self.problem.held_kg_s
        if maximum is None and not self.bypasses.ways:
            return None
        graph = self.network.graph
        held = np.full(iterate.flow.shape, np.nan)
        spare = iterate.pressure[graph.start] - iterate.pressure[graph.end] - iterate.drop
        if maximum is not None:
            link = self.network.loop_link
            throttling = np.where(self.throttling, spare[link] >= 0.0, iterate.flow[link] > maximum)
            self.throttling = throttling | (maximum <= CLOSED_KG_S)
            held[link] = np.where(self.throttling, maximum, np.nan)
        self.bypasses.hold(held, iterate.flow, spare)
        return held

    def _network_step(
        self, iterate: NewtonState, link_drop: LinkDrop | None, circuit_c: Array, inflow: Array
    ) -> NewtonState:
        self.held_kg_s = self._held(iterate)
        return newton_step(
            self.network.node_equations,
            iterate,
            link_drop,
            inflow,
            self._drive(iterate, circuit_c, inflow),
            self.held_kg_s,
        )


def _at(iterate: NewtonState, link_drop: LinkDrop) -> NewtonState:
    """The same flows and pressures, with drops and slopes of these links."""
    return NewtonState(iterate.flow, iterate.pressure, *link_drop(iterate.flow), iterate.moved)
