"""First fix on paper: a floor with every pipe dimensioned from a corner, and its table of marks.

A sheet is one A4 page in black and white. Positions come from the layout and the first fix; nothing is
calculated here but where ink goes on the paper.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from matplotlib.axes import Axes
from matplotlib.figure import Figure as Canvas
from matplotlib.path import Path

from heatloop.handover.first_fix.model import PipePosition
from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.layout.model import Piece, PlacedCrossing
from heatloop.layout.plan_coordinates import Point, RoomPlan, bounds_m, room_plan, rooms_by_storey
from heatloop.report.drawings.first_fix_dimensions import RUN_MM, Box, box_around, draw_dimensions, is_covered
from heatloop.report.drawings.first_fix_key import draw_first_fix_key, key_height_mm
from heatloop.report.plans.room_outline import (
    SCALES,
    draw_room_outline,
    point_inside_room,
    reading_angle,
    scale_bar,
    translated,
)
from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style
from heatloop.text.formatting import escape_control_characters, listing, number, plural, truncated

WIDTH_MM, HEIGHT_MM = style.A4_TEXT_WIDTH_M * 1000.0, 250.0
TITLE_MM, FOOT_MM, EDGE_MM = 9.0, 11.5, 4.0
MIN_SCALE = 100
"""The smallest scale (1 to this) at which marks beside a doorway can be distinguished."""

LINE_GREY = "#8a9096"


@dataclass(frozen=True)
class DrawingSheet:
    """Contents of one page: rooms of one level and their positions, m."""

    level_m: float
    rooms: Mapping[str, Point]
    scale: int


def sheets(first_fix: FirstFixResult) -> tuple[DrawingSheet, ...]:
    """The pages of a first fix: a level at a time, its rooms put together at the doorways they share.

    A level too large to be read on A4 with its table is given room by room. Levels and rooms without a mark
    of their own have no page.
    """
    found: list[DrawingSheet] = []
    for level_m, rooms in rooms_by_storey(first_fix.survey, first_fix.layout).items():
        marked = {mark.room for mark in first_fix.marks}
        if not marked & set(rooms):
            continue
        whole = _sheet(first_fix, level_m, rooms)
        if whole.scale <= MIN_SCALE:
            found.append(whole)
        else:
            found += [_sheet(first_fix, level_m, {name: (0.0, 0.0)}) for name in rooms if name in marked]
    return tuple(found)


def first_fix_plot(
    first_fix: FirstFixResult, sheet: DrawingSheet, ax: Axes | None = None, in_style: Style = "report"
) -> Figure:
    """Plan of a sheet with its marks and dimensions and, on a page of its own (`ax` None), the table below."""
    marks = _marks(first_fix, sheet.rooms)
    bounds = _bounds(first_fix, sheet.rooms)
    west, south, east, north = bounds
    mm = sheet.scale / 1000.0
    with style.applied(in_style):
        key = None
        if ax is None:
            plan_mm = (north - south) / mm + 2.0 * EDGE_MM + FOOT_MM
            high_mm = TITLE_MM + plan_mm + key_height_mm(marks)
            page = Canvas(figsize=(WIDTH_MM / 25.4, high_mm / 25.4))
            ax = page.add_axes((0.0, 1.0 - (TITLE_MM + plan_mm) / high_mm, 1.0, plan_mm / high_mm))
            key = page.add_axes((0.0, 0.0, 1.0, key_height_mm(marks) / high_mm))
        spare = (WIDTH_MM * mm - (east - west)) / 2.0
        ax.set_xlim(west - spare, east + spare)
        ax.set_ylim(south - (EDGE_MM + FOOT_MM) * mm, north + EDGE_MM * mm)
        ax.set_aspect("equal", anchor="NW")
        ax.set_axis_off()
        for name, shift in sheet.rooms.items():
            plan = translated(room_plan(first_fix.survey.room(name), first_fix.layout, RUN_MM * mm), shift)
            _room(ax, first_fix, plan, shift, mm)
        scale_bar(ax, bounds, mm)
        _legend(ax, bounds, sheet.scale, mm)
        ax.set_title(_title(sheet, marks), y=1.0, pad=5.0, x=0.01)
        if key is not None:
            draw_first_fix_key(key, marks, first_fix.runs)
    return Figure(ax, _alt_text(first_fix, sheet), in_style)


def _alt_text(first_fix: FirstFixResult, sheet: DrawingSheet) -> str:
    """Text alternative of the figure."""
    marks = _marks(first_fix, sheet.rooms)
    rooms = listing(dict.fromkeys(escape_control_characters(mark.room) for mark in marks))
    return f"Plan for first fix of {rooms}, every pipe dimensioned from a corner. {_title(sheet, marks)}."


def _sheet(first_fix: FirstFixResult, level_m: float, rooms: Mapping[str, Point]) -> DrawingSheet:
    """The rooms at the largest usual scale at which plan and table fit on the page."""
    west, south, east, north = _bounds(first_fix, rooms)
    left_mm = HEIGHT_MM - TITLE_MM - FOOT_MM - 2.0 * EDGE_MM - key_height_mm(_marks(first_fix, rooms))
    for n in SCALES:
        if (east - west) * 1000.0 / n <= WIDTH_MM - 2.0 * EDGE_MM and (north - south) * 1000.0 / n <= left_mm:
            return DrawingSheet(level_m, dict(rooms), n)
    return DrawingSheet(level_m, dict(rooms), SCALES[-1])


def _marks(first_fix: FirstFixResult, rooms: Mapping[str, Point]) -> list[PipePosition]:
    return [mark for mark in first_fix.marks if mark.room in rooms]


def _bounds(first_fix: FirstFixResult, rooms: Mapping[str, Point]) -> tuple[float, float, float, float]:
    corners = []
    for name, (dx, dy) in rooms.items():
        geometry = first_fix.layout.room(name).geometry
        corners += [(x + dx, y + dy) for x, y in (geometry.corners_m if geometry is not None else ())]
    return bounds_m(corners)


def _title(sheet: DrawingSheet, marks: Sequence[PipePosition]) -> str:
    pipes = sum(len(mark.pipes) for mark in marks)
    where = f"Level {number(sheet.level_m, 2, sign=True)} m"
    if len(sheet.rooms) == 1:
        room = truncated(escape_control_characters(next(iter(sheet.rooms))), 26)
        where = f"{room}, level {number(sheet.level_m, 2, sign=True)} m"
    return f"{where}: {plural(pipes, 'pipe')} at {plural(len(marks), 'mark')} before the floor closes"


def _room(ax: Axes, first_fix: FirstFixResult, plan: RoomPlan, shift: Point, mm: float) -> None:
    draw_room_outline(ax, plan, mm, names=False)
    for drawn in plan.drawn:
        if isinstance(drawn.element, Piece):
            ax.plot(*zip(*drawn.points_m, strict=True), color=LINE_GREY, linewidth=2.2, zorder=6)
        elif isinstance(drawn.element, PlacedCrossing):
            ax.plot(*zip(*drawn.points_m, strict=True), ":", color=style.INK, linewidth=1.0, zorder=6)
    taken = draw_dimensions(ax, first_fix, plan, shift, mm)
    _wall_numbers(ax, first_fix, plan, mm, taken)
    _room_name(ax, plan, mm, taken)


def _wall_numbers(ax: Axes, first_fix: FirstFixResult, plan: RoomPlan, mm: float, taken: list[Box]) -> None:
    """The number of every wall in grey, where it covers nothing."""
    corners = [*plan.outline_m, plan.outline_m[0]]
    for index, wall in enumerate(first_fix.survey.room(plan.room).walls, start=1):
        (x0, y0), (x1, y1) = corners[index - 1], corners[index]
        words = f"wall {index}" if wall.length_m > 14.0 * mm else str(index)
        openings = [(o.start_m / wall.length_m, o.end_m / wall.length_m) for o in wall.openings]
        best: tuple[float, Point] | None = None
        for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88):
            spot = point_inside_room(plan, index, (x0 + share * (x1 - x0), y0 + share * (y1 - y0)), 2.9 * mm)
            cost = is_covered(box_around(spot, 0.6 * len(words) * mm, 1.1 * mm, (x1 - x0, y1 - y0)), taken) / mm**2
            cost += 0.2 * any(a < share < b for a, b in openings)
            if best is None or cost < best[0] - 1e-9:
                best = cost, spot
        if best is not None:
            ax.annotate(
                words,
                best[1],
                ha="center",
                va="center",
                rotation=reading_angle([corners[index - 1], corners[index]]),
                fontsize=5.6,
                color=style.MUTED,
                zorder=8,
                bbox={"facecolor": style.FLOOR, "edgecolor": "none", "pad": 0.2},
            )


def _room_name(ax: Axes, plan: RoomPlan, mm: float, taken: list[Box]) -> None:
    """The room's name inside it, near its middle, where it covers nothing."""
    west, south, east, north = plan.bounds_m
    name = truncated(escape_control_characters(plan.room), 18)
    outline = Path(plan.outline_m)
    best: tuple[float, Point] | None = None
    for a, b in product(range(1, 12), range(1, 12)):
        spot = (west + a * (east - west) / 12.0, south + b * (north - south) / 12.0)
        x0, y0, x1, y1 = box = box_around(spot, 0.8 * len(name) * mm, 1.5 * mm, (1.0, 0.0))
        out = 4 - int(outline.contains_points([(x0, y0), (x1, y0), (x0, y1), (x1, y1)]).sum())
        cost = 100.0 * (is_covered(box, taken) / mm**2 + out) + math.hypot(a - 6.0, b - 6.0)
        if best is None or cost < best[0]:
            best = cost, spot
    if best is not None:
        ax.annotate(name, best[1], ha="center", va="center", fontsize=7.0, weight="bold", zorder=9)


def _legend(ax: Axes, bounds: tuple[float, float, float, float], scale: int, mm: float) -> None:
    low = ax.get_ylim()[0]
    lines = (
        f"1:{scale} when the page is printed {WIDTH_MM:g} mm wide. Figures: mm along the wall from the ring at its",
        "left-hand corner to the centre of the pipe. Numbers in circles: marks of the table.",
        "Grey band: skirting. Dots: pipes. Dotted: pipe under the floor past a doorway or fitting.",
    )
    for i, words in enumerate(lines):
        spot = (bounds[0] + 1.0 + 22.0 * mm, low + (8.9 - 2.8 * i) * mm)
        ax.annotate(words, spot, ha="left", va="center", fontsize=6.0, color=style.MUTED)
