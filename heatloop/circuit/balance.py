"""Pump head, index loop and presettings: what makes sized loops share the water as sized.

The head is what the loop that needs most needs with its valves open; every other loop's balancing
valve takes the difference. That valve is the one on the loop's return, else those of its arms,
else the one on its flow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.circuit.assembly import Assembly
from heatloop.circuit.heat import mixed_c
from heatloop.circuit.sizing import Sized
from heatloop.circuit.trial import throttled_kv
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Balance:
    """Head in Pa at the source, the index loop's place, what each loop's valve takes more than open (L), Pa,
    trunk drop on each loop's way there and back (L), Pa, and Kv by place of every preset valve."""

    head_pa: float
    index: int
    surplus_pa: Array
    trunk_drop_pa: Array
    kv_m3_h: dict[int, float]


def balance(system: Assembly, sized: Sequence[Sized], supply_c: Array, water: Fluid) -> Balance:
    """Head, index loop and exact presettings for these loop flows."""
    trunk_drop = trunk_drops_pa(system, sized, supply_c, water)
    need = np.array([one.alone.head_pa for one in sized]) + trunk_drop
    index = int(np.argmax(need))
    surplus = need[index] - need
    kv: dict[int, float] = {}
    for loop, one in enumerate(sized):
        here = [i for i, place in enumerate(system.places) if place.loop == loop]
        for here_place, alone_place in zip(here, range(len(one.alone.assembly.places)), strict=True):
            if system.places[here_place].element.kind == "valve":
                kv[here_place] = float(one.alone.assembly.elements.kv_m3_h[alone_place])
        for place in balancing_places(system, loop):
            at = here.index(place)
            kv[place] = throttled_kv(
                kv[place], float(one.alone.flow_kg_s[at]), float(surplus[loop]), float(one.alone.density_kg_m3[at])
            )
    return Balance(float(need[index]), index, surplus, trunk_drop, kv)


def balancing_places(system: Assembly, loop: int) -> list[int]:
    """Places of the valves that take a loop's surplus; empty where it has no valve at all."""
    valves = [i for i, p in enumerate(system.places) if p.loop == loop and p.element.kind == "valve"]
    on_return = [
        i for i in valves if system.places[i].element.arm == 0 and system.places[i].element.direction == "return"
    ]
    if on_return:
        return on_return[-1:]
    by_arm: dict[int, int] = {}
    for i in valves:
        if system.places[i].element.arm > 0:
            by_arm[system.places[i].element.arm] = i
    arms = len(system.loops[loop].arms)
    if len(by_arm) == arms and by_arm:
        return list(by_arm.values())
    return [i for i in valves if system.places[i].element.arm == 0][:1]


def trunk_drops_pa(system: Assembly, sized: Sequence[Sized], supply_c: Array, water: Fluid) -> Array:
    """Drop of all trunks on each loop's way, there and back, at the loops' flows, (L) Pa."""
    count = len(sized)
    if not system.trunks:
        return np.zeros(count)
    flow = np.array([one.flow_kg_s for one in sized])
    back = np.array([one.alone.source_return_c for one in sized])
    trunk_flow = system.on_trunk @ flow
    share = system.on_trunk * flow / np.maximum(trunk_flow, 1e-300)[:, None]
    return_c = mixed_c(water, share, back)
    supply = np.array([supply_c[row > 0].max(initial=supply_c.min()) for row in system.on_trunk])
    members = [i for i, place in enumerate(system.places) if place.trunk >= 0]
    element_flow = np.zeros(len(system.places))
    temp = np.full(len(system.places), float(supply_c.mean()))
    for i in members:
        place = system.places[i]
        element_flow[i] = trunk_flow[place.trunk]
        temp[i] = supply[place.trunk] if place.element.direction == "flow" else return_c[place.trunk]
    density, _, viscosity, _, _ = water.properties(temp)
    drop, _, _ = system.elements.drop(element_flow, density, viscosity)
    by_trunk = np.zeros(len(system.trunks))
    for i in members:
        by_trunk[system.places[i].trunk] += drop[i]
    return np.asarray(system.on_trunk.T @ by_trunk)
