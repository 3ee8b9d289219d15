"""The verdict on one screen: which rooms are warm or short, which limits hold, what to change first."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from typing import TYPE_CHECKING, Any

import pandas as pd

from heatloop.account import plant_sentence, rooms_sentence, verdict_sentence
from heatloop.remedies import changes
from heatloop.report.tables import Html
from heatloop.wording import VERDICT_WORDS, listing, number, plural, printable

if TYPE_CHECKING:
    from heatloop.handover.handover_pack import Pack
    from heatloop.handover.parts import Handover
    from heatloop.result import Design

MOST_CHANGES = 6


def loops_sentence(loops: pd.DataFrame, checks: pd.DataFrame) -> str:
    """How many loops stay within every limit of their own."""
    failing = checks.loc[checks["verdict"] == "fail", "subject"].astype(str)
    outside = [
        str(name)
        for name in loops["loop"]
        if any(subject == name or subject.startswith(f"{name}, ") for subject in failing)
    ]
    if not outside:
        return (
            f"All {len(loops)} loops are within their limits." if len(loops) > 1 else "The loop is within its limits."
        )
    return f"{plural(len(outside), 'loop')} of {len(loops)} outside a limit: {listing(outside)}."


def movement_sentence(summary: Mapping[str, Any]) -> str:
    """Whether every straight has room to grow, and what is cut; from the summary of the parts list."""
    stuck = int(summary["straights_without_room"])
    held = f"{plural(stuck, 'straight has', 'straights have')} no room to grow" if stuck else "Every straight can grow"
    if not summary["straights"]:
        return "No piece is surveyed yet: nothing is cut."
    pieces = f"{plural(int(summary['pieces']), 'piece')}, {number(summary['profile_m'], 1)} m of profile"
    bars = f"{plural(int(summary['bars']), 'bar')} of {number(summary['stock_m'], 1)} m in all"
    return f"{held}; {pieces}, cut from {bars}."


def closed_sentence(checks: pd.DataFrame) -> str:
    """Whether pressures and water treatment are as they should be; from the checks of the handover pack."""
    told = [
        f"{printable(row['check'])} ({VERDICT_WORDS[row['verdict']]})"
        for row in checks.to_dict("records")
        if row["verdict"] != "pass"
    ]
    if checks.empty:
        return "Of the closed system nothing can be checked yet."
    return f"Closed system: {listing(told)}." if told else "Pressures and water of the closed system are in order."


def verdict(design: Design, handover: Handover | None = None, pack: Pack | None = None) -> Html:
    """The verdict, rooms, loops, plant, parts and the first changes to make, as the opening of a page."""
    summary, checks = design.summary, design.checks
    sentences = [rooms_sentence(design.rooms), loops_sentence(design.loops, checks), plant_sentence(summary)]
    if handover is not None:
        sentences.append(movement_sentence(handover.summary))
    if pack is not None:
        sentences.append(closed_sentence(pack.frames["handover_checks"]))
    facts = "".join(f"<li>{escape(printable(text))}</li>" for text in sentences)
    headline = f'<p class="headline">{escape(verdict_sentence(summary))}</p>'
    return Html(
        f'<div class="verdict-box {escape(str(summary["verdict"]))}">{headline}<ul>{facts}</ul></div>{_changes(checks)}'
    )


def _changes(checks: pd.DataFrame) -> str:
    """Remedies, failed checks first, then cautions; the rest is in the table of checks."""
    ranked = changes(checks)
    if not ranked:
        return "<p>Nothing needs to change.</p>"
    items = "".join(
        f'<li class="{escape(c.verdict)}"><b>{escape(c.where)}</b>, {escape(c.what)}. {escape(c.remedy)}</li>'
        for c in ranked[:MOST_CHANGES]
    )
    more = len(ranked) - MOST_CHANGES
    rest = f"<p>{plural(more, 'more entry', 'more entries')} in the table of checks.</p>" if more > 0 else ""
    return f'<h3>What to change or watch, most pressing first</h3><ol class="changes">{items}</ol>{rest}'
