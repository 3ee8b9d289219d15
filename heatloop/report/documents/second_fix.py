"""The second fix: plans with the pieces by number, pieces in the order of fixing, joints and ends."""

from __future__ import annotations

from typing import Any

from heatloop.findings.safety import DEFERENCE, notices_for
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.handover.second_fix.fixing_steps import SHOWN_TEMPS_C, fixing_steps
from heatloop.report.control.control import DocumentControl
from heatloop.report.documents.document import DocumentContent, DocumentPaper, document_body, whole_page
from heatloop.report.pages.html_tables import HtmlFragment
from heatloop.report.plans.level_svg import level_plans
from heatloop.results.design import DesignResult
from heatloop.text.formatting import is_missing

SECOND_FIX = DocumentPaper("SF", landscape=True)

PLAN_MM = (273.0, 118.0)
"""Room for one plan."""

FEW, FEW_PLAN_MM = 12, (130.0, 62.0)
"""A job of so few pieces stays on one page: a smaller plan, and its joints beside it."""

HAZARDS = ("Drilling and cutting", "Asbestos, lead and timber", "Lifting and sharp edges", "Hot surfaces")


def second_fix_body(
    design: DesignResult, parts: PartsListResult, control: DocumentControl, alone: bool = True
) -> HtmlFragment:
    """The body of the document; `alone` prints its safety notices, which a pack of several documents prints once."""
    steps = fixing_steps(parts)
    few = len(steps) <= FEW
    plans = level_plans(design, FEW_PLAN_MM if few else PLAN_MM, {step.label: step.number for step in steps})
    return document_body(
        SECOND_FIX,
        control,
        design.verdict,
        DocumentContent(
            "second_fix.html",
            {
                "plans": plans,
                "steps": steps,
                "few": few,
                "temps_c": SHOWN_TEMPS_C,
                "restrained": [row for row in parts.frames["thermal_movement"].to_dict("records") if row["reason"]],
                "joints": [{**row, "place": _place(row)} for row in parts.frames["joints"].to_dict("records")],
                "cautions": notices_for(HAZARDS) if alone else (),
                "deference": DEFERENCE,
            },
        ),
    )


def _place(row: dict[Any, Any]) -> str:
    """Room and wall of a joint; the room alone for a crossing that is given by its length."""
    return str(row["room"]) if is_missing(row["wall"]) else f"{row['room']}, {row['wall']}"


def second_fix(design: DesignResult, parts: PartsListResult, control: DocumentControl) -> str:
    """The second fix as a complete page."""
    return whole_page(SECOND_FIX, control, second_fix_body(design, parts, control))
