"""The table of marks below a first-fix plan, one line a pipe."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes

from heatloop.handover.first_fix.model import PipeEnd, PipePosition, PipeRun
from heatloop.report.plots import style
from heatloop.text.formatting import escape_control_characters, number, truncated

ROW_MM, HEAD_MM, FOOT_MM = 3.35, 10.0, 9.0
WIDTH_MM = style.A4_TEXT_WIDTH_M * 1000.0
TEXT_PT = 6.2


@dataclass(frozen=True)
class _Column:
    head: tuple[str, str]
    left_mm: float
    right_mm: float
    figures: bool = False


COLUMNS = (
    _Column(("Mark", ""), 1.0, 10.0),
    _Column(("Room", ""), 10.0, 38.0),
    _Column(("Wall", ""), 38.0, 45.0, True),
    _Column(("From left", "corner, mm"), 46.0, 68.0, True),
    _Column(("Height,", "mm"), 69.0, 80.0, True),
    _Column(("Off wall,", "mm"), 81.0, 94.0, True),
    _Column(("Drop,", "mm"), 95.0, 105.0, True),
    _Column(("Pipe", ""), 108.0, 131.0),
    _Column(("What it serves", ""), 131.0, 180.0),
)


def key_height_mm(marks: Sequence[PipePosition]) -> float:
    """Height on paper of the table of these marks, mm."""
    return HEAD_MM + FOOT_MM + ROW_MM * sum(len(mark.pipes) for mark in marks)


def draw_first_fix_key(ax: Axes, marks: Sequence[PipePosition], runs: Sequence[PipeRun]) -> None:
    """The table into axes that are as high as :func:`key_height_mm` says and as wide as the page."""
    joined = paired_pipes(runs)
    height_mm = key_height_mm(marks)
    ax.set_xlim(0.0, WIDTH_MM)
    ax.set_ylim(height_mm, 0.0)
    ax.set_axis_off()
    for column in COLUMNS:
        for line, words in enumerate(column.head):
            _cell(ax, column, HEAD_MM - 5.7 + 2.7 * line, words, weight="bold")
    ax.plot([0.0, WIDTH_MM], [HEAD_MM - 1.2] * 2, color=style.INK, linewidth=0.8)
    row = 0
    for mark in marks:
        for pipe in mark.pipes:
            y = HEAD_MM + (row + 0.5) * ROW_MM
            for column, words in zip(COLUMNS, _words(mark, pipe, joined.get(mark.number, "")), strict=True):
                _cell(ax, column, y, words)
            row += 1
        y = HEAD_MM + row * ROW_MM
        ax.plot([0.0, WIDTH_MM], [y, y], color=style.FAINT, linewidth=0.5)
    lines = (
        "Distances are on finished walls, heights above the finished floor, all to the centre of the pipe; a drop "
        "without a figure is within the length that the survey states.",
        "Locate cables, water and gas before a hole is made. Holes and notches in joists, fire stopping and pipes in "
        "screed follow the local code. Test the pipes before they are covered.",
    )
    for i, words in enumerate(lines):
        ax.annotate(words, (1.0, height_mm - FOOT_MM + 3.2 + 3.0 * i), va="center", fontsize=5.6, color=style.INK)


def _words(mark: PipePosition, pipe: PipeEnd, partner: str) -> tuple[str, ...]:
    height = "in floor" if math.isnan(pipe.height_m) else number(pipe.height_m * 1000.0)
    return (
        pipe.mark,
        truncated(escape_control_characters(mark.room), 20),
        str(pipe.wall),
        number(pipe.from_left_corner_m * 1000.0),
        height,
        number(mark.off_wall_m * 1000.0),
        "" if math.isnan(mark.depth_m) else number(mark.depth_m * 1000.0),
        truncated(escape_control_characters(mark.pipe), 17),
        truncated(_serves(mark, pipe, partner), 42),
    )


def _serves(mark: PipePosition, pipe: PipeEnd, partner: str) -> str:
    """Which water a pipe carries, and to which mark it crosses."""
    loop = truncated(escape_control_characters(mark.loop), 20)
    if mark.use == "tail":
        return f"{loop}: {pipe.direction} tail"
    other = f"to {partner}" if partner else "under the floor"
    return f"{loop}: {escape_control_characters(pipe.channel)}, {pipe.direction} {other}"


def paired_pipes(runs: Sequence[PipeRun]) -> dict[int, str]:
    """The mark that a crossing joins each mark to."""
    found: dict[int, str] = {}
    for run in runs:
        if run.use == "crossing":
            for mark in run.from_marks:
                found[mark] = ", ".join(map(str, run.to_marks))
            for mark in run.to_marks:
                found[mark] = ", ".join(map(str, run.from_marks))
    return found


def _cell(ax: Axes, column: _Column, y_mm: float, words: str, weight: str = "normal") -> None:
    x, side = (column.right_mm, "right") if column.figures else (column.left_mm, "left")
    ax.text(x, y_mm, words, ha=side, va="center_baseline", fontsize=TEXT_PT, weight=weight)
