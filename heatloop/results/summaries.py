"""Summaries of a design and of an operating point: verdict, rooms with a shortage, loops, source and pump."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import Any, Literal

import pandas as pd

from heatloop.findings.limits import is_at_least, is_at_most
from heatloop.findings.verdict import Verdict
from heatloop.physics.friction import LAMINAR_END_RE, TURBULENT_START_RE
from heatloop.results.checks.operating_checks import SCOPE, SOURCE_HERE
from heatloop.results.checks.remedies import recommended_changes, source_draw_words
from heatloop.results.tables.loops_and_rooms import LOOPS, ROOMS
from heatloop.results.tables.operating_point import RATED_LOOPS, RATED_ROOMS
from heatloop.survey.survey import SurveyData
from heatloop.text.column import CHECK_COLUMNS, text_column
from heatloop.text.formatting import escape_control_characters, listing, number, plural, short_listing, significant
from heatloop.text.summary import BulletList, Summary, grid

SHOWN_ROOMS = ROOMS.headed(
    {
        "room": "Room",
        "indoor_c": "Indoor",
        "heat_loss_w": "Heat loss",
        "back_loss_w": "Back loss",
        "heat_to_rooms_w": "Heat to rooms",
        "margin_w": "Margin",
        "heated_length_m": "Heated length",
        "free_wall_m": "Free wall",
    }
)
SHOWN_LOOPS = LOOPS.headed(
    {
        "loop": "Loop",
        "flow_l_h": "Flow rate",
        "flow_temp_c": "Flow temp.",
        "return_temp_c": "Return temp.",
        "heat_to_rooms_w": "Heat to rooms",
        "pressure_drop_kpa": "Pressure drop, valve open",
        "valve_setting": "Presetting",
    }
)
SHOWN_RATED_LOOPS = RATED_LOOPS.headed(
    {
        "loop": "Loop",
        "state": "State",
        "flow_l_h": "Flow rate",
        "flow_percent": "Share of design flow",
        "flow_temp_c": "Flow temp.",
        "return_temp_c": "Return temp.",
        "heat_to_rooms_w": "Heat to rooms",
        "max_velocity_m_s": "Max. velocity",
    }
)
SHOWN_RATED_ROOMS = (
    *RATED_ROOMS.headed(
        {
            "room": "Room",
            "indoor_c": "Indoor",
            "heat_loss_w": "Heat loss",
            "back_loss_w": "Back loss",
            "heat_to_rooms_w": "Heat to rooms",
            "margin_w": "Margin",
        }
    ),
    text_column("warm", "Warm"),
    *RATED_ROOMS.headed({"controls_loop": "Sensor controls loop"}),
)

IF_HELD = ", if the source holds the flow temperature"
"""Condition of the heat of rooms where more heat is drawn than the source can give."""

MARGIN_NOTE = (
    "Back loss: additional heat loss through the wall that the skirting warms. "
    "Margin: heat to rooms minus heat loss and back loss. Each figure is rounded by itself: the last digits may differ "
    "by 1."
)
ROOMS_NOTE = f"{MARGIN_NOTE} Free wall: wall that is suitable for skirting but has none."
LOOPS_NOTE = (
    "Pressure drop, valve open: pressure drop of the loop with its balancing valve fully open. "
    "Presetting: setting of the balancing valve, on its own scale."
)
RATED_LOOPS_NOTE = (
    "Throttled: partly closed by its thermostatic valve. "
    "Share of design flow: flow rate divided by the design flow rate."
)


def design_summary(facts: Mapping[str, Any], frames: Mapping[str, pd.DataFrame], verdict: Verdict) -> Summary:
    """The summary of a design from its verdict, key figures and tables."""
    rooms, loops = frames["rooms"], frames["loops"]
    return Summary(
        f"{facts['project']}: flow temperature {number(facts['flow_temp_c'], 1)} °C, outdoor temperature "
        f"{number(facts['outdoor_c'], 1)} °C",
        (
            verdict.headline,
            rooms_statement(rooms, facts),
            _heat_words(facts),
            _pump_words(facts),
            source_statement(facts),
        ),
        (
            grid("Rooms", rooms.to_dict("records"), SHOWN_ROOMS, ROOMS_NOTE),
            grid("Loops", loops.to_dict("records"), SHOWN_LOOPS, f"{LOOPS_NOTE} {mixed_words(facts, loops)}".rstrip()),
        ),
        tuple(_bullets(unmet_checks(verdict))),
    )


def mixed_words(facts: Mapping[str, Any], loops: pd.DataFrame) -> str:
    """Why the pump at the heat source circulates less than all loops together; empty where it does not."""
    total_l_h, pump_l_h = float(loops["flow_l_h"].sum()), float(facts["pump_flow_l_h"])
    if total_l_h < pump_l_h + 1.0:
        return ""
    return (
        f"Flow rates of all loops: {number(total_l_h)} l/h. The pump at the heat source circulates only "
        f"{number(pump_l_h)} l/h, because part of the return water is mixed into the flow again at a mixing valve."
    )


def heat_loss_basis(survey: SurveyData) -> str:
    """Where the heat losses are from: the calculation, or the survey."""
    stated = [room.name for room in survey.rooms if room.heat_loss_w is not None]
    if not stated:
        return "The heat loss of each room is calculated to EN 12831-1."
    if len(stated) == len(survey.rooms):
        return "The heat loss of each room is a figure given in the survey, not calculated here."
    return (
        "The heat loss of each room is calculated to EN 12831-1; "
        f"for {short_listing(stated)} it is a figure given in the survey, not calculated here."
    )


def rating_basis(survey: SurveyData) -> str:
    """Where the rating of each profile is from, as the catalogue states it."""
    origins = []
    for profile in survey.profiles:
        unnamed = "invented" if profile.invented else "no source is stated"
        origins.append(f"{profile.name}: {profile.source.rstrip('.') or unnamed}")
    return f"The heat output of the skirting is calculated from the test data of the product ({'; '.join(origins)})."


def loops_in_transition(elements: pd.DataFrame) -> list[str]:
    """Loops with flow between laminar and turbulent in one of their elements."""
    between = (elements["reynolds"] > LAMINAR_END_RE) & (elements["reynolds"] < TURBULENT_START_RE)
    return [str(name) for name in dict.fromkeys(elements.loc[between & (elements["loop"] != ""), "loop"])]


def transition_statement(elements: pd.DataFrame) -> str:
    """Whether flow in the loops lies between laminar and turbulent, with the lowest Reynolds number and its place."""
    own = elements[(elements["loop"] != "") & (elements["reynolds"] > 0.0)]
    if own.empty:
        return ""
    limits = f"Reynolds numbers {LAMINAR_END_RE:.0f} and {TURBULENT_START_RE:.0f}"
    names = loops_in_transition(elements)
    if names:
        where = short_listing(names)
        return f"Between {limits} (in {where}) the pressure drop is given both for laminar and for turbulent flow."
    (lowest,) = own.nsmallest(1, "reynolds").to_dict("records")
    return f"No loop lies between {limits}; lowest {lowest['reynolds']:.0f} ({lowest['loop']}, {lowest['label']})."


def operating_summary_block(facts: Mapping[str, Any], frames: Mapping[str, pd.DataFrame]) -> Summary:
    """The summary of an operating point: loops with their state, rooms with their heat."""
    rooms = [{**row, "warm": "yes" if row["is_warm"] else "no"} for row in frames["rooms"].to_dict("records")]
    states = [(facts[f"loops_{state}"], state) for state in ("open", "throttled", "shut")]
    loops = listing(f"{count} {state}" for count, state in states if count)
    cold, too_much = int(facts["rooms_below_temperature"]), _beyond_output(frames["checks"])
    return Summary(
        f"{facts['project']}, operating point: flow temperature {number(facts['flow_temp_c'], 1)} °C, outdoor "
        f"temperature {number(facts['outdoor_c'], 1)} °C",
        (
            f"{plural(cold, 'room is', 'rooms are')} below {'its' if cold == 1 else 'their'} temperature."
            if cold
            else f"All rooms reach their temperature{IF_HELD if too_much else ''}.",
            f"Loops: {loops}.",
            f"Heat source: {number(facts['source_heat_w'])} W{too_much}; flow rate "
            f"{number(facts['source_flow_l_h'])} l/h, return temperature {number(facts['return_temp_c'], 1)} °C. "
            f"Pump head: {number(facts['pump_head_kpa'], 1)} kPa (setting: {facts['pump_control']}).",
            _limits_words(frames["checks"]),
        ),
        (
            grid("Rooms", rooms, SHOWN_RATED_ROOMS, MARGIN_NOTE),
            grid("Loops", frames["loops"].to_dict("records"), SHOWN_RATED_LOOPS, RATED_LOOPS_NOTE),
        ),
        tuple(_bullets(frames["checks"])),
    )


def _beyond_output(checks: pd.DataFrame) -> str:
    """The source output, where more heat is drawn at these conditions; otherwise empty."""
    beyond = checks[(checks["check"] == SOURCE_HERE.check) & (checks["verdict"] != "pass")]
    return "" if beyond.empty else f", more than the source output of {significant(beyond['limit'].iloc[0])} kW"


def _limits_words(checks: pd.DataFrame) -> str:
    """How many limits are not met at these conditions, and what was checked."""
    counts = checks["verdict"].value_counts()
    unmet = [
        f"{plural(int(counts[outcome]), *words)}{_kinds(checks, outcome)}"
        for outcome, words in (("fail", ("failed check", "failed checks")), ("caution", ("caution", "cautions")))
        if outcome in counts
    ]
    state = listing(unmet) if unmet else "all limits are met"
    return (
        f"Checked at these conditions: {'; '.join(SCOPE)}. Result: {state}. "
        "The verdict of a design is made at design conditions only."
    )


def _kinds(checks: pd.DataFrame, outcome: str) -> str:
    """Which checks have this outcome, where several places have one of them."""
    found = checks["check"][checks["verdict"] == outcome]
    if found.is_unique:
        return ""
    if found.nunique() == 1:
        return f' ({"both" if len(found) == 2 else "all of them"} "{escape_control_characters(found.iloc[0])}")'
    return f" (of {number(found.nunique())} different checks)"


def unmet_checks(verdict: Verdict) -> pd.DataFrame:
    """The checks of a verdict that are not met, as rows of a table of checks; failed checks first."""
    return pd.DataFrame(
        map(asdict, (*verdict.fails, *verdict.cautions)), columns=[column.name for column in CHECK_COLUMNS]
    )


def _bullets(checks: pd.DataFrame) -> Iterator[BulletList]:
    """Failed checks and cautions, each with its place and remedy."""
    recommendations = recommended_changes(checks)
    for outcome, caption in (("fail", "Failed checks"), ("caution", "Cautions")):
        items = tuple(
            f"{recommendation.where} – {recommendation.what}. {recommendation.remedy}"
            for recommendation in recommendations
            if recommendation.verdict == outcome
        )
        if items:
            yield BulletList(caption, items)


def short_rooms(rooms: pd.DataFrame) -> pd.DataFrame:
    """Rooms whose heat is below their heat loss, the largest shortage first."""
    cold: pd.Series[bool] = (rooms["margin_w"] < 0) & ~is_at_least(rooms["coverage"], 1.0)
    return rooms[cold].sort_values("margin_w", kind="stable")


TIGHT_COVERAGE = 1.05
"""Margin, as a share of the heat loss, below which a warm room is reported as having a small margin."""


def room_state(row: Mapping[Any, Any]) -> Literal["warm", "tight", "short"]:
    """State of a room from its row: short of heat, warm with less than a twentieth in reserve, or warm."""
    if row["margin_w"] < 0 and not is_at_least(row["coverage"], 1.0):
        return "short"
    return "tight" if row["coverage"] < TIGHT_COVERAGE else "warm"


def rooms_statement(rooms: pd.DataFrame, summary: Mapping[str, Any] | None = None) -> str:
    """Rooms short of heat at design conditions and by how much, the largest shortage first.

    `summary` of the design: whether open valves draw more than the source can give, so that the figures of the rooms
    depend on a condition.
    """
    short = short_rooms(rooms)
    warm = len(rooms) - len(short)
    if short.empty:
        subject = {1: "The room reaches its", 2: "Both rooms reach their"}.get(warm, f"All {warm} rooms reach their")
        return f"{subject} temperature at design conditions{_condition(summary)}."
    listed = short_listing(
        f"{room} by {number(-margin)} W" for room, margin in zip(short["room"], short["margin_w"], strict=True)
    )
    are = "is" if len(short) == 1 else "are"
    return f"{len(short)} of {plural(len(rooms), 'room')} {are} short of heat at design conditions: {listed}."


def _condition(summary: Mapping[str, Any] | None) -> str:
    output_kw = None if summary is None else summary["source_output_kw"]
    if summary is None or output_kw is None or output_kw != output_kw:
        return ""
    return "" if is_at_most(summary["source_heat_w"], 1000.0 * output_kw) else IF_HELD


def plant_statement(summary: Mapping[str, Any]) -> str:
    """Heat that the rooms require and receive, water temperatures, and the duty of the pump."""
    return f"{_heat_words(summary)} {_pump_words(summary)}"


def _heat_words(summary: Mapping[str, Any]) -> str:
    return (
        f"Heat loss of the rooms: {number(summary['heat_loss_w'])} W, and back loss: "
        f"{number(summary['back_loss_w'])} W. Heat to rooms: {number(summary['heat_to_rooms_w'])} W."
    )


def _pump_words(summary: Mapping[str, Any]) -> str:
    """Water temperatures and pump at the heat source: head required, setting, and available head at the flow rate."""
    head = summary["pump_head_available_kpa"]
    limit = "" if head is None or head != head else f"; available head at this flow rate: {number(head, 1)} kPa"
    return (
        f"Water at the source: flow temperature {number(summary['flow_temp_c'], 1)} °C, return temperature "
        f"{number(summary['return_temp_c'], 1)} °C. Pump: {number(summary['pump_flow_l_h'])} l/h; required head: "
        f"{number(summary['pump_head_kpa'], 1)} kPa; setting: {summary['pump_control']}{limit}.{_plain(summary)}"
    )


def _plain(summary: Mapping[str, Any]) -> str:
    """The pump duty with plain water, for comparison; empty where there is no antifreeze."""
    flow, head = summary["pump_flow_water_only_l_h"], summary["pump_head_water_only_kpa"]
    if flow is None or flow != flow:
        return ""
    return f" With plain water instead of antifreeze: {number(flow)} l/h at {number(head, 1)} kPa."


def source_statement(summary: Mapping[str, Any]) -> str:
    """Heat balance of the source, index loop and water content; the printed watts add up."""
    from_source_w, used = round(summary["source_heat_w"]), round(summary["heat_to_rooms_w"])
    lost = (
        ("pipes", "pipe_loss_w"),
        ("trunks", "trunk_loss_w"),
        ("the underside of floor sections", "downward_loss_w"),
    )
    ways = [way for way, key in lost if summary[key] > 0.0]
    loss = f" and {number(from_source_w - used)} W lost from {listing(ways)}" if ways else ""
    return (
        f"{_source_words(summary, from_source_w)}, of which {number(used)} W to the rooms{loss}. "
        f"Index loop, which requires the largest head: {summary['index_loop']}. "
        f"Water content: {number(summary['water_content_l'], 1)} l."
    )


def _source_words(summary: Mapping[str, Any], heat_w: int) -> str:
    """Heat drawn from the source; where that exceeds its output, the flow temperature that it can hold."""
    maximum = summary["source_output_kw"]
    if maximum is None or maximum != maximum:
        return f"Heat from the source with all thermostatic valves open: {number(heat_w)} W"
    if heat_w <= 1000.0 * maximum:
        full = f" (source output {number(maximum, 1)} kW)"
        return f"Heat from the source{full} with all thermostatic valves open: {number(heat_w)} W"
    words = source_draw_words(summary)
    return f"{words[:1].upper()}{words[1:]}. Heat drawn: {number(heat_w)} W"
