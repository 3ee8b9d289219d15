"""Every limit in one place: its name, value, unit, source and the remedy when it is not met.

A check compares numbers that are already computed; it decides a verdict and computes nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, fields, replace
from typing import Any

import pandas as pd

from heatloop.check import WORST, Check, Limit, Verdict, least, most, worst
from heatloop.checks_heat import TOUCH, TOUCH_C, heat_checks
from heatloop.survey.model import Survey
from heatloop.survey.pairs import built_towards_nothing, lone_doorways, one_sided_walls

__all__ = ["TOUCH", "TOUCH_C", "Check", "Limit", "Verdict", "design_checks", "least", "most", "worst"]

MOST_VELOCITY_M_S = 1.0
MOST_GRADIENT_PA_M = 300.0
LAMINAR_RE, TURBULENT_RE = 2000.0, 4000.0
LEAST_AUTHORITY = 0.3
LEAST_PUMP_RESERVE = 1.1
MOST_ARM_SHARE = 1.25
MOST_FLOW_ERROR_PERCENT = 15.0
MOST_SHUT_CHANGE_PERCENT = 25.0
LEAST_SENSED = 1.0
DEAD_HEAD_L_H = 1.0

PIPEWORK = "CIBSE Guide B as cited in lecture notes: heating pipework to 50 mm"
VELOCITY = Limit("water velocity", "m/s", PIPEWORK, "take a larger pipe, a larger drop, or divide the loop")
GRADIENT = Limit(
    "pipe friction", "Pa/m", PIPEWORK, "take a larger pipe, a larger drop, or divide the loop", "caution"
)  # fmt: skip
QUIET = Limit(
    "quiet valve", "kPa", "largest quiet pressure drop of the valve's catalogue entry",
    "share the drop with a lockshield valve, lower the pump head, or fit a differential control",
)  # fmt: skip
BALANCE = Limit(
    "valve can balance", "m3/h", "Kv table of the valve's catalogue entry",
    "choose a valve with a finer range for this loop, or fit a second one in series",
)  # fmt: skip
NO_VALVE = Limit(
    "loop has a balancing valve", "kPa", "common practice",
    "put a lockshield valve on the loop's return: without it this loop takes more than its share",
)  # fmt: skip
PUMP = Limit(
    "pump head available", "kPa", "pump curve of the survey",
    "a stronger pump or speed, larger pipes on the index loop, or a larger design drop",
)  # fmt: skip
PUMP_RANGE = Limit(
    "flow within the pump's curve", "l/h", "pump curve of the survey", "a larger pump, or a larger design drop"
)
SOURCE_OUTPUT = Limit(
    "source output", "kW", "output of the source in the survey, against the load of the building",
    "a larger source, or less heat loss",
)  # fmt: skip
SOURCE_TEMP = Limit(
    "source flow temperature", "degC", "greatest flow temperature of the source in the survey",
    "lower the flow temperature and lay more skirting, or another source",
)  # fmt: skip
SOURCE_FLOW = Limit(
    "least flow of the source", "l/h", "least flow of the source in the survey",
    "a smaller design drop, a bypass, or a low-loss header with its own pump", "caution",
)  # fmt: skip
OPEN_WATER = Limit(
    "water that stays open", "l", "least open water of the source in the survey",
    "leave a loop without a closing valve, or add a buffer vessel", "caution",
)  # fmt: skip
AUTHORITY = Limit(
    "authority of a thermostatic valve", "-", "common practice: 0.3 to 0.5 of the pressure at closure",
    "choose a lower presetting or a smaller valve, or hold the differential of the loop with a control", "caution",
)  # fmt: skip
QUIET_SHUT = Limit(
    "quiet valve when it closes", "kPa", "largest quiet pressure drop of the valve's catalogue entry",
    "lower the pump's head, let it keep a differential, or fit a differential control", "caution",
)  # fmt: skip
PUMP_RESERVE = Limit(
    "pump reserve", "-", "common practice: a tenth of the head needed",
    "a stronger pump or larger pipes on the index loop: fouling and errors of the survey eat the reserve", "caution",
)  # fmt: skip
ARM_SHARE = Limit(
    "arms share their loop's water", "-", "common practice: a quarter more or less than by length",
    "give each arm a lockshield valve: without them the short arm robs the long one", "caution",
)  # fmt: skip
ROUNDED = Limit(
    "flow at real settings", "%", "common practice: flows within 15 per cent",
    "set the valve between two marks by temperature on site, or choose one with a finer range", "caution",
)  # fmt: skip
SENSED = Limit(
    "room on another room's sensor", "-", "design heat loss, valves throttled to the rooms of their sensors",
    "put the sensor in this room, give it a loop or another emitter of its own, or size by loss", "caution",
)  # fmt: skip
SHUT = Limit(
    "flow of others when a loop shuts", "%", "common practice: a quarter",
    "let the pump keep a differential, or fit a differential control on the trunk", "caution",
)  # fmt: skip
DEAD_HEAD = Limit(
    "flow left when all thermostatic valves shut", "l/h", "common practice: a pump wants some flow",
    "fit a bypass, leave a loop without a thermostatic valve, or take a pump that keeps a differential", "caution",
)  # fmt: skip
BETWEEN = Limit(
    "flow between laminar and turbulent", "Re", "no agreed friction values from Re 2000 to 4000",
    "expect the drop between the two values the report gives; balance on site by temperature", "caution",
)  # fmt: skip
QUOTED = Limit(
    "wall quoted before its survey", "m", "usable_wall_m of the survey stands for walls that nobody has measured",
    "survey the room before anything is ordered: until then all that comes from it is an estimate, without cuts or "
    "marks", "caution",
)  # fmt: skip
ONE_SIDED = Limit(
    "far side told by both rooms", "rooms", "a wall between two rooms belongs to both", "", "caution"
)  # fmt: skip
LONE_DOORWAY = Limit(
    "doorway named in two rooms", "rooms", "an opening with one name in two rooms is one doorway", "", "caution"
)  # fmt: skip

UNSAID = Limit(
    "far side said where a wall has a build-up", "sides", "a wall without beyond is taken as equally warm", "",
    "caution",
)  # fmt: skip


def design_checks(survey: Survey, frames: Mapping[str, pd.DataFrame], facts: Mapping[str, Any]) -> pd.DataFrame:
    """All checks of a design from its tables and summary, the worst first within the order of the limits."""
    rows = [
        *heat_checks(survey, frames),
        *_loop_checks(survey, frames["loops"], frames["elements"]),
        *_valve_checks(survey, frames["loops"], frames["valves"]),
        *_balance_checks(frames),
        *_source_checks(survey, facts),
        *_survey_checks(survey),
    ]
    frame = pd.DataFrame([asdict(row) for row in rows], columns=[f.name for f in fields(Check)])
    rank = frame["verdict"].map(WORST)
    return (
        frame.assign(rank=rank)
        .sort_values("rank", ascending=False, kind="stable")
        .drop(columns="rank")
        .reset_index(drop=True)
    )


def _loop_checks(survey: Survey, loops: pd.DataFrame, elements: pd.DataFrame) -> Iterator[Check]:
    for loop in loops.to_dict("records"):
        yield most(VELOCITY, loop["loop"], loop["max_velocity_m_s"], MOST_VELOCITY_M_S)
        pipes = elements[(elements["loop"] == loop["loop"]) & elements["kind"].isin(["tail", "piece", "sill"])]
        gradient = (pipes["pressure_drop_pa"] / pipes["length_m"])[pipes["length_m"] > 0]
        yield most(GRADIENT, loop["loop"], gradient.max(), MOST_GRADIENT_PA_M)
        channels = elements[(elements["loop"] == loop["loop"]) & elements["kind"].isin(["piece", "sill", "crossing"])]
        between = channels["reynolds"].between(LAMINAR_RE, TURBULENT_RE, inclusive="neither")
        if between.any():
            yield most(BETWEEN, loop["loop"], channels["reynolds"][between].max(), LAMINAR_RE)
    trunks = elements[elements["kind"] == "trunk"]
    for name, rows in trunks.groupby("label", sort=False):
        subject = f"trunk {name}"
        yield most(VELOCITY, subject, rows["velocity_m_s"].max(), MOST_VELOCITY_M_S)
        yield most(GRADIENT, subject, (rows["pressure_drop_pa"] / rows["length_m"]).max(), MOST_GRADIENT_PA_M)


def _valve_checks(survey: Survey, loops: pd.DataFrame, valves: pd.DataFrame) -> Iterator[Check]:
    for row in valves.to_dict("records"):
        valve = survey.catalogue.valve(row["valve"])
        arm = f", arm {row['arm']}" if row["arm"] else ""
        subject = f"{row['loop']}, {row['side']} valve{arm}"
        if row["balancing"]:
            yield least(BALANCE, subject, row["kv_m3_h"], valve.kv_m3_h[0])
        if valve.max_dp_kpa is not None:
            yield most(QUIET, subject, row["drop_kpa"], valve.max_dp_kpa)
        if row["thermostatic"]:
            yield least(AUTHORITY, subject, row["authority"], LEAST_AUTHORITY)
            if valve.max_dp_kpa is not None:
                yield most(QUIET_SHUT, subject, row["closing_kpa"], valve.max_dp_kpa)
    for loop in loops.to_dict("records"):
        if not loop["index"] and loop["loop"] not in set(valves["loop"][valves["balancing"]]):
            yield most(NO_VALVE, loop["loop"], loop["available_kpa"] - loop["pressure_drop_kpa"], 0.0)


def _balance_checks(frames: Mapping[str, pd.DataFrame]) -> Iterator[Check]:
    for loop in frames["loops"].to_dict("records"):
        yield most(ROUNDED, loop["loop"], abs(loop["error_percent"]), MOST_FLOW_ERROR_PERCENT)
    for valve in frames["valves"].to_dict("records"):
        if valve["arm"] and valve["balancing"]:
            subject = f"{valve['loop']}, arm {valve['arm']}"
            yield most(ROUNDED, subject, abs(valve["error_percent"]), MOST_FLOW_ERROR_PERCENT)
    short = set(frames["rooms"]["room"][frames["rooms"]["coverage"] < 1.0])
    for row in frames["sensors"].to_dict("records"):
        if row["room"] not in short and row["coverage"] == row["coverage"]:
            subject = f"{row['room']}, sensor in {row['sensor_room']}"
            yield least(SENSED, subject, row["coverage"], LEAST_SENSED)
    for row in frames["shut"].to_dict("records"):
        if row["worst_loop"]:
            subject = f"{row['worst_loop']} when {row['loop']} shuts"
            yield most(SHUT, subject, abs(row["flow_change_percent"]), MOST_SHUT_CHANGE_PERCENT)
    elements = frames["elements"]
    pieces = elements[elements["kind"].isin(["piece", "sill"]) & (elements["direction"] == "flow")]
    for name, of_loop in pieces.groupby("loop", sort=False):
        if of_loop["arm"].max() < 2:
            continue
        of_arm = of_loop.groupby("arm").agg({"flow_kg_s": "max", "length_m": "sum"})
        share = (of_arm["flow_kg_s"] / of_arm["flow_kg_s"].sum()) / (of_arm["length_m"] / of_arm["length_m"].sum())
        yield most(ARM_SHARE, str(name), max(share.max(), 1.0 / share.min()), MOST_ARM_SHARE)


def _survey_checks(survey: Survey) -> Iterator[Check]:
    for room in survey.rooms:
        if not room.walls and room.usable_wall_m is not None:
            yield most(QUOTED, room.name, room.usable_wall_m, 0.0)
    for limit, doubts in ((ONE_SIDED, one_sided_walls(survey)), (LONE_DOORWAY, lone_doorways(survey))):
        for doubt in doubts:
            yield least(replace(limit, remedy=doubt.look), doubt.subject, 1.0, 2.0)
    for doubt in built_towards_nothing(survey):
        yield least(replace(UNSAID, remedy=doubt.look), doubt.subject, 0.0, 1.0)


def _source_checks(survey: Survey, facts: Mapping[str, Any]) -> Iterator[Check]:
    source = survey.source
    if source.max_flow_temp_c is not None:
        yield most(SOURCE_TEMP, source.kind, facts["flow_temp_c"], source.max_flow_temp_c)
    if source.output_kw is not None:
        yield least(SOURCE_OUTPUT, source.kind, source.output_kw, facts["building_load_w"] / 1000.0)
    if source.min_flow_l_h is not None:
        yield least(SOURCE_FLOW, source.kind, facts["pump_flow_l_h"], source.min_flow_l_h)
    if source.min_open_water_l is not None:
        yield least(OPEN_WATER, source.kind, facts["open_water_l"], source.min_open_water_l)
    if source.pump is not None:
        yield most(PUMP_RANGE, "pump", facts["pump_flow_l_h"], source.pump.flow_m3_h[-1] * 1000.0)
        yield least(PUMP, "pump", facts["pump_head_available_kpa"], facts["pump_head_kpa"])
        reserve = facts["pump_head_available_kpa"] / facts["pump_head_kpa"]
        if reserve >= 1.0:
            yield least(PUMP_RESERVE, "pump", reserve, LEAST_PUMP_RESERVE)
        if source.pump.constant_kpa is None and source.pump.proportional_kpa is None:
            yield least(DEAD_HEAD, "pump", facts["open_flow_l_h"], DEAD_HEAD_L_H)
