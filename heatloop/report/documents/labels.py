"""Labels for the pieces of second fix: a page to print, one label for each piece, to be attached when it is cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.handover.second_fix.fixing_steps import FixingStep, fixing_steps
from heatloop.report.control.control import DocumentControl
from heatloop.report.documents.document import DOCUMENTS
from heatloop.report.pages.html_tables import HtmlFragment
from heatloop.text.formatting import plural
from heatloop.text.html import rendered

LONG = 18
"""A label of more letters is printed smaller."""


@dataclass(frozen=True)
class LabelPaper:
    """A sheet of labels, mm; the default is A4 with 24 labels (common practice)."""

    columns: int = 3
    rows: int = 8
    label_width_mm: float = 63.5
    label_height_mm: float = 33.9
    left_mm: float = 7.2
    top_mm: float = 12.9
    gap_mm: float = 2.5
    page_width_mm: float = 210.0
    page_height_mm: float = 297.0

    def faults(self) -> list[str]:
        """Why labels of this size do not fit the page; empty where they do."""
        wide = self.left_mm + self.columns * self.label_width_mm + (self.columns - 1) * self.gap_mm
        high = self.top_mm + self.rows * self.label_height_mm
        misfits = []
        if self.columns < 1 or self.rows < 1 or min(self.label_width_mm, self.label_height_mm) < 15.0:
            misfits.append("at least one label each way, of 15 mm or more")
        if wide > self.page_width_mm + 1e-6:
            misfits.append(f"{wide:g} mm of labels across a page of {self.page_width_mm:g} mm")
        if high > self.page_height_mm + 1e-6:
            misfits.append(f"{high:g} mm of labels down a page of {self.page_height_mm:g} mm")
        return misfits


def label_sheet(parts: PartsListResult, control: DocumentControl, paper: LabelPaper | None = None) -> str:
    """A complete page of HTML: one label for every piece of the parts list.

    A label has the name of the piece, room and wall, its cut length in mm, the joints at its ends, the end to fix
    first, the gap to leave, and the identification. Raises ValueError for labels that do not fit the page.
    """
    paper = paper or LabelPaper()
    steps = fixing_steps(parts)
    return rendered(
        DOCUMENTS,
        "labels.html",
        title=f"{control.project}: labels of {plural(len(steps), 'piece')}",
        css=Markup(label_css(paper)),
        body=Markup(labels_body(steps, control, paper).markup),
    )


def labels_body(steps: Sequence[FixingStep], control: DocumentControl, paper: LabelPaper) -> HtmlFragment:
    """The sheets of labels; ValueError for labels that do not fit the page."""
    if paper.faults():
        raise ValueError(f"label paper: {'; '.join(paper.faults())}")
    size = paper.columns * paper.rows
    sheets = [steps[i : i + size] for i in range(0, len(steps), size)]
    revision = "" if control.revision == "-" else f", rev. {control.revision}"
    foot = f"{control.identification('LB')}{revision}"
    return HtmlFragment(rendered(DOCUMENTS, "label_sheets.html", sheets=sheets, foot=foot, long=LONG))


def label_css(paper: LabelPaper) -> str:
    """The style of the sheets, on a named page of their own."""
    return f"""\
@page labels {{ size: {paper.page_width_mm:g}mm {paper.page_height_mm:g}mm; margin: 0;
  @bottom-left {{ content: none; }} @bottom-right {{ content: none; }} }}
.sheet {{ page: labels; box-sizing: border-box; color: #000; background: #fff;
  width: {paper.page_width_mm:g}mm; height: {paper.page_height_mm:g}mm; font: 7.3pt/1.15 "Liberation Sans", Arial;
  padding: {paper.top_mm:g}mm 0 0 {paper.left_mm:g}mm; display: grid; align-content: start;
  grid-template-columns: repeat({paper.columns}, {paper.label_width_mm:g}mm);
  grid-auto-rows: {paper.label_height_mm:g}mm; column-gap: {paper.gap_mm:g}mm; break-after: page; overflow: hidden; }}
.sheet:last-of-type {{ break-after: auto; }}
.label {{ box-sizing: border-box; padding: 1.8mm 2.4mm; overflow: hidden; display: flex; flex-direction: column;
  justify-content: space-between; overflow-wrap: anywhere; break-inside: avoid; }}
.label p {{ margin: 0; }}
.head {{ display: flex; justify-content: space-between; gap: 2mm; align-items: baseline; }}
.head b {{ font-size: 10.5pt; line-height: 1.1; max-height: 2.2em; overflow: hidden; }}
.head b.long {{ font-size: 8pt; max-height: 3.3em; }}
.cut {{ font-size: 10.5pt; font-weight: bold; white-space: nowrap; }}
.ends {{ display: flex; justify-content: space-between; gap: 2mm; border: 0.4pt solid #000; padding: 0.4mm 1mm; }}
.where {{ display: -webkit-box; -webkit-box-orient: vertical; -webkit-line-clamp: 2; overflow: hidden; }}
.foot {{ white-space: nowrap; overflow: hidden; text-overflow: ellipsis; }}
.first {{ font-weight: bold; }}
.gap {{ font-size: 6.9pt; }}
.foot {{ font-size: 6.2pt; }}
@media screen {{ .label {{ outline: 0.3pt dashed #888; }} .sheet {{ border-bottom: 1px solid #ccc; }} }}
"""
