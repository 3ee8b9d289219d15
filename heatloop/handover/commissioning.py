"""The commissioning sheet in figures: what to set, and what flow and return to expect in the weather of the day.

Rooms count as warm as they are meant to be, valves stand at their marks, thermostatic ones as they regulate or with
their heads off, the pump as commissioned for the design. On the day itself the flow temperature is what is read at the
source, or what weather compensation asks for.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from heatloop import tabulate
from heatloop.circuit.path import rooms_of
from heatloop.circuit.solve import Operation
from heatloop.physics.compensation import compensated, load_share
from heatloop.plant import exponent_of, supply_temp_c
from heatloop.rate import rate
from heatloop.result import Design
from heatloop.survey.faults import Fault, SurveyError

Array = NDArray[np.float64]

LADDER_C = (-10.0, -5.0, 0.0, 5.0, 10.0)
"""Outdoor temperatures of the table of part loads, those above the design's."""

LEAST_EXCESS_K = 3.0
"""Flow above the warmest room below which nothing can be told from temperatures; common practice."""

BOXES = ["setting_as_left", "flow_found_l_h", "flow_temp_found_c", "return_temp_found_c", "initials"]
"""Columns that are left empty, to be filled in by hand."""

COMMISSIONING = [
    "loop", "arm", "rooms", "valve", "setting", "real_setting", "other_settings", "target_flow_l_h", "flow_today_l_h",
    "flow_temp_c", "return_temp_c", "delta_t_k", "design_return_temp_c", "heads_off_flow_l_h",
    "heads_off_return_temp_c", "valve_drop_kpa", *BOXES,
]  # fmt: skip
PART_LOAD = ["outdoor_c", "share", "loop", "flow_l_h", "flow_temp_c", "return_temp_c", "delta_t_k"]


@dataclass(frozen=True)
class Day:
    """Outdoor and flow temperature (degC), the share of the design load, and where the flow temperature is from.

    Outdoor temperature and share are NaN where the flow temperature alone is known.
    """

    outdoor_c: float
    flow_temp_c: float
    share: float
    how: str


READ, COMPENSATED, CONSTANT, DESIGN_DAY = (
    "read at the source",
    "by weather compensation",
    "the source does not follow the weather",
    "the design's, since nothing is known of the day",
)


OUTDOOR_C, WATER_C = (-60.0, 40.0), (0.1, 110.0)
"""Temperatures of a day that are taken, as in a survey."""


def day(design: Design, outdoor_c: float | None = None, flow_temp_c: float | None = None) -> Day:
    """The day of commissioning: what is given here goes before what the survey says of its weather.

    Raises SurveyError for temperatures that no day has.
    """
    weather, summary = design.survey.system.weather, design.summary
    asked = (("outdoor_c", outdoor_c, OUTDOOR_C), ("flow_temp_c", flow_temp_c, WATER_C))
    faults = [
        Fault("commissioning", name, f"{value:g}", f"{low:g} to {high:g} degrees C")
        for name, value, (low, high) in asked
        if value is not None and not low <= value <= high
    ]
    if flow_temp_c is not None and not faults and flow_temp_c <= warmest_room_c(design):
        wanted = f"above {warmest_room_c(design):g}, the warmest room: no return can be expected of such water"
        faults.append(Fault("commissioning", "flow_temp_c", f"{flow_temp_c:g}", wanted))
    if faults:
        raise SurveyError(faults)
    outdoor_c = weather.outdoor_c if outdoor_c is None else outdoor_c
    flow_temp_c = weather.flow_temp_c if flow_temp_c is None else flow_temp_c
    if outdoor_c is None:
        known = flow_temp_c is not None
        if known and flow_temp_c is not None:
            return Day(math.nan, flow_temp_c, math.nan, READ)
        return Day(summary["outdoor_c"], summary["flow_temp_c"], 1.0, DESIGN_DAY)
    if flow_temp_c is not None:
        share = load_share(indoor_c(design), outdoor_c, summary["outdoor_c"])
        return Day(outdoor_c, flow_temp_c, share, READ)
    return by_weather(design, outdoor_c)


