"""Verdict and captions of the report: rooms, loops, limits and recommended changes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import pandas as pd

from heatloop.report.pages.html_tables import HtmlFragment, part
from heatloop.results.checks.limits import LOOP_CHECKS
from heatloop.results.checks.remedies import recommended_changes
from heatloop.results.summaries import (
    loops_in_transition,
    plant_statement,
    rooms_statement,
    source_statement,
    transition_statement,
    unmet_checks,
)
from heatloop.text.formatting import (
    VERDICT_WORDS,
    escape_control_characters,
    listing,
    number,
    plural,
    short_listing,
    with_minus_signs,
)

if TYPE_CHECKING:
    from heatloop.handover.commissioning.pack import CommissioningResult
    from heatloop.handover.parts.parts_list import PartsListResult
    from heatloop.results.design import DesignResult

MAX_CHANGES = 6

HEAT_LOSS_BY_ELEMENT = 'Heat loss by building element; sources: table "Assumptions and sources"'
LOOP_PRESSURES = "Pressure drop of each loop"
TRANSITIONAL_LOOPS = "Pressure drop of flow between laminar (in layers) and turbulent (mixed): two limiting values"
VALVE_SETTINGS = "Valve settings with target and achieved flow"
RESIDUALS = "Numerical residuals, relative to the total"


def loops_caption(loops: pd.DataFrame, checks: pd.DataFrame) -> str:
    """Number of loops outside a limit, and loops with a caution."""
    outside, watched = (_of_loops(loops, checks, verdict) for verdict in ("fail", "caution"))
    watched = [name for name in watched if name not in outside]
    if outside:
        statement = f"{len(outside)} of {plural(len(loops), 'loop')} outside a limit: {short_listing(outside)}"
    else:
        statement = f"All {len(loops)} loops meet their limits" if len(loops) > 1 else "The loop meets its limits"
    return f"{statement}; cautions for {short_listing(watched)}." if watched else f"{statement}."


def loop_pressures_caption(elements: pd.DataFrame) -> str:
    """Pressure drop of each loop; with the lowest Reynolds number where no table of loops in transition follows."""
    statement = "" if loops_in_transition(elements) else transition_statement(elements)
    return f"{LOOP_PRESSURES}. {statement}" if statement else LOOP_PRESSURES


def _of_loops(loops: pd.DataFrame, checks: pd.DataFrame, verdict: str) -> list[str]:
    """Loops that are the location, or begin the location, of a check of loops with that verdict."""
    of_loops = checks["check"].isin(LOOP_CHECKS) & (checks["verdict"] == verdict)
    subjects = checks.loc[of_loops, "location"].astype(str)
    return [str(name) for name in loops["loop"] if any(s == name or s.startswith(f"{name}, ") for s in subjects)]


def pump_words(pump: str) -> str:
    """Which pump, in words.

    >>> pump_words("source"), pump_words("nursery")
    ('at the heat source', 'of trunk "nursery"')
    """
    return "at the heat source" if pump == "source" else f'of trunk "{pump}"'


def pumps_caption(pumps: pd.DataFrame) -> str:
    """Setting of each pump."""
    settings = [f"{pump_words(row['pump'])}: {row['control']}" for row in pumps.to_dict("records") if row["control"]]
    return f"Pumps as set; {'; '.join(settings)}." if settings else "The survey states no pump."


def output_range_caption(band: pd.DataFrame) -> str:
    """Range of the total output of all rooms."""
    counted = band[(band["room"] == "all rooms") & band["counts_in_range"]]
    low, high = (number(counted["change_percent"].agg(end), 1, sign=True) for end in ("min", "max"))
    return with_minus_signs(f"Output range of the whole building: {low} to {high} % of the design output")


def glazing_caption(glazing: pd.DataFrame) -> str:
    """Number of windows whose heat loss the skirting below covers."""
    if glazing.empty:
        return "No window or glazed door to a cold space"
    covered = int((glazing["covered_share"] >= 1.0).sum())
    return f"Skirting covers the heat loss of {covered} of {plural(len(glazing), 'window')}"


def loop_isolation_caption(shut: pd.DataFrame) -> str:
    """Largest change in flow of a loop when another is isolated."""
    change = shut["flow_change_percent"].abs().max()
    if change != change:
        return "Effect of isolating the loop"
    return f"Effect of isolating a loop: the other flows change by at most {number(change, 1)} %"


def checks_caption(checks: pd.DataFrame) -> str:
    """Number of limits not met, and number of cautions."""
    failed, cautions = ((checks["verdict"] == verdict).sum() for verdict in ("fail", "caution"))
    broken = f"{plural(int(failed), 'limit')} not met" if failed else "All limits are met"
    return f"{broken}, {plural(int(cautions), 'caution')}; checks of the closed system are listed separately"


def movement_caption(summary: Mapping[str, Any]) -> str:
    """Whether all straight lengths can expand, and the number of pieces and bars."""
    stuck = int(summary["restrained_straight_lengths"])
    if stuck:
        held = f"{plural(stuck, 'straight length is', 'straight lengths are')} restrained: no room for expansion"
    else:
        held = "All straight lengths are free to expand"
    if not summary["straights"]:
        return "No room has been surveyed: there is no cut list."
    pieces = f"{plural(int(summary['pieces']), 'piece')}, {number(summary['profile_m'], 1)} m of profile"
    bars = f"{plural(int(summary['bars']), 'bar')}, {number(summary['stock_m'], 1)} m in total"
    fitted = f"gaps for fitting at {number(summary['installation_temp_c'])} °C"
    return f"{held}; {fitted}; {pieces}, cut from {bars}."


def source_heat_words(source_heat: pd.DataFrame) -> str:
    """Share of the source's heat that reaches the rooms: caption of the heat balance."""
    counted = source_heat.loc[source_heat["counts_as_output"], "share_percent"].sum()
    share = f"{number(float(counted), 1)} % of the heat of the source is output to rooms, back loss included"
    return f'{share}; residuals: table "{RESIDUALS}"'


