"""The fitter pack: cover, first fix, second fix, commissioning sheet and labels as one document to print."""

from __future__ import annotations

from collections.abc import Sequence

from heatloop.findings.safety import DEFERENCE, SAFETY_NOTICES
from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.handover.second_fix.fixing_steps import fixing_steps
from heatloop.report.control.control import DocumentControl
from heatloop.report.control.document_types import DOCUMENT_TYPES
from heatloop.report.documents.commissioning_sheet import NOT_READY, commissioning_body
from heatloop.report.documents.document import DocumentContent, DocumentPaper, document_body, whole_page
from heatloop.report.documents.labels import LabelPaper, label_css, labels_body
from heatloop.report.documents.second_fix import second_fix_body
from heatloop.report.pages.html_tables import HtmlFragment
from heatloop.results.checks.remedies import recommended_changes
from heatloop.results.design import DesignResult
from heatloop.results.summaries import unmet_checks

FITTER_PACK = DocumentPaper("FP", landscape=True)

DRAWING_CSS = """\
@page drawing { size: 420mm 297mm; margin: 0; @bottom-left { content: none; } @bottom-right { content: none; } }
.drawing { page: drawing; break-after: page; }
.drawing svg { display: block; max-width: 100%; }
@media print { .drawing svg { max-width: none; width: 420mm; height: 296.8mm; } }
"""
"""Sheets of first fix at full size, each on a page of its own."""

WHAT_FOR = {
    "FF": "position of every pipe, before the floors are closed",
    "SF": "place of every piece, end to fix first, gap to leave",
    "CS": "strength test, filling, settings, readings, signatures",
    "LB": "one label for each piece, attached when the piece is cut",
}


def fitter_pack(
    design: DesignResult,
    parts: PartsListResult,
    pack: CommissioningResult,
    drawings: Sequence[HtmlFragment],
    control: DocumentControl,
) -> str:
    """The pack as one complete page; `drawings` are those of first fix, a page each."""
    steps = fixing_steps(parts)
    included = {"FF": bool(drawings), "SF": bool(steps), "CS": True, "LB": bool(steps)}
    cover = document_body(
        FITTER_PACK,
        control,
        design.verdict,
        DocumentContent(
            "cover.html",
            {
                "contents": [
                    (control.identification(code), DOCUMENT_TYPES[code].title, words)
                    for code, words in WHAT_FOR.items()
                    if included[code]
                ],
                "left_out": [DOCUMENT_TYPES[code].title for code in WHAT_FOR if not included[code]],
                "changes": recommended_changes(unmet_checks(design.verdict)),
                "cautions": SAFETY_NOTICES,
                "deference": DEFERENCE,
            },
            NOT_READY,
        ),
    )
    bodies = [cover]
    sheets = "".join(f'<section class="drawing">{drawing.markup}</section>' for drawing in drawings)
    if steps:
        bodies.append(second_fix_body(design, parts, control, alone=False))
    bodies.append(commissioning_body(pack, control, alone=False))
    first, *others = (f'<section class="pack">{body.markup}</section>' for body in bodies)
    paper = LabelPaper()
    labels = labels_body(steps, control, paper).markup if steps else ""
    return whole_page(
        FITTER_PACK, control, HtmlFragment("".join((first, sheets, *others, labels))), DRAWING_CSS + label_css(paper)
    )
