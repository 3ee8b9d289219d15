"""A simulated site with known faults, solved with the full network model, and the readings taken from it.

For practice, and to measure how often a diagnosis is right. The model of the diagnosis is not used here. Valves,
outputs, heads, losses and the source deviate from the design as on real sites. Furniture covers part of a loop
unevenly. Each room
has the temperature at which its heat loss equals its heat input."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from heatloop.diagnosis.fault_types import (
    AIR,
    INTERCHANGED,
    KINDS,
    LITTLE_HEAD,
    LITTLE_HEAT,
    LITTLE_WATER,
    MUCH_HEAD,
    MUCH_WATER,
    SWAPPED,
    TOO_COOL,
    TOO_WARM,
    FaultKind,
    FaultType,
)
from heatloop.diagnosis.site_model.as_commissioned import ScaledPump, commissioned_site, inlet_locations
from heatloop.hydraulics.from_survey import has_presetting, network_from
from heatloop.hydraulics.heat.arm_groups import ArmGroup, CellChanges
from heatloop.hydraulics.model import ArmPath, LoopPath, PathElement, Side
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.sizing.balancing import balancing_places
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.hydraulics.solver.coupled import solve_heat_and_flow
from heatloop.hydraulics.solver.operating_state import circuit_temps_c
from heatloop.hydraulics.solver.problem import OperatingProblem, OperatingSolution

Array = NDArray[np.float64]

CELL_NUMBER, TOLERANCE = 1.0, 1e-6

ROOM_TOLERANCE_K = 0.05

MAX_ROOM_STEPS = 12

SHUT_KG_S = 1e-9

DAY_SPREAD_K = 1.0
"""How far rooms that are not yet steady are from their design temperature."""


@dataclass(frozen=True)
class SiteFault:
    """A fault of a simulated site, for :func:`heatloop.simulate_readings`.

    Attributes
    ----------
    kind : str
        The kind of fault, for example "too little water"; `SiteFault.kinds` lists all.
    loop : str, default ""
        The loop; "" for a fault of the whole site.
    size : float, default 1.0
        The size: the remaining share of the expected flow, output or head, or the deviation of the source in K. Too
        much water has no size: the balancing valve is fully open.
    arm : int, default 0
        Arm of the loop, from 1; 0 for the whole loop.
    channel : int, default 0
        For air in a channel: its number, from 1; it passes `size` of its flow. 0 for any other fault.
    other : str, default ""
        For loops interchanged: the second loop; "" for any other fault.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.SiteFault("too little water", loop="Kitchen", size=0.3).size
    0.3
    """

    kind: FaultKind
    loop: str = ""
    size: float = 1.0
    arm: int = 0
    channel: int = 0
    other: str = ""

    @staticmethod
    def kinds() -> tuple[FaultType, ...]:
        """All kinds of faults: name, causes, first action, and how to distinguish the causes.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.SiteFault.kinds()[0].name
        'no fault'
        """
        return tuple(KINDS.values())


@dataclass(frozen=True)
class SiteDeviations:
    """Relative spreads of a real site about its design, and in K of its source."""

    kv: float = 0.10
    output: float = 0.05
    head: float = 0.05
    source_k: float = 0.7
    losses: float = 0.10
    room_loss: float = 0.12


@dataclass(frozen=True)
class Instruments:
    """Errors of the instruments, and further readings; bias_k None: random, 1 to 3 K in both directions."""

    surface_k: float = 0.5
    bias_k: float | None = None
    room_k: float = 0.5
    outdoor_k: float = 1.0
    setting_k: float = 0.5
    flow_share: float = 0.05
    loop_meters: bool = False
    total_meter: bool = False
    head_gauge: bool = False
    steady: bool = True
    rooms: bool = True


@dataclass(frozen=True)
class SimulatedTruth:
    """True values of the site: flows of loops (L) in l/h, return temperatures (L), source_c, bias_k, rooms."""

    flow_l_h: Array
    return_c: Array
    source_c: float
    bias_k: float
    room_c: Mapping[str, float]


class SimulatedSite:
    """The altered system and its rooms."""

    def __init__(
        self,
        system: SizedSystem,
        faults: Sequence[SiteFault],
        rng: np.random.Generator,
        deviations: SiteDeviations,
        setting_c: float,
        outdoor_c: float,
    ) -> None:
        self.system, self.faults, self.rng, self.outdoor_c = system, faults, rng, outdoor_c
        self.left = commissioned_site(system, thermostatic_heads_removed=True)
        self.names = [path.loop.name for path in self.left.network.loops]
        self.network = self._with_swapped(self.left.network)
        shift = sum(f.size for f in faults if f.kind in (TOO_COOL, TOO_WARM))
        self.source_c = setting_c + shift + deviations.source_k * float(rng.standard_normal())
        self.zeta, self.kv = self.network.elements.zeta.copy(), self._strayed_kv(deviations.kv)
        self.held = np.full(len(self.names), np.inf)
        self.emission = [group.runs.emission_w_mkn.copy() for group in self.network.groups]
        for a in range(len(self.network.arms)):
            self._scale_arm(a, math.exp(deviations.output * float(rng.standard_normal())))
        self.head = np.exp(deviations.head * rng.standard_normal(len(self.network.circuits)))
        for fault in faults:
            self._inject(fault)
        self.room_c = {room.name: room.indoor_c for room in system.survey.rooms}
        common = deviations.losses * float(rng.standard_normal())
        self.loss_w_k, self.gain_w = {}, {}
        for loss in system.room_losses:
            span = max(self.room_c[loss.room] - system.survey.project.outdoor_c, 5.0)
            factor = math.exp(common + deviations.room_loss * float(rng.standard_normal()))
            self.loss_w_k[loss.room] = loss.total_w / span * factor
            self.gain_w[loss.room] = loss.total_w * float(rng.uniform(0.0, 0.1))

    def _strayed_kv(self, spread: float) -> Array:
        kv = self.network.elements.kv_m3_h.copy()
        for i, place in enumerate(self.network.locations):
            if place.element.kind == "valve":
                kv[i] *= math.exp(spread * float(self.rng.standard_normal()))
        return kv

    # --- faults -------------------------------------------------------------------------------------

    def _with_swapped(self, network: PipeNetwork) -> PipeNetwork:
        swapped = {fault.loop for fault in self.faults if fault.kind == SWAPPED}
        if not swapped:
            return network
        others = {network.loops[i].loop.name for i in network.emitters.loop}
        if swapped & others:
            raise ValueError(f"{', '.join(swapped & others)}: must be loops without other emitters to be swapped")
        paths = [_reversed_loop(p) if p.loop.name in swapped else p for p in network.loops]
        again = network_from(self.system.survey, paths)
        return again.with_kv(dict(enumerate(network.elements.kv_m3_h)))

    def _inject(self, fault: SiteFault) -> None:
        if fault.kind in (LITTLE_HEAD, MUCH_HEAD):
            self.head[0] *= fault.size
        elif fault.kind == LITTLE_WATER:
            self._starve(fault)
        elif fault.kind == MUCH_WATER:
            for place in self._balancing(fault):
                valve = self.system.survey.catalogue.valve(self.network.locations[place].element.valve or "")
                self.kv[place] = valve.kvs_m3_h if valve.kvs_m3_h is not None else valve.kv_open_m3_h
        elif fault.kind == AIR:
            self._air(fault)
        elif fault.kind == LITTLE_HEAT:
            for a in self._arms(fault):
                self._cover(a, fault.size)

    def read_at(self) -> list[int]:
        """The loop whose pipes at the distribution have the name of each loop."""
        found = list(range(len(self.names)))
        for fault in self.faults:
            if fault.kind == INTERCHANGED:
                i, j = self.names.index(fault.loop), self.names.index(fault.other)
                found[i], found[j] = found[j], found[i]
        return found

    def _loop(self, fault: SiteFault) -> int:
        return self.names.index(fault.loop)

    def _arms(self, fault: SiteFault) -> list[int]:
        own = [a for a in range(len(self.network.arms)) if self.network.arm_loop[a] == self._loop(fault)]
        return [own[fault.arm - 1]] if fault.arm else own

    def _balancing(self, fault: SiteFault) -> list[int]:
        if fault.arm:
            own = self._arms(fault)[0]
            return [i for i, p in enumerate(self.network.locations) if p.arm == own and p.element.kind == "valve"][-1:]
        return balancing_places(self.network, self._loop(fault), has_presetting(self.system.survey))

    def _starve(self, fault: SiteFault) -> None:
        """Resistance that leaves about `size` of the flow, nothing at all for 0."""
        loop = self._loop(fault)
        if fault.size <= 0.0 and not fault.arm:
            self.held[loop] = 0.0
            return
        state, share = self.system.state, max(fault.size, 0.005)
        places = inlet_locations(self.network, loop, self._arms(fault)[0] if fault.arm else -1)
        nodes = state.network.loop_nodes[loop]
        head_pa = float(state.pressure_pa[nodes[0]] - state.pressure_pa[nodes[1]])
        for place in places:
            speed = state.flow_kg_s[place] / state.density_kg_m3[place] / self.network.elements.area_m2[place]
            dynamic = 0.5 * state.density_kg_m3[place] * speed**2
            self.zeta[place] += head_pa * (1.0 - share**1.8) / (dynamic * share**2)

    def _air(self, fault: SiteFault) -> None:
        """One of several parallel channels has `size` of its flow."""
        arm = self._arms(fault)[0]
        places = [
            i for i, p in enumerate(self.network.locations) if p.arm == arm and p.element.channel == fault.channel
        ]
        state = self.system.state
        drop = float(np.abs(state.drop_pa[places]).sum())
        speed = state.flow_kg_s[places[0]] / state.density_kg_m3[places[0]] / self.network.elements.area_m2[places[0]]
        self.zeta[places[0]] += drop / (0.5 * state.density_kg_m3[places[0]] * speed**2 * max(fault.size, 0.02) ** 2)

    def _cells(self, arm: int) -> tuple[int, slice]:
        for g, group in enumerate(self.network.groups):
            if arm in group.arms:
                at = group.arms.index(arm)
                return g, slice(group.runs.start[at], group.runs.start[at + 1])
        raise ValueError(f"arm {arm} is in no group")

    def _scale_arm(self, arm: int, factor: float) -> None:
        group, cells = self._cells(arm)
        self.emission[group][:, cells] *= factor

    def _cover(self, arm: int, size: float) -> None:
        """Furniture along part of an arm, its cells in a row, so that about `size` of its output is left."""
        group, cells = self._cells(arm)
        length = self.network.groups[group].runs.length_m[cells] * self.emission[group][0, cells]
        part = max(float(self.rng.uniform(0.6, 1.0)), 1.0 - size + 0.05)
        first = float(self.rng.uniform(0.0, 1.0 - part))
        ends = np.cumsum(length) / length.sum()
        begins = ends - length / length.sum()
        covered = np.clip(np.minimum(ends, first + part) - np.maximum(begins, first), 0.0, None) / (ends - begins)
        self.emission[group][:, cells] *= 1.0 - covered * (1.0 - size) / part

    # --- solving ------------------------------------------------------------------------------------

    def solve_as_found(self) -> OperatingSolution:
        """With rooms near their design temperatures."""
        for room in self.room_c:
            self.room_c[room] += DAY_SPREAD_K * float(self.rng.standard_normal())
        return self._solve()

    def solve_steady(self) -> OperatingSolution:
        """With rooms at the temperature at which heat loss and heat input are equal."""
        for _ in range(MAX_ROOM_STEPS):
            answer = self._solve()
            heat_w = self.room_w(answer)
            moved = 0.0
            for room, loss in self.loss_w_k.items():
                if room not in heat_w or loss <= 0.0:
                    continue
                room_c = self.room_c[room]
                excess = max(self.source_c - 3.0 - room_c, 3.0)
                surplus = heat_w[room] + self.gain_w[room] - loss * (room_c - self.outdoor_c)
                change = float(np.clip(surplus / (loss + 1.3 * heat_w[room] / excess), -6.0, 6.0))
                self.room_c[room] += change
                moved = max(moved, abs(change))
            if moved < ROOM_TOLERANCE_K:
                break
        return self._solve()

    def _solve(self) -> OperatingSolution:
        network = self.network
        groups = tuple(
            replace(group, runs=replace(group.runs, emission_w_mkn=emission))
            for group, emission in zip(network.groups, self.emission, strict=True)
        )
        rooms = np.array([self.room_c[network.locations[i].element.room] for i in network.emitters.place])
        network = replace(
            network,
            groups=groups,
            elements=replace(network.elements, zeta=self.zeta, kv_m3_h=self.kv),
            emitters=replace(network.emitters, room_c=rooms),
        )
        problem = OperatingProblem(
            supply_c=self.left.max_c(self.source_c)[:, None],
            circuit_c=circuit_temps_c(network, self.source_c),
            pumps=tuple(ScaledPump(pump, self.head[[p]]) for p, pump in enumerate(self.left.pumps)),
            held_kg_s=self.held[:, None] if np.isfinite(self.held).any() else None,
            changes=tuple(CellChanges(self._rooms_of(group)[None, :]) for group in groups),
            cell_number=CELL_NUMBER,
        )
        initial_guess_kg_s = np.minimum(self.system.state.loop_flow_kg_s, self.held)[:, None]
        return solve_heat_and_flow(network, problem, self.left.fluid, initial_guess_kg_s, TOLERANCE)

    def _rooms_of(self, group: ArmGroup) -> Array:
        return np.array([self.room_c[cell.room] for a in group.arms for cell in self.network.arms[a].cells])

    def loop_kg_s(self, answer: OperatingSolution) -> Array:
        flow = answer.flow_kg_s[self.network.loop_link, 0]
        return np.where(flow <= SHUT_KG_S, 0.0, flow)

    def room_w(self, answer: OperatingSolution) -> dict[str, float]:
        """Heat into each room, W."""
        shut = self.loop_kg_s(answer) <= SHUT_KG_S
        heat_to_room_w: dict[str, float] = {}
        for heat in answer.heats:
            offsets = np.concatenate([[0], np.cumsum(heat.parts)[:-1]])
            heat_w = np.add.reduceat(heat.channels.emitted_w.sum(axis=0), offsets)
            cells = [(a, cell) for a in heat.group.arms for cell in self.network.arms[a].cells]
            for (a, cell), value in zip(cells, heat_w, strict=True):
                into_room_w = 0.0 if shut[self.network.arm_loop[a]] else float(value) * cell.useful
                heat_to_room_w[cell.room] = heat_to_room_w.get(cell.room, 0.0) + into_room_w
        flow, at = self.loop_kg_s(answer), self.network.element_temps
        for i, loop in zip(self.network.emitters.place, self.network.emitters.loop, strict=True):
            ends = answer.temp_c[[at.inlet[i], at.outlet[i]], 0]
            enthalpy = self.left.fluid.enthalpy_j_kg(ends)
            room = self.network.locations[i].element.room
            heat_to_room_w[room] = heat_to_room_w.get(room, 0.0) + float(flow[loop] * (enthalpy[0] - enthalpy[1]))
        return heat_to_room_w


def _reversed_loop(path: LoopPath) -> LoopPath:
    """The loop with flow and return swapped: water enters at the return connection."""
    loss = path.tail_loss
    return replace(
        path,
        arms=tuple(_reversed_arm(arm) for arm in path.arms),
        tail_loss=replace(loss, flow_w_k=loss.return_w_k, return_w_k=loss.flow_w_k),
    )


def _reversed_arm(arm: ArmPath) -> ArmPath:
    one_way = all(direction > 0 for direction in arm.directions)
    nodes = len(arm.cells)

    def turned(element: PathElement) -> PathElement:
        if one_way:
            return replace(element, node_in=nodes - element.node_out, node_out=nodes - element.node_in)
        direction: Side = "return" if element.direction == "flow" else "flow"
        return replace(element, node_in=element.node_out, node_out=element.node_in, direction=direction)

    return replace(
        arm,
        directions=arm.directions if one_way else tuple(-d for d in arm.directions),
        cells=arm.cells[::-1] if one_way else arm.cells,
        channels=tuple(tuple(turned(e) for e in reversed(channel)) for channel in arm.channels),
    )