def closed_caption(checks: pd.DataFrame) -> str:
    """Checks of pressures and water treatment that are not passed."""
    unmet = [
        f"{escape_control_characters(row['check'])} ({VERDICT_WORDS[row['verdict']]})"
        for row in checks.to_dict("records")
        if row["verdict"] != "pass"
    ]
    if checks.empty:
        return "The closed system cannot be checked: its data are missing from the survey."
    return (
        f"Closed system: {listing(unmet)}."
        if unmet
        else "Closed system: all limits of pressure and water treatment are met."
    )


def verdict(
    design: DesignResult, handover: PartsListResult | None = None, pack: CommissioningResult | None = None
) -> HtmlFragment:
    """The verdict, rooms, loops, plant, parts and the first changes to make, as the opening of a page."""
    summary, checks = design.summary, design.checks
    rooms, loops = rooms_statement(design.rooms, summary), loops_caption(design.loops, checks)
    sentences = [rooms, loops, plant_statement(summary), source_statement(summary), pumps_caption(design.pumps)]
    if handover is not None:
        sentences.append(movement_caption(handover.summary))
    if pack is not None:
        sentences.append(closed_caption(pack.frames["commissioning_checks"]))
    ranked = recommended_changes(unmet_checks(design.verdict))
    more = len(ranked) - MAX_CHANGES
    return part(
        "verdict.html",
        standing=design.verdict.outcome,
        headline=design.verdict.headline,
        sentences=sentences,
        changes=ranked[:MAX_CHANGES],
        more=plural(more, "more entry", "more entries") if more > 0 else "",
    )


def sensors_caption(sensors: pd.DataFrame) -> str:
    """Rooms that are short when a valve with a sensor in another room has throttled."""
    short = sensors[sensors["margin_w"] < 0.0]
    if sensors["margin_w"].isna().any():
        return "Rooms controlled by a sensor in another room: not calculated, because the iteration did not converge"
    if short.empty:
        return (
            "Rooms controlled by a sensor in another room: warm while the valve throttles, no heat while it is closed"
        )
    shortages = [f"{row['room']} by {number(-row['margin_w'])} W" for row in short.to_dict("records")]
    return f"Short of heat when a sensor in another room throttles the valve: {listing(shortages)}"
