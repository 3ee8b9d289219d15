"""What a design tells of itself, whether it can be built and which rooms are short, and a system as it runs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import pandas as pd

from heatloop.results.checks.heat_checks import ROOM_WARM
from heatloop.results.checks.remedies import recommended_changes
from heatloop.results.tables.loops_and_rooms import LOOPS, ROOMS
from heatloop.results.tables.operating_point import RATED_LOOPS, RATED_ROOMS
from heatloop.text.column import text_column
from heatloop.text.formatting import listing, number, plural, short_listing
from heatloop.text.summary import BulletList, Summary, grid

SHOWN_ROOMS = ROOMS.headed(
    {
        "room": "Room",
        "indoor_c": "Indoor",
        "heat_loss_w": "Loss",
        "back_loss_w": "Back loss",
        "heat_to_rooms_w": "Heat to rooms",
        "margin_w": "Margin",
        "heated_length_m": "Heated",
        "free_wall_m": "Free wall",
    }
)
SHOWN_LOOPS = LOOPS.headed(
    {
        "loop": "Loop",
        "flow_l_h": "Flow",
        "flow_temp_c": "Flow",
        "return_temp_c": "Return",
        "heat_to_rooms_w": "Heat to rooms",
        "pressure_drop_kpa": "Pressure drop",
        "valve_setting": "Preset",
    }
)
SHOWN_RATED_LOOPS = RATED_LOOPS.headed(
    {
        "loop": "Loop",
        "state": "State",
        "flow_l_h": "Flow",
        "flow_percent": "Of design flow",
        "flow_temp_c": "Flow",
        "return_temp_c": "Return",
        "heat_to_rooms_w": "Heat to rooms",
        "max_velocity_m_s": "Max. velocity",
    }
)
SHOWN_RATED_ROOMS = (
    *RATED_ROOMS.headed(
        {
            "room": "Room",
            "indoor_c": "Indoor",
            "heat_loss_w": "Loss",
            "back_loss_w": "Back loss",
            "heat_to_rooms_w": "Heat to rooms",
            "margin_w": "Margin",
        }
    ),
    text_column("warm", "Warm"),
    *RATED_ROOMS.headed({"controls_loop": "Controls loop"}),
)


def design_account(facts: Mapping[str, Any], frames: Mapping[str, pd.DataFrame]) -> Summary:
    """A design by its summary and its tables."""
    rooms, loops = frames["rooms"], frames["loops"]
    return Summary(
        f"{facts['project']}: flow {number(facts['flow_temp_c'], 1)} °C, outdoors {number(facts['outdoor_c'], 1)} °C",
        (
            verdict_sentence(rooms, frames["checks"]),
            rooms_sentence(rooms),
            plant_sentence(facts),
            source_sentence(facts),
        ),
        (
            grid("Rooms", rooms.to_dict("records"), SHOWN_ROOMS),
            grid("Loops", loops.to_dict("records"), SHOWN_LOOPS),
        ),
        tuple(_standing(frames["checks"])),
    )


def operating_account(facts: Mapping[str, Any], frames: Mapping[str, pd.DataFrame]) -> Summary:
    """A system as it runs, by its summary and its tables: loops with their state, rooms that are warm or not."""
    rooms = [{**row, "warm": "yes" if row["is_warm"] else "no"} for row in frames["rooms"].to_dict("records")]
    states = [(facts[f"loops_{state}"], state) for state in ("open", "throttled", "shut")]
    loops = listing(f"{count} {state}" for count, state in states if count)
    cold = int(facts["rooms_below_temperature"])
    return Summary(
        f"{facts['project']}, operating point: flow {number(facts['flow_temp_c'], 1)} °C, outdoor "
        f"{number(facts['outdoor_c'], 1)} °C",
        (
            f"{plural(cold, 'room stays', 'rooms stay')} cold." if cold else "Every heated room is warm.",
            f"Loops: {loops}.",
            f"Source gives {number(facts['source_heat_w'])} W, {number(facts['source_flow_l_h'])} l/h, back at "
            f"{number(facts['return_temp_c'], 1)} °C; pump {number(facts['pump_head_kpa'], 1)} kPa, "
            f"{facts['pump_control']}.",
        ),
        (
            grid("Rooms", rooms, SHOWN_RATED_ROOMS),
            grid("Loops", frames["loops"].to_dict("records"), SHOWN_RATED_LOOPS),
        ),
    )


def _standing(checks: pd.DataFrame) -> Iterator[BulletList]:
    found = recommended_changes(checks)
    for verdict, caption in (("fail", "Checks that fail"), ("caution", "Cautions")):
        items = tuple(f"{one.where}, {one.what}. {one.remedy}" for one in found if one.verdict == verdict)
        if items:
            yield BulletList(caption, items)


def verdict_sentence(rooms: pd.DataFrame, checks: pd.DataFrame, stuck: int = 0) -> str:
    """Whether the design can be built as it stands, cold rooms before all else.

    checks may hold those of the handover pack too; stuck: straights of profile without room to grow.
    """
    short = _short(rooms)
    failed = checks[checks["verdict"] == "fail"]
    broken = int((failed["check"] != ROOM_WARM.check).sum()) + stuck
    cautions = int((checks["verdict"] == "caution").sum())
    if not short.empty:
        name, margin_w = short["room"].iloc[0], short["margin_w"].iloc[0]
        cold = (
            f"{name} stays cold, {number(-margin_w)} W short"
            if len(short) == 1
            else f"{len(short)} of {plural(len(rooms), 'room')} stay cold"
        )
        also = f", and {plural(broken, 'other limit is', 'other limits are')} not met" if broken else ""
        return f"Not ready to build: {cold}{also}."
    if broken:
        return f"Not ready to build: {plural(broken, 'limit is', 'limits are')} not met."
    if cautions:
        return f"No limit is broken; settle {plural(cautions, 'caution')} before it is built."
    return "Ready to build: every limit is met."


def _short(rooms: pd.DataFrame) -> pd.DataFrame:
    cold = (rooms["margin_w"] < 0) & (rooms["coverage"] < 1.0 - 1e-9)
    return rooms[cold].sort_values("margin_w", kind="stable")


def rooms_sentence(rooms: pd.DataFrame) -> str:
    """Which rooms are short of heat on the design day, and by how much; the shortest first."""
    short = _short(rooms)
    warm = len(rooms) - len(short)
    if short.empty:
        return f"All {warm} rooms are warm on the design day." if warm > 1 else "The room is warm on the design day."
    told = [f"{room} by {number(-margin)} W" for room, margin in zip(short["room"], short["margin_w"], strict=True)]
    rest = "" if not warm else "; the other is warm" if warm == 1 else f"; the other {warm} are warm"
    return f"{len(short)} of {plural(len(rooms), 'room')} short of heat on the design day: {short_listing(told)}{rest}."


def plant_sentence(summary: Mapping[str, Any]) -> str:
    """What source and pump have to do."""
    return (
        f"The loops give their rooms {number(summary['heat_to_rooms_w'])} W against a heat loss of "
        f"{number(summary['heat_loss_w'])} W, with water at {number(summary['flow_temp_c'], 1)} °C out and "
        f"{number(summary['return_temp_c'], 1)} °C back; the pump moves {number(summary['pump_flow_l_h'])} l/h "
        f"against {number(summary['pump_head_kpa'], 1)} kPa ({summary['pump_control']}).{_plain(summary)}"
    )


def _plain(summary: Mapping[str, Any]) -> str:
    """What the antifreeze asks of the pump, against plain water; nothing where there is none."""
    flow, head = summary["pump_flow_water_only_l_h"], summary["pump_head_water_only_kpa"]
    if flow is None or flow != flow:
        return ""
    return f" With plain water: {number(flow)} l/h against {number(head, 1)} kPa; the antifreeze makes the rest."


def source_sentence(summary: Mapping[str, Any]) -> str:
    """What is drawn from the source and where it goes, in watts that add up as they are printed; the loop that sets
    the pump's head, and the water it holds."""
    head = summary["pump_head_available_kpa"]
    pump = "" if head is None or head != head else f"; its pump can give {number(head, 1)} kPa at that flow"
    given, used = round(summary["source_heat_w"]), round(summary["heat_to_rooms_w"])
    lost = (("from pipes", "pipe_loss_w"), ("from trunks", "trunk_loss_w"), ("below floor sections", "downward_loss_w"))
    ways = [way for way, key in lost if summary[key] > 0.0]
    told = f"{number(used)} W to the rooms" + (f" and {number(given - used)} W lost {listing(ways)}" if ways else "")
    most = summary["source_output_kw"]
    of = "" if most is None or most != most else f" of its {number(most, 1)} kW"
    return (
        f"The source gives {number(given)} W{of}, {told}{pump}. "
        f"Index loop: {summary['index_loop']}. The system holds {number(summary['water_content_l'], 1)} l."
    )
