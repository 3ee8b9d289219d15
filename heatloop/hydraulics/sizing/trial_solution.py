"""Trial solutions of loops at given flows: heat of all loops together, and the hydraulics of one by itself."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.channel_heat import GroupSolution, solve_group, solve_group_temperatures
from heatloop.hydraulics.heat.group_temperatures import GroupTemperatures
from heatloop.hydraulics.heat.other_emitters import EmitterPassage
from heatloop.hydraulics.model import ArmPath, LoopPath, Side, TailLoss
from heatloop.hydraulics.network.build import build_network
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.sizing.loop_alone import LoopAlone, LoopFlows, loops_alone, throttled_kv
from heatloop.hydraulics.solver.convergence import TOLERANCE
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState, solve_state
from heatloop.hydraulics.solver.tail_loss import tail_passed
from heatloop.physics.friction import NO_CURVES, FrictionTable
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

Solved = TypeVar("Solved", bound=GroupTemperatures)

ROUGH_K, FINE_K = 1e-4, 1e-10
"""Convergence of trial temperatures: for a first search, and for final flows."""

EXCESS_K = 20.0
"""Excess to which the convergence of trial temperatures is related where a loop is solved by itself."""


@dataclass
class FlowUnit:
    """A unit with one flow: a whole loop, or one arm with a valve.

    `share` of its flow by arm; `part`: its share of the flow of the loop.
    """

    loop: int
    arms: tuple[int, ...]
    share: Array
    part: float


@dataclass
class RepeatedSolve:
    """A network of one loop that is solved repeatedly, each time from its last state."""

    network: PipeNetwork
    fluid: Fluid
    tolerance: float = TOLERANCE
    last: SystemState | None = None

    def at(self, supply_c: Array, flow_kg_s: Array, kv_m3_h: Mapping[int, float] | None = None) -> SystemState:
        """The state at this flow (1), with valves as in the network or at these Kv, by element."""
        network = self.network if kv_m3_h is None else self.network.with_kv(kv_m3_h)
        conditions, last = OperatingConditions(supply_c, [flow_kg_s]), self.last
        temperatures = None if last is None else last.initial_temperatures
        self.last = solve_state(network, conditions, self.fluid, flow_kg_s, temperatures, self.tolerance)
        return self.last


class TrialSolution:
    """All loops solved for heat at trial flows; each unit has shares of arms and channels.

    Shares are constant between two calls of `share_again`, so that the temperatures of each unit then depend only on
    its own flow.
    """

    def __init__(self, network: PipeNetwork, supply_c: Array, fluid: Fluid) -> None:
        """`network`: that of `loops_network`."""
        self.network = network
        self.supply, self.fluid = supply_c, fluid
        self.initial_guess: list[GroupTemperatures | None] = [None] * len(self.network.groups)
        self.tolerance_k = FINE_K
        self._shared_at: dict[int, tuple[float, ...]] = {}  # tolerance, supply and flows
        self._solves: dict[tuple[int, str | int], RepeatedSolve] = {}  # of each loop by itself, and of each arm
        self.units: list[FlowUnit] = []
        self.units_of_loop: list[list[int]] = []
        lengths = np.array([sum(cell.length_m for cell in arm.cells) for arm in self.network.arms])
        arms_of_loop: list[list[int]] = [[] for _ in self.network.loops]
        for a, owner in enumerate(self.network.arm_loop):
            arms_of_loop[owner].append(a)
        for loop, path in enumerate(self.network.loops):
            arms, first = arms_of_loop[loop], len(self.units)
            share = lengths[arms] / lengths[arms].sum()
            if len(arms) > 1 and arms_have_valves(path):
                self.units += [FlowUnit(loop, (a,), np.ones(1), float(s)) for a, s in zip(arms, share, strict=True)]
            else:
                self.units.append(FlowUnit(loop, tuple(arms), share, 1.0))
            self.units_of_loop.append(list(range(first, len(self.units))))
        self.channel_share = [_even(arm.directions) for arm in self.network.arms]
        self.loop_of_unit = np.array([unit.loop for unit in self.units])
        self.unit_of_arm = np.zeros(lengths.size, dtype=np.intp)
        for u, unit in enumerate(self.units):
            self.unit_of_arm[list(unit.arms)] = u

    def start_from(self, heats: Sequence[GroupTemperatures]) -> None:
        """Start from the temperatures of groups solved before, if they have the same cells in the same rooms."""
        if len(heats) == len(self.network.groups):
            self.initial_guess = [
                known if known.group.has_cells_of(group) else None
                for known, group in zip(heats, self.network.groups, strict=True)
            ]

    def arm_flows(self, unit_flow: Array) -> Array:
        """Flow of each arm, kg/s."""
        flow = np.zeros(len(self.network.arms))
        for unit, value in zip(self.units, unit_flow, strict=True):
            flow[list(unit.arms)] = value * unit.share
        return flow

    def temperatures(self, unit_flow: Array) -> list[GroupTemperatures]:
        """Solve the temperatures of all groups of arms at these flows."""
        return self._solved(unit_flow, solve_group_temperatures)

    def heat(self, unit_flow: Array) -> list[GroupSolution]:
        """Solve all groups of arms at these flows, with the heat of their cells."""
        return self._solved(unit_flow, solve_group)

    def _solved(self, unit_flow: Array, solve: Callable[..., Solved]) -> list[Solved]:
        arm_flow = self.arm_flows(unit_flow)
        supply = self.supply[self.loop_of_unit]
        head_c = self._through_tail(unit_flow, supply, "flow").outlet_c
        solved = []
        for index, group in enumerate(self.network.groups):
            arms = list(group.arms)
            flow = np.array([arm_flow[a] * self.channel_share[a] for a in arms]).T
            inlet = head_c[self.unit_of_arm[arms]]
            heat = solve(group, flow, inlet, self.fluid, self.initial_guess[index], tolerance_k=self.tolerance_k)
            self.initial_guess[index] = heat
            solved.append(heat)
        return solved

    def _whole(self, unit_flow: Array) -> Array:
        """Flow of the whole loop to which each unit belongs, from the flow of the unit."""
        return np.asarray(unit_flow / np.array([unit.part for unit in self.units]))

    def _through_tail(self, unit_flow: Array, inlet_c: Array, side: Side) -> EmitterPassage:
        """Water of each unit after the flow or return tail of its loop, and after the emitters there."""
        return tail_passed(self.network, self._whole(unit_flow), inlet_c, self.fluid, side, self.loop_of_unit)

    def _foot_c(self, heats: Iterable[GroupTemperatures]) -> Array:
        """Temperature at which the water of each unit reaches the return tail, (U)."""
        arm_return = np.zeros(len(self.network.arms))
        for heat in heats:
            arm_return[list(heat.group.arms)] = heat.joined_c
        return np.array([unit.share @ arm_return[list(unit.arms)] for unit in self.units])

    def drop_k(self, unit_flow: Array) -> Array:
        """Supply less return temperature of every unit in K, where its tails join the distribution."""
        foot_c = self._foot_c(self.temperatures(unit_flow))
        return np.asarray(self.supply[self.loop_of_unit] - self._through_tail(unit_flow, foot_c, "return").outlet_c)

    def room_w(self, unit_flow: Array) -> list[dict[str, float]]:
        """Useful heat in W into each room from every unit, less the back loss of its skirting.

        Of the output of other emitters, a unit counts its part.
        """
        heats = self.heat(unit_flow)
        rooms = self._emitter_w(unit_flow, heats)
        for heat in heats:
            offsets = np.concatenate([[0], np.cumsum(heat.parts)[:-1]])
            emitted = np.add.reduceat((heat.channels.emitted_w - heat.channels.lost_w).sum(axis=0), offsets)
            surface = np.add.reduceat(heat.wall_c * heat.fine.length_m, offsets) / heat.group.runs.length_m
            for r, a in enumerate(heat.group.arms):
                cells = self.network.arms[a].cells
                own = slice(heat.group.runs.start[r], heat.group.runs.start[r + 1])
                into = rooms[self.unit_of_arm[a]]
                for cell, heat_w, wall_c in zip(cells, emitted[own], surface[own], strict=True):
                    back = cell.back_w_mk * cell.length_m * (wall_c - cell.room_c)
                    into[cell.room] = into.get(cell.room, 0.0) + float(heat_w * cell.useful - back)
        return rooms

    def _emitter_w(self, unit_flow: Array, heats: Iterable[GroupSolution]) -> list[dict[str, float]]:
        rooms: list[dict[str, float]] = [{} for _ in self.units]
        emitters, network = self.network.emitters, self.network
        if not emitters.count:
            return rooms
        supply = self.supply[self.loop_of_unit]
        before = self._through_tail(unit_flow, supply, "flow").steps
        after = self._through_tail(unit_flow, self._foot_c(heats), "return").steps
        for at in (*before, *after):
            room = network.locations[emitters.place[at.emitter]].element.room
            enthalpy_drop_j_kg = self.fluid.enthalpy_j_kg(at.inlet_c) - self.fluid.enthalpy_j_kg(at.outlet_c)
            for u, joules_kg in zip(at.rows, enthalpy_drop_j_kg, strict=True):
                rooms[u][room] = rooms[u].get(room, 0.0) + float(unit_flow[u] * joules_kg)
        return rooms

    def loops_alone(self, unit_flow: Array) -> tuple[LoopAlone, ...]:
        """Every loop by itself at the last flows (U) of `temperatures`."""
        flows = self.flows(unit_flow)
        known = loops_alone(self.network, flows, self.fluid)
        return tuple(
            estimate if self._shares_by_symmetry(loop) else LoopAlone.of(self.alone(loop, unit_flow))
            for loop, estimate in enumerate(known)
        )

    def flows(self, unit_flow: Array) -> LoopFlows:
        """Flows of arms and channels at the last flows (U) of `temperatures`, with the arms solved then."""
        heats = [heat for heat in self.initial_guess if heat is not None]
        return LoopFlows(self.supply, self.arm_flows(unit_flow), self.channel_share, heats)

    def _shares_by_symmetry(self, loop: int) -> bool:
        """Whether all the water of a loop divides by symmetry, or by the valves of its arms."""
        units = [self.units[u] for u in self.units_of_loop[loop]]
        return all(len(unit.arms) == 1 for unit in units) and all(_alike(arm) for arm in self.network.loops[loop].arms)

    def alone(self, loop: int, unit_flow: Array) -> SystemState:
        """The loop by itself at its flow, solved for heat and flow together.

        Its arm valves are set for the shares of the units.
        """
        path = self.network.loops[loop]
        units = self.units_of_loop[loop]
        flow, supply = unit_flow[units].sum(keepdims=True), self.supply[[loop]]
        solved = self._solve(loop, "open", path).at(supply, flow)
        if len(units) == 1:
            return solved
        arms = [self._solve(loop, i, _bare(replace(path, arms=(arm,)))) for i, arm in enumerate(path.arms)]
        settings = arm_settings(solved, arms, unit_flow[units])
        return self._solve(loop, "set", path).at(supply, flow, settings)

    def _solve(self, loop: int, part: str | int, path: LoopPath) -> RepeatedSolve:
        """Solve of a part of a loop by itself: the loop with open or with set valves, or an arm by number."""
        if (loop, part) not in self._solves:
            alone = build_network([path], friction=self.network.elements.table)
            self._solves[loop, part] = RepeatedSolve(alone, self.fluid)
        solve = self._solves[loop, part]
        solve.tolerance = TOLERANCE if self.tolerance_k <= FINE_K else max(TOLERANCE, self.tolerance_k / EXCESS_K)
        return solve

    def share_again(self, unit_flow: Array) -> float:
        """Calculate the shares of units, arms and channels anew; return the largest change."""
        moved = 0.0
        for loop, path in enumerate(self.network.loops):
            units = [self.units[u] for u in self.units_of_loop[loop]]
            own = unit_flow[self.units_of_loop[loop]]
            total = float(own.sum())
            for unit, flow in zip(units, own, strict=True):
                moved, unit.part = max(moved, abs(flow / total - unit.part)), float(flow / total)
            if self._shares_by_symmetry(loop):
                continue
            arms = [a for unit in units for a in unit.arms]
            conditions = (self.tolerance_k, float(self.supply[loop]), *own.tolist())
            if self._shared_at.get(loop) == conditions:
                continue
            self._shared_at[loop] = conditions
            alone = self.alone(loop, unit_flow)
            link_flow = np.zeros(alone.network.graph.start.size)
            link_flow[alone.network.elements.link] = alone.flow_kg_s
            carried = []
            for place, a in enumerate(arms):
                channel = link_flow[alone.network.channel_link[place]]
                carried.append(channel[np.asarray(path.arms[place].directions) > 0].sum())
                share = channel / carried[-1]
                moved = max(moved, float(np.abs(share - self.channel_share[a]).max()))
                self.channel_share[a] = share
            if len(units) == 1:
                share = np.array(carried) / sum(carried)
                moved = max(moved, float(np.abs(share - units[0].share).max()))
                units[0].share = share
        return moved


def loops_network(paths: Sequence[LoopPath], friction: FrictionTable = NO_CURVES) -> PipeNetwork:
    """Loops without shared pipework, each by itself; `friction`: friction curves that have been calculated already."""
    bare = [replace(path, loop=replace(path.loop, trunk=None)) for path in paths]
    return build_network(bare, friction=friction)


def arms_have_valves(path: LoopPath) -> bool:
    """Whether every arm of a loop has a valve of its own."""
    return all(arm.flow_valve or arm.return_valve for arm in path.arms)


def _alike(arm: ArmPath) -> bool:
    """Whether parallel channels share equally by symmetry: no parallel channels, or all alike and single-pass."""
    single = sum(d > 0 for d in arm.directions) == 1 and sum(d < 0 for d in arm.directions) <= 1
    return single or (all(d > 0 for d in arm.directions) and len(set(arm.ducts)) == 1)


def _even(directions: tuple[int, ...]) -> Array:
    """Share of each channel in the flow of the arm, with equal parallel channels."""
    sign = np.asarray(directions)
    return np.asarray(1.0 / np.where(sign > 0, (sign > 0).sum(), max((sign < 0).sum(), 1)))


def effective_length_m(arms: Iterable[ArmPath]) -> dict[str, float]:
    """Heated length in each room in metres; a covered stretch counts by its factor."""
    metres: dict[str, float] = {}
    for arm in arms:
        for cell in arm.cells:
            if not cell.skirting:
                continue
            metres[cell.room] = metres.get(cell.room, 0.0) + cell.length_m * cell.factor
    return metres


def arm_settings(solved: SystemState, arms: Sequence[RepeatedSolve], arm_flow: Array) -> dict[int, float]:
    """Kv of the arm valves, by element, with which two arms share one loop as `arm_flow` (kg/s).

    `solved`: the loop with open valves. Each arm is solved by itself at its flow; the valve of the arm that requires
    less pressure takes the difference.
    """
    network = solved.network
    path = network.loops[0]
    need, density, open_kv, locations = [], [], [], []
    head_c = solved.temp_out_c[[len(path.tail_flow) - 1]]
    for number, (arm_solve, flow) in enumerate(zip(arms, arm_flow, strict=True)):
        single, alone = arm_solve.network, arm_solve.at(head_c, np.array([flow]))
        arm = [i for i, p in enumerate(single.locations) if p.arm >= 0]
        need.append(_series_drop(single, alone, arm))
        valve = next(i for i in reversed(arm) if single.locations[i].element.kind == "valve")
        density.append(alone.density_kg_m3[valve])
        open_kv.append(single.elements.kv_m3_h[valve])
        own = [i for i, p in enumerate(network.locations) if p.arm == number and p.element.kind == "valve"]
        locations.append(own[-1])
    settings = {}
    for number, flow in enumerate(arm_flow):
        surplus = max(need) - need[number]
        settings[locations[number]] = throttled_kv(open_kv[number], float(flow), surplus, density[number])
    return settings


def _bare(path: LoopPath) -> LoopPath:
    """The loop without other emitters and without heat loss of its tails."""
    flow, back = (tuple(e for e in tail if e.emits is None) for tail in (path.tail_flow, path.tail_return))
    return replace(path, tail_flow=flow, tail_return=back, tail_loss=TailLoss())


def _series_drop(network: PipeNetwork, solved: SystemState, members: Sequence[int]) -> float:
    """Pressure from the first to the last node of an arm; by its nodes where channels run in parallel."""
    links = {int(network.elements.link[i]) for i in members}
    if len(links) == 1:
        return float(solved.drop_pa[list(members)].sum())
    start = {int(network.graph.start[link]) for link in links}
    end = {int(network.graph.end[link]) for link in links}
    pressures_in = max(solved.pressure_pa[n] for n in start - end)
    pressures_out = min(solved.pressure_pa[n] for n in end - start)
    return float(pressures_in - pressures_out)
