"""Trial solutions of loops at given flows: heat of all loops together, and the hydraulics of one by itself."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
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
from heatloop.hydraulics.sizing.unit_rooms import UnitRooms
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


@dataclass(frozen=True)
class FlowUnit:
    """A unit with one flow: a whole loop, or one arm with a valve."""

    loop: int
    arms: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class CellArrays:
    """The cells of all arms (M): unit, length, room temperature, output constant of the whole cell, and exponent."""

    unit: NDArray[np.intp]
    length_m: Array
    room_c: Array
    k_w_kn: Array
    exponent: Array


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

    `part` (U): share of each unit in the flow of its loop. `arm_share` (A): share of each arm in the flow of its unit.
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
        part: list[float] = []
        self.arm_share = np.ones(lengths.size)
        for loop, path in enumerate(self.network.loops):
            arms, first = arms_of_loop[loop], len(self.units)
            share = lengths[arms] / lengths[arms].sum()
            if len(arms) > 1 and arms_have_valves(path):
                self.units += [FlowUnit(loop, (a,)) for a in arms]
                part += share.tolist()
            else:
                self.units.append(FlowUnit(loop, tuple(arms)))
                part.append(1.0)
                self.arm_share[arms] = share
            self.units_of_loop.append(list(range(first, len(self.units))))
        self.part = np.array(part)
        self.channel_share = [_even(arm.directions) for arm in self.network.arms]
        self._group_share = [np.stack([self.channel_share[a] for a in g.arms], axis=1) for g in self.network.groups]
        self._place = {a: (g, r) for g, group in enumerate(self.network.groups) for r, a in enumerate(group.arms)}
        self.loop_of_unit = np.array([unit.loop for unit in self.units])
        self.unit_of_arm = np.zeros(lengths.size, dtype=np.intp)
        for u, unit in enumerate(self.units):
            self.unit_of_arm[list(unit.arms)] = u
        self._by_resistance = [loop for loop in range(len(self.network.loops)) if not self._shares_by_symmetry(loop)]

    @cached_property
    def units_of_divided_loops(self) -> list[NDArray[np.intp]]:
        """The units of the loops that have several, by their number: (loops, units) each."""
        several = [units for units in self.units_of_loop if len(units) > 1]
        return [
            np.array([units for units in several if len(units) == count], dtype=np.intp)
            for count in sorted({len(units) for units in several})
        ]

    @cached_property
    def cells(self) -> CellArrays:
        """The cells of all arms, arm by arm."""
        cells = [cell for arm in self.network.arms for cell in arm.cells]
        return CellArrays(
            unit=np.repeat(self.unit_of_arm, [len(arm.cells) for arm in self.network.arms]),
            length_m=np.array([cell.length_m for cell in cells]),
            room_c=np.array([cell.room_c for cell in cells]),
            k_w_kn=np.array([cell.characteristic.k_w_mkn * cell.factor * cell.length_m for cell in cells]),
            exponent=np.array([cell.characteristic.exponent for cell in cells]),
        )

    def start_from(self, heats: Sequence[GroupTemperatures]) -> None:
        """Start from the temperatures of groups solved before, if they have the same cells in the same rooms."""
        if len(heats) == len(self.network.groups):
            self.initial_guess = [
                known if known.group.has_cells_of(group) else None
                for known, group in zip(heats, self.network.groups, strict=True)
            ]

    def arm_flows(self, unit_flow: Array) -> Array:
        """Flow of each arm, kg/s."""
        return np.asarray(unit_flow[self.unit_of_arm] * self.arm_share)

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
            flow = arm_flow[arms] * self._group_share[index]
            inlet = head_c[self.unit_of_arm[arms]]
            heat = solve(group, flow, inlet, self.fluid, self.initial_guess[index], tolerance_k=self.tolerance_k)
            self.initial_guess[index] = heat
            solved.append(heat)
        return solved

    def _whole(self, unit_flow: Array) -> Array:
        """Flow of the whole loop to which each unit belongs, from the flow of the unit."""
        return np.asarray(unit_flow / self.part)

    def _through_tail(self, unit_flow: Array, inlet_c: Array, side: Side) -> EmitterPassage:
        """Water of each unit after the flow or return tail of its loop, and after the emitters there."""
        return tail_passed(self.network, self._whole(unit_flow), inlet_c, self.fluid, side, self.loop_of_unit)

    def _foot_c(self, heats: Iterable[GroupTemperatures]) -> Array:
        """Temperature at which the water of each unit reaches the return tail, (U)."""
        arm_return = np.zeros(len(self.network.arms))
        for heat in heats:
            arm_return[list(heat.group.arms)] = heat.joined_c
        return np.bincount(self.unit_of_arm, self.arm_share * arm_return, self.part.size).astype(float)

    def drop_k(self, unit_flow: Array) -> Array:
        """Supply less return temperature of every unit in K, where its tails join the distribution."""
        return self._drop_k(self._back(unit_flow, self.temperatures(unit_flow)))

    def _back(self, unit_flow: Array, heats: Iterable[GroupTemperatures]) -> EmitterPassage:
        """Water of each unit through its return tail."""
        return self._through_tail(unit_flow, self._foot_c(heats), "return")

    def _drop_k(self, back: EmitterPassage) -> Array:
        return np.asarray(self.supply[self.loop_of_unit] - back.outlet_c)

    @cached_property
    def rooms(self) -> UnitRooms:
        """The rooms that each unit heats."""
        return UnitRooms(self.network, self.unit_of_arm, self.loop_of_unit)

    def drop_and_room_heat(self, unit_flow: Array) -> tuple[Array, Array]:
        """Drop of every unit as `drop_k`, and useful heat in W of the pairs of `rooms`, less back losses."""
        heats = self.heat(unit_flow)
        back = self._back(unit_flow, heats)
        ahead = self._through_tail(unit_flow, self.supply[self.loop_of_unit], "flow")
        heat_w = self.rooms.heat_w(heats, (*ahead.steps, *back.steps), unit_flow, self.fluid)
        return self._drop_k(back), heat_w

    def room_w(self, unit_flow: Array) -> list[dict[str, float]]:
        """Useful heat in W into each room from every unit, less the back loss of its skirting.

        Of the output of other emitters, a unit counts its part.
        """
        return self.rooms.by_unit(self.drop_and_room_heat(unit_flow)[1])

    def loops_alone(self, unit_flow: Array) -> tuple[LoopAlone, ...]:
        """Every loop by itself at the last flows (U) of `temperatures`."""
        flows = self.flows(unit_flow)
        known = loops_alone(self.network, flows, self.fluid)
        solved = {loop: LoopAlone.of(self.alone(loop, unit_flow)) for loop in self._by_resistance}
        return tuple(solved.get(loop, estimate) for loop, estimate in enumerate(known))

    def flows(self, unit_flow: Array) -> LoopFlows:
        """Flows of arms and channels at the last flows (U) of `temperatures`, with the arms solved then."""
        heats = [heat for heat in self.initial_guess if heat is not None]
        return LoopFlows(self.supply, self.arm_flows(unit_flow), self.channel_share, heats)

    def _shares_by_symmetry(self, loop: int) -> bool:
        """Whether all the water of a loop divides by symmetry, or by the valves of its arms."""
        units = [self.units[u] for u in self.units_of_loop[loop]]
        return all(len(unit.arms) == 1 for unit in units) and all(
            channels_share_equally(arm) for arm in self.network.loops[loop].arms
        )

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
        """Calculate the shares of units, arms and channels anew; return the largest change of arms and channels.

        The shares of units follow from the flows alone, those of arms and channels from the last temperatures too.
        """
        self.part, moved = unit_flow / np.bincount(self.loop_of_unit, unit_flow)[self.loop_of_unit], 0.0
        for loop in self._by_resistance:
            conditions = (self.tolerance_k, float(self.supply[loop]), *unit_flow[self.units_of_loop[loop]].tolist())
            if self._shared_at.get(loop) != conditions:
                self._shared_at[loop] = conditions
                moved = max(moved, self._share_loop(loop, unit_flow))
        return moved

    def _share_loop(self, loop: int, unit_flow: Array) -> float:
        """Calculate the shares of arms and channels of one loop from its hydraulics; return the largest change."""
        moved, units = 0.0, [self.units[u] for u in self.units_of_loop[loop]]
        arms = [a for unit in units for a in unit.arms]
        alone = self.alone(loop, unit_flow)
        link_flow = np.zeros(alone.network.graph.start.size)
        link_flow[alone.network.elements.link] = alone.flow_kg_s
        carried = []
        for place, a in enumerate(arms):
            channel = link_flow[alone.network.channel_link[place]]
            carried.append(channel[np.asarray(self.network.arms[a].directions) > 0].sum())
            share = channel / carried[-1]
            moved = max(moved, float(np.abs(share - self.channel_share[a]).max()))
            group, number = self._place[a]
            self.channel_share[a], self._group_share[group][:, number] = share, share
        if len(units) == 1:
            share = np.array(carried) / sum(carried)
            moved = max(moved, float(np.abs(share - self.arm_share[arms]).max()))
            self.arm_share[arms] = share
        return moved


def loops_network(paths: Sequence[LoopPath], friction: FrictionTable = NO_CURVES) -> PipeNetwork:
    """Loops without shared pipework, each by itself; `friction`: friction curves that have been calculated already."""
    bare = [replace(path, loop=replace(path.loop, trunk=None)) for path in paths]
    return build_network(bare, friction=friction)


def arms_have_valves(path: LoopPath) -> bool:
    """Whether every arm of a loop has a valve of its own."""
    return all(arm.flow_valve or arm.return_valve for arm in path.arms)


def channels_share_equally(arm: ArmPath) -> bool:
    """Whether parallel channels share equally by symmetry: no parallel channels, or all alike and single-pass."""
    single = sum(d > 0 for d in arm.directions) == 1 and sum(d < 0 for d in arm.directions) <= 1
    return single or (all(d > 0 for d in arm.directions) and len(set(arm.ducts)) == 1)


@lru_cache(maxsize=64)
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
