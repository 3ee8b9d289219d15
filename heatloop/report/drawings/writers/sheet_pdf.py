"""Sheets as PDF at true scale: real text with its fonts embedded; and the same sheets as figures of a notebook."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from heatloop.report.drawings.geometry import POINT_MM, DrawingSheet, Line, Ring, Words
from heatloop.report.drawings.letters import FAMILY, font_path
from heatloop.report.drawings.writers.sheet_svg import ON_PLAN

DASHES = {"solid": (), "dashed": (6.0, 3.0), "dotted": (1.5, 2.0), "chain": (8.0, 2.0, 2.0, 2.0)}
"""Dashes and gaps in widths of their line."""


def write_sheets_pdf(path: Path, sheets: Sequence[DrawingSheet], title: str, issued_on: dt.date) -> Path:
    """Write sheets as the pages of one PDF; its date of creation is the date of issue. OSError where it cannot."""
    for bold in (False, True):
        pdfmetrics.registerFont(embedded_font(bold))
    # the same sheets give the same bytes, and no font but those that are embedded
    canvas = Canvas(str(path), invariant=1, initialFontName=embedded_font(False).fontName)
    canvas.setTitle(title)
    canvas.setAuthor("heatloop")
    canvas.setCreator("heatloop")
    canvas.setProducer("heatloop")
    canvas.setSubject(title)
    canvas.setDateFormatter(lambda *_: f"D:{issued_on:%Y%m%d}000000Z")
    for sheet in sheets:
        canvas.setPageSize((sheet.paper_mm[0] / POINT_MM, sheet.paper_mm[1] / POINT_MM))
        canvas.scale(1.0 / POINT_MM, 1.0 / POINT_MM)
        _draw(canvas, sheet)
        canvas.showPage()
    canvas.save()
    return path


@cache
def embedded_font(bold: bool) -> TTFont:
    """The font in which sheets are printed."""
    return TTFont(f"{FAMILY} {'bold' if bold else 'normal'}", str(font_path(bold)))


def _draw(canvas: Canvas, sheet: DrawingSheet) -> None:
    """Everything of a sheet on a page whose unit is mm: grey below black, texts above all."""
    lines = [primitive for primitive in sheet.primitives if isinstance(primitive, Line)]
    for line in sorted(lines, key=lambda line: -line.grey):
        _line(canvas, line)
    canvas.setDash([])
    canvas.setStrokeGray(0.0)
    for primitive in sheet.primitives:
        if isinstance(primitive, Ring):
            canvas.setLineWidth(primitive.width_mm)
            canvas.setFillGray(0.0 if primitive.filled else 1.0)
            canvas.circle(*primitive.centre, primitive.radius_mm, stroke=1, fill=1)
    canvas.setFillGray(1.0)
    for words in sheet.words:
        if words.layer in ON_PLAN:
            ground = canvas.beginPath()
            ground.moveTo(*words.box.corners[0])
            for corner in words.box.corners[1:]:
                ground.lineTo(*corner)
            canvas.drawPath(ground, stroke=0, fill=1)
    canvas.setFillGray(0.0)
    for words in sheet.words:
        _write(canvas, words)


def _line(canvas: Canvas, line: Line) -> None:
    canvas.setLineWidth(line.width_mm)
    canvas.setStrokeGray(line.grey)
    canvas.setDash([share * line.width_mm for share in DASHES[line.dash]])
    drawn = canvas.beginPath()
    drawn.moveTo(*line.points[0])
    for point in line.points[1:]:
        drawn.lineTo(*point)
    canvas.drawPath(drawn)


def _write(canvas: Canvas, words: Words) -> None:
    across, up = math.cos(math.radians(words.angle)), math.sin(math.radians(words.angle))
    text = canvas.beginText()
    text.setTextTransform(across, up, -up, across, *words.start)
    text.setFont(embedded_font(words.bold).fontName, words.size_pt * POINT_MM)
    text.textOut(words.text)
    canvas.drawText(text)
