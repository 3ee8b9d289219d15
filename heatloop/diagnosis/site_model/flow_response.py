"""Response of the flows of a site to each fault: tables from the network model, one for each fault that changes flow.

A table is kept against the size of its own fault, in logarithms, so that two faults can be combined: the changes of the
logarithms of flows add. Because loops share a pump and trunks, this is approximate."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.diagnosis.fault_types import (
    AIR,
    KINDS,
    LITTLE_HEAD,
    LITTLE_WATER,
    MUCH_HEAD,
    MUCH_WATER,
    TOO_COOL,
    TOO_WARM,
    LocatedFault,
)
from heatloop.diagnosis.site_model.as_commissioned import (
    CommissionedSite,
    SiteCase,
    SiteFlows,
    inlet_locations,
    solve_cases,
)
from heatloop.hydraulics.from_survey import has_presetting
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.sizing.balancing import balancing_places

Array = NDArray[np.float64]

MIN_MORE = 1.2
"""A valve that when fully open increases the flow by less than this share cannot be too far open by a detectable
amount."""

MIN_CHANGE = 0.01
"""A smaller change of the logarithm of flows, or of the supply in K, has no effect that can be read."""

AIR_SHARE = 0.05
"""Share of its flow that passes a channel with air."""

OPENINGS = 4
MIN_EXCESS_K = 5.0


@dataclass(frozen=True)
class Response:
    """Effect of a fault on flows.

    Sizes (G) in the unit of the kind; changes of the logarithms of arm flows (G, A) and of the heads of circuits (G,
    P); change of the supply temperature of every loop in K (G, L).
    """

    fault: LocatedFault
    sizes: Array
    arm_log: Array
    head_log: Array
    supply_k: Array


@dataclass(frozen=True)
class Responses:
    """The expected site and all responses.

    arm_kg_s (A), channel_kg_s of the channels of each arm, loop_kg_s (L), head_pa (P). air_share: share of each channel
    in the flow of an arm, by the arm and its channel that contains air, from 1.
    """

    arm_kg_s: Array
    channel_kg_s: tuple[Array, ...]
    loop_kg_s: Array
    head_pa: Array
    of: tuple[Response, ...]
    air_share: Mapping[tuple[int, int], Array]


def flow_responses(site: CommissionedSite) -> Responses:
    """The response of the flows to every fault that changes flow."""
    base = solve_cases(site, [SiteCase()])
    required = list(_required(site, base))
    required, solved = _solved(site, required)
    cases = [case for _, group in required for case in group]
    network = site.network
    owner = np.asarray(network.arm_loop)
    arm0, head0 = base.arm_kg_s[:, 0], base.head_pa[:, 0]
    supply0 = site.supply_c(site.source_c)
    floor = 1e-5 * arm0
    arm_log = np.log(np.maximum(solved.arm_kg_s, floor[:, None]) / arm0[:, None]).T
    head_log = np.log(np.maximum(solved.head_pa, 1.0) / np.maximum(head0, 1.0)[:, None]).T
    supply_k = np.array([site.supply_c(site.source_c + case.source_k) - supply0 for case in cases])
    responses, air_share, at = [], {}, 0
    for fault, group in required:
        own = slice(at, at + len(group))
        at += len(group)
        sizes = _sizes(fault, group, arm_log[own], arm0, owner)
        response = Response(fault, sizes, arm_log[own], head_log[own], supply_k[own])
        if fault.kind == AIR:
            arm = _arm_of(network, fault)
            flow = solved.answer.flow_kg_s[network.channel_link[arm], own.start]
            air_share[arm, fault.channel + 1] = flow / solved.arm_kg_s[arm, own.start]
        if _has_effect(response):
            responses.append(response)
    responses += _mixed_off(site, arm0.size)
    loops = np.bincount(owner, arm0, len(network.loops)).astype(float)
    channels = tuple(base.answer.flow_kg_s[links, 0] for links in network.channel_link)
    return Responses(arm0, channels, loops, head0, tuple(responses), air_share)


def _has_effect(response: Response) -> bool:
    """Whether a fault changes anything that can be read.

    The pump of a circuit from which mixed circuits draw all water changes none of its flows.
    """
    if response.fault.kind == AIR:
        return True
    if response.fault.kind == MUCH_WATER:
        return bool(response.sizes[-1] >= MIN_MORE)
    return bool(np.abs(response.arm_log).max() >= MIN_CHANGE or np.abs(response.supply_k).max() >= MIN_CHANGE)


FaultCases = list[tuple[LocatedFault, list[SiteCase]]]


def _solved(site: CommissionedSite, required: FaultCases) -> tuple[FaultCases, SiteFlows]:
    """All cases solved together; cases without a solution are left out."""
    try:
        return required, solve_cases(site, [case for _, group in required for case in group])
    except ArithmeticError:
        kept: FaultCases = []
        for fault, group in required:
            able = group if _have_answers(site, group) else [case for case in group if _have_answers(site, [case])]
            if able:
                kept.append((fault, able))
        return kept, solve_cases(site, [case for _, group in kept for case in group])


def _have_answers(site: CommissionedSite, cases: Sequence[SiteCase]) -> bool:
    """Whether the flow has the right direction in every loop in these cases."""
    try:
        solve_cases(site, cases)
    except ArithmeticError:
        return False
    return True


def _sizes(
    fault: LocatedFault, cases: Sequence[SiteCase], arm_log: Array, arm_kg_s: Array, owner: NDArray[np.intp]
) -> Array:
    """The size of each case as its kind counts it: of water, the share of its own flow that was found."""
    if fault.loop >= 0:
        own = owner == fault.loop if fault.arm < 0 else np.arange(owner.size) == fault.arm
        return np.asarray((np.exp(arm_log[:, own]) @ arm_kg_s[own]) / arm_kg_s[own].sum())
    if fault.kind in (TOO_COOL, TOO_WARM):
        return np.array([case.source_k for case in cases])
    return np.array([case.head[fault.circuit] for case in cases])


def _required(site: CommissionedSite, base: SiteFlows) -> Iterator[tuple[LocatedFault, list[SiteCase]]]:
    network = site.network
    for loop, path in enumerate(network.loops):
        arms = [a for a in range(len(network.arms)) if network.arm_loop[a] == loop]
        yield _little(site, base, LocatedFault(LITTLE_WATER, loop), arms)
        yield from _much(
            site, LocatedFault(MUCH_WATER, loop), balancing_places(network, loop, has_presetting(site.survey))
        )
        if len(path.arms) > 1:
            for a in arms:
                yield _little(site, base, LocatedFault(LITTLE_WATER, loop, a), [a])
                own = [i for i, p in enumerate(network.locations) if p.arm == a and p.element.kind == "valve"]
                yield from _much(site, LocatedFault(MUCH_WATER, loop, a), own[-1:])
        yield from _air(site, base, loop, arms)
    for p in range(len(network.circuits)):
        for kind in (LITTLE_HEAD, MUCH_HEAD):
            yield LocatedFault(kind, circuit=p), [SiteCase(head={p: share}) for share in KINDS[kind].sizes]
    warmest = max(room.indoor_c for room in site.survey.rooms)
    coolest_k = warmest + MIN_EXCESS_K - float(site.supply_c(site.source_c).min())
    cooler = [k for k in KINDS[TOO_COOL].sizes if k > coolest_k]
    if len(cooler) > 1:
        yield LocatedFault(TOO_COOL, circuit=0), [SiteCase(source_k=k) for k in cooler]
    yield LocatedFault(TOO_WARM, circuit=0), [SiteCase(source_k=k) for k in KINDS[TOO_WARM].sizes]


def _arm_of(network: PipeNetwork, fault: LocatedFault) -> int:
    """Place of the arm of a fault, the only one of its loop where it names none."""
    return fault.arm if fault.arm >= 0 else int(np.flatnonzero(np.asarray(network.arm_loop) == fault.loop)[0])


def _air(
    site: CommissionedSite, base: SiteFlows, loop: int, arms: Sequence[int]
) -> Iterator[tuple[LocatedFault, list[SiteCase]]]:
    """Each of several parallel channels with so much resistance that it has `AIR_SHARE` of its flow."""
    network = site.network
    for a in arms:
        directions = np.asarray(network.arms[a].directions)
        for k, links in enumerate(np.asarray(network.channel_link[a])):
            if (directions == directions[k]).sum() < 2:
                continue
            own = np.flatnonzero(network.elements.link == links)
            flow, drop_pa = (float(abs(of[links, 0])) for of in (base.answer.flow_kg_s, base.answer.link_drop_pa))
            place = int(own[0])
            area, density = float(network.elements.area_m2[place]), float(base.answer.density_kg_m3[place, 0])
            dynamic_pa = 0.5 * density * (flow / (density * area)) ** 2
            zeta = max(drop_pa, dynamic_pa) / dynamic_pa / AIR_SHARE**2
            yield LocatedFault(AIR, loop, a if len(arms) > 1 else -1, channel=k), [SiteCase(zeta={place: zeta})]


def _mixed_off(site: CommissionedSite, arms: int) -> Iterator[Response]:
    """Mixed circuits cooler or warmer than expected, with unchanged flows."""
    network, supply_c = site.network, site.supply_c(site.source_c)
    warmest = max(room.indoor_c for room in site.survey.rooms) + MIN_EXCESS_K
    for p in range(1, len(network.circuits)):
        own = network.loop_circuit == p
        if not own.any():
            continue
        for kind in (TOO_COOL, TOO_WARM):
            low, high = warmest - float(supply_c[own].min()), site.source_c + 0.5 - float(supply_c[own].max())
            sizes = np.array([k for k in KINDS[kind].sizes if low < k < high])
            if sizes.size > 1:
                none = np.zeros((sizes.size, arms)), np.zeros((sizes.size, len(network.circuits)))
                yield Response(LocatedFault(kind, circuit=p), sizes, *none, sizes[:, None] * own)


def _little(
    site: CommissionedSite, base: SiteFlows, fault: LocatedFault, arms: Sequence[int]
) -> tuple[LocatedFault, list[SiteCase]]:
    """Increasing resistance at the start of the loop or arm: sizes near those required, for any characteristic."""
    network = site.network
    nodes = network.loop_nodes[fault.loop]
    head_pa = float(base.answer.pressure_pa[nodes[0], 0] - base.answer.pressure_pa[nodes[1], 0])
    dynamic_pa = {}
    for place in inlet_locations(network, fault.loop, fault.arm):
        flow = float(base.answer.flow_kg_s[network.elements.link[place], 0])
        density = float(base.answer.density_kg_m3[place, 0])
        dynamic_pa[place] = 0.5 * density * (flow / (density * float(network.elements.area_m2[place]))) ** 2
    cases = []
    for share in KINDS[LITTLE_WATER].sizes:
        more_pa = head_pa * (1.0 - share**1.8) / share**2
        cases.append(SiteCase(zeta={place: more_pa / pa for place, pa in dynamic_pa.items()}))
    return fault, cases


def _much(
    site: CommissionedSite, fault: LocatedFault, places: Sequence[int]
) -> Iterator[tuple[LocatedFault, list[SiteCase]]]:
    """Balancing valves opened step by step to their widest setting."""
    network = site.network
    wide = {}
    for place in places:
        name = network.locations[place].element.valve
        if name is None:
            continue
        valve = site.survey.catalogue.valve(name)
        open_kv = valve.kvs_m3_h if valve.kvs_m3_h is not None else valve.kv_open_m3_h
        if open_kv > 1.05 * network.elements.kv_m3_h[place]:
            wide[place] = open_kv
    if wide:
        kv_m3_h = {place: float(network.elements.kv_m3_h[place]) for place in wide}
        steps = [
            SiteCase(
                kv_m3_h={place: kv_m3_h[place] * math.pow(wide[place] / kv_m3_h[place], k / OPENINGS) for place in wide}
            )
            for k in range(1, OPENINGS + 1)
        ]
        yield fault, steps
