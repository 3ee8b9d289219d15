"""The commissioning sheet in figures: what to set, and what flow and return to expect in the weather of the day.

Rooms are at their design temperatures, valves at their nearest settings, thermostatic valves at their proportional band
or with their heads removed, the pump as commissioned for the design. The flow temperature of the day is read at the
source, or follows from weather compensation."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict

import pandas as pd

from heatloop.findings.limits import WORST, CheckResult
from heatloop.handover.commissioning.conditions import CommissioningConditions, compensated_conditions
from heatloop.hydraulics.analysis.room_output import hottest_surface_c
from heatloop.hydraulics.analysis.water_content import ContentItem, content_l
from heatloop.hydraulics.loop_paths import rooms_of
from heatloop.hydraulics.sizing.sized_system import SizedSystem, SizedValve
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.text.column import (
    CHECK_COLUMNS,
    Column,
    TableDescription,
    box_column,
    count_column,
    flag_column,
    number_column,
    share_column,
    text_column,
)
from heatloop.text.table_set import table_frame

LADDER_C = (-10.0, -5.0, 0.0, 5.0, 10.0)
"""Outdoor temperatures of the table of part loads, those above the design's."""

FLOW_TOLERANCE = 0.10
"""Share of the expected flow by which a flow measured on site may differ; common practice."""

AS_TESTED = "with nearest settings and thermostatic heads removed, at the water temperature of the day"
FLOW_RANGE = "expected flow with heads removed ± 10 %: a measured flow between both limits is accepted"

BOXES = (
    box_column("setting_as_left", "Final setting"),
    box_column("measured_flow_l_h", "Flow measured", "l/h"),
    box_column("measured_flow_temp_c", "Flow temperature measured", "°C"),
    box_column("measured_return_temp_c", "Return temperature measured", "°C"),
    box_column("initials", "Initials"),
)

COMMISSIONING = TableDescription(
    "commissioning",
    "Commissioning",
    "One row for each balancing valve: setting, values expected at the conditions of the day, boxes for readings.",
    (
        text_column("loop", "Loop"),
        count_column("arm", "Arm", "the arm that the valve serves; 0: the whole loop"),
        text_column("rooms", "Rooms"),
        text_column("valve", "Balancing valve"),
        number_column(
            "calculated_setting", "Calculated setting", "", 1, "setting that would give the target flow exactly"
        ),
        count_column("set_to", "Nearest setting", "whole setting to which the valve is set"),
        text_column("other_settings", "Other valves"),
        number_column(
            "target_flow_l_h",
            "Flow as designed",
            "l/h",
            0,
            "at design conditions, with valves at their calculated settings",
        ),
        number_column(
            "expected_flow_l_h",
            "Flow today",
            "l/h",
            0,
            "with valves at their nearest settings, at the water temperature of the day",
        ),
        number_column("expected_flow_temp_c", "Flow temperature", "°C", 1, "expected on the day"),
        number_column(
            "expected_return_temp_c", "Return temperature", "°C", 1, "expected on the day, when the rooms are warm"
        ),
        number_column("temperature_drop_k", "Temperature drop", "K", 1),
        number_column("design_return_temp_c", "Return as designed", "°C", 1, "at design conditions"),
        number_column("flow_heads_removed_l_h", "Flow, heads removed", "l/h", 0, AS_TESTED),
        number_column("min_flow_l_h", "Accept from", "l/h", 0, FLOW_RANGE),
        number_column("max_flow_l_h", "Accept to", "l/h", 0, FLOW_RANGE),
        number_column("return_temp_heads_removed_c", "Return, heads removed", "°C", 1, AS_TESTED),
        number_column("valve_pressure_drop_kpa", "Valve pressure drop", "kPa", 1),
        *BOXES,
    ),
)

PART_LOAD = TableDescription(
    "part_load",
    "Other weather",
    "Flow and return of each loop at several outdoor temperatures, with valves at their nearest settings.",
    (
        number_column("outdoor_c", "Outdoor", "°C", 0),
        share_column("load_share", "Load", "share of the design load"),
        text_column("loop", "Loop"),
        number_column("flow_l_h", "Flow rate", "l/h", 0),
        number_column("flow_temp_c", "Flow temperature", "°C", 1),
        number_column("return_temp_c", "Return temperature", "°C", 1),
        number_column("temperature_drop_k", "Temperature drop", "K", 1),
    ),
)

