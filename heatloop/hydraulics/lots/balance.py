"""Heads of the pumps and flows of the bypasses of many dwellings, at the sized flows of their loops.

The rules are those of :mod:`heatloop.hydraulics.sizing.balancing`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.lots.trunks import TrunkPasses, TrunkState
from heatloop.hydraulics.pumps import HOUR_S
from heatloop.hydraulics.sizing.balancing import BYPASS_TOLERANCE, STARTING_SHARE
from heatloop.hydraulics.sizing.flows import SizedLoop
from heatloop.physics.constants import GRAVITY_M_S2
from heatloop.physics.valves import flow_from_pressure_drop_m3_h
from heatloop.survey.water_system import Bypass

Array = NDArray[np.float64]
Index = NDArray[np.intp]

ROUNDS = 60
"""Rounds of heads and bypass flows, which depend on each other."""


@dataclass(frozen=True, eq=False)
class SizedFlows:
    """Sized loops (L) as arrays, and their elements (E), loop by loop.

    Temperature where their tails join, flow, drop, head that each requires with open valves, and head that buoyancy
    adds. Of elements: flow, density, and Kv (inf: no valve).
    """

    supply_c: Array
    flow_kg_s: Array
    drop_k: Array
    open_head_pa: Array
    lift_pa: Array
    element_kg_s: Array
    element_density_kg_m3: Array
    kv_m3_h: Array

    @classmethod
    def of(cls, loops: Sequence[SizedLoop], element_loop: Index, rise_m: Array) -> SizedFlows:
        """`element_loop` and `rise_m` (E): loop of each element, and rise of the water there."""
        flow_kg_s = np.array([loop.flow_kg_s for loop in loops])
        supply_c = np.array([loop.alone.supply_c for loop in loops])
        element_kg_s = np.concatenate([loop.alone.flow_kg_s for loop in loops])
        density = np.concatenate([loop.alone.density_kg_m3 for loop in loops])
        weight = np.bincount(element_loop, rise_m * density * element_kg_s, flow_kg_s.size)
        return cls(
            supply_c=supply_c,
            flow_kg_s=flow_kg_s,
            drop_k=supply_c - np.array([loop.alone.return_c for loop in loops]),
            open_head_pa=np.array([loop.alone.head_pa for loop in loops]),
            lift_pa=-GRAVITY_M_S2 * weight / flow_kg_s,
            element_kg_s=element_kg_s,
            element_density_kg_m3=density,
            kv_m3_h=np.concatenate([loop.alone.kv_m3_h for loop in loops]),
        )


@dataclass(frozen=True, eq=False)
class LotBalance:
    """Trunks, heads of the pumps (P), and head that each loop requires (L).

    bypass_kg_s (B). undriven (B): always open bypasses without pressure to drive water through them.
    """

    trunks: TrunkState
    heads_pa: Array
    need_pa: Array
    bypass_kg_s: Array
    undriven: NDArray[np.bool_]

    @classmethod
    def of(cls, passes: TrunkPasses, flows: SizedFlows, bypasses: Sequence[Bypass]) -> LotBalance:
        """Balance these loops; the flow of the bypasses (in the order of the streams) remains in `passes`."""
        shared, mixed = passes.trunks, np.flatnonzero(passes.trunks.parent >= 0)
        for _ in range(ROUNDS):
            state = passes.solve(flows.flow_kg_s, flows.drop_k)
            friction_pa = flows.open_head_pa + state.stream_drop_pa[: shared.loops]
            need_pa = friction_pa - flows.lift_pa
            heads_pa = np.zeros(shared.parent.size)
            np.maximum.at(heads_pa, shared.loop_circuit, np.maximum(need_pa, STARTING_SHARE * friction_pa))
            np.maximum.at(heads_pa, shared.parent[mixed], state.stream_drop_pa[shared.draw_of[mixed]])
            spare_pa = heads_pa[shared.bypass_circuit] - state.stream_drop_pa[shared.bypasses]
            before, bypass_kg_s = passes.bypass_kg_s, _bypass_flows(passes, state, spare_pa, bypasses)
            passes.bypass_kg_s = bypass_kg_s
            if np.all(np.abs(bypass_kg_s - before) <= BYPASS_TOLERANCE * np.maximum(bypass_kg_s, 1e-12)):
                break
        opens = np.array([bypass.opens_at_kpa is None for bypass in bypasses], dtype=bool)
        return cls(state, heads_pa, need_pa, bypass_kg_s, opens & (spare_pa <= 0.0))


def _bypass_flows(passes: TrunkPasses, state: TrunkState, spare_pa: Array, bypasses: Sequence[Bypass]) -> Array:
    """Flow of each bypass by its Kv and the pressure difference across it, (B) kg/s."""
    density = passes.fluid.density_kg_m3(state.bypass_c)
    flows = np.zeros(len(bypasses))
    for b, bypass in enumerate(bypasses):
        opened_pa = max(float(spare_pa[b]) - 1000.0 * (bypass.opens_at_kpa or 0.0), 0.0)
        flow_m3_h = flow_from_pressure_drop_m3_h(opened_pa, bypass.kv_m3_h, float(density[b]))
        flows[b] = flow_m3_h / HOUR_S * density[b]
    return flows
