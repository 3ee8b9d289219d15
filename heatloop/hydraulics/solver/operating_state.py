"""What a system does at a given differential, flow or pump: heat and flow solved together, one scenario.

The numbers of :mod:`heatloop.hydraulics.solver.coupled` as values that tables can be made of.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_groups import ArmHeatOutput
from heatloop.hydraulics.heat.arm_states import ArmStates
from heatloop.hydraulics.heat.channel_heat import GroupArmResults
from heatloop.hydraulics.heat.mixing import repeat_for_scenarios
from heatloop.hydraulics.network.links import ElementArrays
from heatloop.hydraulics.network.pipe_loss import log_mean_k
from heatloop.hydraulics.network.shared_pipework import SharedPipework
from heatloop.hydraulics.network.system import RETURN_NODE, SUPPLY_NODE, PipeNetwork
from heatloop.hydraulics.pumps import ConstantHead, PumpCharacteristic
from heatloop.hydraulics.solver.coupled import solve_heat_and_flow
from heatloop.hydraulics.solver.problem import OperatingProblem, OperatingSolution
from heatloop.hydraulics.solver.settling import SETTLED
from heatloop.hydraulics.solver.tail_loss import tail_loss_w
from heatloop.physics.channels.accuracy import emission_by_cell_w
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]


CLOSED_ENERGY = 1e-9
"""How well the heat of the water and of what it gives agree, relative. Temperatures settle against the greatest excess,
so that a loop with a drop of a few kelvin under hot water has to settle more closely than others."""

MIN_SETTLED = 1e-12


@dataclass(frozen=True)
class SystemState:
    """A solved system. Per element (E): flow_kg_s, temp_in_c, temp_out_c, density_kg_m3, viscosity_pa_s; more_pa, what
    drops at tees and throttling valves on top of the law of `elements`. link_flow_kg_s (links) with what leaks through
    loops that count as shut.

    Per loop (L): loop_flow_kg_s, supply_c, return_c, heat_from_water_w by enthalpy, tail_loss_w, throttled (its
    thermostatic valve closes), loop_draw_share of its flow that it takes where its tails join (below 1: mixed there).
    emitter_w (M): heat of the other emitters, in the order of `assembly.emitters`; main_loss_w (K) of the mains' pipes.
    `arms` per arm. pressure_pa per node; per circuit (P), the source's first: circuit_flow_kg_s through its pump,
    circuit_c, circuit_return_c; source_return_c mixed; bypass_kg_s (B); drawn_kg_s (P - 1) by mixed circuits.
    Residuals relative: mass, head, energy,
    inlet (see `summary` of a design).
    """

    assembly: PipeNetwork
    flow_kg_s: Array
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
        """Drop and Reynolds number of each element."""
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
    def given_w(self) -> float:
        """Heat that the water gives to skirting, other emitters, tails and trunks, W."""
        to_loops = sum(arm.given_w for arm in self.arms) + self.tail_loss_w.sum() + self.emitter_w.sum()
        return float(to_loops + self.main_loss_w.sum())

    @property
    def circuit_head_pa(self) -> Array:
        """Differential at the pump of each circuit, (P)."""
        ends = self.assembly.circuits
        return np.array([self.pressure_pa[c.flow] - self.pressure_pa[c.back] for c in ends])

    @property
    def total_flow_kg_s(self) -> float:
        """Flow through the source."""
        return float(self.circuit_flow_kg_s[0])


def solve_state(
    assembly: PipeNetwork,
    supply_c: Array,
    water: Fluid,
    *,
    head_pa: float | None = None,
    drives: Sequence[PumpCharacteristic | Array] | None = None,
    source_c: float | None = None,
    held_kg_s: Array | None = None,
    guess_kg_s: Array | None = None,
) -> SystemState:
    """Solve flows and temperatures with a differential `head_pa` at the source, or the `drives` of all circuits, the
    source's first: a law of the pump's head, or its flow, kg/s (1).

    supply_c (L) is the flow temperature of each loop, `source_c` that of the source (None: the warmest loop's).
    held_kg_s (L): the most each loop may carry (see Question). `guess_kg_s` (L) may hold likely loop flows.
    Raises ArithmeticError if heat and flow do not settle together.
    """
    if (head_pa is None) == (drives is None):
        raise ValueError("give either head_pa or drives")
    if drives is None and len(assembly.circuits) > 1:
        raise ValueError("a system with mixed circuits needs the drives of all of them")
    question = OperatingProblem(
        supply_c=repeat_for_scenarios(supply_c, 1),
        circuit_c=circuit_temps_c(assembly, float(supply_c.max()) if source_c is None else source_c),
        drives=(ConstantHead(float(head_pa or 0.0)),) if drives is None else tuple(drives),
        held_kg_s=None if held_kg_s is None else held_kg_s[:, None],
    )
    guess = None if guess_kg_s is None else guess_kg_s[:, None]
    state = state_from_solution(assembly, question, solve_heat_and_flow(assembly, question, water, guess), water)
    if state.residual_energy <= CLOSED_ENERGY:
        return state
    closer = max(SETTLED * 0.3 * CLOSED_ENERGY / state.residual_energy, MIN_SETTLED)
    found = solve_heat_and_flow(assembly, question, water, state.loop_flow_kg_s[:, None], closer)
    return state_from_solution(assembly, question, found, water)


def circuit_temps_c(assembly: PipeNetwork | SharedPipework, source_c: float) -> Array:
    """Flow temperature of each circuit, (P, 1): the source's, and no more than each is mixed to."""
    temps = [source_c]
    for circuit in assembly.circuits[1:]:
        warm = temps[circuit.parent]
        temps.append(warm if circuit.mixed_to_c is None else min(warm, circuit.mixed_to_c))
    return np.array(temps)[:, None]


def state_from_solution(
    assembly: PipeNetwork, question: OperatingProblem, answer: OperatingSolution, water: Fluid
) -> SystemState:
    """The answer to a question of one scenario as an Operation."""
    index, at, streams = assembly.temperatures, assembly.element_temps, answer.stream_kg_s[:, 0]
    link_flow, shut, temp_c = answer.flow_kg_s[:, 0], answer.shut[:, 0], answer.temp_c[:, 0].copy()
    arms = _arms(assembly, answer)
    if shut.any():
        _cool(temp_c, assembly, shut, arms)
    heat = _loop_heat(assembly, answer, arms, temp_c, water)
    main_loss = _main_loss_w(assembly, answer)
    whole = _whole_energy(question, answer, heat.given_w, main_loss, water)
    flow = link_flow[assembly.elements.link]
    return SystemState(
        assembly=assembly,
        flow_kg_s=_without(flow, assembly, shut) if shut.any() else flow,
        temp_in_c=temp_c[at.inlet],
        temp_out_c=temp_c[at.outlet],
        elements=assembly.elements if question.elements is None else question.elements,
        link_flow_kg_s=link_flow,
        more_pa=_more_pa(assembly, answer),
        density_kg_m3=answer.density_kg_m3[:, 0],
        viscosity_pa_s=answer.viscosity_pa_s[:, 0],
        loop_flow_kg_s=np.where(shut, 0.0, link_flow[assembly.loop_link]),
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
        bypass_kg_s=streams[assembly.mains.bypass_streams],
        drawn_kg_s=streams[assembly.mains.draw_streams],
        source_return_c=float(answer.circuit_return_c[0, 0]),
        residual_mass=float(answer.residual_mass[0]),
        residual_head=float(answer.residual_head[0]),
        residual_energy=max(heat.residual, whole),
        residual_inlet=arms.residual_k / max(float(temp_c.max() - temp_c.min()), 1.0),
        iterations=answer.rounds,
    )


def _arms(assembly: PipeNetwork, answer: OperatingSolution) -> ArmStates:
    """The arms as the answer has them."""
    groups = [
        GroupArmResults(heat, emission_by_cell_w(heat.channels) if check_w is None else check_w)
        for heat, check_w in zip(answer.heats, answer.checks_w, strict=True)
    ]
    return ArmStates.of(assembly.arms, groups, answer.shut[assembly.arm_loop, 0])


@dataclass(frozen=True)
class _LoopHeat:
    """Heat lost by tails (L), given by the other emitters (M) and, by enthalpy, by the water of each loop (L), W; how
    far the latter is from what is emitted, the greatest of all loops, relative."""

    tails_w: Array
    emitters_w: Array
    given_w: Array
    residual: float


def _loop_heat(
    assembly: PipeNetwork, answer: OperatingSolution, arms: ArmStates, temp_c: Array, water: Fluid
) -> _LoopHeat:
    """The heat of the loops with all temperatures, temp_c (T), those of shut loops as warm as their rooms."""
    index, at, emitters = assembly.temperatures, assembly.element_temps, assembly.emitters
    flow, shut, loops = answer.flow_kg_s[assembly.loop_link, 0], answer.shut[:, 0], len(assembly.loops)
    supply_c, return_c = answer.temp_c[index.supply, 0], temp_c[index.loop_return]
    in_c, out_c = temp_c[at.inlet], temp_c[at.outlet]
    tail_end_c, tail_start_c = emitters.tail_ends_c(in_c, out_c, temp_c[index.head], temp_c[index.foot])
    tails = tail_loss_w(assembly, supply_c, tail_end_c, "flow")
    tails = np.where(shut, 0.0, tails + tail_loss_w(assembly, tail_start_c, return_c, "return"))
    emitter_w = emitter_check_w = np.zeros(emitters.count)
    if emitters.count:
        flow_m, ends_c = np.where(shut, 0.0, flow)[emitters.loop], (in_c[emitters.place], out_c[emitters.place])
        emitter_w = flow_m * (water.enthalpy_j_kg(ends_c[0]) - water.enthalpy_j_kg(ends_c[1]))
        emitter_check_w = np.where(flow_m > 0.0, emitters.emission_w(flow_m, *ends_c, water), 0.0)
    given = flow * (water.enthalpy_j_kg(supply_c) - water.enthalpy_j_kg(return_c))
    emitted = np.bincount(assembly.arm_loop, arms.check_w, loops) + tails
    emitted += np.bincount(emitters.loop, emitter_check_w, loops)
    energy = np.where(shut, 0.0, np.abs(given - emitted) / np.maximum(np.abs(emitted), 1e-9))
    return _LoopHeat(tails, emitter_w, given, float(energy.max()))


def _more_pa(assembly: PipeNetwork, answer: OperatingSolution) -> Array:
    """What drops at tees and throttling valves on top of the law of the elements, (E) Pa."""
    more_pa = np.zeros(len(assembly.places)) if answer.tee_drop_pa is None else answer.tee_drop_pa[:, 0].copy()
    if answer.held.any():
        spare = _spare_pa(assembly, answer)
        for loop in np.flatnonzero(answer.held[:, 0]):
            more_pa[_throttling_place(assembly, int(loop))] += spare[loop]
    return more_pa


def _main_loss_w(assembly: PipeNetwork, answer: OperatingSolution) -> Array:
    """Heat that each pipe of the mains loses, (K) W: its conductance times its log mean excess."""
    links, at, temp_c = assembly.mains.links, assembly.element_temps, answer.temp_c[:, 0]
    loss = np.zeros(len(links))
    if assembly.frame.losses is None:
        return loss
    for i, place in enumerate(assembly.places):
        if place.main >= 0 and place.element.kind == "trunk":
            link = links[place.main]
            ends = temp_c[[at.inlet[i], at.outlet[i]]] - link.around_c
            loss[place.main] = link.loss_w_k * float(log_mean_k(ends[0], ends[1]))
    return loss


def _whole_energy(
    question: OperatingProblem, answer: OperatingSolution, given_w: Array, main_loss_w: Array, water: Fluid
) -> float:
    """How far the heat of the source, by enthalpy, is from what loops take (L) and trunks lose (K), relative."""
    ends = water.enthalpy_j_kg(np.array([question.circuit_c[0, 0], answer.circuit_return_c[0, 0]]))
    source_w = float(answer.circuit_flow_kg_s[0, 0] * (ends[0] - ends[1]))
    taken_w, lost_w = float(given_w.sum()), float(main_loss_w.sum())
    return abs(source_w - taken_w - lost_w) / max(float(np.abs(given_w).sum()) + abs(lost_w), 1e-9)


def _spare_pa(assembly: PipeNetwork, answer: OperatingSolution) -> Array:
    """What the thermostatic valve of a throttled or shut loop takes more than open, (L) Pa."""
    network, link = assembly.network, assembly.loop_link
    ends = answer.pressure_pa[network.start[link], 0] - answer.pressure_pa[network.end[link], 0]
    return np.asarray(ends - answer.link_drop_pa[link, 0])


def _throttling_place(assembly: PipeNetwork, loop: int) -> int:
    """The element that takes the pressure a throttled loop does not: its first valve, else where it begins."""
    members = np.flatnonzero(assembly.elements.link == assembly.loop_link[loop])
    valves = [int(i) for i in members if assembly.places[i].element.kind == "valve"]
    return valves[0] if valves else int(members[0])


def _without(flow: Array, assembly: PipeNetwork, shut: NDArray[np.bool_]) -> Array:
    """Flows of the elements, none in loops that are shut."""
    return np.array([0.0 if p.loop >= 0 and shut[p.loop] else f for p, f in zip(assembly.places, flow, strict=True)])


def _cool(temp_c: Array, assembly: PipeNetwork, shut: NDArray[np.bool_], arms: Sequence[ArmHeatOutput]) -> None:
    """Shut loops in the vector of temperatures (T), which is changed: as warm as their rooms beyond the tails."""
    index, at, count = assembly.temperatures, assembly.element_temps, len(assembly.arms)
    for loop in np.flatnonzero(shut):
        own = [a for a in range(count) if assembly.arm_loop[a] == loop]
        for part in index.of_loops:
            temp_c[part][loop] = arms[own[0]].return_c
        for a in own:
            temp_c[index.arm_return][a] = arms[a].return_c
    for m in np.flatnonzero(shut[assembly.emitters.loop]):
        place_m, room_c = assembly.emitters.place[m], assembly.emitters.room_c[m]
        temp_c[at.inlet[place_m]] = temp_c[at.outlet[place_m]] = room_c
    for i, place in enumerate(assembly.places):
        if place.arm >= 0 and place.element.channel > 0 and shut[place.loop]:
            nodes = arms[place.arm].node_c[place.element.channel - 1]
            temp_c[at.inlet[i]] = nodes[place.element.node_in]
            temp_c[at.outlet[i]] = nodes[place.element.node_out]
