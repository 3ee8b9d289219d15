"""Checks of a design: each compares a calculated value with its limit and gives a verdict."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, replace
from typing import Any

import pandas as pd

from heatloop.findings.limits import WORST, CheckResult, check_at_least, check_at_most
from heatloop.results.checks.frost_checks import frost_checks
from heatloop.results.checks.heat_checks import heat_checks
from heatloop.results.checks.limits import (
    ARM_SHARE,
    AUTHORITY,
    BALANCE,
    BETWEEN,
    DEAD_HEAD,
    DEAD_HEAD_L_H,
    GRADIENT,
    HEAD,
    LAMINAR_RE,
    LONE_DOORWAY,
    MAX_ARM_SHARE,
    MAX_FLOW_ERROR_PERCENT,
    MAX_GRADIENT_PA_M,
    MAX_HEAD_KPA,
    MAX_RESIDUAL,
    MAX_SHUT_CHANGE_PERCENT,
    MAX_VELOCITY_M_S,
    MIN_AUTHORITY,
    MIN_PUMP_RESERVE,
    MIN_SENSED,
    NO_VALVE,
    ONE_SIDED,
    OPEN_WATER,
    PUMP,
    PUMP_RANGE,
    PUMP_RESERVE,
    PUMP_SETTING,
    QUIET,
    QUIET_SHUT,
    QUOTED,
    RESIDUAL,
    ROUNDED,
    SENSED,
    SHUT,
    SOURCE_DRAW,
    SOURCE_FLOW,
    SOURCE_OUTPUT,
    SOURCE_TEMP,
    TURBULENT_RE,
    UNSAID,
    VELOCITY,
)
from heatloop.results.checks.plausibility import plausibility_checks
from heatloop.results.checks.remedies import source_draw_remedy, source_draw_words, source_output_remedy
from heatloop.results.tables.pumps import set_head_kpa
from heatloop.survey.rules.adjacent_rooms import unmatched_doorways, unmatched_walls, walls_without_adjacent_side
from heatloop.survey.survey import SurveyData
from heatloop.text.column import CHECK_COLUMNS, TableDescription
from heatloop.text.table_set import table_frame

CHECKS = TableDescription(
    "checks", "Checks", "All checks with calculated value, limit, source and recommendation.", CHECK_COLUMNS
)


SIZED_SHARE = 1e-6
"""Relative shortage below which a room counts as sized to its heat loss."""

RESIDUALS = ("mass", "head", "energy", "inlet")
"""The balances of a solved system, whose residuals the summary states."""


def design_checks(survey: SurveyData, frames: Mapping[str, pd.DataFrame], facts: Mapping[str, Any]) -> pd.DataFrame:
    """All checks of a design from its tables and summary, the worst first within the order of the limits."""
    rows = [
        *heat_checks(survey, frames),
        *loop_checks(frames["loops"], frames["elements"]),
        *_regime_checks(frames["loops"], frames["elements"]),
        *_valve_checks(survey, frames["loops"], frames["valves"]),
        *_balance_checks(frames),
        *source_checks(survey, facts),
        *frost_checks(survey),
        *(
            check_at_most(HEAD, pump["pump"], pump["head_kpa"], MAX_HEAD_KPA)
            for pump in frames["pumps"].to_dict("records")
        ),
        *survey_checks(survey),
        *(check_at_most(RESIDUAL, name, facts[f"residual_{name}"], MAX_RESIDUAL) for name in RESIDUALS),
    ]
    ranked = sorted(rows, key=lambda row: -WORST[row.verdict])
    return table_frame(CHECKS, map(asdict, ranked))


def loop_checks(loops: pd.DataFrame, elements: pd.DataFrame) -> Iterator[CheckResult]:
    """Water velocity and pipe friction of every loop and trunk."""
    for loop in loops.to_dict("records"):
        yield check_at_most(VELOCITY, loop["loop"], loop["max_velocity_m_s"], MAX_VELOCITY_M_S)
        pipes = elements[(elements["loop"] == loop["loop"]) & elements["kind"].isin(["tail", "piece", "floor section"])]
        gradient = (pipes["pressure_drop_pa"] / pipes["length_m"])[pipes["length_m"] > 0]
        yield check_at_most(GRADIENT, loop["loop"], gradient.max(), MAX_GRADIENT_PA_M)
    trunks = elements[elements["kind"] == "trunk"]
    for name, rows in trunks.groupby("label", sort=False):
        subject = f"trunk {name}"
        yield check_at_most(VELOCITY, subject, rows["velocity_m_s"].max(), MAX_VELOCITY_M_S)
        yield check_at_most(GRADIENT, subject, (rows["pressure_drop_pa"] / rows["length_m"]).max(), MAX_GRADIENT_PA_M)


def _regime_checks(loops: pd.DataFrame, elements: pd.DataFrame) -> Iterator[CheckResult]:
    """Loops whose channels are between laminar and turbulent flow."""
    for name in loops["loop"]:
        channels = elements[(elements["loop"] == name) & elements["kind"].isin(["piece", "floor section", "crossing"])]
        between = channels["reynolds"].between(LAMINAR_RE, TURBULENT_RE, inclusive="neither")
        if between.any():
            yield check_at_most(BETWEEN, name, channels["reynolds"][between].max(), LAMINAR_RE)


def _valve_checks(survey: SurveyData, loops: pd.DataFrame, valves: pd.DataFrame) -> Iterator[CheckResult]:
    for row in valves.to_dict("records"):
        valve = survey.catalogue.valve(row["valve"])
        arm = f", arm {row['arm']}" if row["arm"] else ""
        subject = f"{row['loop']}, {row['side']} valve{arm}"
        if row["is_balancing"]:
            yield check_at_least(BALANCE, subject, row["kv_m3_h"], valve.kv_m3_h[0])
        if valve.max_dp_kpa is not None:
            yield check_at_most(QUIET, subject, row["pressure_drop_kpa"], valve.max_dp_kpa)
        if row["is_thermostatic"]:
            yield check_at_least(AUTHORITY, subject, row["authority"], MIN_AUTHORITY)
            if valve.max_dp_kpa is not None:
                yield check_at_most(QUIET_SHUT, subject, row["closing_pressure_kpa"], valve.max_dp_kpa)
    for loop in loops.to_dict("records"):
        if not loop["is_index_loop"] and loop["loop"] not in set(valves["loop"][valves["is_balancing"]]):
            yield check_at_most(NO_VALVE, loop["loop"], loop["available_pressure_kpa"] - loop["pressure_drop_kpa"], 0.0)


def _balance_checks(frames: Mapping[str, pd.DataFrame]) -> Iterator[CheckResult]:
    for loop in frames["loops"].to_dict("records"):
        yield check_at_most(ROUNDED, loop["loop"], abs(loop["flow_error_percent"]), MAX_FLOW_ERROR_PERCENT)
    for valve in frames["valves"].to_dict("records"):
        if valve["arm"] and valve["is_balancing"]:
            subject = f"{valve['loop']}, arm {valve['arm']}"
            yield check_at_most(ROUNDED, subject, abs(valve["flow_error_percent"]), MAX_FLOW_ERROR_PERCENT)
    short = set(frames["rooms"]["room"][frames["rooms"]["coverage"] < 1.0 - SIZED_SHARE])
    for row in frames["remote_sensors"].to_dict("records"):
        if row["room"] not in short and row["coverage"] == row["coverage"]:
            subject = f"{row['room']}, controlled by the sensor in {row['sensor_room']}"
            yield check_at_least(SENSED, subject, row["coverage"], MIN_SENSED)
    for row in frames["loop_isolation"].to_dict("records"):
        if row["most_affected_loop"]:
            subject = f"{row['most_affected_loop']} when {row['isolated_loop']} is isolated"
            yield check_at_most(SHUT, subject, abs(row["flow_change_percent"]), MAX_SHUT_CHANGE_PERCENT)
    elements = frames["elements"]
    pieces = elements[elements["kind"].isin(["piece", "floor section"]) & (elements["direction"] == "flow")]
    for name, of_loop in pieces.groupby("loop", sort=False):
        if of_loop["arm"].max() < 2:
            continue
        of_arm = of_loop.groupby("arm").agg({"mass_flow_kg_s": "max", "length_m": "sum"})
        share = (of_arm["mass_flow_kg_s"] / of_arm["mass_flow_kg_s"].sum()) / (
            of_arm["length_m"] / of_arm["length_m"].sum()
        )
        yield check_at_most(ARM_SHARE, str(name), max(share.max(), 1.0 / share.min()), MAX_ARM_SHARE)


def survey_checks(survey: SurveyData) -> Iterator[CheckResult]:
    """Checks that require only the survey: estimated rooms, walls and doorways, consistency."""
    for room in survey.rooms:
        if not room.walls and room.estimated_wall_m is not None:
            yield check_at_most(QUOTED, room.name, room.estimated_wall_m, 0.0)
    for limit, doubts in ((ONE_SIDED, unmatched_walls(survey)), (LONE_DOORWAY, unmatched_doorways(survey))):
        for doubt in doubts:
            yield check_at_least(replace(limit, remedy=doubt.look), doubt.subject, 1.0, 2.0)
    for doubt in walls_without_adjacent_side(survey):
        yield check_at_least(replace(UNSAID, remedy=doubt.look), doubt.subject, 0.0, 1.0)
    yield from plausibility_checks(survey)


def source_checks(survey: SurveyData, facts: Mapping[str, Any]) -> Iterator[CheckResult]:
    """Checks of the heat source and its pump, from the key figures."""
    source = survey.source
    if source.max_flow_temp_c is not None:
        yield check_at_most(SOURCE_TEMP, source.kind, facts["flow_temp_c"], source.max_flow_temp_c)
    if source.output_kw is not None:
        required = replace(SOURCE_OUTPUT, remedy=source_output_remedy(facts))
        yield check_at_least(required, source.kind, source.output_kw, facts["source_required_w"] / 1000.0)
        drawn_kw = facts["source_heat_w"] / 1000.0
        limit = SOURCE_DRAW
        if drawn_kw > source.output_kw:
            limit = replace(limit, remedy=f"{source_draw_words(facts)}: {source_draw_remedy(facts, limit.remedy)}")
        yield check_at_most(limit, source.kind, drawn_kw, source.output_kw)
    if source.min_flow_l_h is not None:
        yield check_at_least(SOURCE_FLOW, source.kind, facts["pump_flow_l_h"], source.min_flow_l_h)
    if source.min_always_open_water_l is not None:
        yield check_at_least(OPEN_WATER, source.kind, facts["always_open_water_l"], source.min_always_open_water_l)
    if source.pump is not None:
        yield check_at_most(PUMP_RANGE, "pump", facts["pump_flow_l_h"], source.pump.flow_m3_h[-1] * 1000.0)
        yield check_at_least(PUMP, "pump", facts["pump_head_available_kpa"], facts["pump_head_kpa"])
        required_kpa, available_kpa = facts["pump_head_kpa"], facts["pump_head_available_kpa"]
        setting_kpa = set_head_kpa(source.pump, facts["pump_flow_l_h"] / 3.6e6)
        if setting_kpa is not None:
            yield check_at_least(PUMP_SETTING, "pump", setting_kpa, required_kpa)
        if 0.0 < required_kpa <= available_kpa:
            yield check_at_least(PUMP_RESERVE, "pump", available_kpa / required_kpa, MIN_PUMP_RESERVE)
        if source.pump.constant_kpa is None and source.pump.proportional_kpa is None:
            yield check_at_least(DEAD_HEAD, "pump", facts["always_open_flow_l_h"], DEAD_HEAD_L_H)
