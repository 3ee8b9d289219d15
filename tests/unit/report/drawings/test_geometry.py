"""Extent of letters, against the tables and the outlines of the font; a font lays letters out by their advances."""

from __future__ import annotations

import pytest
from fontTools.ttLib import TTFont
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont
from matplotlib.textpath import TextPath

from heatloop.report.drawings.letters import FAMILY, MEASURED_SIZE, Ink, ink_of
from heatloop.report.drawings.writers.sheet_pdf import embedded_font


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("text", ["Kitchen-diner 21.0 °C", "Ågypß³, (j|@&", "Turn, AVATAR", "0", "-", "\\frac"])
def test_extent_of_letters_is_that_of_their_curves(text: str, bold: bool) -> None:
    """Letter by letter: curves by matplotlib, advances by the tables of the font."""
    font = FontProperties(family=FAMILY, weight="bold" if bold else "normal")
    tables = TTFont(findfont(font))
    pen, lefts, rights, lows, tops = 0.0, [], [], [], []
    for letter in text:
        if letter.strip():
            extents = TextPath((0.0, 0.0), letter, size=MEASURED_SIZE, prop=font).get_extents()
            lefts.append(pen + extents.x0)
            rights.append(pen + extents.x1)
            lows.append(extents.y0)
            tops.append(extents.y1)
        advance, _ = tables["hmtx"][tables.getBestCmap()[ord(letter)]]
        pen += advance * MEASURED_SIZE / tables["head"].unitsPerEm
    ink = ink_of(text, bold)
    assert (ink.left, ink.right, ink.low, ink.top) == pytest.approx(
        (min(lefts), max(rights), min(lows), max(tops)), rel=0.0, abs=1e-8
    )


def test_a_letter_that_the_font_lacks_takes_the_frame_that_is_printed_for_it() -> None:
    face = embedded_font(False).face
    assert ord("漢") not in face.charWidths
    assert ink_of("漢", False) == Ink(0.0, face.defaultWidth, face.descent, face.ascent)


@pytest.mark.parametrize("text", ["", " ", "\u200b"])
def test_what_has_no_outline_takes_no_room(text: str) -> None:
    assert ink_of(text, False) == Ink(0.0, 0.0, 0.0, 0.0)


def test_a_figure_drawn_between_changes_no_measurement() -> None:
    """matplotlib keeps one font for all sizes and sets its size anew at each drawing."""
    before = ink_of("Alder Lodge", False)
    figure = Figure()
    figure.text(0.5, 0.5, "another size", fontsize=23.0, family=FAMILY)
    FigureCanvasAgg(figure).draw()
    assert ink_of("Alder Lodge ", False).right == pytest.approx(before.right)
