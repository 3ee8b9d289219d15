"""The second fix: plans with the pieces by number, pieces in the order of fixing, joints and ends."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from heatloop.findings.safety import DEFERENCE, notices_for
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.handover.second_fix.fixing_steps import SHOWN_TEMPS_C, FixingStep, fixing_steps
from heatloop.layout.model import Piece
from heatloop.report.control.control import DocumentControl
from heatloop.report.documents.document import DocumentContent, DocumentPaper, document_body, whole_page
from heatloop.report.pages.html_tables import HtmlFragment
from heatloop.report.plans.level_svg import level_plans
from heatloop.results.design import DesignResult
from heatloop.survey.survey import SurveyData
from heatloop.text.formatting import is_missing, number

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
    ends = {placed.piece.label: placed.piece for placed in parts.standings if not placed.estimate}
    numbers = {step.label: str(step.number) for step in steps}
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
                "joints": [
                    {
                        "place": _place(row),
                        "at_m": number(row["at_m"], 2),
                        "fitting": _fitting(parts.survey, row),
                        **_wall_crossing(ends, row),
                        "between": _between(row, numbers),
                    }
                    for row in parts.frames["joints"].to_dict("records")
                ],
                "arms": list(_arms(parts, steps)),
                "emitters": [f"{item.emitter}, {item.room}" for loop in parts.survey.loops for item in loop.emitters],
                "cautions": notices_for(HAZARDS) if alone else (),
                "deference": DEFERENCE,
            },
        ),
    )


def _wall_crossing(pieces: Mapping[str, Piece], row: dict[Any, Any]) -> dict[str, Any]:
    """Both ends of a crossing that is given by its length: where the pieces beside it end; {} for any other row."""
    before, after = pieces.get(row["upstream_piece"]), pieces.get(row["downstream_piece"])
    if row["kind"] != "crossing" or not is_missing(row["wall"]) or before is None or after is None:
        return {}
    leaves_m = before.to_m if before.rightward else before.from_m
    enters_m = after.from_m if after.rightward else after.to_m
    return {
        "place": f"{before.room}, {before.wall}; {after.room}, {after.wall}",
        "at_m": f"{number(leaves_m, 2)}; {number(enters_m, 2)}",
    }


def _fitting(survey: SurveyData, row: dict[Any, Any]) -> str:
    """A fitting by its name in the catalogue, with its vent and drain valve."""
    entry = str(row["catalogue_entry"] or row["kind"])
    ends = [end for end in survey.catalogue.ends if end.name == row["catalogue_entry"] and end.kind == row["kind"]]
    extras = [word for end in ends for word, has in (("vent", end.vent), ("drain valve", end.drain)) if has]
    return f"{entry}, {' and '.join(extras)}" if extras else entry


def _between(row: dict[Any, Any], numbers: Mapping[str, str]) -> str:
    """The pieces before and after a joint, by number."""
    return " / ".join(numbers.get(row[side], row[side] or "–") for side in ("upstream_piece", "downstream_piece"))


def _arms(parts: PartsListResult, steps: Sequence[FixingStep]) -> Iterator[str]:
    """Loops with two arms: the numbers of the pieces of each arm in the order of the water."""
    numbers = {step.label: step.number for step in steps}
    arms: dict[str, dict[int, list[str]]] = {}
    for placed in parts.standings:
        if placed.piece.label in numbers:
            own = arms.setdefault(placed.loop, {}).setdefault(placed.arm, [])
            own.append(str(numbers[placed.piece.label]))
    for loop, pieces in arms.items():
        if len(pieces) > 1:
            yield f"{loop}: " + "; ".join(f"arm {arm}: pieces {', '.join(own)}" for arm, own in pieces.items())


def _place(row: dict[Any, Any]) -> str:
    """Room and wall of a joint; the room alone for a crossing that is given by its length."""
    return str(row["room"]) if is_missing(row["wall"]) else f"{row['room']}, {row['wall']}"


def second_fix(design: DesignResult, parts: PartsListResult, control: DocumentControl) -> str:
    """The second fix as a complete page."""
    return whole_page(SECOND_FIX, control, second_fix_body(design, parts, control))
