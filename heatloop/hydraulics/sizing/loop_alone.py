"""Each loop by itself at its sized flow: pressures, calculated from the temperatures of the sizing.

Where the water of a loop divides by symmetry, or by arm valves set for it, all flows and temperatures of its elements
are known after sizing, and its pressure drop is a sum. Other loops are solved for heat and flow together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
    flow = _element_flows(network, flows, loop_kg_s)
    drop, _, _ = network.elements.drop(flow, density, viscosity)
    return_c = temp_c[network.temperatures.loop_return]
    kv = network.elements.kv_m3_h.copy()
    alone, owner = [], np.array([place.loop for place in network.locations])
    for loop in range(len(network.loops)):
        own = np.flatnonzero(owner == loop)
        arms = np.flatnonzero(network.arm_loop == loop).tolist()
        need = {arm: float(drop[_in_line(network, own, arm)].sum()) for arm in arms}
        if len(arms) > 1:
            for arm in arms:
                valve = next((i for i in reversed(own) if _is_valve_of(network, i, arm)), None)
                if valve is not None:
                    surplus = max(need.values()) - need[arm]
                    kv[valve] = throttled_kv(kv[valve], float(flow[valve]), surplus, float(density[valve]))
        tails_pa = sum(float(drop[i]) for i in own if network.locations[i].arm < 0)
        alone.append(
            LoopAlone(
                supply_c=float(flows.supply_c[loop]),
                return_c=float(return_c[loop]),
                head_pa=tails_pa + max(need.values()),
                kv_m3_h=kv[own],
                flow_kg_s=flow[own],
                density_kg_m3=density[own],
            )
        )
    return tuple(alone)


def _is_valve_of(network: PipeNetwork, place: int, arm: int) -> bool:
    location = network.locations[place]
    return location.arm == arm and location.element.kind == "valve"


def _in_line(network: PipeNetwork, own: NDArray[np.intp], arm: int) -> list[int]:
    """Elements of an arm that water passes one after the other; of equal parallel channels, one."""
    directions = network.arms[arm].directions
    passed = {0, *(directions.index(sign) + 1 for sign in (1, -1) if sign in directions)}
    return [i for i in own if network.locations[i].arm == arm and network.locations[i].element.channel in passed]


def _element_flows(network: PipeNetwork, flows: LoopFlows, loop_kg_s: Array) -> Array:
    """Flow of each element, (E) kg/s."""
    flow_kg_s = np.empty(len(network.locations))
    for i, place in enumerate(network.locations):
        if place.arm < 0:
            flow_kg_s[i] = loop_kg_s[place.loop]
            continue
        channel = place.element.channel
        share = flows.channel_share[place.arm][channel - 1] if channel > 0 else 1.0
        flow_kg_s[i] = flows.arm_kg_s[place.arm] * share
    return flow_kg_s


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
        member = (network.arm_loop[None, :] == np.arange(loops)[:, None]).astype(float)
        foot_c = mixed_temperature_c(fluid, member, flows.arm_kg_s[:, None], arm_return_c[:, None])[:, 0]
    ahead = tail_passed(network, loop_kg_s, flows.supply_c, fluid, "flow")
    back = tail_passed(network, loop_kg_s, foot_c, fluid, "return")
    temp_c[at.supply], temp_c[at.head], temp_c[at.foot] = flows.supply_c, ahead.outlet_c, foot_c
    temp_c[at.loop_return], temp_c[at.arm_return] = back.outlet_c, arm_return_c
    for ends in (at.main_start, at.main_end):
        temp_c[ends][network.solver_index.back_links] = loop_kg_s @ back.outlet_c / loop_kg_s.sum()
    for step in (*ahead.steps, *back.steps):
        temp_c[at.emitter_in][step.emitter] = step.inlet_c[0]
        temp_c[at.emitter_out][step.emitter] = step.outlet_c[0]
    return temp_c


def throttled_kv(open_kv_m3_h: float, flow_kg_s: float, surplus_pa: float, density_kg_m3: float) -> float:
    """Kv at which a valve drops `surplus_pa` more than when open, at this flow (definition of Kv)."""
    flow_m3_h = HOUR_S * flow_kg_s / density_kg_m3
    open_drop_pa = pressure_drop_from_kv_pa(flow_m3_h, open_kv_m3_h, density_kg_m3)
    kv = kv_from_pressure_drop(flow_m3_h, open_drop_pa + max(surplus_pa, 0.0), density_kg_m3)
    return min(kv, open_kv_m3_h)