def by_weather(design: Design, outdoor_c: float) -> Day:
    """The flow temperature at an outdoor temperature, with or without weather compensation."""
    summary, inside_c = design.summary, indoor_c(design)
    if not design.survey.system.weather.compensated:
        share = load_share(inside_c, outdoor_c, summary["outdoor_c"])
        return Day(outdoor_c, summary["flow_temp_c"], share, CONSTANT)
    part = compensated(
        inside_c, outdoor_c, summary["outdoor_c"], summary["flow_temp_c"], summary["return_temp_c"], exponent(design)
    )
    return Day(outdoor_c, part.flow_c, part.share, COMPENSATED)


def indoor_c(design: Design) -> float:
    """Indoor temperature of the building for weather compensation: the rooms' by their heat loss, degC."""
    losses = [loss for loss in design.room_losses if loss.total_w > 0.0]
    return float(np.average([loss.indoor_c for loss in losses], weights=[loss.total_w for loss in losses]))


def exponent(design: Design) -> float:
    """Exponent of the loops as a whole: each one's by its output."""
    exponents = [exponent_of(design.survey, loop) for loop in design.survey.loops]
    return float(np.average(exponents, weights=design.loops["output_w"]))


def state_at(design: Design, flow_temp_c: float, heads_off: bool = False) -> Operation | None:
    """The balanced system with water at `flow_temp_c` (degC) from the source: `rate` with the valves at their marks,
    as a fitter leaves them, pumps as commissioned for the design, thermostatic valves at their proportional band.

    `heads_off`: thermostatic heads are off, so that their valves stand at their full Kv. None where the water
    is too cool to tell anything by. Raises what `rate` raises.
    """
    survey = design.survey
    coolest_c = min(supply_temp_c(survey, loop, flow_temp_c) for loop in survey.loops)
    if coolest_c < warmest_room_c(design) + LEAST_EXCESS_K:
        return None
    if heads_off:
        design = _heads_off(design)
    return rate(design, flow_temp_c=flow_temp_c, thermostats=False).operation


def warmest_room_c(design: Design) -> float:
    """Temperature kept by the warmest of the heated rooms, degC."""
    heated = set(design.survey.heated_rooms)
    return max(room.indoor_c for room in design.survey.rooms if room.name in heated)


def _heads_off(design: Design) -> Design:
    """The design with every thermostatic valve at its Kv without head; at a lower presetting by the same share,
    common practice."""
    stock, state = design.survey.catalogue, design.operation
    share = {valve.name: valve.kvs_m3_h / valve.kv_open_m3_h for valve in stock.valves if valve.kvs_m3_h is not None}
    valves = tuple(
        replace(valve, kv_m3_h=tuple(kv * share.get(valve.name, 1.0) for kv in valve.kv_m3_h)) for valve in stock.valves
    )
    kv = {
        i: float(state.assembly.elements.kv_m3_h[i]) * share[place.element.valve]
        for i, place in enumerate(state.assembly.places)
        if place.element.kind == "valve" and place.element.valve in share
    }
    return replace(
        design,
        survey=replace(design.survey, catalogue=replace(stock, valves=valves)),
        operation=replace(state, assembly=state.assembly.with_kv(kv)),
    )


def commissioning_table(design: Design, today: Day, now: Operation | None) -> pd.DataFrame:
    """One row a balancing valve (a loop without one has a row too): setting, flows, temperatures, empty boxes.

    `target_flow_l_h` is the design's flow, with valves between their marks; `flow_today_l_h` what the marks give with
    the water of the day, `heads_off_flow_l_h` with thermostatic heads off; temperatures are those of the day. `now` is
    the system of the day (see `state_at`).
    """
    off = state_at(design, today.flow_temp_c, heads_off=True)
    rows = []
    for index, loop in enumerate(design.survey.loops):
        valves = design.valves[design.valves["loop"] == loop.name]
        balancing = valves[valves["balancing"]].to_dict("records")
        others = "; ".join(_set_at(row) for row in valves[~valves["balancing"]].to_dict("records"))
        whole: dict[Hashable, Any] = {
            "arm": 0,
            "valve": "",
            "setting": math.nan,
            "real_setting": pd.NA,
            "drop_kpa": math.nan,
        }
        for valve in balancing or [whole]:
            arm = int(valve["arm"])
            rows.append(
                {
                    "loop": loop.name,
                    "arm": arm,
                    "rooms": ", ".join(rooms_of(design.operation.assembly.loops[index])),
                    "valve": valve["valve"],
                    "setting": valve["setting"],
                    "real_setting": valve["real_setting"],
                    "other_settings": others,
                    "target_flow_l_h": flow_l_h(design.operation, index, arm),
                    "flow_today_l_h": math.nan if now is None else flow_l_h(now, index, arm),
                    "flow_temp_c": today.flow_temp_c if now is None else float(now.supply_c[index]),
                    "return_temp_c": math.nan if now is None else return_c(now, index, arm),
                    "design_return_temp_c": return_c(design.operation, index, arm),
                    "heads_off_flow_l_h": math.nan if off is None else flow_l_h(off, index, arm),
                    "heads_off_return_temp_c": math.nan if off is None else return_c(off, index, arm),
                    "valve_drop_kpa": valve["drop_kpa"],
                    **dict.fromkeys(BOXES, ""),
                }
            )
    frame = pd.DataFrame(rows)
    frame["delta_t_k"] = frame["flow_temp_c"] - frame["return_temp_c"]
    return frame[COMMISSIONING].astype({"real_setting": "Int64"})


