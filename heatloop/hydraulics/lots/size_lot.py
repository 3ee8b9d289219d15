"""Size the loops of many dwellings side by side, balance them and set their valves.

Every dwelling is a circuit of its own under its own source, so that the dwellings do not affect each other. The results
are those of :mod:`heatloop.hydraulics.sizing.size_system`, without the state at the nearest valve settings.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.from_survey import has_presetting, supply_temp_c
from heatloop.hydraulics.heat.arm_results import GroupArmResults
from heatloop.hydraulics.heat.arm_states import ArmStates
from heatloop.hydraulics.heat.channel_heat import solve_group
from heatloop.hydraulics.lots.balance import LotBalance, SizedFlows
from heatloop.hydraulics.lots.dwelling import LotDwelling
from heatloop.hydraulics.lots.lot_state import (
    ElementStates,
    LoopStates,
    LotState,
    PumpStates,
    SourceStates,
    TrunkStates,
)
from heatloop.hydraulics.lots.trunk_arrays import lot_trunks
from heatloop.hydraulics.lots.trunks import LotTrunks, TrunkPasses
from heatloop.hydraulics.model import PathElement
from heatloop.hydraulics.network.build import Levels, build_network, rises_m
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.sizing.balancing import balancing_among
from heatloop.hydraulics.sizing.flow_iteration import TemperatureDropNotReachable
from heatloop.hydraulics.sizing.flows import LoopSizing, sized_loops
from heatloop.hydraulics.sizing.loop_alone import LoopFlows, temperatures_c, throttled_kv
from heatloop.hydraulics.sizing.size_system import ARRIVED_K, MAX_SIZINGS, loop_duties
from heatloop.hydraulics.sizing.trial_solution import FINE_K
from heatloop.hydraulics.solver.operating_state import circuit_temps_c
from heatloop.hydraulics.solver.tail_loss import tail_loss_w
from heatloop.physics.friction import NO_CURVES, FrictionTable
from heatloop.survey.water_system import Bypass

Array = NDArray[np.float64]
Index = NDArray[np.intp]


class DwellingsNotSized(Exception):
    """Dwellings of a lot, by their numbers, that cannot be sized in it, and the reason."""

    def __init__(self, dwellings: Iterable[int], reason: str) -> None:
        self.dwellings, self.reason = frozenset(dwellings), reason
        super().__init__(f"dwellings that cannot be sized in the lot: {sorted(self.dwellings)}, {reason}")


@dataclass(frozen=True, eq=False)
class _Lot:
    """Dwellings side by side before they are sized."""

    dwellings: tuple[LotDwelling, ...]
    network: PipeNetwork
    trunks: LotTrunks
    loop_dwelling: Index
    max_c: Array
    circuit_c: Array
    bypasses: tuple[Bypass, ...]

    @classmethod
    def of(cls, dwellings: Sequence[LotDwelling], friction: FrictionTable) -> _Lot:
        paths = [
            replace(path, loop=replace(path.loop, name=f"{k} {path.loop.name}", trunk=None))
            for k, dwelling in enumerate(dwellings)
            for path in dwelling.paths
        ]
        network = build_network(paths, friction=friction)
        parts = [dwelling.shared_pipework for dwelling in dwellings]
        supply_c = [supply_temp_c(dwelling.survey, loop) for dwelling in dwellings for loop in dwelling.survey.loops]
        circuit_c = [circuit_temps_c(d.shared_pipework, d.survey.project.flow_temp_c)[:, 0] for d in dwellings]
        return cls(
            tuple(dwellings),
            network,
            lot_trunks(parts, network.elements.table),
            np.repeat(np.arange(len(dwellings)), [len(dwelling.paths) for dwelling in dwellings]),
            np.array(supply_c, float),
            np.concatenate(circuit_c),
            tuple(bypass for dwelling in dwellings for bypass in dwelling.survey.bypasses),
        )

    @cached_property
    def element_loop(self) -> Index:
        """Loop of each element, (E)."""
        return np.array([place.loop for place in self.network.locations], dtype=np.intp)

    @cached_property
    def rise_m(self) -> Array:
        """Rise of the water at each element, (E); 0 where buoyancy is not included."""
        rise, loops = np.zeros(self.element_loop.size), np.arange(len(self.dwellings) + 1)
        first_loop = np.searchsorted(self.loop_dwelling, loops)
        first = np.searchsorted(self.element_loop, first_loop)
        for k, dwelling in enumerate(self.dwellings):
            survey = dwelling.survey
            if survey.project.buoyancy:
                levels = Levels({room.name: room.level_m for room in survey.rooms}, survey.source.level_m)
                own = slice(first[k], first[k + 1])
                paths = self.network.loops[first_loop[k] : first_loop[k + 1]]
                rise[own] = rises_m(self.network.locations[own], paths, levels)
        return rise


def size_lot(dwellings: Sequence[LotDwelling], friction: FrictionTable = NO_CURVES) -> LotState:
    """Size dwellings that have the same water and are sized in the same way (`LotDwelling.of_one_kind_with`).

    `friction`: friction curves that have been calculated already. Raises DwellingsNotSized where some of them cannot
    reach their temperature drop, ArithmeticError where the flows of any of them do not converge.
    """
    lot = _Lot.of(dwellings, friction)
    return _Sized(lot, *_sized(lot)).state()


def _sized(lot: _Lot) -> tuple[LoopSizing, SizedFlows, LotBalance]:
    """Loops, trunks and heads; sized again until the temperature at the ends of the trunks is that of the sizing.

    The draw of mixed circuits depends on the return temperatures. While loops are sized, these follow from the design
    drops, later from the drops of the sizing before. Bypasses have the flow of the balance before, at first none.
    """
    fluid, trunks = lot.dwellings[0].fluid, lot.trunks
    duties = [duty for d in lot.dwellings for duty in loop_duties(d.survey, d.room_losses, d.paths)]
    passes, drop_k = TrunkPasses(trunks, lot.circuit_c, lot.max_c, fluid), np.array([duty.drop_k for duty in duties])
    sized, before_c = None, np.full(trunks.loops, np.inf)

    def arriving(loop_kg_s: Array) -> Array:
        return passes.supply_c(loop_kg_s, drop_k)

    for _ in range(MAX_SIZINGS):
        try:
            sized = sized_loops(lot.network, duties, lot.max_c, fluid, arriving if trunks.loses else None, sized)
        except TemperatureDropNotReachable as error:
            numbers = (int(loop.partition(" ")[0]) for loop in error.loops)
            raise DwellingsNotSized(numbers, "temperature drop not reached in its lot") from error
        flows = SizedFlows.of(sized.loops, lot.element_loop, lot.rise_m)
        drop_k, sized_c = flows.drop_k, flows.supply_c
        balance = LotBalance.of(passes, flows, lot.bypasses)
        if balance.undriven.any():
            circuits = trunks.bypass_circuit[balance.undriven]
            raise DwellingsNotSized(trunks.circuit_dwelling[circuits].tolist(), "no pressure across a bypass")
        if min(np.abs(balance.trunks.supply_c - sized_c).max(), np.abs(before_c - sized_c).max()) < ARRIVED_K:
            return sized, flows, balance
        before_c = sized_c
    raise ArithmeticError(f"the temperatures at the ends of the trunks did not converge in {MAX_SIZINGS} sizings")


class _Sized:
    """Valve settings and the state of a sized lot."""

    def __init__(self, lot: _Lot, sizing: LoopSizing, flows: SizedFlows, balance: LotBalance) -> None:
        self.lot, self.sizing, self.flows, self.balance = lot, sizing, flows, balance
        self.fluid = lot.dwellings[0].fluid

    def state(self) -> LotState:
        """The lot as sized."""
        lot, flow_kg_s, supply_c = self.lot, self.flows.flow_kg_s, self.flows.supply_c
        network, index = lot.network, lot.network.temperatures
        arm_kg_s = np.array([flow for loop in self.sizing.loops for flow in loop.arm_flow_kg_s])
        arms_flow = LoopFlows(supply_c, arm_kg_s, (), self.sizing.heats)
        temp_c = temperatures_c(network, arms_flow, flow_kg_s, self.fluid)
        inlet_c, outlet_c = temp_c[network.element_temps.inlet], temp_c[network.element_temps.outlet]
        solved = [
            solve_group(group, heat.flow_kg_s, heat.inlet_c, self.fluid, heat, FINE_K)
            for group, heat in zip(network.groups, self.sizing.heats, strict=True)
        ]
        groups = [GroupArmResults(group, np.zeros(group.fine.length_m.size)) for group in solved]
        arms = ArmStates.of(network.arms, groups, np.zeros(len(network.arms), bool))
        others = network.emitters
        enthalpy = self.fluid.enthalpy_j_kg(np.stack([inlet_c[others.place], outlet_c[others.place]]))
        emitter_w = flow_kg_s[others.loop] * (enthalpy[0] - enthalpy[1])
        tail_end_c, tail_start_c = others.tail_ends_c(inlet_c, outlet_c, temp_c[index.head], temp_c[index.foot])
        return_c = temp_c[index.loop_return]
        tails_w = tail_loss_w(network, supply_c, tail_end_c, "flow")
        tails_w = tails_w + tail_loss_w(network, tail_start_c, return_c, "return")
        given_w = np.empty(len(network.arms))
        for group in groups:
            given_w[list(group.solved.group.arms)] = group.arm_given_w
        heat_w = np.bincount(network.arm_loop, given_w, flow_kg_s.size) + tails_w
        heat_w += np.bincount(others.loop, emitter_w, flow_kg_s.size)
        return LotState(
            dwellings=lot.dwellings,
            network=network,
            loops=LoopStates(
                dwelling=lot.loop_dwelling,
                flow_kg_s=flow_kg_s,
                supply_c=supply_c,
                return_c=return_c,
                open_head_pa=self.flows.open_head_pa,
                available_pa=self._available_pa(),
                is_index=np.isin(np.arange(flow_kg_s.size), self._index_loops()),
                tail_loss_w=tails_w,
            ),
            elements=self._elements(temp_c, inlet_c),
            arms=arms,
            emitter_w=emitter_w,
            trunks=self._trunks(),
            pumps=PumpStates(lot.trunks.circuit_dwelling, lot.trunks.circuit_name, self.balance.heads_pa),
            sources=self._sources(heat_w),
        )

    def _available_pa(self) -> Array:
        """Pressure between flow and return where each loop joins, (L)."""
        shared, balance = self.lot.trunks, self.balance
        return np.asarray(balance.heads_pa[shared.loop_circuit] - balance.trunks.stream_drop_pa[: shared.loops])

    def _index_loops(self) -> Index:
        """The loop of each circuit that requires the highest head, in the order of the circuits that have loops."""
        circuit = self.lot.trunks.loop_circuit
        order = np.lexsort((np.arange(circuit.size), -self.balance.need_pa, circuit))
        return order[np.unique(circuit[order], return_index=True)[1]]

    def _elements(self, temp_c: Array, inlet_c: Array) -> ElementStates:
        network = self.lot.network
        kv, balancing = self._settings()
        _, viscosity = self.fluid.density_and_viscosity(network.element_temps.mean @ temp_c)
        elements = replace(network.elements, kv_m3_h=kv)
        flow_kg_s, density = self.flows.element_kg_s, self.flows.element_density_kg_m3
        drop, _, reynolds = elements.drop(flow_kg_s, density, viscosity)
        return ElementStates(flow_kg_s, density, drop, reynolds, inlet_c, kv, balancing)

    def _settings(self) -> tuple[Array, NDArray[np.bool_]]:
        """Kv of every element (inf: no valve), with the balancing valves set, and which elements these are."""
        lot, locations, flows, balance = self.lot, self.lot.network.locations, self.flows, self.balance
        kv = flows.kv_m3_h.copy()
        surplus_pa = np.maximum(balance.heads_pa[lot.trunks.loop_circuit] - balance.need_pa, 0.0)
        valves: list[dict[int, PathElement]] = [{} for _ in lot.network.loops]
        for i, place in enumerate(locations):
            if place.element.kind == "valve":
                valves[place.loop][i] = place.element
        in_body = [has_presetting(dwelling.survey) for dwelling in lot.dwellings]
        balancing = np.zeros(kv.size, bool)
        for loop, own in enumerate(valves):
            arms = len(lot.network.loops[loop].arms)
            for i in balancing_among(own, arms, in_body[lot.loop_dwelling[loop]]):
                balancing[i] = True
                flow_kg_s, density = float(flows.element_kg_s[i]), float(flows.element_density_kg_m3[i])
                kv[i] = throttled_kv(float(kv[i]), flow_kg_s, float(surplus_pa[loop]), density)
        return kv, balancing

    def _trunks(self) -> TrunkStates:
        shared, state = self.lot.trunks, self.balance.trunks
        if shared.elements is None:
            return TrunkStates(shared.link_dwelling, (), np.zeros(0), np.zeros(0))
        return TrunkStates(
            shared.link_dwelling,
            shared.label,
            state.flow_kg_s / (state.density_kg_m3 * shared.elements.area_m2),
            state.drop_pa / shared.elements.length_m,
        )

    def _sources(self, loop_heat_w: Array) -> SourceStates:
        lot, shared, state = self.lot, self.lot.trunks, self.balance.trunks
        count, root = len(lot.dwellings), np.flatnonzero(shared.parent < 0)
        heat_w = np.bincount(lot.loop_dwelling, loop_heat_w, count).astype(float)
        heat_w += np.bincount(shared.link_dwelling, state.loss_w, count)
        index = self._index_loops()
        return SourceStates(
            flow_kg_s=state.circuit_flow_kg_s[root],
            density_kg_m3=self.fluid.density_kg_m3(lot.circuit_c[root]),
            return_c=state.circuit_return_c[root],
            head_pa=self.balance.heads_pa[root],
            heat_w=heat_w,
            bypass_kg_s=np.bincount(
                shared.circuit_dwelling[shared.bypass_circuit], self.balance.bypass_kg_s, count
            ).astype(float),
            index_loop=index[np.unique(lot.loop_dwelling[index], return_index=True)[1]],
        )
