"""Pictures of a building of forty rooms and thirty loops: no words cut off, no name over another, all fit a page."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from matplotlib.transforms import Bbox

import heatloop as hl
from heatloop.report.documents.design_report import READABLE
from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure, FigureRow

PAGE_MM, LETTER_MM = 222.0, 2.0
"""Height of a picture on a page, and of the smallest letters on it."""


@pytest.fixture(scope="module")
def figures(guest_house_design: hl.Design) -> dict[str, Figure]:
    design = guest_house_design
    drawn = {
        "rooms": design.plots.rooms(),
        "heat loss": design.plots.heat_loss(),
        "network": design.plots.network(),
        "balancing": design.plots.balancing(),
        "index loop": design.plots.index_loop(),
        "achieved flows": design.plots.achieved_flows(),
        "pump": design.plots.pump("source"),
        **{f"level {level:g} m": design.plots.storey_plan(level) for level in design.levels_m},
    }
    for loop in design.survey.loops[:4]:
        pair = design.plots.loop(loop.name)
        assert isinstance(pair, FigureRow)
        drawn |= {f"{loop.name} {place}": figure for place, figure in enumerate(pair.figures)}
    return drawn


def _words(figure: Figure) -> Iterator[tuple[str, Bbox]]:
    """The words of a picture with their places, px."""
    sheet = figure.axes.get_figure(root=True)
    with style.applied():
        renderer = FigureCanvasAgg(sheet).get_renderer()
        sheet.draw(renderer)
        ax, legend = figure.axes, figure.axes.get_legend()
        names = (text for text in ax.get_yticklabels() if text.get_text()[:1].isalpha())
        titles = (ax.xaxis.label, ax.yaxis.label, ax.title, *([] if legend is None else legend.get_texts()))
        left = next(
            one for one in ax.get_children() if isinstance(one, Text) and one.get_text() == ax.get_title("left")
        )
        for text in (*ax.texts, *names, *titles, left):
            if text.get_text().strip():
                yield text.get_text(), text.get_window_extent(renderer)


def test_no_words_are_cut_off(figures: dict[str, Figure]) -> None:
    outside = []
    for name, figure in figures.items():
        sheet = figure.axes.get_figure(root=True).bbox
        for words, box in _words(figure):
            if box.x0 < -1.0 or box.y0 < -1.0 or box.x1 > sheet.width + 1.0 or box.y1 > sheet.height + 1.0:
                outside.append((name, words))
    assert outside == []


def test_no_name_stands_over_another_on_a_plan(figures: dict[str, Figure]) -> None:
    for name, figure in figures.items():
        if name.startswith("level"):
            own = {text.get_text() for text in figure.axes.texts}
            boxes = [(words, box) for words, box in _words(figure) if words in own]
            assert len(boxes) >= 13
            touching = [(a, b) for (a, one), (b, other) in combinations(boxes, 2) if one.overlaps(other)]
            assert touching == [], name


def test_every_picture_fits_a_page_with_letters_that_can_be_read(figures: dict[str, Figure]) -> None:
    for name, figure in figures.items():
        sheet = figure.axes.get_figure(root=True)
        high_mm = 25.4 * float(sheet.get_size_inches()[1])
        scale = min(1.0, PAGE_MM / high_mm, max(READABLE, PAGE_MM / high_mm))
        sizes = [text.get_fontsize() for text in sheet.findobj(Text) if text.get_visible() and text.get_text().strip()]
        assert min(sizes) * 0.353 * scale >= LETTER_MM, (name, high_mm, scale, min(sizes))


def test_loops_beyond_the_looks_are_grey_but_the_index_loop(guest_house_design: hl.Design) -> None:
    figure = guest_house_design.plots.index_loop()
    names = [text.get_text() for text in figure.axes.get_legend().get_texts()]
    index = guest_house_design.loops[guest_house_design.loops["is_index_loop"]]["loop"]
    assert sorted(names) == sorted([*(f"{name} (index)" for name in index), "other loops"])
