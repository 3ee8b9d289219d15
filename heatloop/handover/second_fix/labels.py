"""Labels for the pieces of second fix: a page to print, one label a piece, stuck on where it is cut."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import Any

import pandas as pd

from heatloop.text.quoting import single_line

NEEDED = ("label", "room", "wall", "cut_length_mm")
"""Columns without which there is no label; the others of the table `pieces` are printed where it has them."""
LONG = 18
"""A label of more letters is printed smaller."""
FIRST = {
    "left": "Right-hand end first. Leave the gap at the left.",
    "right": "Left-hand end first. Leave the gap at the right.",
    "both": "Fix its middle first. Leave a gap at both ends.",
}


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
        found = []
        if self.columns < 1 or self.rows < 1 or min(self.label_width_mm, self.label_height_mm) < 15.0:
            found.append("at least one label each way, of 15 mm or more")
        if wide > self.page_width_mm + 1e-6:
            found.append(f"{wide:g} mm of labels across a page of {self.page_width_mm:g} mm")
        if high > self.page_height_mm + 1e-6:
            found.append(f"{high:g} mm of labels down a page of {self.page_height_mm:g} mm")
        return found


def label_sheet(pieces: pd.DataFrame, project: str, paper: LabelPaper | None = None, headline: str = "") -> str:
    """A page of HTML that stands alone: one label for every row of the table `pieces` of the parts list.

    A label carries the piece's label, room and wall, its cut length in mm, what its ends meet and which end is
    fixed first (the held one; the free one is left its gap). `project` may hold anything, as may every name.
    `headline` is the verdict on the design: it stands above the labels on the screen and is not printed.
    Raises ValueError for a table without the columns it needs and for labels that do not fit the page.
    """
    paper = paper or LabelPaper()
    missing = [name for name in NEEDED if name not in pieces.columns]
    if missing:
        raise ValueError(f"table of pieces: no column {', '.join(missing)}; required {', '.join(NEEDED)}")
    if paper.faults():
        raise ValueError(f"label paper: {'; '.join(paper.faults())}")
    rows = [{str(key): value for key, value in row.items()} for row in pieces.to_dict("records")]
    size = paper.columns * paper.rows
    sheets = [rows[i : i + size] for i in range(0, len(rows), size)]
    body = "\n".join(
        f'<section class="sheet">{"".join(_label(row, project) for row in sheet)}</section>' for sheet in sheets
    )
    if not rows:
        body = "<p>No piece is surveyed: there is nothing to label.</p>"
    verdict = f'<p class="screen">{_text(headline)}</p>\n' if headline else ""
    title = f"{_text(project)}: labels of {len(rows)} {'piece' if len(rows) == 1 else 'pieces'}"
    return (
        '<!doctype html>\n<html lang="en-GB">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        f"<title>{title}</title>\n<style>\n{_css(paper)}</style>\n</head>\n<body>\n"
        f'<main>\n<h1 class="screen">{title}. Print at full size, no margins added by the printer.</h1>\n'
        f"{verdict}{body}\n"
        "</main>\n</body>\n</html>\n"
    )


def fixing_order(free_end: str) -> str:
    """Which end of a piece is fixed first, from the end that is left free to slide.

    >>> fixing_order("right")
    'Left-hand end first. Leave the gap at the right.'
    """
    return FIRST.get(free_end, "Either end first: no gap at this piece.")


def _label(row: Mapping[str, Any], project: str) -> str:
    ends = ""
    if "left_end" in row and "right_end" in row:
        ends = (
            f'<div class="ends"><span>◄ {_text(row["left_end"])}</span><span>{_text(row["right_end"])} ►</span></div>'
        )
    laid = str(row.get("mounting") or "wall")
    where = f"{_text(row['room'])}, wall {_text(row['wall'])}"
    if laid != "wall":
        where += f", {_text(laid)}"
    first = fixing_order(str(row["free_end"])) if "free_end" in row else ""
    long = ' class="long"' if len(str(row["label"])) > LONG else ""
    small = " · ".join(_text(row[key]) for key in ("loop", "profile") if row.get(key))
    return (
        f'<article class="label"><div class="head"><b{long}>{_text(row["label"])}</b>'
        f'<span class="cut">{float(row["cut_length_mm"]):.0f} mm</span></div>'
        f'<div class="where">{where}</div>{ends}<div class="first">{escape(first)}</div>'
        f'<div class="small">{small}{" · " if small else ""}{_text(project)}</div></article>'
    )


def _text(value: object) -> str:
    """A name as it may stand in a page: on one line, nothing of it taken as a tag."""
    return escape(single_line(str(value)))


def _css(paper: LabelPaper) -> str:
    return f"""\
@page {{ size: {paper.page_width_mm:g}mm {paper.page_height_mm:g}mm; margin: 0; }}
* {{ box-sizing: border-box; }}
body {{ margin: 0; font: 7.6pt/1.22 "DejaVu Sans", Arial, sans-serif; color: #000; background: #fff; }}
.sheet {{
  width: {paper.page_width_mm:g}mm; height: {paper.page_height_mm:g}mm;
  padding: {paper.top_mm:g}mm 0 0 {paper.left_mm:g}mm; display: grid; align-content: start;
  grid-template-columns: repeat({paper.columns}, {paper.label_width_mm:g}mm);
  grid-auto-rows: {paper.label_height_mm:g}mm; column-gap: {paper.gap_mm:g}mm; break-after: page; overflow: hidden;
}}
.sheet:last-of-type {{ break-after: auto; }}
.label {{
  padding: 2mm 2.4mm; overflow: hidden; display: flex; flex-direction: column; justify-content: space-between;
  overflow-wrap: anywhere; break-inside: avoid;
}}
.head {{ display: flex; justify-content: space-between; gap: 2mm; align-items: baseline; }}
.head b {{ font-size: 10.5pt; line-height: 1.1; max-height: 2.2em; overflow: hidden; }}
.head b.long {{ font-size: 8pt; max-height: 3.3em; }}
.cut {{ font-size: 10.5pt; font-weight: bold; white-space: nowrap; }}
.ends {{ display: flex; justify-content: space-between; gap: 2mm; border: 0.4pt solid #000; padding: 0.5mm 1mm; }}
.where, .small {{ white-space: nowrap; overflow: hidden; text-overflow: ellipsis; }}
.first {{ font-weight: bold; }}
.small {{ font-size: 6.2pt; }}
.screen {{ margin: 4mm {paper.left_mm:g}mm 0; font-size: 9pt; font-weight: normal; }}
@media screen {{ .label {{ outline: 0.3pt dashed #888; }} .sheet {{ border-bottom: 1px solid #ccc; }} }}
@media print {{ .screen {{ display: none; }} }}
"""
