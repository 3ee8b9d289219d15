"""The commissioning sheet in figures: what to set, and what flow and return to expect in the weather of the day.

Rooms count as warm as they are meant to be, valves stand at their marks, thermostatic ones as they regulate or with
their heads off, the pump as commissioned for the design. On the day itself the flow temperature is what is read at the
source, or what weather compensation asks for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd

from heatloop.handover.commissioning.conditions import Day, by_weather
from heatloop.hydraulics.analysis.room_output import hottest_surface_c
from heatloop.hydraulics.loop_paths import rooms_of
from heatloop.hydraulics.sizing.sized_system import SizedSystem, SizedValve
from heatloop.hydraulics.solver.operating_state import Operation

LADDER_C = (-10.0, -5.0, 0.0, 5.0, 10.0)
"""Outdoor temperatures of the table of part loads, those above the design's."""

BOXES = ["setting_as_left", "flow_found_l_h", "flow_temp_found_c", "return_temp_found_c", "initials"]
"""Columns that are left empty, to be filled in by hand."""

COMMISSIONING = [
    "loop", "arm", "rooms", "valve", "setting", "real_setting", "other_settings", "target_flow_l_h", "flow_today_l_h",
    "flow_temp_c", "return_temp_c", "delta_t_k", "design_return_temp_c", "heads_off_flow_l_h",
    "heads_off_return_temp_c", "valve_drop_kpa", *BOXES,
]  # fmt: skip

PART_LOAD = ["outdoor_c", "share", "loop", "flow_l_h", "flow_temp_c", "return_temp_c", "delta_t_k"]


def commissioning_table(
    system: SizedSystem, today: Day, now: Operation | None, without_heads: Operation | None
) -> pd.DataFrame:
    """One row a balancing valve (a loop without one has a row too): setting, flows, temperatures, empty boxes.

    `target_flow_l_h` is the design's flow, with valves between their marks; `flow_today_l_h` what the marks give with
    the water of the day, `heads_off_flow_l_h` with thermostatic heads off; temperatures are those of the day. `now` is
    the system of the day, `without_heads` the same with thermostatic heads off; None where the water is too cool.
    """
    off = without_heads
    rows = []
    whole: list[SizedValve | None] = [None]
    for index, loop in enumerate(system.survey.loops):
        valves = [valve for valve in system.valves if valve.loop == index]
        others = "; ".join(_set_at(valve) for valve in valves if not valve.balancing)
        for valve in [one for one in valves if one.balancing] or whole:
            arm = 0 if valve is None else valve.arm
            rows.append(
                {
                    "loop": loop.name,
                    "arm": arm,
                    "rooms": ", ".join(rooms_of(system.state.assembly.loops[index])),
                    "valve": "" if valve is None else valve.name,
                    "setting": math.nan if valve is None else valve.setting,
                    "real_setting": pd.NA if valve is None else valve.nearest.setting,
                    "other_settings": others,
                    "target_flow_l_h": flow_l_h(system.state, index, arm),
                    "flow_today_l_h": math.nan if now is None else flow_l_h(now, index, arm),
                    "flow_temp_c": today.flow_temp_c if now is None else float(now.supply_c[index]),
                    "return_temp_c": math.nan if now is None else return_c(now, index, arm),
                    "design_return_temp_c": return_c(system.state, index, arm),
                    "heads_off_flow_l_h": math.nan if off is None else flow_l_h(off, index, arm),
                    "heads_off_return_temp_c": math.nan if off is None else return_c(off, index, arm),
                    "valve_drop_kpa": math.nan if valve is None else valve.drop_pa / 1000.0,
                    **dict.fromkeys(BOXES, ""),
                }
            )
    frame = pd.DataFrame(rows)
    frame["delta_t_k"] = frame["flow_temp_c"] - frame["return_temp_c"]
    return frame[COMMISSIONING].astype({"real_setting": "Int64"})


def _set_at(valve: SizedValve) -> str:
    place = f", arm {valve.arm}" if valve.arm else ""
    return f"{valve.side}{place}: {valve.name} at {valve.nearest.setting:d}"


def flow_l_h(state: Operation, loop: int, arm: int) -> float:
    """Flow of a loop, or of one of its arms (from 1), litres an hour at its own temperature where it is measured."""
    network = state.assembly
    for i, place in enumerate(network.places):
        element = place.element
        if place.loop == loop and element.arm == arm and (element.kind == "valve" if arm else element.kind == "tail"):
            return float(state.flow_kg_s[i] / state.density_kg_m3[i] * 3.6e6)
    raise ValueError(f"loop {network.loops[loop].loop.name}: no place to measure the flow of arm {arm}")


def return_c(state: Operation, loop: int, arm: int) -> float:
    """Return temperature of a loop where its tails come home, or of one of its arms where it ends, degC."""
    if arm == 0:
        return float(state.return_c[loop])
    arms = [a for a, owner in enumerate(state.assembly.arm_loop) if owner == loop]
    return float(state.arms[arms[arm - 1]].return_c)


def part_load_days(system: SizedSystem) -> tuple[Day, ...]:
    """Days of the table of part loads: the design's outdoor temperature first, then milder ones."""
    design_c = system.survey.project.outdoor_c
    return tuple(by_weather(system, outdoor_c) for outdoor_c in (design_c, *(t for t in LADDER_C if t > design_c)))


def part_load_table(system: SizedSystem, states: Sequence[tuple[Day, Operation]]) -> pd.DataFrame:
    """Flow, and flow and return temperature of every loop on each day with the solved system of that day."""
    rows = []
    for that, state in states:
        for index, loop in enumerate(system.survey.loops):
            back_c, supply_c = float(state.return_c[index]), float(state.supply_c[index])
            rows.append(
                (that.outdoor_c, that.share, loop.name, flow_l_h(state, index, 0), supply_c, back_c, supply_c - back_c)
            )
    return pd.DataFrame(rows, columns=PART_LOAD)


def surfaces_table(system: SizedSystem, now: Operation | None, limit_c: float) -> pd.DataFrame:
    """The hottest skirting of every room at the design and on the day, degC; rooms of vulnerable people first.

    `limit_c` is what such people may touch; the verdict, empty for others, is on the design's temperature. `now` is
    the system of the day, None where the water is too cool.
    """
    hottest = hottest_surface_c(system.state)
    of_day = None if now is None else hottest_surface_c(now)
    rows = [
        {
            "room": room.name,
            "vulnerable": room.vulnerable,
            "surface_c": hottest[room.name],
            "surface_today_c": math.nan if of_day is None else of_day[room.name],
            "limit_c": limit_c if room.vulnerable else math.nan,
            "verdict": "" if not room.vulnerable else "caution" if hottest[room.name] > limit_c else "pass",
        }
        for room in sorted(system.survey.rooms, key=lambda room: not room.vulnerable)
        if room.name in hottest
    ]
    columns = ["room", "vulnerable", "surface_c", "surface_today_c", "limit_c", "verdict"]
    return pd.DataFrame(rows, columns=columns)
