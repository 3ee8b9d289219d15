"""The verdict on one screen: which rooms are warm or short, which limits hold, what to change first."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import pandas as pd

from heatloop.report.pages.html_tables import HtmlFragment, part
from heatloop.results.checks.remedies import recommended_changes
from heatloop.results.summaries import plant_sentence, rooms_sentence, source_sentence, unmet_checks
from heatloop.text.formatting import VERDICT_WORDS, escape_control_characters, listing, number, plural, short_listing

if TYPE_CHECKING:
    from heatloop.handover.commissioning.pack import CommissioningResult
    from heatloop.handover.parts.parts_list import PartsListResult
    from heatloop.results.design import DesignResult

MAX_CHANGES = 6

HEAT_LOSS_BY_ELEMENT = "Heat loss by what it goes through"
LOOP_PRESSURES = "Pressure, loop by loop"
TRANSITIONAL_LOOPS = "Between laminar and turbulent the drop lies between two values"
VALVE_SETTINGS = "Settings, target and achieved flow"
RESIDUALS = "Numerical residuals, as shares of the whole"


def loops_sentence(loops: pd.DataFrame, checks: pd.DataFrame) -> str:
    """How many loops break a limit of their own, and how many have a caution."""
    outside, watched = (_of_loops(loops, checks, verdict) for verdict in ("fail", "caution"))
    watched = [name for name in watched if name not in outside]
    if outside:
        found = f"{len(outside)} of {plural(len(loops), 'loop')} outside a limit: {short_listing(outside)}"
    else:
        found = f"All {len(loops)} loops keep their limits" if len(loops) > 1 else "The loop keeps its limits"
    return f"{found}; a caution for {short_listing(watched)}." if watched else f"{found}."


def _of_loops(loops: pd.DataFrame, checks: pd.DataFrame, verdict: str) -> list[str]:
    """Loops that are the subject, or begin the subject, of a check with that verdict."""
    subjects = checks.loc[checks["verdict"] == verdict, "location"].astype(str)
    return [str(name) for name in loops["loop"] if any(s == name or s.startswith(f"{name}, ") for s in subjects)]


def pumps_sentence(pumps: pd.DataFrame) -> str:
    """How each pump is to be set."""
    told = [f"{row['pump']} {row['control']}" for row in pumps.to_dict("records") if row["control"]]
    return f"Pump setting: {'; '.join(told)}." if told else "No pump is stated."


def output_range_caption(band: pd.DataFrame) -> str:
    """Between what the output of all rooms may lie."""
    counted = band[(band["room"] == "all rooms") & band["counts_in_range"]]
    low, high = (number(counted["change_percent"].agg(end), 1, sign=True) for end in ("min", "max"))
    return f"All rooms together may get {low} to {high} % against the design"


def glazing_sentence(glazing: pd.DataFrame) -> str:
    """Before how many panes the skirting gives at least what they lose."""
    if glazing.empty:
        return "No window or glazed door towards the cold"
    made_good = int((glazing["covered_share"] >= 1.0).sum())
    return f"Skirting makes good what {made_good} of {plural(len(glazing), 'window')} lose"


def shut_sentence(shut: pd.DataFrame) -> str:
    """By how much the flow of a loop changes at most when another shuts."""
    change = shut["flow_change_percent"].abs().max()
    if change != change:
        return "When the loop shuts"
    return f"No flow changes by more than {number(change, 1)} % when another loop shuts"


def checks_sentence(checks: pd.DataFrame) -> str:
    """How many limits are not met and how many cautions stand."""
    failed, cautions = ((checks["verdict"] == verdict).sum() for verdict in ("fail", "caution"))
    broken = f"{plural(int(failed), 'limit')} not met" if failed else "No limit is broken"
    return f"{broken}, {plural(int(cautions), 'caution')}; limits of the closed system stand under commissioning"


def movement_sentence(summary: Mapping[str, Any]) -> str:
    """Whether every straight has room to grow, and what is cut; from the summary of the parts list."""
    stuck = int(summary["restrained_straight_lengths"])
    held = (
        f"{plural(stuck, 'straight length is', 'straight lengths are')} restrained: no room for expansion"
        if stuck
        else "All straight lengths are free to expand"
    )
    if not summary["straights"]:
        return "No piece is surveyed yet: nothing is cut."
    pieces = f"{plural(int(summary['pieces']), 'piece')}, {number(summary['profile_m'], 1)} m of profile"
    bars = f"{plural(int(summary['bars']), 'bar')} of {number(summary['stock_m'], 1)} m in all"
    return f"{held}; {pieces}, cut from {bars}."


def source_heat_words(source_heat: pd.DataFrame) -> str:
    """What share of the source's heat comes into the rooms: the caption of that table."""
    counted = source_heat.loc[source_heat["counts_as_output"], "share_percent"].sum()
    return f"{number(float(counted), 1)} % of the source's heat comes into the rooms"


def closed_sentence(checks: pd.DataFrame) -> str:
    """Whether pressures and water treatment are as they should be; from the checks of the handover pack."""
    told = [
        f"{escape_control_characters(row['check'])} ({VERDICT_WORDS[row['verdict']]})"
        for row in checks.to_dict("records")
        if row["verdict"] != "pass"
    ]
    if checks.empty:
        return "The closed system cannot be checked: its data are missing from the survey."
    return f"Closed system: {listing(told)}." if told else "Pressures and water of the closed system are in order."


def verdict(
    design: DesignResult, handover: PartsListResult | None = None, pack: CommissioningResult | None = None
) -> HtmlFragment:
    """The verdict, rooms, loops, plant, parts and the first changes to make, as the opening of a page."""
    summary, checks = design.summary, design.checks
    rooms, loops = rooms_sentence(design.rooms), loops_sentence(design.loops, checks)
    sentences = [rooms, loops, plant_sentence(summary), source_sentence(summary), pumps_sentence(design.pumps)]
    if handover is not None:
        sentences.append(movement_sentence(handover.summary))
    if pack is not None:
        sentences.append(closed_sentence(pack.frames["commissioning_checks"]))
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


def sensors_sentence(sensors: pd.DataFrame) -> str:
    """Which rooms are short once the valve of another room's sensor has throttled."""
    short = sensors[sensors["margin_w"] < 0.0]
    if sensors["margin_w"].isna().any():
        return "Rooms controlled by a sensor in another room: not calculated, because the iteration did not converge"
    if short.empty:
        return "Rooms on another room's sensor stay warm when its valve throttles; shut, they get nothing"
    told = [f"{row['room']} by {number(-row['margin_w'])} W" for row in short.to_dict("records")]
    return f"With the valve throttled to another room's sensor, short of heat: {listing(told)}"
