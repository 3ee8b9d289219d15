"""What a design tells of itself, whether it can be built and which rooms are short, and a system as it runs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import Any, Literal

import pandas as pd

from heatloop.findings.verdict import Verdict
from heatloop.results.checks.remedies import recommended_changes, source_draw_words
from heatloop.results.tables.loops_and_rooms import LOOPS, ROOMS
from heatloop.results.tables.operating_point import RATED_LOOPS, RATED_ROOMS
from heatloop.text.column import CHECK_COLUMNS, text_column
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


def design_account(facts: Mapping[str, Any], frames: Mapping[str, pd.DataFrame], verdict: Verdict) -> Summary:
    """A design by its verdict, its summary and its tables."""
    rooms, loops = frames["rooms"], frames["loops"]
    return Summary(
        f"{facts['project']}: flow {number(facts['flow_temp_c'], 1)} °C, outdoors {number(facts['outdoor_c'], 1)} °C",
        (
            verdict.headline,
            rooms_sentence(rooms),
            plant_sentence(facts),
            source_sentence(facts),
        ),
        (
            grid("Rooms", rooms.to_dict("records"), SHOWN_ROOMS),
            grid("Loops", loops.to_dict("records"), SHOWN_LOOPS),
        ),
        tuple(_standing(verdict)),
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


def unmet_checks(verdict: Verdict) -> pd.DataFrame:
    """The checks of a verdict that are not met, as rows of a table of checks; those that fail first."""
    return pd.DataFrame(map(asdict, (*verdict.fails, *verdict.cautions)), columns=[one.name for one in CHECK_COLUMNS])


def _standing(verdict: Verdict) -> Iterator[BulletList]:
    found = recommended_changes(unmet_checks(verdict))
    for outcome, caption in (("fail", "Checks that fail"), ("caution", "Cautions")):
        items = tuple(f"{one.where}, {one.what}. {one.remedy}" for one in found if one.verdict == outcome)
        if items:
            yield BulletList(caption, items)


def short_rooms(rooms: pd.DataFrame) -> pd.DataFrame:
    """Rooms that get less than their heat loss, the coldest first."""
    cold = (rooms["margin_w"] < 0) & (rooms["coverage"] < 1.0 - 1e-9)
    return rooms[cold].sort_values("margin_w", kind="stable")


TIGHT_COVERAGE = 1.05
"""Below this share of its heat loss a warm room has little to spare."""


def room_state(row: Mapping[Any, Any]) -> Literal["warm", "tight", "short"]:
    """Whether a room is short of heat, warm with less than a twentieth to spare, or warm; from its row of rooms."""
    if row["margin_w"] < 0 and row["coverage"] < 1.0 - 1e-9:
        return "short"
    return "tight" if row["coverage"] < TIGHT_COVERAGE else "warm"


def rooms_sentence(rooms: pd.DataFrame) -> str:
    """Which rooms are short of heat on the design day, and by how much; the shortest first."""
    short = short_rooms(rooms)
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
    return (
        f"{_source_words(summary, given)}, {told}{pump}. "
        f"Index loop: {summary['index_loop']}. The system holds {number(summary['water_content_l'], 1)} l."
    )


def _source_words(summary: Mapping[str, Any], given: int) -> str:
    """What is drawn from the source; where that is more than it holds, what then becomes of the flow temperature."""
    most = summary["source_output_kw"]
    if most is None or most != most:
        return f"The source gives {number(given)} W"
    if given <= 1000.0 * most:
        return f"The source gives {number(given)} W of its {number(most, 1)} kW"
    words = source_draw_words(summary)
    return f"{words[:1].upper()}{words[1:]}. Drawn: {number(given)} W"
