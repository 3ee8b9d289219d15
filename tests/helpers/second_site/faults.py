"""Faults put into a system as built."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.helpers.second_site.flows import LoopTables, LoopTemps, solve_flows
from tests.helpers.second_site.pressure import drop_at

LITTLE_WATER, MUCH_WATER, LITTLE_HEAT = "too little water", "too much water", "too little heat"
SWAPPED, LITTLE_HEAD, MUCH_HEAD = "flow and return swapped", "too little head", "too much head"
TOO_COOL, TOO_WARM = "source too cool", "source too warm"
AIR, INTERCHANGED = "air in a channel", "loops interchanged"

SHUT = 0.005
FILTER_PART = 0.4
"""Part of the systems with too little head whose pump is right: a filter takes the head."""


@dataclass(frozen=True)
class Fault:
    """A fault: kind, loop, size as the kind counts it, arm (from 1, 0 the loop), channel (from 1), second loop, and the
    mixed trunk whose water is too cool or too warm ("" for the source)."""

    kind: str
    loop: str = ""
    size: float = 1.0
    arm: int = 0
    channel: int = 0
    other: str = ""
    trunk: str = ""

    @property
    def place(self):
        """The place as a diagnosis names it."""
        if self.other:
            return " and ".join((self.loop, self.other))
        if self.arm:
            return f"{self.loop}, arm {self.arm}"
        if self.channel:
            return f"{self.loop}, channel {self.channel}"
        return self.loop or self.trunk or "source"


def put_in(built, fault, rng):
    """The fault built in; nothing for loops interchanged, which only the readings show."""
    loop = next((one for one in built.loops if one.name == fault.loop), None)
    if fault.kind in (LITTLE_HEAD, MUCH_HEAD):
        _head(built, fault, rng)
    elif fault.kind in (TOO_COOL, TOO_WARM):
        _water(built, fault)
    elif fault.kind == LITTLE_WATER:
        _starve(built, loop, fault)
    elif fault.kind == MUCH_WATER:
        open_valves(loop, fault.arm)
    elif fault.kind == LITTLE_HEAT:
        for arm in loop.arms if not fault.arm else [loop.arms[fault.arm - 1]]:
            cover(arm, fault.size, rng)
    elif fault.kind == AIR:
        arm = max(fault.arm, 1) - 1
        row = loop.channels[arm][fault.channel - 1]
        # at equal drop a channel passes this share of its flow if its resistance grows by the share squared, and more
        # where friction is laminar
        loop.channels[arm][fault.channel - 1] = _resisted(row, 1.0 / max(fault.size, 0.02) ** 2)
    elif fault.kind == SWAPPED:
        reverse(loop)
    else:
        assert fault.kind == INTERCHANGED, fault.kind


def _resisted(row, times):
    return replace(row, friction=row.friction * times, fittings=row.fittings * times)


def at_rest(built):
    """Temperatures from which flows are first calculated: all water near that of the source."""
    around = built.source_c - 3.0
    return [
        LoopTemps(around, around, [np.full(arm.direction.size, around) for arm in loop.arms]) for loop in built.loops
    ]


def fair_flows(built):
    """Flows of the system as it is built now, all water at one temperature, mixed trunks drawing 0.02 kg/s."""
    drawn = {t.name: 0.02 for t in built.trunks if t.mixed_to_c is not None}
    return solve_flows(built, at_rest(built), drawn, built.source_c - 3.0)


def _head(built, fault, rng):
    curve, share = built.pump, fault.size
    if fault.kind == LITTLE_HEAD and rng.random() < FILTER_PART:
        flows = fair_flows(built)
        total = sum(flows.loop[i] for i in range(len(built.loops))) + sum(flows.bypass)
        behind = flows.head_pa[None]
        # flow falls with about the root of the head behind the filter
        built.filter_pa = behind * (1.0 - share) / (total**2 * share)
        return
    built.pump = lambda flow: share * curve(flow / np.sqrt(share))


def _water(built, fault):
    if not fault.trunk:
        built.source_c += fault.size
    for trunk in built.trunks:
        if trunk.name == fault.trunk:
            trunk.mixed_to_c = min(trunk.mixed_to_c + fault.size, built.source_c)


def _starve(built, loop, fault):
    """A resistance that leaves this share of the flow at the present head across the loop, or nothing."""
    if fault.size <= SHUT and not fault.arm:
        loop.closed = True
        return
    flows = fair_flows(built)
    i = built.loops.index(loop)
    share = max(fault.size, SHUT)
    around = built.source_c - 3.0
    if not fault.arm:
        pa = drop_at(_loop_table(loop, around), flows.loop[i])
        flow = share * flows.loop[i]
        more = (pa - drop_at(_loop_table(loop, around), flow)) / flow**2
        loop.tail_flow = _with_resistance(loop.tail_flow, more)
        return
    a = fault.arm - 1
    whole = float(flows.channel[i][a][loop.arms[a].direction > 0].sum())
    pa = drop_at(_arm_table(loop, a, around), whole)
    more = (pa - drop_at(_arm_table(loop, a, around), share * whole)) / (share * whole) ** 2
    loop.flow_valves[a] = _with_resistance(loop.flow_valves[a], more)


def _loop_table(loop, temp_c):
    temps = LoopTemps(temp_c, temp_c, [np.full(arm.direction.size, temp_c) for arm in loop.arms])
    return LoopTables(loop, temps).whole


def _arm_table(loop, arm, temp_c):
    temps = LoopTemps(temp_c, temp_c, [np.full(one.direction.size, temp_c) for one in loop.arms])
    return LoopTables(loop, temps).arms[arm][0]


def _with_resistance(row, pa_per_kg_s2):
    """A row with one more fitting, of this resistance in Pa/(kg/s)2 with water of 990 kg/m3."""
    area = float(row.area_m2[0]) if row.area_m2.size else 1e-4
    zeta = pa_per_kg_s2 * 2.0 * 990.0 * area**2 / row.fittings

    def more(values, value):
        return np.append(values, value)

    return replace(
        row,
        length_m=more(row.length_m, 0.0),
        area_m2=more(row.area_m2, area),
        diameter_m=more(row.diameter_m, np.sqrt(4.0 * area / np.pi)),
        roughness_m=more(row.roughness_m, 0.0),
        zeta=more(row.zeta, zeta),
        kv_m3_h=more(row.kv_m3_h, np.inf),
    )


def balancing(loop, arm=0):
    """Where the valves that balance a loop or an arm are: on the return of the loop, else on its arms."""
    places = list(loop.open_kv)
    if arm:
        own = [p for p in places if p[0] in ("flow_valves", "return_valves") and p[1] == arm - 1]
        return own[-1:]
    of_loop = [p for p in places if p[0] == "tail_return"]
    if of_loop:
        return of_loop
    of_arms = [p for p in places if p[0] == "return_valves"]
    return of_arms if len(of_arms) == len(loop.arms) else [p for p in places if p[0] == "tail_flow"]


def open_valves(loop, arm):
    """The balancing valves fully open."""
    for name, number in balancing(loop, arm):
        rows = getattr(loop, name)
        row = rows[number] if isinstance(rows, list) else rows
        kv = np.where(np.isfinite(row.kv_m3_h), loop.open_kv[name, number], row.kv_m3_h)
        opened = replace(row, kv_m3_h=kv)
        if isinstance(rows, list):
            rows[number] = opened
        else:
            setattr(loop, name, opened)


def cover(arm, size, rng):
    """Furniture along a part of an arm, so that about `size` of its output is left."""
    weight = arm.length_m * arm.emission
    part = max(float(rng.uniform(0.5, 1.0)), 1.02 - size)
    first = float(rng.uniform(0.0, 1.0 - part)) if part < 1.0 else 0.0
    ends = np.cumsum(weight) / weight.sum()
    begins = ends - weight / weight.sum()
    covered = np.clip(np.minimum(ends, first + part) - np.maximum(begins, first), 0.0, None) / (ends - begins)
    arm.emission = arm.emission * np.maximum(1.0 - covered * (1.0 - size) / part, 0.02)


def reverse(loop):
    """The pipes of a loop interchanged: water enters at its return."""
    loop.reversed = True
    loop.tail_flow, loop.tail_return = loop.tail_return, loop.tail_flow
    loop.flow_valves, loop.return_valves = loop.return_valves, loop.flow_valves
    for arm in loop.arms:
        if (arm.direction > 0).all():
            for name in ("length_m", "emission", "exponent", "link_w_mk", "back_w_mk", "film", "useful", "cell"):
                setattr(arm, name, getattr(arm, name)[::-1])
            arm.room = arm.room[::-1]
        else:
            arm.direction = -arm.direction
