"""Checks of many dwellings that require only their sized state, most of them as arrays.

Left out are the checks that require other states of the system: valves at their nearest settings, isolated loops,
rooms controlled by a sensor in another room, other channel couplings, and the residuals of the solved system.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from heatloop.findings.limits import TOUCH, TOUCH_C, CheckResult, check_at_least, check_at_most
from heatloop.heat_loss.building_load import building_load_w
from heatloop.hydraulics.analysis.water_content import closing_valves, open_water_of_l
from heatloop.hydraulics.lots.lot_state import LotState
from heatloop.hydraulics.lots.room_heat import PieceHeat, hottest_surfaces
from heatloop.hydraulics.pumps import pump_as_commissioned
from heatloop.layout.model import floor_areas_m2
from heatloop.results.checks.design_checks import source_checks, survey_checks
from heatloop.results.checks.frost_checks import frost_checks
from heatloop.results.checks.heat_checks import (
    MAX_OUTPUT_SHARE,
    MIN_COVERAGE,
    OVERSIZED,
    ROOM_WARM,
    UNHEATED,
    UNLIKELY_U,
    UNLIKELY_U_W_M2K,
    WALL_TO_SPARE,
    floor_section_check,
    glazing_checks,
    rating_checks,
)
from heatloop.results.checks.limits import (
    ARM_SHARE,
    BALANCE,
    BETWEEN,
    GRADIENT,
    HEAD,
    LAMINAR_RE,
    MAX_ARM_SHARE,
    MAX_GRADIENT_PA_M,
    MAX_HEAD_KPA,
    MAX_VELOCITY_M_S,
    NO_VALVE,
    QUIET,
    TURBULENT_RE,
    VELOCITY,
)
from heatloop.results.many_dwellings.outcomes import Outcomes
from heatloop.results.many_dwellings.tables import Columns, pump_flow_l_h
from heatloop.results.tables.glazing import GLAZING, glazing_rows
from heatloop.results.tables.output_range import rated_output
from heatloop.results.tables.pumps import available_kpa
from heatloop.results.tables.summary import source_required_w
from heatloop.survey.profiles import Profile

Array = NDArray[np.float64]
Index = NDArray[np.intp]

SKIRTING = ("piece", "floor section")
PIPES, CHANNELS = ("tail", *SKIRTING), (*SKIRTING, "crossing")
"""Kinds of elements whose pipe friction, and whose flow between laminar and turbulent, are checked."""


def lot_checks(state: LotState, rooms: Columns, loops: Columns, pieces: PieceHeat, open_flow_l_h: Array) -> Outcomes:
    """All checks of a sized lot, from its columns of rooms and loops.

    `open_flow_l_h` (K): flow with all thermostatic valves closed.
    """
    outcomes = Outcomes(state.count)
    _room_checks(outcomes, state, rooms)
    _loop_checks(outcomes, state, loops)
    _valve_checks(outcomes, state, loops)
    _arm_checks(outcomes, state)
    pumps = state.pumps
    outcomes.at_most(HEAD, pumps.dwelling, lambda i: pumps.name[i], pumps.head_pa / 1000.0, MAX_HEAD_KPA)
    for k, results in enumerate(_surface_checks(state)):
        outcomes.add(k, results)
    flow_l_h = pump_flow_l_h(state)
    for k, dwelling in enumerate(state.dwellings):
        survey = dwelling.survey
        for profile in survey.profiles:
            outcomes.add(k, _rating_checks_of(profile))
        outcomes.add(k, _glazing_checks(state, k, pieces))
        facts = _source_facts(state, k, float(flow_l_h[k]), float(open_flow_l_h[k]))
        outcomes.add(k, source_checks(survey, facts | _required_facts(state, k, rooms)))
        outcomes.add(k, frost_checks(survey))
        outcomes.add(k, survey_checks(survey))
    return outcomes


def open_flows_l_h(state: LotState) -> Array:
    """Flow of each dwelling with all thermostatic valves closed, (K): of loops without one and of open bypasses, and of
    differential bypasses at the head of the pump without flow."""
    flow_kg_s, loop, opening = state.sources.bypass_kg_s.copy(), 0, np.zeros(state.count)
    for k, dwelling in enumerate(state.dwellings):
        survey, closing = dwelling.survey, closing_valves(dwelling.survey)
        for owned in survey.loops:
            if owned.valves.flow not in closing and owned.valves.return_ not in closing:
                flow_kg_s[k] += state.loops.flow_kg_s[loop]
            loop += 1
        opening_kpa = [(bypass, bypass.opens_at_kpa) for bypass in survey.bypasses if bypass.opens_at_kpa is not None]
        if opening_kpa:
            head_kpa = _shutoff_head_kpa(state, k)
            opening[k] = sum(b.kv_m3_h * np.sqrt(max(head_kpa - opens, 0.0) / 100.0) for b, opens in opening_kpa)
    return np.asarray(flow_kg_s / state.sources.density_kg_m3 * 3.6e6 + 1000.0 * opening)


def _shutoff_head_kpa(state: LotState, k: int) -> float:
    """Head of the pump of a source without flow, as set for its duty."""
    sources, pump = state.sources, state.dwellings[k].survey.source.pump
    flow_m3_s = float(sources.flow_kg_s[k] / sources.density_kg_m3[k])
    return float(pump_as_commissioned(pump, flow_m3_s, float(sources.head_pa[k])).head_pa(np.zeros(1))[0][0]) / 1000.0


def _room_checks(outcomes: Outcomes, state: LotState, rooms: Columns) -> None:
    """Heat to rooms, and the maximum U-value of each room."""
    losses = [(k, loss) for k, dwelling in enumerate(state.dwellings) for loss in dwelling.room_losses]
    heated_of = [frozenset(dwelling.survey.heated_rooms) for dwelling in state.dwellings]
    spare_of = [{room.room for room in d.layout.rooms if room.spare_wall_m > 0} for d in state.dwellings]
    owner = np.array([k for k, _ in losses], dtype=np.intp)
    loss_w = rooms["heat_loss_w"]
    heated = np.array([loss.room in heated_of[k] for k, loss in losses], dtype=bool)
    spare = np.array([loss.room in spare_of[k] for k, loss in losses], dtype=bool)
    for limit, chosen in (
        (UNHEATED, ~heated), (WALL_TO_SPARE, heated & spare), (ROOM_WARM, heated & ~spare), (OVERSIZED, heated)
    ):  # fmt: skip
        which = np.flatnonzero(chosen & (loss_w > 0.0))
        names = [rooms["room"][i] for i in which.tolist()]
        if limit is UNHEATED:
            outcomes.at_most(limit, owner[which], names.__getitem__, loss_w[which], 0.0)
        elif limit is OVERSIZED:
            share = rooms["heat_to_rooms_w"][which] / loss_w[which]
            outcomes.at_most(limit, owner[which], names.__getitem__, share, MAX_OUTPUT_SHARE)
        else:
            outcomes.at_least(limit, owner[which], names.__getitem__, rooms["coverage"][which], MIN_COVERAGE)
    highest = np.array(
        [max((p.u_w_m2k for p in loss.parts if p.u_w_m2k is not None), default=np.nan) for _, loss in losses]
    )
    known = np.flatnonzero(~np.isnan(highest))
    named = [rooms["room"][i] for i in known.tolist()]
    outcomes.at_most(UNLIKELY_U, owner[known], named.__getitem__, highest[known], UNLIKELY_U_W_M2K)


def _kinds(state: LotState) -> NDArray[np.str_]:
    return np.array([place.element.kind for place in state.network.locations])


def _greatest(values: Array, at: Index, count: int) -> Array:
    """Greatest of the values of each loop, NaN where it has none."""
    greatest = np.full(count, -np.inf)
    np.maximum.at(greatest, at, values)
    return np.where(np.isneginf(greatest), np.nan, greatest)


def _loop_checks(outcomes: Outcomes, state: LotState, loops: Columns) -> None:
    """Water velocity, pipe friction and flow between laminar and turbulent, of loops and trunks."""
    elements, length_m, kinds = state.elements, state.network.elements.length_m, _kinds(state)
    owner, count, names = state.loops.dwelling, state.loops.flow_kg_s.size, loops["loop"]
    outcomes.at_most(VELOCITY, owner, names.__getitem__, loops["max_velocity_m_s"], MAX_VELOCITY_M_S)
    pipes = np.flatnonzero(np.isin(kinds, PIPES) & (length_m > 0.0))
    gradient = _greatest(elements.drop_pa[pipes] / length_m[pipes], state.element_loop[pipes], count)
    outcomes.at_most(GRADIENT, owner, names.__getitem__, gradient, MAX_GRADIENT_PA_M)
    re = elements.reynolds
    between = np.flatnonzero(np.isin(kinds, CHANNELS) & (re > LAMINAR_RE) & (re < TURBULENT_RE))
    greatest = _greatest(re[between], state.element_loop[between], count)
    which = np.flatnonzero(~np.isnan(greatest))
    outcomes.at_most(BETWEEN, owner[which], lambda i: names[which[i]], greatest[which], LAMINAR_RE)
    trunks = state.trunks
    keys = list(zip(trunks.dwelling.tolist(), trunks.label, strict=True))
    numbers = {key: number for number, key in enumerate(dict.fromkeys(keys))}
    at, pipes_of = np.array([numbers[key] for key in keys], dtype=np.intp), list(numbers)
    of_trunk = np.array([k for k, _ in pipes_of], dtype=np.intp)

    def subject(i: int) -> str:
        return f"trunk {pipes_of[i][1]}"

    for limit, values, bound in (
        (VELOCITY, trunks.velocity_m_s, MAX_VELOCITY_M_S), (GRADIENT, trunks.gradient_pa_m, MAX_GRADIENT_PA_M)
    ):  # fmt: skip
        outcomes.at_most(limit, of_trunk, subject, _greatest(values, at, len(pipes_of)), bound)


def _valve_checks(outcomes: Outcomes, state: LotState, loops: Columns) -> None:
    """Kv and pressure drop of valves, and surplus pressure of loops without a balancing valve."""
    elements, owner = state.elements, state.loops.dwelling
    balanced = np.zeros(owner.size, bool)
    for i, place in enumerate(state.network.locations):
        element = place.element
        if element.kind != "valve" or element.valve is None:
            continue
        k = int(owner[place.loop])
        valve = state.dwellings[k].survey.catalogue.valve(element.valve)
        arm = f", arm {element.arm}" if element.arm else ""
        subject = f"{loops['loop'][place.loop]}, {element.direction} valve{arm}"
        if elements.balancing[i]:
            balanced[place.loop] = True
            outcomes.add(k, [check_at_least(BALANCE, subject, elements.kv_m3_h[i], valve.kv_m3_h[0])])
        if valve.max_dp_kpa is not None:
            outcomes.add(k, [check_at_most(QUIET, subject, elements.drop_pa[i] / 1000.0, valve.max_dp_kpa)])
    free = np.flatnonzero(~balanced & ~state.loops.is_index)
    surplus_kpa = (loops["available_pressure_kpa"] - loops["pressure_drop_kpa"])[free]
    outcomes.at_most(NO_VALVE, owner[free], lambda i: loops["loop"][free[i]], surplus_kpa, 0.0)


def _arm_checks(outcomes: Outcomes, state: LotState) -> None:
    """Flow of each of two arms for its length."""
    rows: dict[int, dict[int, list[float]]] = {}
    for i, place in enumerate(state.network.locations):
        element = place.element
        if element.kind in SKIRTING and element.direction == "flow" and len(state.network.loops[place.loop].arms) > 1:
            row = rows.setdefault(place.loop, {}).setdefault(element.arm, [0.0, 0.0])
            row[0], row[1] = max(row[0], float(state.elements.flow_kg_s[i])), row[1] + element.length_m
    first = np.searchsorted(state.loops.dwelling, np.arange(state.count))
    for loop, arms in rows.items():
        flow, length_m = np.array(list(arms.values())).T
        if flow.size < 2:
            continue
        share = flow / flow.sum() / (length_m / length_m.sum())
        k = int(state.loops.dwelling[loop])
        name = state.dwellings[k].survey.loops[loop - first[k]].name
        outcomes.add(k, [check_at_most(ARM_SHARE, name, max(share.max(), 1.0 / share.min()), MAX_ARM_SHARE)])


def _surface_checks(state: LotState) -> Iterator[list[CheckResult]]:
    """Temperature of surfaces in vulnerable rooms and of floor sections, dwelling by dwelling."""
    sections = [
        [(loop, piece) for loop in d.layout.loops for piece in loop.pieces if piece.floor_section is not None]
        for d in state.dwellings
    ]
    vulnerable = [[room.name for room in d.survey.rooms if room.vulnerable] for d in state.dwellings]
    hottest = hottest_surfaces(state, vulnerable, [[piece.label for _, piece in own] for own in sections])
    for k, dwelling in enumerate(state.dwellings):
        survey, surfaces = dwelling.survey, hottest[k]
        results = [
            check_at_most(TOUCH, room, surface_c, TOUCH_C)
            for room, surface_c in surfaces.rooms_c.items()
            if np.isfinite(surface_c)
        ]
        for loop, piece in sections[k]:
            profile, label = survey.catalogue.profile(survey.loop(loop.loop).profile), piece.label
            results += floor_section_check(profile, survey.room(piece.room), label, surfaces.labels_c[label])
        yield results


@lru_cache(maxsize=256)
def _rating_checks_of(profile: Profile) -> tuple[CheckResult, ...]:
    """Checks of the rating of a profile, which depend on nothing else."""
    tested = rated_output(profile)
    return rating_checks(profile.name, tested.test_reynolds, tested.output_w_m, tested.flat_plate_w_m)


def _glazing_checks(state: LotState, k: int, pieces: PieceHeat) -> Iterator[CheckResult]:
    dwelling = state.dwellings[k]
    rows = glazing_rows(dwelling.survey, dwelling.layout, pieces.by_label_w[k])
    return glazing_checks(dict(zip(GLAZING.names, row, strict=True)) for row in rows)


def _source_facts(state: LotState, k: int, flow_l_h: float, open_flow_l_h: float) -> dict[str, Any]:
    """The key figures on which the checks of the source depend; those that no limit requires are left out."""
    dwelling = state.dwellings[k]
    survey, source = dwelling.survey, dwelling.survey.source
    facts: dict[str, Any] = {
        "flow_temp_c": survey.project.flow_temp_c,
        "source_output_kw": source.output_kw,
        "source_heat_w": float(state.sources.heat_w[k]),
        "held_flow_temp_c": None,
        "warm_flow_temp_c": None,
        "warm_source_heat_w": None,
        "pump_flow_l_h": flow_l_h,
        "pump_head_kpa": float(state.sources.head_pa[k]) / 1000.0,
        "always_open_flow_l_h": open_flow_l_h,
    }
    if source.min_always_open_water_l is not None:
        trunks = (link.element for link in dwelling.shared_pipework.links)
        trunk_water_l = sum(pipe.duct.content_l_m * pipe.length_m for pipe in trunks)
        facts["always_open_water_l"] = open_water_of_l(survey, dwelling.paths, trunk_water_l)
    if source.pump is not None:
        facts["pump_head_available_kpa"] = available_kpa(source.pump, flow_l_h / 3.6e6)
    return facts


def _required_facts(state: LotState, k: int, rooms: Columns) -> dict[str, float]:
    """Heat required from the source of a dwelling, where the survey states its output."""
    dwelling = state.dwellings[k]
    if dwelling.survey.source.output_kw is None:
        return {}
    first = sum(len(before.room_losses) for before in state.dwellings[:k])
    own = slice(first, first + len(dwelling.room_losses))
    load_w = building_load_w(dwelling.survey, dwelling.room_losses, floor_areas_m2(dwelling.layout))
    to_rooms_w, behind_w = float(rooms["heat_to_rooms_w"][own].sum()), float(rooms["back_loss_w"][own].sum())
    return {
        "building_load_w": load_w,
        "source_required_w": source_required_w(load_w, float(state.sources.heat_w[k]), to_rooms_w, behind_w),
    }