def _set_at(valve: Mapping[Hashable, Any]) -> str:
    place = f", arm {valve['arm']}" if valve["arm"] else ""
    return f"{valve['side']}{place}: {valve['valve']} at {valve['real_setting']:d}"


def flow_l_h(state: Operation, loop: int, arm: int) -> float:
    """Flow of a loop, or of one of its arms (from 1), litres an hour at its own temperature where it is measured."""
    system = state.assembly
    for i, place in enumerate(system.places):
        element = place.element
        if place.loop == loop and element.arm == arm and (element.kind == "valve" if arm else element.kind == "tail"):
            return float(state.flow_kg_s[i] / state.density_kg_m3[i] * 3.6e6)
    raise ValueError(f"loop {system.loops[loop].loop.name}: no place to measure the flow of arm {arm}")


def return_c(state: Operation, loop: int, arm: int) -> float:
    """Return temperature of a loop where its tails come home, or of one of its arms where it ends, degC."""
    if arm == 0:
        return float(state.return_c[loop])
    arms = [a for a, owner in enumerate(state.assembly.arm_loop) if owner == loop]
    return float(state.arms[arms[arm - 1]].return_c)


def part_load_table(design: Design) -> pd.DataFrame:
    """Flow, and flow and return temperature of every loop at several outdoor temperatures, the design's first; valves
    as in `state_at`."""
    design_c = design.summary["outdoor_c"]
    rows = []
    for outdoor_c in (design_c, *(t for t in LADDER_C if t > design_c)):
        that = by_weather(design, outdoor_c)
        state = state_at(design, that.flow_temp_c)
        if state is None:
            continue
        for index, loop in enumerate(design.survey.loops):
            back_c, supply_c = float(state.return_c[index]), float(state.supply_c[index])
            rows.append(
                (outdoor_c, that.share, loop.name, flow_l_h(state, index, 0), supply_c, back_c, supply_c - back_c)
            )
    return pd.DataFrame(rows, columns=PART_LOAD)


def surfaces_table(design: Design, now: Operation | None, limit_c: float) -> pd.DataFrame:
    """The hottest skirting of every room at the design and on the day, degC; rooms of vulnerable people first.

    `limit_c` is what such people may touch; the verdict, empty for others, is on the design's temperature. `now` is
    the system of the day (see `state_at`).
    """
    hottest = design.along.groupby("room")["surface_c"].max()
    of_day = None if now is None else tabulate.along_table(now).groupby("room")["surface_c"].max()
    rows = [
        {
            "room": room.name,
            "vulnerable": room.vulnerable,
            "surface_c": hottest[room.name],
            "surface_today_c": math.nan if of_day is None else of_day[room.name],
            "limit_c": limit_c if room.vulnerable else math.nan,
            "verdict": "" if not room.vulnerable else "caution" if hottest[room.name] > limit_c else "pass",
        }
        for room in sorted(design.survey.rooms, key=lambda room: not room.vulnerable)
        if room.name in hottest.index
    ]
    columns = ["room", "vulnerable", "surface_c", "surface_today_c", "limit_c", "verdict"]
    return pd.DataFrame(rows, columns=columns)
