"""Extent of letters, as matplotlib finds it from each curve of their outlines."""

from __future__ import annotations

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

from heatloop.report.drawings.geometry import FAMILY, MEASURED_SIZE, Ink, ink_of


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("text", ["Kitchen-diner 21.0 °C", "Ågypß³, (j|@&", "0", "-", "\\frac 漢"])
def test_extent_of_letters_is_that_of_their_curves(text: str, bold: bool) -> None:
    font = FontProperties(family=FAMILY, weight="bold" if bold else "normal")
    extents = TextPath((0.0, 0.0), text, size=MEASURED_SIZE, prop=font).get_extents()
    ink = ink_of(text, bold)
    assert (ink.left, ink.right, ink.low, ink.top) == pytest.approx(
        (extents.x0, extents.x1, extents.y0, extents.y1), rel=0.0, abs=1e-8
    )


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
