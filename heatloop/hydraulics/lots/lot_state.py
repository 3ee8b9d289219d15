"""Sized dwellings as arrays: what tables and checks of many dwellings are made of."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_states import ArmStates
from heatloop.hydraulics.lots.dwelling import LotDwelling
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.sizing.sized_system import SizedSystem

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class LoopStates:
    """Loops (L): dwelling by number, flow, temperatures where the tails join, and pressures.

    open_head_pa: pressure drop of the loop with open valves. available_pa: between flow and return where it joins.
    """

    dwelling: Index
    flow_kg_s: Array
    supply_c: Array
    return_c: Array
    open_head_pa: Array
    available_pa: Array
    is_index: NDArray[np.bool_]
    tail_loss_w: Array


@dataclass(frozen=True, eq=False)
class ElementStates:
    """Elements (E) in the order of the network; kv_m3_h at calculated settings (inf: no valve)."""

    flow_kg_s: Array
    density_kg_m3: Array
    drop_pa: Array
    reynolds: Array
    inlet_c: Array
    kv_m3_h: Array
    balancing: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class TrunkStates:
    """Pipes of trunks: dwelling by number, label, velocity and pressure drop per metre."""

    dwelling: Index
    label: tuple[str, ...]
    velocity_m_s: Array
    gradient_pa_m: Array


@dataclass(frozen=True, eq=False)
class PumpStates:
    """Pumps: dwelling by number, name and head."""

    dwelling: Index
    name: tuple[str, ...]
    head_pa: Array


@dataclass(frozen=True, eq=False)
class SourceStates:
    """Heat sources, one for each dwelling (K): flow, density at the flow temperature, return, head and heat.

    bypass_kg_s: flow of all bypasses. index_loop: the loop that determines the head.
    """

    flow_kg_s: Array
    density_kg_m3: Array
    return_c: Array
    head_pa: Array
    heat_w: Array
    bypass_kg_s: Array
    index_loop: Index


@dataclass(frozen=True, eq=False)
class LotState:
    """Sized dwellings (K) with their loops, elements, arms, trunks, pumps and sources; emitter_w of other emitters."""

    dwellings: tuple[LotDwelling, ...]
    network: PipeNetwork
    loops: LoopStates
    elements: ElementStates
    arms: ArmStates
    emitter_w: Array
    trunks: TrunkStates
    pumps: PumpStates
    sources: SourceStates

    @classmethod
    def of_system(cls, system: SizedSystem) -> LotState:
        """A dwelling that was sized by itself, as a lot of one."""
        return _of_system(system)

    @property
    def count(self) -> int:
        """Number of dwellings."""
        return len(self.dwellings)

    @cached_property
    def element_loop(self) -> Index:
        """Loop of each element, (E); -1 for trunks and bypasses."""
        return np.array([place.loop for place in self.network.locations], dtype=np.intp)

    @cached_property
    def first_element(self) -> Index:
        """First element of each loop, (L)."""
        order = np.argsort(self.element_loop, kind="stable")
        return order[np.searchsorted(self.element_loop[order], np.arange(self.loops.flow_kg_s.size))]


def _of_system(system: SizedSystem) -> LotState:
    state, network, balance = system.state, system.state.network, system.balance
    nodes, loops = network.loop_nodes, len(network.loops)
    balancing = np.zeros(len(network.locations), bool)
    balancing[[valve.place for valve in system.valves if valve.balancing]] = True
    trunks = np.array([i for i, p in enumerate(network.locations) if p.element.kind == "trunk"], dtype=np.intp)
    elements, one = state.elements, np.zeros(1, np.intp)
    return LotState(
        dwellings=(LotDwelling.of_prepared(system.prepared),),
        network=network,
        loops=LoopStates(
            dwelling=np.zeros(loops, np.intp),
            flow_kg_s=state.loop_flow_kg_s,
            supply_c=state.supply_c,
            return_c=state.return_c,
            open_head_pa=np.array([sized.alone.head_pa for sized in system.sized_loops]),
            available_pa=state.pressure_pa[nodes[:, 0]] - state.pressure_pa[nodes[:, 1]],
            is_index=np.isin(np.arange(loops), balance.index_of_circuit),
            tail_loss_w=state.tail_loss_w,
        ),
        elements=ElementStates(
            flow_kg_s=state.flow_kg_s,
            density_kg_m3=state.density_kg_m3,
            drop_pa=state.drop_pa,
            reynolds=state.reynolds,
            inlet_c=state.temp_in_c,
            kv_m3_h=elements.kv_m3_h,
            balancing=balancing,
        ),
        arms=_arm_states(system),
        emitter_w=state.emitter_w,
        trunks=TrunkStates(
            dwelling=np.zeros(trunks.size, np.intp),
            label=tuple(network.locations[i].element.label for i in trunks),
            velocity_m_s=(state.flow_kg_s / (state.density_kg_m3 * elements.area_m2))[trunks],
            gradient_pa_m=state.drop_pa[trunks] / elements.length_m[trunks],
        ),
        pumps=PumpStates(
            np.zeros(len(network.circuits), np.intp),
            tuple(circuit.name for circuit in network.circuits),
            state.circuit_head_pa,
        ),
        sources=SourceStates(
            flow_kg_s=state.circuit_flow_kg_s[:1],
            density_kg_m3=np.atleast_1d(system.fluid.density_kg_m3(state.circuit_c[:1])),
            return_c=np.array([state.source_return_c]),
            head_pa=balance.heads_pa[:1],
            heat_w=np.array([state.given_w]),
            bypass_kg_s=np.array([state.bypass_kg_s.sum()]),
            index_loop=one + balance.index,
        ),
    )


def _arm_states(system: SizedSystem) -> ArmStates:
    arms = system.state.arms
    if not isinstance(arms, ArmStates):
        raise TypeError("a sized system has the arms of its solved groups")
    return arms
