"""The flow of every loop for its duty: the design drop, or the least that keeps its rooms warm.

The heat side is solved for all loops at once with trial flows; how arms and parallel channels share
a loop's water comes from the hydraulics of that loop and is repeated until it stands.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import elementwise

from heatloop.circuit.assembly import Assembly, assemble
from heatloop.circuit.heat import GroupHeat, mixed_return_c, solve_group
from heatloop.circuit.model import ArmPath, LoopPath
from heatloop.circuit.solve import Operation, operate
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

LEAST_DROP_K = 2.0
"""When sizing by loss, flow is not raised beyond the one with this drop (common practice)."""

SLOWEST_TRANSFER_UNITS = 40.0
"""Flow so small that the water has long reached its limit: where the greatest drop is read."""

SHARE_SETTLED = 1e-12


class DropOutOfReach(Exception):
    """A loop cannot reach its design drop: its name, the drop asked for and the greatest there is."""

    def __init__(self, loop: str, wanted_k: float, greatest_k: float) -> None:
        self.loop, self.wanted_k, self.greatest_k = loop, wanted_k, greatest_k
        super().__init__(f"loop {loop!r} cannot reach a drop of {wanted_k:g} K, the greatest is {greatest_k:.2f} K")


@dataclass(frozen=True)
class Duty:
    """What a loop is sized for: `drop_k`, or by loss with `required_w_m`, the watts each of its rooms wants
    from an open metre of skirting (a covered metre counts by its factor)."""

    drop_k: float
    required_w_m: Mapping[str, float] | None = None


@dataclass(frozen=True)
class Sized:
    """Flow of one loop in kg/s, of each of its arms, and the loop solved by itself at that flow."""

    flow_kg_s: float
    arm_flow_kg_s: tuple[float, ...]
    warm: bool
    alone: Operation


def size_loops(paths: Sequence[LoopPath], duties: Sequence[Duty], supply_c: Array, water: Fluid) -> tuple[Sized, ...]:
    """Size all loops: `duties` and `supply_c` (L) in their order.

    An arm with a valve of its own is sized by itself, so that both arms reach the duty. Raises
    DropOutOfReach for the first loop whose design drop no flow can give.
    """
    system = assemble([_alone(path) for path in paths])
    trial = _Trial(system, supply_c, water)
    flows = np.zeros(len(trial.units))
    warm = np.ones(len(trial.units), bool)
    for _ in range(30):
        flows, warm = _flows(trial, duties)
        if not trial.share_again(flows):
            break
    sized = []
    for index, path in enumerate(paths):
        units = [u for u, unit in enumerate(trial.units) if unit.loop == index]
        arm_flow = np.concatenate([flows[u] * trial.units[u].share for u in units])
        sized.append(
            Sized(
                flow_kg_s=float(flows[units].sum()),
                arm_flow_kg_s=tuple(float(f) for f in arm_flow),
                warm=bool(warm[units].all()),
                alone=trial.alone(index, float(flows[units].sum()), arm_flow),
            )
        )
    return tuple(sized)


def open_metres(arms: Iterable[ArmPath]) -> dict[str, float]:
    """Heated length in each room, metres, a covered stretch counting by its factor."""
    metres: dict[str, float] = {}
    for arm in arms:
        for cell in arm.cells:
            metres[cell.room] = metres.get(cell.room, 0.0) + cell.length_m * cell.factor
    return metres


def _alone(path: LoopPath) -> LoopPath:
    return replace(path, loop=replace(path.loop, trunk=None))


@dataclass
class _Unit:
    """What gets one flow: a whole loop, or one arm that has a valve. `share` of its flow by arm."""

    loop: int
    arms: tuple[int, ...]
    share: Array


class _Trial:
    """All loops solved for heat at trial flows, each unit with its shares of arms and channels."""

    def __init__(self, system: Assembly, supply_c: Array, water: Fluid) -> None:
        self.system, self.supply, self.water = system, supply_c, water
        self.near: list[GroupHeat | None] = [None] * len(system.groups)
        self.units: list[_Unit] = []
        lengths = np.array([sum(cell.length_m for cell in arm.cells) for arm in system.arms])
        for loop, path in enumerate(system.loops):
            arms = [a for a, owner in enumerate(system.arm_loop) if owner == loop]
            if len(arms) > 1 and all(arm.flow_valve or arm.return_valve for arm in path.arms):
                self.units += [_Unit(loop, (a,), np.ones(1)) for a in arms]
            else:
                self.units.append(_Unit(loop, tuple(arms), lengths[arms] / lengths[arms].sum()))
        self.channel_share = [_even(arm.directions) for arm in system.arms]

    def arm_flows(self, unit_flow: Array) -> Array:
        flow = np.zeros(len(self.system.arms))
        for unit, value in zip(self.units, unit_flow, strict=True):
            flow[list(unit.arms)] = value * unit.share
        return flow

    def heat(self, unit_flow: Array) -> list[GroupHeat]:
        arm_flow = self.arm_flows(unit_flow)
        solved = []
        for index, group in enumerate(self.system.groups):
            arms = list(group.arms)
            flow = np.array([arm_flow[a] * self.channel_share[a] for a in arms]).T
            inlet = self.supply[self.system.arm_loop[arms]]
            heat = solve_group(group, flow, inlet, self.water, self.near[index], tolerance_k=1e-10)
            self.near[index] = heat
            solved.append(heat)
        return solved

    def drop_k(self, unit_flow: Array) -> Array:
        """Supply less mixed return of every unit."""
        arm_return = np.zeros(len(self.system.arms))
        for heat in self.heat(unit_flow):
            arm_return[list(heat.group.arms)] = mixed_return_c(heat)
        back = np.array([unit.share @ arm_return[list(unit.arms)] for unit in self.units])
        return np.asarray(self.supply[[unit.loop for unit in self.units]] - back)

    def room_w(self, unit_flow: Array) -> list[dict[str, float]]:
        """Watts into each room from every unit."""
        rooms: list[dict[str, float]] = [{} for _ in self.units]
        of_arm = {a: u for u, unit in enumerate(self.units) for a in unit.arms}
        for heat in self.heat(unit_flow):
            offsets = np.concatenate([[0], np.cumsum(heat.parts)[:-1]])
            emitted = np.add.reduceat(heat.channels.emitted_w.sum(axis=0), offsets)
            for r, a in enumerate(heat.group.arms):
                cells = self.system.arms[a].cells
                start = heat.group.runs.start[r]
                into = rooms[of_arm[a]]
                for cell, watts in zip(cells, emitted[start : start + len(cells)], strict=True):
                    into[cell.room] = into.get(cell.room, 0.0) + float(watts)
        return rooms

    def alone(self, loop: int, flow: float, arm_flow: Array) -> Operation:
        """The loop by itself at its sized flow, arm valves set so that its arms share as sized."""
        system = assemble([self.system.loops[loop]])
        supply = self.supply[[loop]]
        solved = operate(system, supply, self.water, flow_kg_s=flow)
        if len(arm_flow) == 1 or not all(a.flow_valve or a.return_valve for a in system.arms):
            return solved
        return operate(
            system.with_kv(arm_settings(system, solved, arm_flow, supply, self.water)),
            supply,
            self.water,
            flow_kg_s=flow,
        )

    def share_again(self, flows: Array) -> bool:
        """Take the shares of arms and channels from the hydraulics; whether any moved."""
        moved = 0.0
        for loop, path in enumerate(self.system.loops):
            units = [u for u, unit in enumerate(self.units) if unit.loop == loop]
            arms = [a for u in units for a in self.units[u].arms]
            if len(arms) == 1 and len({int(link) for link in self.system.channel_link[arms[0]]}) == 1:
                continue
            arm_flow = np.concatenate([flows[u] * self.units[u].share for u in units])
            alone = self.alone(loop, float(flows[units].sum()), arm_flow)
            link_flow = np.zeros(alone.assembly.network.start.size)
            link_flow[alone.assembly.elements.link] = alone.flow_kg_s
            found = []
            for place, a in enumerate(arms):
                channel = link_flow[alone.assembly.channel_link[place]]
                out = np.asarray(path.arms[place].directions) > 0
                total = channel[out].sum()
                found.append(total)
                share = channel / total
                moved = max(moved, float(np.abs(share - self.channel_share[a]).max()))
                self.channel_share[a] = share
            if len(units) == 1 and len(arms) > 1:
                share = np.array(found) / sum(found)
                moved = max(moved, float(np.abs(share - self.units[units[0]].share).max()))
                self.units[units[0]].share = share
        return moved > SHARE_SETTLED


def _even(directions: tuple[int, ...]) -> Array:
    """Each channel's part of the arm's water: parallel channels alike."""
    sign = np.asarray(directions)
    return np.asarray(1.0 / np.where(sign > 0, (sign > 0).sum(), max((sign < 0).sum(), 1)))


def _flows(trial: _Trial, duties: Sequence[Duty]) -> tuple[Array, NDArray[np.bool_]]:
    """Flow of every unit for its duty, and whether its rooms are warm then (sizing by loss only)."""
    least, most = _range(trial, duties)
    warm = np.ones(least.size, bool)
    wanted = np.array([duties[unit.loop].drop_k for unit in trial.units])
    by_loss = np.array([duties[unit.loop].required_w_m is not None for unit in trial.units])
    flows = np.zeros(least.size)
    if not by_loss.all():
        flows = _root(lambda x: trial.drop_k(x) - wanted, least, most, ~by_loss, flows)
    if by_loss.any():
        flows, warm = _flows_by_loss(trial, duties, least, most, by_loss, flows)
    return flows, warm


def _flows_by_loss(
    trial: _Trial, duties: Sequence[Duty], least: Array, most: Array, by_loss: NDArray[np.bool_], flows: Array
) -> tuple[Array, NDArray[np.bool_]]:
    def shortfall_w(x: Array) -> Array:
        short = np.zeros(x.size)
        for u, (unit, rooms) in enumerate(zip(trial.units, trial.room_w(x), strict=True)):
            required = duties[unit.loop].required_w_m
            if required is not None:
                metres = open_metres(trial.system.arms[a] for a in unit.arms)
                short[u] = max(required[room] * metres[room] - watts for room, watts in rooms.items())
        return short

    warm = (shortfall_w(most) <= 0) | ~by_loss
    unneeded = shortfall_w(least) <= 0
    solvable = by_loss & warm & ~unneeded
    if solvable.any():
        flows = _root(shortfall_w, least, most, solvable, flows)
    flows = np.where(by_loss & unneeded, least, flows)
    cold = by_loss & ~warm
    if cold.any():
        wanted = np.array([duties[unit.loop].drop_k for unit in trial.units])
        flows = _root(lambda x: trial.drop_k(x) - wanted, least, most, cold, flows)
    return flows, warm


def _root(miss: Callable[[Array], Array], least: Array, most: Array, which: NDArray[np.bool_], others: Array) -> Array:
    """Flows within the range where `miss`, falling with flow, is zero, for the units of `which`.

    scipy's vectorised Chandrupatla search in the logarithm of the flow.
    """
    index = np.flatnonzero(which)
    full = np.where(others > 0, others, most)

    def some(log_flow: Array, units: Array) -> Array:
        x = full.copy()
        x[units.astype(np.intp)] = np.exp(log_flow)
        return miss(x)[units.astype(np.intp)]

    found = elementwise.find_root(
        some, (np.log(least[index]), np.log(most[index])), args=(index.astype(float),),
        tolerances={"xatol": 1e-13, "xrtol": 1e-13, "fatol": 0.0, "frtol": 0.0},
    )  # fmt: skip
    result = others.copy()
    result[index] = np.exp(found.x)
    return result


def _range(trial: _Trial, duties: Sequence[Duty]) -> tuple[Array, Array]:
    """A least and a most flow per unit that hold the duty between them.

    Raises DropOutOfReach where even water that hardly moves does not give the drop.
    """
    conductance = np.zeros(len(trial.units))
    for u, unit in enumerate(trial.units):
        supply = trial.supply[unit.loop]
        for a in unit.arms:
            for cell in trial.system.arms[a].cells:
                excess = max(abs(supply - cell.room_c), 1.0)
                law = cell.characteristic
                conductance[u] += law.k_w_mkn * cell.factor * cell.length_m * excess ** (law.exponent - 1.0)
    cp = trial.water.heat_capacity_j_kgk(trial.supply[[unit.loop for unit in trial.units]])
    slowest = conductance / (cp * SLOWEST_TRANSFER_UNITS)
    lowest_drop = np.array(
        [
            duties[unit.loop].drop_k
            if duties[unit.loop].required_w_m is None
            else min(LEAST_DROP_K, duties[unit.loop].drop_k)
            for unit in trial.units
        ]
    )
    least = slowest * SLOWEST_TRANSFER_UNITS / 2.0
    wanted = np.array([duties[unit.loop].drop_k for unit in trial.units])
    greatest = np.zeros(least.size)
    while True:
        drop = trial.drop_k(least)
        greatest = np.maximum(greatest, drop)
        low = drop < wanted
        if not low.any():
            break
        if np.any(low & (least <= slowest)):
            u = int(np.flatnonzero(low & (least <= slowest))[0])
            raise DropOutOfReach(trial.system.loops[trial.units[u].loop].loop.name, wanted[u], float(greatest[u]))
        least = np.where(low, np.maximum(least / 2.0, slowest), least)
    most = least * 2.0
    while True:
        high = trial.drop_k(most) > lowest_drop
        if not high.any():
            break
        most = np.where(high, most * 2.0, most)
    by_loss = np.array([duties[unit.loop].required_w_m is not None for unit in trial.units])
    if by_loss.any():
        most = np.where(by_loss, _root(lambda x: trial.drop_k(x) - lowest_drop, least, most, by_loss, most), most)
    return least, most


def arm_settings(
    system: Assembly, solved: Operation, arm_flow: Array, supply_c: Array, water: Fluid
) -> dict[int, float]:
    """Kv of the arm valves, by place, that make two arms share one loop as `arm_flow` (kg/s).

    Each arm is solved by itself at its flow; the one that needs less pressure takes the difference.
    """
    path = system.loops[0]
    need, density, open_kv, places = [], [], [], []
    for number, flow in enumerate(arm_flow):
        single = assemble([replace(path, arms=(path.arms[number],), tail_flow=path.tail_flow[:1], tail_return=())])
        alone = operate(single, supply_c, water, flow_kg_s=float(flow))
        arm = [i for i, p in enumerate(single.places) if p.arm >= 0]
        need.append(_series_drop(single, alone, arm))
        valve = next(i for i in reversed(arm) if single.places[i].element.kind == "valve")
        density.append(alone.density_kg_m3[valve])
        open_kv.append(single.elements.kv_m3_h[valve])
        own = [i for i, p in enumerate(system.places) if p.arm == number and p.element.kind == "valve"]
        places.append(own[-1])
    settings = {}
    for number, flow in enumerate(arm_flow):
        surplus = max(need) - need[number]
        settings[places[number]] = throttled_kv(open_kv[number], float(flow), surplus, density[number])
    return settings


def _series_drop(system: Assembly, solved: Operation, members: Sequence[int]) -> float:
    """Pressure from the first to the last node of an arm: by its nodes where channels run in parallel."""
    links = {int(system.elements.link[i]) for i in members}
    if len(links) == 1:
        return float(solved.drop_pa[list(members)].sum())
    start = {int(system.network.start[link]) for link in links}
    end = {int(system.network.end[link]) for link in links}
    pressures_in = max(solved.pressure_pa[n] for n in start - end)
    pressures_out = min(solved.pressure_pa[n] for n in end - start)
    return float(pressures_in - pressures_out)


def throttled_kv(open_kv_m3_h: float, flow_kg_s: float, surplus_pa: float, density_kg_m3: float) -> float:
    """Kv that drops `surplus_pa` more than the open valve does at this flow (definition of Kv)."""
    volume_m3_h = 3600.0 * flow_kg_s / density_kg_m3
    open_drop_pa = 1e5 * (volume_m3_h / open_kv_m3_h) ** 2 * density_kg_m3 / 1000.0
    kv = volume_m3_h * np.sqrt(1e5 * density_kg_m3 / 1000.0 / (open_drop_pa + max(surplus_pa, 0.0)))
    return min(float(kv), open_kv_m3_h)
