"""Operating state of a system at a given differential, flow or pump: heat and flow solved together, one scenario.

The numbers of :mod:`heatloop.hydraulics.solver.coupled` as values for tables.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_groups import ArmHeatOutput
from heatloop.hydraulics.heat.arm_results import GroupArmResults
from heatloop.hydraulics.heat.arm_states import ArmStates
from heatloop.hydraulics.heat.channel_heat import GroupSolution
from heatloop.hydraulics.heat.mixing import repeat_for_scenarios
from heatloop.hydraulics.network.links import ElementArrays
from heatloop.hydraulics.network.pipe_loss import log_mean_k
from heatloop.hydraulics.network.shared_pipework import SharedPipework
from heatloop.hydraulics.network.system import RETURN_NODE, SUPPLY_NODE, PipeNetwork
from heatloop.hydraulics.pumps import PumpCharacteristic
from heatloop.hydraulics.solver.convergence import TOLERANCE
from heatloop.hydraulics.solver.coupled import solve_heat_and_flow
from heatloop.hydraulics.solver.problem import InitialTemperatures, OperatingProblem, OperatingSolution
from heatloop.hydraulics.solver.tail_loss import tail_loss_w
from heatloop.physics.channels.accuracy import emission_by_cell_w
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]


CLOSED_ENERGY = 1e-9
"""Maximum relative difference between the heat from the water and the heat emitted. Temperatures converge relative to
the largest excess, so that a loop with a small temperature drop in a hot system has to converge more closely than
others."""

CLOSER, MIN_TOLERANCE = 0.3, 1e-12
"""Each further solve has at most this share of the tolerance of the one before, down to the minimum."""


@dataclass(frozen=True)
class SystemState:
    """A solved system.

    Per element (E): flow_kg_s, temp_in_c, temp_out_c, density_kg_m3, viscosity_pa_s; more_pa, the drop at tees and
    throttling valves in addition to that of `elements`. link_flow_kg_s (links) includes leakage through loops that
    count as closed.

    Per loop (L): loop_flow_kg_s; supply_c; return_c; heat_from_water_w by enthalpy; tail_loss_w; throttled: its
    thermostatic valve closes; loop_draw_share: share of its flow that it draws where its tails join (below 1: mixed
    there). emitter_w (M): heat of the other emitters, in the order of `network.emitters`. main_loss_w (K): of the
    shared pipework.

    `arms` per arm. temp_c: all temperatures in the vector of the network, (T). pressure_pa per node. Per circuit (P),
    the source first: circuit_flow_kg_s through its pump, circuit_c, circuit_return_c. source_return_c: mixed.
    bypass_kg_s (B). drawn_kg_s (P - 1): by mixed circuits.
    Relative residuals: mass, head, energy, inlet (see `summary` of a design).
    """

    network: PipeNetwork
    flow_kg_s: Array
    temp_c: Array
    temp_in_c: Array
    temp_out_c: Array
    elements: ElementArrays
    link_flow_kg_s: Array
    more_pa: Array
    density_kg_m3: Array
    viscosity_pa_s: Array
    loop_flow_kg_s: Array
    supply_c: Array
    return_c: Array
    arms: Sequence[ArmHeatOutput]
    heat_from_water_w: Array
    tail_loss_w: Array
    emitter_w: Array
    main_loss_w: Array
    throttled: NDArray[np.bool_]
    loop_draw_share: Array
    pressure_pa: Array
    circuit_flow_kg_s: Array
    circuit_c: Array
    circuit_return_c: Array
    bypass_kg_s: Array
    drawn_kg_s: Array
    source_return_c: float
    residual_mass: float
    residual_head: float
    residual_energy: float
    residual_inlet: float
    iterations: int

    @property
    def head_pa(self) -> float:
        """Differential between flow and return at the source."""
        return float(self.pressure_pa[SUPPLY_NODE] - self.pressure_pa[RETURN_NODE])

    @cached_property
    def _by_law(self) -> tuple[Array, Array]:
        """Pressure drop and Reynolds number of each element."""
        flow = self.link_flow_kg_s[self.elements.link]
        drop, _, reynolds = self.elements.drop(flow, self.density_kg_m3, self.viscosity_pa_s)
        return drop + self.more_pa, reynolds

    @property
    def drop_pa(self) -> Array:
        """Pressure drop of each element, (E) Pa."""
        return self._by_law[0]

    @property
    def reynolds(self) -> Array:
        """Reynolds number of each element, (E)."""
        return self._by_law[1]

    @property
    def heats(self) -> tuple[GroupSolution, ...]:
        """The solved groups of arms; empty where the arms were built one by one."""
        return tuple(group.solved for group in self.arms.groups) if isinstance(self.arms, ArmStates) else ()

    @property
    def initial_temperatures(self) -> InitialTemperatures | None:
        """Temperatures from which a similar state of the network can be solved."""
        return InitialTemperatures(self.temp_c, self.heats) if self.heats else None

    @property
    def given_w(self) -> float:
        """Heat in W that the water gives to skirting, other emitters, tails and trunks."""
        to_loops = sum(arm.given_w for arm in self.arms) + self.tail_loss_w.sum() + self.emitter_w.sum()
        return float(to_loops + self.main_loss_w.sum())

    @property
    def circuit_head_pa(self) -> Array:
        """Differential at the pump of each circuit, (P)."""
        ends = self.network.circuits
        return np.array([self.pressure_pa[c.flow] - self.pressure_pa[c.back] for c in ends])

    @property
    def total_flow_kg_s(self) -> float:
        """Flow through the source."""
        return float(self.circuit_flow_kg_s[0])


@dataclass(frozen=True, eq=False)
class OperatingConditions:
    """Conditions at which a network is solved.

    supply_c (L): flow temperature of each loop. pumps: those of all circuits, the source first; a characteristic of the
    head of the pump, or its flow in kg/s (1). source_c: flow temperature of the source (None: that of the warmest
    loop). held_kg_s (L): maximum flow of each loop (see OperatingProblem).
    """

    supply_c: Array
    pumps: Sequence[PumpCharacteristic | Array]
    source_c: float | None = None
    held_kg_s: Array | None = None


def solve_state(
    network: PipeNetwork,
    conditions: OperatingConditions,
    fluid: Fluid,
    initial_guess_kg_s: Array | None = None,
    initial_temperatures: InitialTemperatures | None = None,
    tolerance: float = TOLERANCE,
) -> SystemState:
    """Solve flows and temperatures of one scenario; `initial_guess_kg_s` (L): estimated flows of the loops.

    `initial_temperatures`: those of a similar state of the same network. With a wider `tolerance` than the usual one
    the heat balance is not closed further.

    Raises ValueError if a circuit has no pump, ArithmeticError if heat and flow do not converge.
    """
    supply_c, source_c, held_kg_s = conditions.supply_c, conditions.source_c, conditions.held_kg_s
    if len(conditions.pumps) != len(network.circuits):
        raise ValueError(
            f"found {len(conditions.pumps)} pumps; required: one for each of {len(network.circuits)} circuits"
        )
    problem = OperatingProblem(
        supply_c=repeat_for_scenarios(supply_c, 1),
        circuit_c=circuit_temps_c(network, float(supply_c.max()) if source_c is None else source_c),
        pumps=tuple(conditions.pumps),
        held_kg_s=None if held_kg_s is None else held_kg_s[:, None],
    )
    initial_guess_kg_s = None if initial_guess_kg_s is None else initial_guess_kg_s[:, None]
    solution = solve_heat_and_flow(network, problem, fluid, initial_guess_kg_s, tolerance, initial_temperatures)
    if tolerance > TOLERANCE:
        return state_from_solution(network, problem, solution, fluid)
    return closed_state(network, problem, solution, fluid)


def closed_state(
    network: PipeNetwork, problem: OperatingProblem, solution: OperatingSolution, fluid: Fluid
) -> SystemState:
    """Solution of one scenario as a state, solved more accurately where the heat balance requires it."""
    state, tolerance = state_from_solution(network, problem, solution, fluid), TOLERANCE
    while state.residual_energy > CLOSED_ENERGY and tolerance > MIN_TOLERANCE:
        closer = min(0.3 * CLOSED_ENERGY / state.residual_energy, CLOSER)
        tolerance = max(tolerance * closer, MIN_TOLERANCE)
        guess_kg_s, temperatures = state.loop_flow_kg_s[:, None], state.initial_temperatures
        solution = solve_heat_and_flow(network, problem, fluid, guess_kg_s, tolerance, temperatures)
        state = state_from_solution(network, problem, solution, fluid)
    return state


def circuit_temps_c(network: PipeNetwork | SharedPipework, source_c: float) -> Array:
    """Flow temperature of each circuit (P, 1): that of the source, limited to the mixed temperature of each circuit."""
    temps = [source_c]
    for circuit in network.circuits[1:]:
        warm = temps[circuit.parent]
        temps.append(warm if circuit.mixed_to_c is None else min(warm, circuit.mixed_to_c))
    return np.array(temps, float)[:, None]


def state_from_solution(
    network: PipeNetwork, problem: OperatingProblem, answer: OperatingSolution, fluid: Fluid
) -> SystemState:
    """The solution of a problem of one scenario as a state."""
    index, at, streams = network.temperatures, network.element_temps, answer.stream_kg_s[:, 0]
    link_flow, shut, temp_c = answer.flow_kg_s[:, 0], answer.shut[:, 0], answer.temp_c[:, 0].copy()
    arms = _arms(network, answer)
    if shut.any():
        _cool(temp_c, network, shut, arms)
    heat = _loop_heat(network, answer, arms, temp_c, fluid)
    main_loss = _main_loss_w(network, answer)
    whole = _whole_energy(problem, answer, heat.given_w, main_loss, fluid)
    flow = link_flow[network.elements.link]
    return SystemState(
        network=network,
        flow_kg_s=_without(flow, network, shut) if shut.any() else flow,
        temp_c=temp_c,
        temp_in_c=temp_c[at.inlet],
        temp_out_c=temp_c[at.outlet],
        elements=network.elements if problem.elements is None else problem.elements,
        link_flow_kg_s=link_flow,
        more_pa=_more_pa(network, answer),
        density_kg_m3=answer.density_kg_m3[:, 0],
        viscosity_pa_s=answer.viscosity_pa_s[:, 0],
        loop_flow_kg_s=np.where(shut, 0.0, link_flow[network.loop_link]),
        supply_c=answer.temp_c[index.supply, 0],
        return_c=temp_c[index.loop_return],
        arms=arms,
        heat_from_water_w=np.where(shut, 0.0, heat.given_w),
        tail_loss_w=heat.tails_w,
        emitter_w=heat.emitters_w,
        main_loss_w=main_loss,
        throttled=answer.held[:, 0],
        loop_draw_share=answer.loop_draw_share[:, 0],
        pressure_pa=answer.pressure_pa[:, 0],
        circuit_flow_kg_s=answer.circuit_flow_kg_s[:, 0],
        circuit_c=answer.circuit_c[:, 0],
        circuit_return_c=answer.circuit_return_c[:, 0],
        bypass_kg_s=streams[network.shared_pipework.bypass_streams],
        drawn_kg_s=streams[network.shared_pipework.draw_streams],
        source_return_c=float(answer.circuit_return_c[0, 0]),
        residual_mass=float(answer.residual_mass[0]),
        residual_head=float(answer.residual_head[0]),
        residual_energy=max(heat.residual, whole),
        residual_inlet=arms.residual_k / max(float(temp_c.max() - temp_c.min()), 1.0),
        iterations=answer.rounds,
    )


def _arms(network: PipeNetwork, answer: OperatingSolution) -> ArmStates:
    """The arms of the solution."""
    groups = [
        GroupArmResults(heat, emission_by_cell_w(heat.channels) if check_w is None else check_w)
        for heat, check_w in zip(answer.heats, answer.checks_w, strict=True)
    ]
    return ArmStates.of(network.arms, groups, answer.shut[network.arm_loop, 0])


@dataclass(frozen=True)
class _LoopHeat:
    """Heat of the loops in W, and the largest relative difference between two ways to calculate it.

    Heat lost by tails (L), given by the other emitters (M) and, by enthalpy, by the water of each loop (L). The
    difference is between the heat by enthalpy and the emitted heat, over all loops.
    """

    tails_w: Array
    emitters_w: Array
    given_w: Array
    residual: float


def _loop_heat(
    network: PipeNetwork, answer: OperatingSolution, arms: ArmStates, temp_c: Array, fluid: Fluid
) -> _LoopHeat:
    """Heat of the loops at all temperatures, temp_c (T), with closed loops as warm as their rooms."""
    index, at, emitters = network.temperatures, network.element_temps, network.emitters
    flow, shut, loops = answer.flow_kg_s[network.loop_link, 0], answer.shut[:, 0], len(network.loops)
    supply_c, return_c = answer.temp_c[index.supply, 0], temp_c[index.loop_return]
    in_c, out_c = temp_c[at.inlet], temp_c[at.outlet]
    tail_end_c, tail_start_c = emitters.tail_ends_c(in_c, out_c, temp_c[index.head], temp_c[index.foot])
    tails = tail_loss_w(network, supply_c, tail_end_c, "flow")
    tails = np.where(shut, 0.0, tails + tail_loss_w(network, tail_start_c, return_c, "return"))
    emitter_w = emitter_check_w = np.zeros(emitters.count)
    if emitters.count:
        flow_m, ends_c = np.where(shut, 0.0, flow)[emitters.loop], (in_c[emitters.place], out_c[emitters.place])
        emitter_w = flow_m * (fluid.enthalpy_j_kg(ends_c[0]) - fluid.enthalpy_j_kg(ends_c[1]))
        emitter_check_w = np.where(flow_m > 0.0, emitters.emission_w(flow_m, *ends_c, fluid), 0.0)
    heat_from_water_w = flow * (fluid.enthalpy_j_kg(supply_c) - fluid.enthalpy_j_kg(return_c))
    emitted = np.bincount(network.arm_loop, arms.check_w, loops) + tails
    emitted += np.bincount(emitters.loop, emitter_check_w, loops)
    energy = np.where(shut, 0.0, np.abs(heat_from_water_w - emitted) / np.maximum(np.abs(emitted), 1e-9))
    return _LoopHeat(tails, emitter_w, heat_from_water_w, float(energy.max()))


def _more_pa(network: PipeNetwork, answer: OperatingSolution) -> Array:
    """Additional pressure drops at tees and throttling valves, (E) Pa."""
    more_pa = np.zeros(len(network.locations)) if answer.tee_drop_pa is None else answer.tee_drop_pa[:, 0].copy()
    if answer.held.any():
        spare = _spare_pa(network, answer)
        for loop in np.flatnonzero(answer.held[:, 0]):
            more_pa[_throttling_place(network, int(loop))] += spare[loop]
    return more_pa


def _main_loss_w(network: PipeNetwork, answer: OperatingSolution) -> Array:
    """Heat loss of each pipe of shared pipework (K) in W: its conductance times its log mean excess."""
    links, at, temp_c = network.shared_pipework.links, network.element_temps, answer.temp_c[:, 0]
    loss = np.zeros(len(links))
    if network.solver_index.losses is None:
        return loss
    for i, place in enumerate(network.locations):
        if place.main >= 0 and place.element.kind == "trunk":
            link = links[place.main]
            ends = temp_c[[at.inlet[i], at.outlet[i]]] - link.around_c
            loss[place.main] = link.loss_w_k * float(log_mean_k(ends[0], ends[1]))
    return loss


def _whole_energy(
    problem: OperatingProblem, answer: OperatingSolution, given_w: Array, main_loss_w: Array, fluid: Fluid
) -> float:
    """Relative difference between the heat of the source, by enthalpy, and the heat to loops (L) and trunk losses.

    The trunk losses are those of each pipe (K).
    """
    ends = fluid.enthalpy_j_kg(np.array([problem.circuit_c[0, 0], answer.circuit_return_c[0, 0]]))
    source_w = float(answer.circuit_flow_kg_s[0, 0] * (ends[0] - ends[1]))
    taken_w, lost_w = float(given_w.sum()), float(main_loss_w.sum())
    return abs(source_w - taken_w - lost_w) / max(float(np.abs(given_w).sum()) + abs(lost_w), 1e-9)


def _spare_pa(network: PipeNetwork, answer: OperatingSolution) -> Array:
    """Pressure drop (L) in Pa of the thermostatic valve of a throttled or closed loop, above that of the open valve."""
    graph, link = network.graph, network.loop_link
    ends = answer.pressure_pa[graph.start[link], 0] - answer.pressure_pa[graph.end[link], 0]
    return np.asarray(ends - answer.link_drop_pa[link, 0])


def _throttling_place(network: PipeNetwork, loop: int) -> int:
    """The element with the surplus pressure of a throttled loop: its first valve, else its first element."""
    members = np.flatnonzero(network.elements.link == network.loop_link[loop])
    valves = [int(i) for i in members if network.locations[i].element.kind == "valve"]
    return valves[0] if valves else int(members[0])


def _without(flow: Array, network: PipeNetwork, shut: NDArray[np.bool_]) -> Array:
    """Flows of the elements; zero in loops that are closed."""
    return np.array([0.0 if p.loop >= 0 and shut[p.loop] else f for p, f in zip(network.locations, flow, strict=True)])


def _cool(temp_c: Array, network: PipeNetwork, shut: NDArray[np.bool_], arms: Sequence[ArmHeatOutput]) -> None:
    """Set closed loops in the vector of temperatures (T) to the temperature of their rooms, outside their channels.

    The channels already have it (see ChannelIteration.coarse).
    """
    index, at, count = network.temperatures, network.element_temps, len(network.arms)
    for loop in np.flatnonzero(shut):
        own = [a for a in range(count) if network.arm_loop[a] == loop]
        for part in index.of_loops:
            temp_c[part][loop] = arms[own[0]].return_c
        for a in own:
            temp_c[index.arm_return][a] = arms[a].return_c
    for m in np.flatnonzero(shut[network.emitters.loop]):
        place_m, room_c = network.emitters.place[m], network.emitters.room_c[m]
        temp_c[at.inlet[place_m]] = temp_c[at.outlet[place_m]] = room_c
