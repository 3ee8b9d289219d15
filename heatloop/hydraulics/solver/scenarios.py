"""One system under many conditions at once: flow temperatures, heads, valve states and room temperatures.

The scenarios are solved together in batches that fit the cache of the processor. Cells are divided as for a single
solution, but not checked one by one afterwards. A batch ends when the remaining change is at most a millionth.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from heatloop.hydraulics.heat.arm_groups import CellChanges
from heatloop.hydraulics.network.links import ElementArrays
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.pumps import ConstantHead, PumpCharacteristic
from heatloop.hydraulics.solver.coupled import solve_heat_and_flow
from heatloop.hydraulics.solver.operating_state import SystemState, circuit_temps_c, closed_state
from heatloop.hydraulics.solver.problem import InitialTemperatures, OperatingProblem, OperatingSolution
from heatloop.hydraulics.solver.tail_loss import tail_loss_w
from heatloop.physics.channels.grid import CELL_NUMBER
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

BATCH_CELLS = 7000
"""Scenarios are solved in batches with about this many cells."""

SKIRTING = ("piece", "floor section")
"""Kinds of elements whose length is that of skirting."""

BATCH_TOLERANCE = 1e-6
"""Relative change that may remain when a batch ends (see heatloop.hydraulics.solver.convergence); the remaining error
is smaller."""


@dataclass(frozen=True)
class Scenarios:
    """S conditions of one network; a value of None is that of the network.

    flow_temp_c (S) of the source. loop_temp_c (L): maximum flow temperatures of loops (inf: none). head_pa (P, S), or
    (S) for one circuit; or `pumps`, one characteristic for each circuit, the same in all scenarios. kv_m3_h: by valve,
    (S) each. shut (L, S). room_c: by room, (S) each. output_factor: on the output of a profile, by its name, (S) each.
    length_factor (L, S): on the length of the skirting of loops.
    """

    flow_temp_c: Array
    loop_temp_c: Array | None = None
    head_pa: Array | None = None
    pumps: tuple[PumpCharacteristic, ...] | None = None
    kv_m3_h: dict[int, Array] | None = None
    shut: NDArray[np.bool_] | None = None
    room_c: dict[str, Array] | None = None
    output_factor: dict[str, Array] | None = None
    length_factor: Array | None = None

    @property
    def count(self) -> int:
        return int(self.flow_temp_c.size)

    def some(self, part: slice) -> Scenarios:
        """These scenarios only."""

        def cut(values: Array | None) -> Array | None:
            return None if values is None else values[..., part]

        return replace(
            self,
            flow_temp_c=self.flow_temp_c[part],
            head_pa=cut(self.head_pa),
            kv_m3_h=None if self.kv_m3_h is None else {k: v[part] for k, v in self.kv_m3_h.items()},
            shut=None if self.shut is None else self.shut[:, part],
            room_c=None if self.room_c is None else {k: v[part] for k, v in self.room_c.items()},
            output_factor=None if self.output_factor is None else {k: v[part] for k, v in self.output_factor.items()},
            length_factor=cut(self.length_factor),
        )


@dataclass(frozen=True)
class ScenarioResults:
    """Results of S scenarios.

    Per loop (L, S): loop_flow_kg_s, output_w, return_c. Per room (rooms, S), in the order of `rooms`: room_w, the heat
    of its skirting and pipes without tails; tail_room_w, the useful share of tails; back_loss_w of its skirting. Per
    circuit (P, S): flow_kg_s, head_pa, circuit_return_c. Relative residuals (S): mass and head; `left`: the remaining
    change.
    """

    loop_flow_kg_s: Array
    return_c: Array
    output_w: Array
    rooms: tuple[str, ...]
    room_w: Array
    tail_room_w: Array
    back_loss_w: Array
    flow_kg_s: Array
    head_pa: Array
    circuit_return_c: Array
    residual_mass: Array
    residual_head: Array
    left: Array

    @property
    def net_room_w(self) -> Array:
        """Heat to each room less its back loss, (rooms, S) in W."""
        return np.asarray(self.room_w + self.tail_room_w - self.back_loss_w)


def solve_scenarios(
    network: PipeNetwork,
    scenarios: Scenarios,
    fluid: Fluid,
    initial_guess_kg_s: ArrayLike | None = None,
    cell_number: float = CELL_NUMBER,
    tolerance: float = BATCH_TOLERANCE,
) -> ScenarioResults:
    """Solve all scenarios from initial_guess_kg_s (L). Raises ArithmeticError where a batch does not converge."""
    cells = sum(group.runs.length_m.size for group in network.groups)
    batch_count = int(np.ceil(scenarios.count * cells / BATCH_CELLS))
    batch = int(np.ceil(scenarios.count / max(batch_count, 1)))
    batches = []
    guess = None if initial_guess_kg_s is None else np.asarray(initial_guess_kg_s, float)
    for start in range(0, scenarios.count, batch):
        some = scenarios.some(slice(start, min(start + batch, scenarios.count)))
        problem = _question(network, some, cell_number)
        batch_guess_kg_s = None if guess is None else np.repeat(guess[:, None], some.count, axis=1)
        solution = solve_heat_and_flow(network, problem, fluid, batch_guess_kg_s, tolerance)
        batches.append(_outcomes(network, problem, solution, fluid))
    return _joined(batches)


def solve_settings(
    network: PipeNetwork,
    settings: Sequence[Mapping[int, float]],
    problem: OperatingProblem,
    fluid: Fluid,
    initial_guess_kg_s: Array | None = None,
    initial_temperatures: InitialTemperatures | None = None,
) -> tuple[SystemState, ...]:
    """Solve the system with its valves at each of these settings (Kv by valve), all together; return finished states.

    `problem` has one scenario and no elements of its own; initial_guess_kg_s (L) and `initial_temperatures` are
    estimates. Raises ArithmeticError as `solve_heat_and_flow` does.
    """
    networks, count = [network.with_kv(setting) for setting in settings], len(settings)
    kv_m3_h = np.stack([each.elements.kv_m3_h for each in networks], axis=1)
    side_by_side = replace(
        problem,
        supply_c=np.repeat(problem.supply_c, count, axis=1),
        circuit_c=np.repeat(problem.circuit_c, count, axis=1),
        elements=replace(network.elements, kv_m3_h=kv_m3_h),
    )
    repeated_guess_kg_s = None if initial_guess_kg_s is None else np.repeat(initial_guess_kg_s[:, None], count, axis=1)
    solution = solve_heat_and_flow(
        network, side_by_side, fluid, repeated_guess_kg_s, initial_temperatures=initial_temperatures
    )
    return tuple(
        closed_state(each, problem, solution.scenario(network.groups, number), fluid)
        for number, each in enumerate(networks)
    )


def _question(network: PipeNetwork, scenarios: Scenarios, cell_number: float) -> OperatingProblem:
    source_c = scenarios.flow_temp_c
    circuit_c = np.concatenate([circuit_temps_c(network, float(temp)) for temp in source_c], axis=1)
    supply_c = circuit_c[network.loop_circuit]
    if scenarios.loop_temp_c is not None:
        supply_c = np.minimum(supply_c, scenarios.loop_temp_c[:, None])
    shut = scenarios.shut
    return OperatingProblem(
        supply_c=supply_c,
        circuit_c=circuit_c,
        pumps=_drives(network, scenarios),
        held_kg_s=None if shut is None else np.where(shut, 0.0, np.inf),
        elements=_elements(network, scenarios),
        changes=_changes(network, scenarios),
        cell_number=cell_number,
    )


def _drives(network: PipeNetwork, scenarios: Scenarios) -> tuple[PumpCharacteristic, ...]:
    if scenarios.pumps is not None:
        return scenarios.pumps
    if scenarios.head_pa is None:
        raise ValueError("scenarios need head_pa or drives")
    heads = np.atleast_2d(scenarios.head_pa)
    if heads.shape != (len(network.circuits), scenarios.count):
        raise ValueError(f"head_pa {heads.shape}: required {(len(network.circuits), scenarios.count)}")
    return tuple(ConstantHead(head) for head in heads)


def _elements(network: PipeNetwork, scenarios: Scenarios) -> ElementArrays | None:
    elements = network.elements
    if scenarios.kv_m3_h:
        kv = np.repeat(elements.kv_m3_h[:, None], scenarios.count, axis=1)
        for place, values in scenarios.kv_m3_h.items():
            kv[place] = values
        elements = replace(elements, kv_m3_h=kv)
    if scenarios.length_factor is not None:
        length_m = np.repeat(elements.length_m[:, None], scenarios.count, axis=1)
        for place, location in enumerate(network.locations):
            if location.element.kind in SKIRTING:
                length_m[place] *= scenarios.length_factor[location.loop]
        elements = replace(elements, length_m=length_m)
    return None if elements is network.elements else elements


def _changes(network: PipeNetwork, scenarios: Scenarios) -> tuple[CellChanges, ...] | None:
    """Room temperatures, and factors on output and length, of the cells of every group; None where nothing differs."""
    rooms, factors = _rooms(network, scenarios), _factors(network, scenarios)
    if rooms is None and factors is None:
        return None
    own = (None,) * len(network.groups)
    return tuple(
        CellChanges(room_c, *((None, None) if factor is None else factor))
        for room_c, factor in zip(rooms or own, factors or own, strict=True)
    )


def _factors(network: PipeNetwork, scenarios: Scenarios) -> list[tuple[Array, Array]] | None:
    """Factors on output and length of every cell of every group, (S, M) each; plain pipe keeps its own."""
    if not scenarios.output_factor and scenarios.length_factor is None:
        return None
    factors = []
    for group in network.groups:
        cells = [(network.arm_loop[arm], cell) for arm in group.arms for cell in network.arms[arm].cells]
        output, length = np.ones((2, scenarios.count, len(cells)))
        for place, (loop, cell) in enumerate(cells):
            if not cell.skirting:
                continue
            profile = network.loops[loop].profile
            if scenarios.output_factor and profile is not None and profile.name in scenarios.output_factor:
                output[:, place] = scenarios.output_factor[profile.name]
            if scenarios.length_factor is not None:
                length[:, place] = scenarios.length_factor[loop]
        factors.append((output, length))
    return factors


def _rooms(network: PipeNetwork, scenarios: Scenarios) -> tuple[Array | None, ...] | None:
    """Room temperature of every cell of every group, (S, M) each."""
    if not scenarios.room_c:
        return None
    fixed = {network.locations[i].element.room for i in network.emitters.place} & scenarios.room_c.keys()
    if fixed:
        raise ValueError(f"room_c of {', '.join(sorted(fixed))}: required rooms without other emitters than skirting")
    rooms = []
    for group in network.groups:
        names = [cell.room for arm in group.arms for cell in network.arms[arm].cells]
        temps = np.repeat(group.runs.room_c[None, :], scenarios.count, axis=0)
        for place, name in enumerate(names):
            if name in scenarios.room_c:
                temps[:, place] = scenarios.room_c[name]
        rooms.append(temps)
    return tuple(rooms)


def _outcomes(
    network: PipeNetwork, problem: OperatingProblem, answer: OperatingSolution, fluid: Fluid
) -> ScenarioResults:
    count, index, ends = problem.scenarios, network.temperatures, network.element_temps
    flow = answer.flow_kg_s[network.loop_link]
    shut = answer.shut
    return_c = answer.temp_c[index.loop_return]
    heat_from_water_w = flow * (fluid.enthalpy_j_kg(answer.temp_c[index.supply]) - fluid.enthalpy_j_kg(return_c))
    others = [network.locations[i].element.room for i in network.emitters.place]
    rooms = tuple(dict.fromkeys([*(cell.room for arm in network.arms for cell in arm.cells), *others]))
    row = {name: i for i, name in enumerate(rooms)}
    room_w = np.zeros((len(rooms), count))
    for group, heat in zip(network.groups, answer.heats, strict=True):
        first = np.concatenate([[0], np.cumsum(heat.parts)[:-1]])
        got = (heat.channels.emitted_w - heat.channels.lost_w).sum(axis=0)
        emitted = np.add.reduceat(got, first).reshape(count, -1)
        cells = [cell for arm in group.arms for cell in network.arms[arm].cells]
        owner = [network.arm_loop[arm] for arm in group.arms for _ in network.arms[arm].cells]
        useful = np.array([cell.useful for cell in cells])[:, None]
        heat_w = np.where(shut[owner], 0.0, emitted.T * useful)
        np.add.at(room_w, [row[cell.room] for cell in cells], heat_w)
    for place, loop, name in zip(network.emitters.place, network.emitters.loop, others, strict=True):
        ends_c = answer.temp_c[[ends.inlet[place], ends.outlet[place]]]
        enthalpy = fluid.enthalpy_j_kg(ends_c)
        room_w[row[name]] += np.where(shut[loop], 0.0, flow[loop] * (enthalpy[0] - enthalpy[1]))
    return ScenarioResults(
        loop_flow_kg_s=np.where(shut, 0.0, flow),
        return_c=np.where(shut, np.nan, return_c),
        output_w=np.where(shut, 0.0, heat_from_water_w),
        rooms=rooms,
        room_w=room_w,
        tail_room_w=_tail_room_w(network, answer, row),
        back_loss_w=_back_loss_w(network, answer, row),
        flow_kg_s=answer.circuit_flow_kg_s,
        head_pa=np.array([answer.pressure_pa[c.flow] - answer.pressure_pa[c.back] for c in network.circuits]),
        circuit_return_c=answer.circuit_return_c,
        residual_mass=answer.residual_mass,
        residual_head=answer.residual_head,
        left=answer.moved,
    )


def _tail_room_w(network: PipeNetwork, answer: OperatingSolution, row: Mapping[str, int]) -> Array:
    """Useful heat of the tails in each room, (rooms, S) in W; `row` of each room."""
    temp_c, index, at, loops = answer.temp_c, network.temperatures, network.element_temps, len(network.loops)
    end_c, start_c = network.emitters.tail_ends_c(
        temp_c[at.inlet], temp_c[at.outlet], temp_c[index.head], temp_c[index.foot]
    )
    lost_w = tail_loss_w(network, temp_c[index.supply].T, end_c.T, "flow")
    lost_w = lost_w + tail_loss_w(network, start_c.T, temp_c[index.loop_return].T, "return")
    lost_w = np.where(answer.shut, 0.0, np.broadcast_to(lost_w, answer.shut.T.shape).T)
    room_w = np.zeros((len(row), answer.shut.shape[1]))
    for loop in range(loops):
        tail = network.loops[loop].tail_loss
        if tail.useful and tail.room in row:
            room_w[row[tail.room]] += tail.useful * lost_w[loop]
    return room_w


def _back_loss_w(network: PipeNetwork, answer: OperatingSolution, row: Mapping[str, int]) -> Array:
    """Loss through the walls behind the skirting of each room, (rooms, S) in W; `row` of each room."""
    lost_w = np.zeros((len(row), answer.shut.shape[1]))
    for group, heat in zip(network.groups, answer.heats, strict=True):
        first = np.concatenate([[0], np.cumsum(heat.parts)[:-1]])
        above_km = (heat.wall_c - heat.fine.room_c) * heat.fine.length_m
        by_cell = np.add.reduceat(above_km, first).reshape(answer.shut.shape[1], -1).T
        cells = [cell for arm in group.arms for cell in network.arms[arm].cells]
        owner = [network.arm_loop[arm] for arm in group.arms for _ in network.arms[arm].cells]
        behind_w = np.array([cell.back_w_mk for cell in cells])[:, None] * by_cell
        np.add.at(lost_w, [row[cell.room] for cell in cells], np.where(answer.shut[owner], 0.0, behind_w))
    return lost_w


def _joined(results: Sequence[ScenarioResults]) -> ScenarioResults:
    """Batches, concatenated."""
    if len(results) == 1:
        return results[0]
    names = [
        *("loop_flow_kg_s", "return_c", "output_w", "room_w", "tail_room_w", "back_loss_w", "flow_kg_s", "head_pa"),
        *("circuit_return_c", "residual_mass", "residual_head", "left"),
    ]
    joined = {name: np.concatenate([getattr(result, name) for result in results], axis=-1) for name in names}
    return ScenarioResults(rooms=results[0].rooms, **joined)
