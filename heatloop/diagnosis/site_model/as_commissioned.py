"""A system as designed, and the solution of its circuit for many cases at once.

Valves and pumps are as designed, thermostatic heads on or off. Cases alter that: more resistance in a loop, a valve
opened, another head, cooler water. All are solved together by :mod:`heatloop.hydraulics.solver.coupled`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.from_survey import fluid_from, pumps_from, supply_temp_c
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.network.trunk_loss import temperature_at_loops_c
from heatloop.hydraulics.pumps import PumpCharacteristic, pump_as_commissioned
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.hydraulics.sizing.valve_settings import nearest_settings, valve_locations
from heatloop.hydraulics.solver.coupled import solve_heat_and_flow
from heatloop.hydraulics.solver.operating_state import circuit_temps_c
from heatloop.hydraulics.solver.problem import OperatingProblem, OperatingSolution
from heatloop.physics.valves import kv_with_zeta
from heatloop.physics.water import Fluid
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.survey import SurveyData

Array = NDArray[np.float64]

CELL_NUMBER = 3.0
"""Cells of the channels in cases and tables: coarse, which moves temperatures by less than 0.01 K."""

TOLERANCE = 1e-6


@dataclass(frozen=True)
class CommissionedSite:
    """The site as designed.

    Its network with the thermostatic heads fitted or removed, its water, and `pumps` of all circuits, the
    source first, at the head of the design.
    """

    system: SizedSystem
    network: PipeNetwork
    fluid: Fluid
    pumps: tuple[PumpCharacteristic, ...]

    @property
    def survey(self) -> SurveyData:
        return self.system.survey

    @property
    def source_c(self) -> float:
        """Flow temperature of the source in the design."""
        return self.survey.project.flow_temp_c

    def max_c(self, source_c: float) -> Array:
        """Flow temperature of every loop, (L), with this at the source, without heat loss of trunks."""
        return np.array([supply_temp_c(self.survey, path.loop, source_c) for path in self.network.loops])

    def supply_c(self, source_c: float) -> Array:
        """Flow temperature that reaches every loop, (L), with this at the source and the flows of the design."""
        network, state = self.network, self.system.state
        streams = np.concatenate([state.loop_draw_share * state.loop_flow_kg_s, state.bypass_kg_s, state.drawn_kg_s])
        circuit_c = circuit_temps_c(network, source_c)
        return temperature_at_loops_c(
            network.solver_index.losses,
            streams,
            circuit_c,
            network.loop_nodes[:, 0],
            self.max_c(source_c),
            self.fluid,
        )


def inlet_locations(network: PipeNetwork, loop: int, arm: int = -1) -> list[int]:
    """Places of elements that carry all the water of a loop, or of an arm (by its place): one in series, or one a
    channel."""
    locations = network.locations
    if arm < 0:
        return [next(i for i, p in enumerate(locations) if p.loop == loop and p.arm < 0)]
    own = [i for i, p in enumerate(locations) if p.arm == arm]
    whole = [i for i in own if locations[i].element.channel == 0]
    if whole:
        return whole[:1]
    first = {locations[i].element.channel: i for i in reversed(own) if locations[i].element.direction == "flow"}
    return list(first.values())


@dataclass(frozen=True)
class SiteCase:
    """Differences from the expected site.

    Additional zeta and Kv by element, the head of each circuit as a share, and the deviation of the source temperature
    in K.
    """

    zeta: Mapping[int, float] = field(default_factory=dict)
    kv_m3_h: Mapping[int, float] = field(default_factory=dict)
    head: Mapping[int, float] = field(default_factory=dict)
    source_k: float = 0.0


@dataclass(frozen=True)
class SiteFlows:
    """Solution of S cases: arm_kg_s (A, S), head_pa of the pump of each circuit (P, S), and the complete solution."""

    arm_kg_s: Array
    head_pa: Array
    answer: OperatingSolution


@dataclass(frozen=True, eq=False)
class ScaledPump:
    """A pump characteristic with its head as a share of the original head, (S); a pump on its curve is slowed by the
    affinity laws."""

    pump: PumpCharacteristic
    share: Array

    def head_pa(self, flow_m3_s: Array) -> tuple[Array, Array]:
        """Head in Pa and slope in Pa/(m3/s), (S)."""
        speed = np.sqrt(self.share)
        head, slope = self.pump.head_pa(flow_m3_s / speed)
        return head * self.share, slope * speed


def commissioned_site(system: SizedSystem, thermostatic_heads_removed: bool) -> CommissionedSite:
    """The site of a design, its thermostatic heads off, or on and at their proportional band."""
    network, catalogue = system.state.network, system.survey.catalogue
    exact = {place: float(network.elements.kv_m3_h[place]) for place in valve_locations(network)}
    presets = nearest_settings(network, exact, catalogue)
    kv = {place: preset.kv_m3_h for place, preset in presets.items()}
    if thermostatic_heads_removed:
        kv |= _heads_removed_kv(network, kv, catalogue)
    fluid = fluid_from(system.survey)
    return CommissionedSite(system, network.with_kv(kv), fluid, _pumps(system, fluid))


def _heads_removed_kv(network: PipeNetwork, kv_m3_h: Mapping[int, float], catalogue: Catalogue) -> dict[int, float]:
    """Kv of thermostatic valves without their heads, by place; at a lower presetting by the same share (common
    practice)."""
    off = {}
    for place, name in valve_locations(network).items():
        valve = catalogue.valve(name)
        if valve.kvs_m3_h is not None:
            off[place] = valve.kvs_m3_h * kv_m3_h[place] / valve.kv_open_m3_h
    return off


def _pumps(system: SizedSystem, fluid: Fluid) -> tuple[PumpCharacteristic, ...]:
    """The pumps of all circuits as commissioned for the design."""
    state = system.state
    density = fluid.density_kg_m3(state.circuit_c)
    pumps = pumps_from(system.survey, state.network)
    duties = zip(pumps, state.circuit_flow_kg_s, density, state.circuit_head_pa, strict=True)
    return tuple(pump_as_commissioned(pump, float(flow / rho), float(head)) for pump, flow, rho, head in duties)


def solve_cases(site: CommissionedSite, cases: Sequence[SiteCase]) -> SiteFlows:
    """The cases solved together with the full circuit, rooms at their design temperatures."""
    network = site.network
    count = len(cases)
    kv = np.repeat(network.elements.kv_m3_h[:, None], count, axis=1)
    heads = np.ones((len(network.circuits), count))
    supply, circuits = [], []
    for s, case in enumerate(cases):
        for place, value in case.kv_m3_h.items():
            kv[place, s] = value
        for place, zeta in case.zeta.items():
            kv[place, s] = kv_with_zeta(float(kv[place, s]), zeta, float(network.elements.area_m2[place]))
        for circuit, share in case.head.items():
            heads[circuit, s] = share
        source_c = site.source_c + case.source_k
        supply.append(site.max_c(source_c))
        circuits.append(circuit_temps_c(network, source_c))
    problem = OperatingProblem(
        supply_c=np.stack(supply, axis=1),
        circuit_c=np.concatenate(circuits, axis=1),
        pumps=tuple(ScaledPump(pump, heads[p]) for p, pump in enumerate(site.pumps)),
        elements=replace(network.elements, kv_m3_h=kv),
        cell_number=CELL_NUMBER,
    )
    initial_guess_kg_s = np.repeat(site.system.state.loop_flow_kg_s[:, None], count, axis=1)
    answer = solve_heat_and_flow(network, problem, site.fluid, initial_guess_kg_s, TOLERANCE)
    pressure = answer.pressure_pa
    head = np.stack([pressure[c.flow] - pressure[c.back] for c in network.circuits])
    return SiteFlows(arm_flows_kg_s(network, answer.flow_kg_s), head, answer)


def arm_flows_kg_s(network: PipeNetwork, link_kg_s: Array) -> Array:
    """Flow of every arm, (A, S): what its outward channels carry."""
    flows = []
    for arm, links in zip(network.arms, network.channel_link, strict=True):
        out = np.asarray(arm.directions) > 0
        flows.append(link_kg_s[links[out]].sum(axis=0))
    return np.stack(flows)