SURFACES = TableDescription(
    "surface_temperatures",
    "Surface temperatures",
    "The hottest skirting of each room; rooms for vulnerable people come first.",
    (
        text_column("room", "Room"),
        flag_column("vulnerable", "Vulnerable people"),
        number_column("design_surface_temp_c", "At design", "°C", 1),
        number_column("expected_surface_temp_c", "Expected on the day", "°C", 1),
        number_column("limit_c", "Limit", "°C", 0),
        Column("verdict", "Verdict", "", "verdict"),
    ),
)

CONTENTS = TableDescription(
    "water_content",
    "Water content",
    "All parts that hold water; a length of skirting includes its joints.",
    (
        text_column("part", "Part"),
        text_column("loop", "Loop"),
        text_column("item", "Item"),
        number_column("channel_length_m", "Channel length", "m", 2, "all channels counted"),
        number_column("content_l_m", "Content", "l/m", 4),
        number_column("water_content_l", "Water content", "l", 3),
    ),
)

HANDOVER_CHECKS = TableDescription(
    "commissioning_checks",
    "Limits of the closed system",
    "Checks of pressures and water treatment with calculated value, limit, source and recommendation.",
    CHECK_COLUMNS,
)


def commissioning_table(
    system: SizedSystem,
    today: CommissioningConditions,
    operating_state: SystemState | None,
    without_heads: SystemState | None,
) -> pd.DataFrame:
    """One row for each balancing valve, and for each loop without one: setting, flows, temperatures, empty boxes.

    `flow_heads_removed_l_h`: flow at the nearest settings, at the water temperature of the day, with thermostatic heads
    removed; its accepted range is beside it. `target_flow_l_h`: flow of the design with calculated settings; a
    reference, not a target on site. `expected_flow_l_h`: flow with heads fitted. Temperatures are those of the day.
    `operating_state`: the system of the day; `without_heads`: the same with heads removed. None where the water is too
    cool.
    """
    off = without_heads
    rows = []
    whole: list[SizedValve | None] = [None]
    for index, loop in enumerate(system.survey.loops):
        valves = [valve for valve in system.valves if valve.loop == index]
        others = "; ".join(_set_at(valve) for valve in valves if not valve.balancing)
        for valve in [listed for listed in valves if listed.balancing] or whole:
            arm = 0 if valve is None else valve.arm
            supply_c = today.flow_temp_c if operating_state is None else float(operating_state.supply_c[index])
            tested_l_h = math.nan if off is None else measured_flow_l_h(off, index, arm)
            back_c = math.nan if operating_state is None else measured_return_temp_c(operating_state, index, arm)
            rows.append(
                {
                    "loop": loop.name,
                    "arm": arm,
                    "rooms": ", ".join(rooms_of(system.state.network.loops[index])),
                    "valve": "" if valve is None else valve.name,
                    "calculated_setting": math.nan if valve is None else valve.setting,
                    "set_to": pd.NA if valve is None else valve.nearest.setting,
                    "other_settings": others,
                    "target_flow_l_h": measured_flow_l_h(system.state, index, arm),
                    "expected_flow_l_h": math.nan
                    if operating_state is None
                    else measured_flow_l_h(operating_state, index, arm),
                    "expected_flow_temp_c": supply_c,
                    "expected_return_temp_c": back_c,
                    "temperature_drop_k": supply_c - back_c,
                    "design_return_temp_c": measured_return_temp_c(system.state, index, arm),
                    "flow_heads_removed_l_h": tested_l_h,
                    "min_flow_l_h": tested_l_h * (1.0 - FLOW_TOLERANCE),
                    "max_flow_l_h": tested_l_h * (1.0 + FLOW_TOLERANCE),
                    "return_temp_heads_removed_c": math.nan if off is None else measured_return_temp_c(off, index, arm),
                    "valve_pressure_drop_kpa": math.nan if valve is None else valve.drop_pa / 1000.0,
                    **{box.name: "" for box in BOXES},
                }
            )
    return table_frame(COMMISSIONING, rows).astype({"set_to": "Int64"})


