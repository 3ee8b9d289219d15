"""Each loop by itself at its sized flow: pressures, calculated from the temperatures of the sizing.

Where the water of a loop divides by symmetry, or by arm valves set for it, all flows and temperatures of its elements
are known after sizing, and its pressure drop is a sum. Other loops are solved for heat and flow together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from heatloop.hydraulics.heat.channel_heat import coarse_temperatures_c
from heatloop.hydraulics.heat.group_temperatures import GroupTemperatures
from heatloop.hydraulics.heat.mixing import mixed_temperature_c
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.pumps import HOUR_S
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.hydraulics.solver.tail_loss import tail_passed
from heatloop.physics.valves import kv_from_pressure_drop, pressure_drop_from_kv_pa
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class LoopAlone:
    """A loop by itself at its sized flow.

    Temperatures where its tails join, and the head that it requires. For each of its elements (E), in the order of a
    network: Kv (inf: no valve), flow and density.
    """

    supply_c: float
    return_c: float
    head_pa: float
    kv_m3_h: Array
    flow_kg_s: Array
    density_kg_m3: Array

    @classmethod
    def of(cls, state: SystemState) -> LoopAlone:
        """Build from a solved network of one loop."""
        return cls(
            supply_c=float(state.supply_c[0]),
            return_c=state.source_return_c,
            head_pa=state.head_pa,
            kv_m3_h=state.elements.kv_m3_h,
            flow_kg_s=state.flow_kg_s,
            density_kg_m3=state.density_kg_m3,
        )


@dataclass(frozen=True, eq=False)
class LoopFlows:
    """Flow of each arm (A) in kg/s, the share of each of its channels, and the groups of arms solved with them.

    supply_c (L): temperature where the tails of the loops join.
    """

    supply_c: Array
    arm_kg_s: Array
    channel_share: Sequence[Array]
    heats: Sequence[GroupTemperatures]


def loops_alone(network: PipeNetwork, flows: LoopFlows, fluid: Fluid) -> tuple[LoopAlone, ...]:
    """Every loop of a network without trunks by itself; several arms are balanced by their own valves.

    The results are not valid for a loop whose channels share its water otherwise than in the given flows.
    """
    loop_kg_s = np.bincount(network.arm_loop, flows.arm_kg_s, len(network.loops)).astype(float)
    temp_c = temperatures_c(network, flows, loop_kg_s, fluid)
    density, viscosity = fluid.density_and_viscosity(network.element_temps.mean @ temp_c)
    elements = _Elements.of(network)
    flow = elements.flow_kg_s(flows, loop_kg_s)
    drop, _, _ = network.elements.drop(flow, density, viscosity)
    in_line = np.flatnonzero(elements.in_line)
    need = np.bincount(elements.arm[in_line], drop[in_line], len(network.arms)).astype(float)
    in_tails = np.flatnonzero(elements.arm < 0)
    tails_pa = np.bincount(elements.loop[in_tails], drop[in_tails], len(network.loops)).astype(float)
    greatest = np.zeros(len(network.loops))
    np.maximum.at(greatest, network.arm_loop, need)
    return_c, kv = temp_c[network.temperatures.loop_return], network.elements.kv_m3_h.copy()
    for loop in np.flatnonzero(np.bincount(network.arm_loop) > 1):
        for arm in np.flatnonzero(network.arm_loop == loop):
            own_valves = np.flatnonzero((elements.arm == arm) & np.isfinite(kv))
            if own_valves.size:
                valve = int(own_valves[-1])
                surplus = float(greatest[loop] - need[arm])
                kv[valve] = throttled_kv(kv[valve], float(flow[valve]), surplus, float(density[valve]))
    bounds = np.searchsorted(elements.loop, np.arange(len(network.loops) + 1))
    return tuple(
        LoopAlone(
            supply_c=float(flows.supply_c[loop]),
            return_c=float(return_c[loop]),
            head_pa=float(tails_pa[loop] + greatest[loop]),
            kv_m3_h=kv[first:last],
            flow_kg_s=flow[first:last],
            density_kg_m3=density[first:last],
        )
        for loop, (first, last) in enumerate(pairwise(bounds.tolist()))
    )


@dataclass(frozen=True, eq=False)
class _Elements:
    """Elements (E) of loops without trunks: loop, arm (-1: tail) and channel (from 1; 0: all water) of each.

    in_line: elements of arms that water passes one after the other; of equal parallel channels, one.
    """

    loop: Index
    arm: Index
    channel: Index
    in_line: NDArray[np.bool_]

    @classmethod
    def of(cls, network: PipeNetwork) -> _Elements:
        """The elements of a network, which are in the order of its loops."""
        places = network.locations
        arm = np.array([place.arm for place in places], dtype=np.intp)
        channel = np.array([place.element.channel for place in places], dtype=np.intp)
        passed = np.zeros((len(network.arms) + 1, 1 + max(len(path.directions) for path in network.arms)), bool)
        for number, path in enumerate(network.arms):
            passed[number, [0, *(path.directions.index(sign) + 1 for sign in (1, -1) if sign in path.directions)]] = (
                True
            )
        return cls(np.array([place.loop for place in places], dtype=np.intp), arm, channel, passed[arm, channel])

    def flow_kg_s(self, flows: LoopFlows, loop_kg_s: Array) -> Array:
        """Flow of each element, (E)."""
        share = np.ones((len(flows.channel_share), 1 + max(own.size for own in flows.channel_share)))
        for number, own in enumerate(flows.channel_share):
            share[number, 1 : 1 + own.size] = own
        in_arm = flows.arm_kg_s[self.arm] * share[self.arm, self.channel]
        return np.where(self.arm < 0, loop_kg_s[self.loop], in_arm)


def temperatures_c(network: PipeNetwork, flows: LoopFlows, loop_kg_s: Array, fluid: Fluid) -> Array:
    """All temperatures of loops whose arms are solved, in the vector of the network (T).

    Trunks and bypasses have the temperature of the warmest loop, trunks on the return the mean of the loops.
    """
    at, loops = network.temperatures, len(network.loops)
    temp_c = np.full(at.size, flows.supply_c.max())
    arm_return_c = np.empty(len(network.arms))
    for heat, nodes, cells in zip(flows.heats, at.group_nodes, at.group_cells, strict=True):
        arm_return_c[list(heat.group.arms)] = heat.joined_c
        temp_c[nodes], temp_c[cells] = (part.ravel() for part in coarse_temperatures_c(heat))
    foot_c = arm_return_c
    if arm_return_c.size > loops:
        member = csr_matrix((np.ones(arm_return_c.size), (network.arm_loop, np.arange(arm_return_c.size))))
        foot_c = mixed_temperature_c(fluid, member, flows.arm_kg_s[:, None], arm_return_c[:, None])[:, 0]
    ahead = tail_passed(network, loop_kg_s, flows.supply_c, fluid, "flow")
    back = tail_passed(network, loop_kg_s, foot_c, fluid, "return")
    temp_c[at.supply], temp_c[at.head], temp_c[at.foot] = flows.supply_c, ahead.outlet_c, foot_c
    temp_c[at.loop_return], temp_c[at.arm_return] = back.outlet_c, arm_return_c
    for ends in (at.main_start, at.main_end):
        temp_c[ends][network.solver_index.back_links] = loop_kg_s @ back.outlet_c / loop_kg_s.sum()
    for step in (*ahead.steps, *back.steps):
        temp_c[at.emitter_in][step.emitter] = step.inlet_c
        temp_c[at.emitter_out][step.emitter] = step.outlet_c
    return temp_c


def throttled_kv(open_kv_m3_h: float, flow_kg_s: float, surplus_pa: float, density_kg_m3: float) -> float:
    """Kv at which a valve drops `surplus_pa` more than when open, at this flow (definition of Kv)."""
    flow_m3_h = HOUR_S * flow_kg_s / density_kg_m3
    open_drop_pa = pressure_drop_from_kv_pa(flow_m3_h, open_kv_m3_h, density_kg_m3)
    kv = kv_from_pressure_drop(flow_m3_h, open_drop_pa + max(surplus_pa, 0.0), density_kg_m3)
    return min(kv, open_kv_m3_h)
