"""Display of a live design: verdict, plans, margins of rooms, and loops, as one part of a page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from heatloop.findings.verdict import Verdict
from heatloop.report.pages.html_tables import HtmlFragment, part
from heatloop.report.plans.level_svg import fitted_scale, level_plans
from heatloop.results.design import DesignResult
from heatloop.results.summaries import room_state
from heatloop.text.formatting import VERDICT_MARKS, number

PLAN_MM = (88.0, 72.0)
"""Largest size of a plan on the screen: two stand side by side in a notebook."""

BAR_SHARE = 0.8
"""Share of the width of a bar that the largest figure takes."""

STATE_MARKS = {"short": "✗", "tight": "▲", "warm": "✓"}
STATE_WORDS = {"short": "short", "tight": "less than a twentieth to spare", "warm": "reaches its temperature"}


def live_page(design: DesignResult, verdict: Verdict, is_checked: bool = True) -> HtmlFragment:
    """Verdict, plans of all levels, heat of each room beside its loss, and the loops.

    Until the design is checked, an earlier `verdict` keeps the place of its own, unseen, so that nothing below moves.
    """
    plans = level_plans(design, PLAN_MM, None, fitted_scale(design, PLAN_MM))
    return part(
        "live_design.html",
        is_checked=is_checked,
        mark=VERDICT_MARKS[verdict.outcome],
        headline=verdict.headline,
        findings=[f"{result.check}, {result.location}" for result in (*verdict.fails, *verdict.cautions)],
        plans=plans,
        rooms=_rooms(design),
        loops=_loops(design),
    )


def kept_page(kept: Sequence[Mapping[Any, Any]]) -> HtmlFragment:
    """Kept designs side by side, by the columns of their comparison."""
    rows = [
        {
            "name": row["design"],
            "flow_c": number(row["flow_temp_c"], 1),
            "drop_k": number(row["delta_t_k"], 1),
            "outdoor_c": number(row["outdoor_c"], 1),
            "verdict": row["verdict"],
            "short": number(row["short_rooms"]),
            "margin_w": number(row["min_margin_w"], sign=True),
            "pump": f"{number(row['pump_flow_l_h'])} l/h, {number(row['pump_head_kpa'], 1)} kPa",
        }
        for row in kept
    ]
    return part("live_kept.html", rows=rows)


def fault_page(lines: Sequence[str]) -> HtmlFragment:
    """Reasons why there is no design at these values, one line each."""
    return part("live_fault.html", lines=lines)


def _rooms(design: DesignResult) -> list[dict[str, object]]:
    rows = design.rooms.to_dict("records")
    max_w = max((max(row["heat_to_rooms_w"], row["heat_loss_w"], 1.0) for row in rows), default=1.0)
    return [
        {
            "name": row["room"],
            "state": (state := room_state(row)),
            "mark": STATE_MARKS[state],
            "words": STATE_WORDS[state],
            "loss": number(row["heat_loss_w"]),
            "heat": number(row["heat_to_rooms_w"]),
            "margin": number(row["margin_w"], sign=True),
            "loss_percent": round(100.0 * BAR_SHARE * row["heat_loss_w"] / max_w, 1),
            "heat_percent": round(100.0 * BAR_SHARE * row["heat_to_rooms_w"] / max_w, 1),
        }
        for row in rows
    ]


def _loops(design: DesignResult) -> list[dict[str, str]]:
    return [
        {
            "name": str(row["loop"]),
            "flow": number(row["flow_l_h"]),
            "flow_c": number(row["flow_temp_c"], 1),
            "return_c": number(row["return_temp_c"], 1),
            "drop_kpa": number(row["pressure_drop_kpa"], 2),
        }
        for row in design.loops.to_dict("records")
    ]
