"""Plan of all rooms of a level, put together at their doorways, skirting drawn by loop."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from heatloop.layout.model import Piece, PlacedCrossing, PlacedEnd
from heatloop.layout.plan_coordinates import Point, RoomPlan, room_plan, translated
from heatloop.report.plans.emitters import NOT_SURVEYED, draw_emitters, emitters_in
from heatloop.report.plans.room_outline import (
    FLOW_MM,
    FULL_WIDTH_M,
    PLAN_WIDTH_M,
    SMALL_WIDTH_M,
    draw_room_outline,
    scale_bar,
    set_frame,
    set_title,
)
from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style
from heatloop.text.formatting import escape_control_characters, listing, number, truncated

if TYPE_CHECKING:
    from heatloop.results.design import DesignResult


FEW_ROOMS = 2
WIDE, COLUMNS, ROW_M = 1.6, 3, 0.0048
"""Width of a level, as a multiple of its depth, from which the plan has the whole width of the page and its legend is
below it; columns of that legend, and height of its rows on paper."""
BOX_PT, APART_M = 6.0, 0.5
"""From a valve end to the middle of the box with the number of its loop, each way; valve ends of a loop that are closer
than this have one number."""
LETTER_MM, BOLD_LETTER_MM, SKIRTING_MM = 1.75, 1.95, 5.0
"""Width of a letter on paper, about, and what the skirting on both sides of a room takes."""


def level_plan_plot(
    design: DesignResult, level_m: float, rooms: Mapping[str, Point], ax: Axes | None = None, in_style: Style = "report"
) -> Figure:
    """Plan of the rooms of one level, skirting drawn by loop.

    rooms: where each room stands, as :func:`heatloop.layout.plan_coordinates.rooms_by_storey` gives for a level.
    """
    plans = {name: room_plan(design.survey.room(name), design.layout, 0.0) for name in rooms}
    corners = [(x + rooms[n][0], y + rooms[n][1]) for n, plan in plans.items() for x, y in plan.outline_m]
    xs, ys = zip(*corners, strict=True)
    bounds = (min(xs), min(ys), max(xs), max(ys))
    margins = dict(zip(design.rooms["room"], design.rooms["margin_w"], strict=True))
    wide = bounds[2] - bounds[0] > WIDE * (bounds[3] - bounds[1])
    loops = {loop.loop for loop in design.layout.loops for arm in loop.arms for e in arm.elements if e.room in rooms}
    with style.applied(in_style):
        legend_m = ROW_M * (2 + -(-(len(loops) + 2) // COLUMNS)) if wide else 0.0
        width_m = FULL_WIDTH_M if wide else SMALL_WIDTH_M if len(rooms) <= FEW_ROOMS else PLAN_WIDTH_M
        ax, mm = set_frame(ax, bounds, 4.0, 0.05, width_m, legend_m)
        present, with_emitters = [], False
        numbered: list[str] = []
        for name, shift in rooms.items():
            plan = translated(room_plan(design.survey.room(name), design.layout, FLOW_MM * mm), shift)
            draw_room_outline(ax, plan, mm, names=False)
            present += _loop_runs(ax, design, plan)
            with_emitters |= draw_emitters(ax, plan, emitters_in(design.survey, name), mm, named=False)
            _room_name(ax, plan, float(margins[name]), mm, numbered)
        _level_legend(ax, design, present, with_emitters, numbered, wide)
        scale_bar(ax, bounds, mm)
        set_title(ax, _level_title(level_m, [float(margins[name]) for name in rooms]))
    return Figure(ax, _alt_text(design, level_m, rooms), in_style)


def _alt_text(design: DesignResult, level_m: float, rooms: Mapping[str, Point]) -> str:
    """Text alternative of the figure."""
    margins = dict(zip(design.rooms["room"], design.rooms["margin_w"], strict=True))
    title = _level_title(level_m, [float(margins[name]) for name in rooms])
    return f"Plan of {listing(rooms)}. {title}."


def _level_title(level_m: float, margins: Sequence[float]) -> str:
    short = sum(margin < 0 for margin in margins)
    where = f"Level {number(level_m, 2, sign=True)} m"
    return (
        f"{where}: all rooms reach their temperature"
        if not short
        else f"{where}: {short} of {len(margins)} rooms short of heat"
    )


def _loop_runs(ax: Axes, design: DesignResult, plan: RoomPlan) -> list[str]:
    names = [loop.loop for loop in design.layout.loops]
    seen, started = [], list[tuple[str, Point]]()
    for drawn in plan.drawn:
        look = style.loop_look(names.index(drawn.loop))
        if isinstance(drawn.element, Piece):
            ax.plot(*zip(*drawn.points_m, strict=True), look.line, color=look.colour, linewidth=2.6, zorder=7)
            seen.append(drawn.loop)
        elif isinstance(drawn.element, PlacedCrossing):
            ax.plot(*zip(*drawn.points_m, strict=True), ":", color=style.CROSSING.colour, linewidth=1.3, zorder=6)
        elif isinstance(drawn.element, PlacedEnd) and drawn.element.kind == "valve end":
            start_m = drawn.points_m[0]
            if not any(loop == drawn.loop and math.dist(start_m, at) < APART_M for loop, at in started):
                _loop_number(ax, plan, start_m, names.index(drawn.loop))
            started.append((drawn.loop, start_m))
    return seen


def _loop_number(ax: Axes, plan: RoomPlan, valve_end_m: Point, place: int) -> None:
    """The number of a loop in a box beside its valve end, inside the room: looks repeat, numbers do not."""
    west, south, east, north = plan.bounds_m
    (x, y) = valve_end_m
    inwards = (BOX_PT if x < (west + east) / 2.0 else -BOX_PT, BOX_PT if y < (south + north) / 2.0 else -BOX_PT)
    ax.annotate(
        str(place + 1),
        (x, y),
        inwards,
        textcoords="offset points",
        ha="center",
        va="center",
        fontsize=6.8,
        bbox={"boxstyle": "round,pad=0.16", "facecolor": "#fff", "edgecolor": style.loop_look(place).colour},
        zorder=10,
    )


def _level_legend(
    ax: Axes, design: DesignResult, present: Sequence[str], with_emitters: bool, numbered: Sequence[str], wide: bool
) -> None:
    width = 22 if wide else 20
    handles = [
        Line2D([], [], color=look.colour, linestyle=look.line, linewidth=2.6,
               label=f"{place + 1} {truncated(escape_control_characters(loop.loop), width)}")
        for place, look, loop in ((i, style.loop_look(i), loop) for i, loop in enumerate(design.layout.loops))
        if loop.loop in present
    ]  # fmt: skip
    if handles:
        handles.append(Line2D([], [], color=style.CROSSING.colour, linestyle=":", label="crossing"))
    if with_emitters:
        handles.append(Line2D([], [], color=style.INK, linestyle="--", label=NOT_SURVEYED))
    handles += [
        Line2D([], [], linestyle="none", label=f"({place}) {truncated(escape_control_characters(name), 26)}")
        for place, name in enumerate(numbered, start=1)
    ]
    if handles:
        ax.legend(
            handles=handles,
            loc="upper left",
            bbox_to_anchor=(0.0, -0.01) if wide else (1.01, 1.0),
            ncols=COLUMNS if wide else 1,
            columnspacing=1.0,
            fontsize=7.5 if wide else None,
            borderaxespad=0.0,
            title="number: loop, at its valve end",
            title_fontsize=7.5,
            alignment="left",
        )


def _room_name(ax: Axes, plan: RoomPlan, margin_w: float, mm: float, numbered: list[str]) -> None:
    """Name and margin of a room; a room too narrow for its name has a number, which `numbered` then lists."""
    west, south, east, north = plan.bounds_m
    short = margin_w < 0
    words = f"{number(-margin_w)} W short" if short else f"{number(margin_w)} W margin"
    letter_mm = BOLD_LETTER_MM if short else LETTER_MM
    letters = max(0, int((east - west - SKIRTING_MM * mm) / (letter_mm * mm)))
    name = truncated(escape_control_characters(plan.room), max(20, min(letters, 30)))
    if len(name) > letters:
        numbered.append(plan.room)
        name = f"({len(numbered)})"
    if len(words) > letters:
        words = f"{number(margin_w, sign=True).replace('-', '−')} W"
    ax.annotate(
        f"{name}\n{words}",
        ((west + east) / 2, (south + north) / 2),
        ha="center",
        va="center",
        fontsize=7.6,
        weight="bold" if short else "normal",
        zorder=9,
    )
