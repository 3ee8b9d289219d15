"""Sheets as figures of a notebook."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure as Canvas
from matplotlib.patches import Circle

from heatloop.report.drawings.geometry import POINT_MM, DrawingSheet, Line, Ring, Words
from heatloop.report.drawings.letters import FAMILY
from heatloop.report.drawings.writers.sheet_svg import ON_PLAN

INCH_MM = 25.4

DASHES: dict[str, Any] = {
    "solid": "-",
    "dashed": (0, (6.0, 3.0)),
    "dotted": (0, (1.5, 2.0)),
    "chain": (0, (8, 2, 2, 2)),
}


def draw_sheet(ax: Axes, sheet: DrawingSheet) -> None:
    """Everything of a sheet into axes whose data are mm on paper."""
    ax.set_xlim(0.0, sheet.paper_mm[0])
    ax.set_ylim(0.0, sheet.paper_mm[1])
    ax.set_axis_off()
    lines: dict[tuple[float, float, str], list[tuple[tuple[float, float], ...]]] = {}
    for primitive in sheet.primitives:
        if isinstance(primitive, Line):
            lines.setdefault((primitive.width_mm, primitive.grey, primitive.dash), []).append(primitive.points)
    for (width_mm, grey, dash), paths in lines.items():
        ax.add_collection(
            LineCollection(
                paths, colors=str(grey), linewidths=width_mm / POINT_MM, linestyles=[DASHES[dash]],
                capstyle="butt", joinstyle="miter", clip_on=False, zorder=1.0 - grey,
            ),
            autolim=False,
        )  # fmt: skip
    for primitive in sheet.primitives:
        if isinstance(primitive, Ring):
            ax.add_patch(
                Circle(
                    primitive.centre, primitive.radius_mm,
                    facecolor="black" if primitive.filled else "white", edgecolor="black",
                    linewidth=primitive.width_mm / POINT_MM, clip_on=False, zorder=2.0,
                )
            )  # fmt: skip
    for words in sheet.words:
        _write(ax, words)


def _write(ax: Axes, words: Words) -> None:
    """A text, its box white where it is on the plan."""
    if words.layer in ON_PLAN:
        xs, ys = zip(*words.box.corners, strict=True)
        ax.fill(xs, ys, facecolor="white", edgecolor="none", zorder=3.0, clip_on=False)
    x, y = words.start
    ax.text(
        x, y, words.text, fontsize=words.size_pt, rotation=words.angle, rotation_mode="anchor", ha="left",
        va="baseline", family=FAMILY, weight="bold" if words.bold else "normal", color="black", zorder=4.0,
        clip_on=False, parse_math=False,
    )  # fmt: skip


def sheet_canvas(sheet: DrawingSheet) -> Axes:
    """Axes of a figure as large as the paper, with the sheet drawn."""
    page = Canvas(figsize=(sheet.paper_mm[0] / INCH_MM, sheet.paper_mm[1] / INCH_MM))
    ax = page.add_axes((0.0, 0.0, 1.0, 1.0))
    draw_sheet(ax, sheet)
    return ax