def _set_at(valve: SizedValve) -> str:
    place = f", arm {valve.arm}" if valve.arm else ""
    return f"{valve.name} on the {valve.side}{place}: setting {valve.nearest.setting:d}"


def measured_flow_l_h(state: SystemState, loop: int, arm: int) -> float:
    """Flow of a loop, or of one of its arms (from 1), litres an hour at its own temperature where it is measured."""
    network = state.network
    for i, place in enumerate(network.locations):
        element = place.element
        if place.loop == loop and element.arm == arm and (element.kind == "valve" if arm else element.kind == "tail"):
            return float(state.flow_kg_s[i] / state.density_kg_m3[i] * 3.6e6)
    raise ValueError(f"loop {network.loops[loop].loop.name}: no place to measure the flow of arm {arm}")


def measured_return_temp_c(state: SystemState, loop: int, arm: int) -> float:
    """Return temperature of a loop at the distribution, or of one of its arms at its end, °C."""
    if arm == 0:
        return float(state.return_c[loop])
    arms = [a for a, owner in enumerate(state.network.arm_loop) if owner == loop]
    return float(state.arms[arms[arm - 1]].return_c)


def part_load_days(system: SizedSystem) -> tuple[CommissioningConditions, ...]:
    """Days of the part-load table: the design outdoor temperature first, then milder ones."""
    design_c = system.survey.project.outdoor_c
    return tuple(
        compensated_conditions(system, outdoor_c) for outdoor_c in (design_c, *(t for t in LADDER_C if t > design_c))
    )


def part_load_table(system: SizedSystem, states: Sequence[tuple[CommissioningConditions, SystemState]]) -> pd.DataFrame:
    """Flow, and flow and return temperature of every loop on each day with the solved system of that day."""
    rows = []
    for that, state in states:
        for index, loop in enumerate(system.survey.loops):
            back_c, supply_c = float(state.return_c[index]), float(state.supply_c[index])
            rows.append(
                (
                    that.outdoor_c,
                    that.share,
                    loop.name,
                    measured_flow_l_h(state, index, 0),
                    supply_c,
                    back_c,
                    supply_c - back_c,
                )
            )
    return table_frame(PART_LOAD, rows)


def surfaces_table(system: SizedSystem, operating_state: SystemState | None, limit_c: float) -> pd.DataFrame:
    """Hottest skirting of every room at the design and on the day in °C; rooms of vulnerable people first.

    `limit_c`: limit for surfaces that such people can touch. The verdict refers to the design temperature; it is empty
    for other rooms. `operating_state`: the system of the day; None where the water is too cool.
    """
    hottest = hottest_surface_c(system.state)
    of_day = None if operating_state is None else hottest_surface_c(operating_state)
    rows = [
        {
            "room": room.name,
            "vulnerable": room.vulnerable,
            "design_surface_temp_c": hottest[room.name],
            "expected_surface_temp_c": math.nan if of_day is None else of_day[room.name],
            "limit_c": limit_c if room.vulnerable else math.nan,
            "verdict": "" if not room.vulnerable else "caution" if hottest[room.name] > limit_c else "pass",
        }
        for room in sorted(system.survey.rooms, key=lambda room: not room.vulnerable)
        if room.name in hottest
    ]
    return table_frame(SURFACES, rows)


def contents_table(rows: Sequence[ContentItem]) -> pd.DataFrame:
    """One row for each part that holds water; the total is last."""
    whole = {"part": "whole system", "loop": "", "item": "", "channel_length_m": None, "content_l_m": None}
    frame = table_frame(CONTENTS, [*map(asdict, rows), {**whole, "water_content_l": content_l(rows)}])
    return frame.astype({"channel_length_m": "float64", "content_l_m": "float64", "water_content_l": "float64"})


def handover_checks_table(rows: Iterable[CheckResult]) -> pd.DataFrame:
    """Checks of the closed system, failed checks first."""
    ranked = sorted(rows, key=lambda row: -WORST[row.verdict])
    return table_frame(HANDOVER_CHECKS, map(asdict, ranked))
