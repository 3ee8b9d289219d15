"""Style of all figures: colours, patterns, line styles, number formats, sizes.

Colours are chosen for colour-blind readers and are never the only distinction: a flow pipe is a solid line and a
return pipe a dashed one, bars carry hatches, joints have their own markers, and temperatures are
printed beside the colour scale, which darkens steadily so that it reads in monochrome too.

This module is public as `heatloop.plotting`: :func:`axes`, :func:`figure`, :data:`COLOURS`, :data:`LOOPS`,
:func:`applied` and :func:`side_by_side` draw figures in the style of the report. The settings of the report hold
inside :func:`applied` only, so the caller's settings of matplotlib do not change.

>>> import heatloop as hl
>>> ax = hl.plotting.axes(height_in=2.0)
>>> hl.plotting.figure(ax, "A weather curve.").alt_text
'A weather curve.'
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure as Canvas
from matplotlib.lines import Line2D

from heatloop.report.plots.figure import Figure, side_by_side
from heatloop.report.plots.palette import FAINT, INK, MUTED, PAPER, Style, applied
from heatloop.results.design import DesignResult

__all__ = [
    "COLOURS", "FAINT", "INK", "LOOPS", "MUTED", "PAPER", "Figure", "LineStyle", "Style", "applied", "axes", "figure",
    "legend_under_title", "side_by_side",
]  # fmt: skip


def __dir__() -> list[str]:
    """The public names, as `heatloop.plotting` offers them."""
    return __all__


WALL = "#3b434a"

FLOOR = "#f4f3ef"

A4_TEXT_WIDTH_M = 0.180

INCH_M = 0.0254

PAGE_WIDTH_IN = A4_TEXT_WIDTH_M / INCH_M

Line = Literal["-", "--", "-.", ":"]

Margins = tuple[float, float, float, float]


@dataclass(frozen=True)
class LineStyle:
    """A way of drawing that is distinguishable with and without colour.

    >>> LineStyle("#7a5c99", "-.").line
    '-.'
    """

    colour: str
    line: Line = "-"
    marker: str = ""
    hatch: str = ""


FLOW = LineStyle("#a8321f", "-", "o")

RETURN = LineStyle("#1f6a93", "--", "s")

LOSS = LineStyle("#d9dcdf", hatch="")

OUTPUT = LineStyle("#5f8f7b", hatch="///")

SHORT = LineStyle("#b8471f", hatch="xxx")

CROSSING = LineStyle("#6a6f74", ":")

FLOOR_SECTION = LineStyle("#7a5c99", "-.")

# Loops in order of appearance: eight hues apart for colour-blind eyes, each with its own line and marker.
LOOPS = (
    LineStyle("#0f5f8a", "-", "o", "///"),
    LineStyle("#c4611a", "--", "s", "\\\\\\"),
    LineStyle("#2f7d63", "-.", "^", "..."),
    LineStyle("#8a4f86", ":", "D", "xxx"),
    LineStyle("#6b6f1d", "-", "v", "---"),
    LineStyle("#3f7fbf", "--", "P", "|||"),
    LineStyle("#8c2f39", "-.", "X", "ooo"),
    LineStyle("#4a4f55", ":", "*", "+++"),
)

COLOURS: Mapping[str, str] = {
    "ink": INK,
    "muted": MUTED,
    "faint": FAINT,
    "paper": PAPER,
    "floor": FLOOR,
    "wall": WALL,
    "flow": FLOW.colour,
    "return": RETURN.colour,
    "heat loss": LOSS.colour,
    "output": OUTPUT.colour,
    "short": SHORT.colour,
}
"""Colours of the report by what they represent."""

# Light and cool to dark and warm: lightness falls all the way, so a grey print keeps the order.
TEMPERATURES = LinearSegmentedColormap.from_list(
    "heatloop temperature", ["#7fb3d5", "#7f95c4", "#8a70a6", "#97486f", "#8c1f2f", "#4d0b14"]
)


def new_axes(
    height_in: float = 3.2,
    width_in: float = PAGE_WIDTH_IN,
    margins_in: Margins | None = None,
    in_style: Style = "report",
) -> Axes:
    """The axes of a new figure; inches, A4 text width unless given.

    margins_in: left, right, bottom and top of the axes. Without it they are found by drawing twice,
    which suits any labels and takes twice as long.
    """
    with applied(in_style):
        if margins_in is None:
            return Canvas(figsize=(width_in, height_in), layout="constrained").subplots()
        left, right, bottom, top = margins_in
        sheet = Canvas(figsize=(width_in, height_in))
        ax = sheet.subplots()
        sheet.subplots_adjust(left / width_in, bottom / height_in, 1.0 - right / width_in, 1.0 - top / height_in)
        return ax


def axes(
    ax: Axes | None = None,
    height_in: float = 3.2,
    width_in: float = PAGE_WIDTH_IN,
    margins_in: Margins | None = None,
    in_style: Style = "report",
) -> Axes:
    """Axes in the style of the report.

    Parameters
    ----------
    ax : matplotlib.axes.Axes, optional
        Axes to return as they are; None makes a new figure.
    height_in, width_in : float, default 3.2 and the text width of A4
        Size of a new figure in inches.
    margins_in : tuple of float, optional
        Distances of the axes from the left, right, bottom and top edge of a new figure in inches; None lets
        matplotlib find them.
    in_style : {"report", "own"}, default "report"
        Settings of a new figure: those of the report, or the caller's own.

    Returns
    -------
    matplotlib.axes.Axes
        The axes given, or the only axes of the new figure.

    Examples
    --------
    >>> import heatloop as hl
    >>> ax = hl.plotting.axes(height_in=2.8)
    >>> ax.set_xlabel("Flow, l/h").get_text()
    'Flow, l/h'
    """
    return new_axes(height_in, width_in, margins_in, in_style) if ax is None else ax


def figure(ax: Axes, alt_text: str, in_style: Style = "report") -> Figure:
    """Make a :class:`Figure` of your own axes: shown as SVG in a notebook, with a text alternative.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        Axes of the figure, for example from :func:`axes`.
    alt_text : str
        Description of the figure in words, for readers who cannot see it.
    in_style : {"report", "own"}, default "report"
        Settings used when the figure is written.

    Returns
    -------
    Figure

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.plotting.figure(hl.plotting.axes(height_in=2.0), "Empty axes.").alt_text
    'Empty axes.'
    """
    return Figure(ax, alt_text, in_style)


def name_margin_in(names: Iterable[str]) -> float:
    """Room for the longest of some names as tick labels, inches."""
    return 0.15 + 0.068 * max(map(len, names), default=0)


MANY_ROWS = 12
"""A chart of more rows has them closer together, so that it fits a page at a readable size."""


def rows_in(count: int, row_in: float) -> float:
    """Height of the rows of a bar chart, inches; `row_in` is that of one row where there are few."""
    return count * row_in * (1.0 if count <= MANY_ROWS else 2.0 / 3.0)


FULL_WIDTH_LOOPS = 16
"""Loops up to which the figures of each have the whole width of a page; of more, two stand beside each other."""


def many_loops(design: DesignResult) -> bool:
    """Whether there are more loops than looks that can be distinguished in one picture."""
    return len(design.loops) > len(LOOPS)


def loop_look(index: int) -> LineStyle:
    """Line style of the loop at that place in the list of loops; repeats after eight."""
    return LOOPS[index % len(LOOPS)]


def legend_under_title(ax: Axes, handles: Sequence[Artist], columns: int = 4, half: bool = False) -> None:
    """Put a legend between title and plot, where it covers neither the plot nor the labels of the axes.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        The axes; their title is moved up.
    handles : sequence of matplotlib.artist.Artist
        The lines and areas of the legend, each with its label.
    columns : int, default 4
        Number of columns of the legend.
    half : bool, default False
        Whether the figure is half as wide as the page.

    Examples
    --------
    >>> import heatloop as hl
    >>> ax = hl.plotting.axes()
    >>> hl.plotting.legend_under_title(ax, ax.plot([0, 1], [20, 30], label="Flow"))
    >>> [text.get_text() for text in ax.get_legend().get_texts()]
    ['Flow']
    """
    rows = -(-len(handles) // columns)
    ax.legend(
        handles=handles,
        loc="lower left",
        bbox_to_anchor=(0.0, 1.0),
        ncols=columns,
        borderaxespad=0.3,
        handlelength=1.8 if half else 2.6,
        columnspacing=1.0 if half else 1.4,
        handletextpad=0.5 if half else 0.8,
    )
    ax.set_title(ax.get_title(loc="left"), loc="left", pad=9.0 + 14.0 * rows, x=title_place(ax))


TITLE_LETTER_IN = 0.1
"""Width of a letter of a title, about."""


def title_place(ax: Axes) -> float:
    """Where a title starts, as a share of the width of the axes: left of them if it would not fit the figure."""
    sheet = ax.get_figure(root=True)
    if sheet is None:
        return 0.0
    box, wide_in = ax.get_position(), float(sheet.get_size_inches()[0])
    needs_in = TITLE_LETTER_IN * len(ax.get_title(loc="left"))
    shift_in = min(box.x0 * wide_in - 0.05, needs_in - (1.0 - box.x0) * wide_in)
    return -max(0.0, float(shift_in)) / float(box.width * wide_in)


CHART_IN = (0.6, 0.12, 0.48, 0.56)  # left, right, bottom and top of the axes

HALF_WIDTH_IN = PAGE_WIDTH_IN / 2.0 - 0.08
"""Width of a figure of which two stand beside each other."""


def plain_line(look: LineStyle, label: str, width: float = 1.7) -> Line2D:
    """A line of a legend."""
    return Line2D([], [], color=look.colour, linestyle=look.line, linewidth=width, label=label)


def loop_row(design: DesignResult, loop: str) -> dict[Any, Any]:
    """The row of a loop; KeyError for an unknown loop."""
    rows: list[dict[Any, Any]] = design.loops[design.loops["loop"] == loop].to_dict("records")
    if not rows:
        raise KeyError(f"no loop is called {loop!r}; there are {', '.join(design.loops['loop'])}")
    return rows[0]


def summary_value(design: DesignResult, name: str) -> float:
    """A figure of the summary."""
    return float(design.summary[name])
