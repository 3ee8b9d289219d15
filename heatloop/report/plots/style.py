"""How everything the project draws looks: colours, patterns, line styles, number formats, sizes.

Colours are chosen for colour-blind eyes and never stand alone: a flow pipe is a solid line and a
return pipe a dashed one, bars carry hatches, joints have their own markers, and temperatures are
printed beside the colour scale, which darkens steadily so that it reads in monochrome too.

Plots are made with :func:`figure` inside :func:`applied`, so that nobody's matplotlib settings change.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Literal

import matplotlib.pyplot as plt
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from heatloop.results.design import Design

INK = "#22282e"

MUTED = "#5c6670"

FAINT = "#c3c9cf"

PAPER = "#ffffff"

WALL = "#3b434a"

FLOOR = "#f4f3ef"

A4_TEXT_WIDTH_M = 0.180

INCH_M = 0.0254

PAGE_WIDTH_IN = A4_TEXT_WIDTH_M / INCH_M

Line = Literal["-", "--", "-.", ":"]

Margins = tuple[float, float, float, float]


@dataclass(frozen=True)
class LineStyle:
    """One way of drawing something so that it is told apart with and without colour."""

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

SILL = LineStyle("#7a5c99", "-.")

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

# Light and cool to dark and warm: lightness falls all the way, so a grey print keeps the order.
TEMPERATURES = LinearSegmentedColormap.from_list(
    "heatloop temperature", ["#7fb3d5", "#7f95c4", "#8a70a6", "#97486f", "#8c1f2f", "#4d0b14"]
)

RC: dict[Any, Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 8.5,
    "axes.titlesize": 10.0,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.titlepad": 9.0,
    "axes.labelsize": 8.5,
    "axes.labelcolor": INK,
    "axes.edgecolor": MUTED,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": False,
    "axes.axisbelow": True,
    "grid.color": "#e4e7ea",
    "grid.linewidth": 0.6,
    "text.color": INK,
    "text.parse_math": False,  # a name with dollar signs is a name
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.labelsize": 8.0,
    "ytick.labelsize": 8.0,
    "legend.fontsize": 8.0,
    "legend.frameon": False,
    "lines.linewidth": 1.6,
    "lines.markersize": 4.5,
    "hatch.linewidth": 0.6,
    "hatch.color": INK,
    "figure.facecolor": PAPER,
    "savefig.facecolor": PAPER,
    "svg.hashsalt": "heatloop",
}


@contextmanager
def applied() -> Iterator[None]:
    """Use the project's look inside the `with` block only."""
    with plt.rc_context(RC):
        yield


def figure(
    height_in: float = 3.2, width_in: float = PAGE_WIDTH_IN, margins_in: Margins | None = None
) -> tuple[Figure, Axes]:
    """A new figure in the project's look and its one pair of axes; inches, A4 text width unless said.

    margins_in: left, right, bottom and top of the axes. Without it they are found by drawing twice,
    which suits any labels and takes twice as long.
    """
    with applied():
        if margins_in is None:
            return plt.subplots(figsize=(width_in, height_in), layout="constrained")
        left, right, bottom, top = margins_in
        sheet, ax = plt.subplots(figsize=(width_in, height_in))
        sheet.subplots_adjust(left / width_in, bottom / height_in, 1.0 - right / width_in, 1.0 - top / height_in)
        return sheet, ax


def axes(
    ax: Axes | None,
    height_in: float = 3.2,
    width_in: float = PAGE_WIDTH_IN,
    margins_in: Margins | None = None,
) -> Axes:
    """`ax` itself, or the axes of a new figure where it is None; see :func:`figure`."""
    return figure(height_in, width_in, margins_in)[1] if ax is None else ax


def name_margin_in(names: Iterable[str]) -> float:
    """Room for the longest of some names as tick labels, inches."""
    return 0.15 + 0.068 * max(map(len, names), default=0)


def loop_look(index: int) -> LineStyle:
    """How the loop at that place in the list of loops is drawn; repeats after eight."""
    return LOOPS[index % len(LOOPS)]


def legend_under_title(ax: Axes, handles: Sequence[Artist], columns: int = 4) -> None:
    """A legend between title and plot, where it hides nothing and never meets the axis labels."""
    rows = -(-len(handles) // columns)
    ax.legend(
        handles=handles,
        loc="lower left",
        bbox_to_anchor=(0.0, 1.0),
        ncols=columns,
        borderaxespad=0.3,
        handlelength=2.6,
        columnspacing=1.4,
    )
    ax.set_title(ax.get_title(loc="left"), loc="left", pad=9.0 + 14.0 * rows)


CHART_IN = (0.6, 0.12, 0.48, 0.56)  # left, right, bottom and top of the axes


def plain_line(look: LineStyle, label: str, width: float = 1.7) -> Line2D:
    """A line of a legend."""
    return Line2D([], [], color=look.colour, linestyle=look.line, linewidth=width, label=label)


def loop_row(design: Design, loop: str) -> dict[Any, Any]:
    """The row of a loop; KeyError for a name that no loop has."""
    rows: list[dict[Any, Any]] = design.loops[design.loops["loop"] == loop].to_dict("records")
    if not rows:
        raise KeyError(f"no loop is called {loop!r}; there are {', '.join(design.loops['loop'])}")
    return rows[0]


def summary_value(design: Design, name: str) -> float:
    """A figure of the summary."""
    return float(design.summary[name])
