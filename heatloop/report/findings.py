"""The verdict on one screen: which rooms are warm or short, which limits hold, what to change first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

import pandas as pd

from heatloop.report.tables import Html
from heatloop.wording import listing, number, plural, printable, significant, unit_words

if TYPE_CHECKING:
    from heatloop.result import Design

MOST_CHANGES = 6


def verdict_sentence(summary: Mapping[str, Any]) -> str:
    """Whether the design can be built as it stands."""
    failed, cautions = int(summary["checks_failed"]), int(summary["checks_caution"])
    if failed:
        return f"Not ready to build: {plural(failed, 'limit is', 'limits are')} not met."
    if cautions:
        return f"Ready to build: every limit is met; read {plural(cautions, 'caution')} first."
    return "Ready to build: every limit is met."


def rooms_sentence(rooms: pd.DataFrame) -> str:
    """Which rooms are short of heat, and by how much."""
    short = rooms[rooms["margin_w"] < 0].sort_values("margin_w")
    if short.empty:
        return f"All {len(rooms)} rooms are warm." if len(rooms) > 1 else "The room is warm."
    told = [f"{room} by {number(-margin)} W" for room, margin in zip(short["room"], short["margin_w"], strict=True)]
    return f"{plural(len(short), 'room')} of {len(rooms)} short of heat: {listing(told)}."


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


def plant_sentence(summary: Mapping[str, Any]) -> str:
    """What source and pump have to do."""
    return (
        f"The skirting gives {number(summary['output_w'])} W against a heat loss of "
        f"{number(summary['heat_loss_w'])} W, with water at {number(summary['flow_temp_c'], 1)} °C out and "
        f"{number(summary['return_temp_c'], 1)} °C back; the pump moves {number(summary['pump_flow_l_h'])} l/h "
        f"against {number(summary['pump_head_kpa'], 1)} kPa."
    )


def verdict(design: Design) -> Html:
    """The verdict, rooms, loops, plant and the first changes to make, as the opening of a page."""
    summary, checks = design.summary, design.checks
    sentences = (
        rooms_sentence(design.rooms),
        loops_sentence(design.loops, checks),
        plant_sentence(summary),
    )
    facts = "".join(f"<li>{escape(printable(text))}</li>" for text in sentences)
    headline = f'<p class="headline">{escape(verdict_sentence(summary))}</p>'
    return Html(
        f'<div class="verdict-box {escape(str(summary["verdict"]))}">{headline}<ul>{facts}</ul></div>{_changes(checks)}'
    )


@dataclass(frozen=True)
class Change:
    """One thing to mend or to watch: what, where and by how much, and the remedy."""

    verdict: str
    where: str
    what: str
    remedy: str


def changes(checks: pd.DataFrame) -> list[Change]:
    """What fails, then what calls for caution; the same check on several subjects is told once."""
    found = []
    for standing in ("fail", "caution"):
        rows = checks[checks["verdict"] == standing]
        for (check, limit, unit, remedy), group in rows.groupby(["check", "limit", "unit", "remedy"], sort=False):
            one = len(group) == 1
            values = [
                significant(v) if one else f"{significant(v)} ({printable(s)})"
                for v, s in zip(group["value"], group["subject"], strict=True)
            ]
            what = (
                f"{check}: found {listing(values)}, limit {significant(float(str(limit)))} {unit_words(unit)}".strip()
            )
            found.append(Change(standing, printable(listing(group["subject"])), printable(what), _sentence(remedy)))
    return found


def _sentence(words: object) -> str:
    text = printable(words).strip()
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') or not text else '.'}"


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
