"""Running dimensions of first fix: figures and marks along a wall, none over another."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.path import Path
from scipy.optimize import isotonic_regression

from heatloop.handover.first_fix.model import PipePosition
from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.layout.plan_coordinates import Point, RoomPlan, plan_points
from heatloop.report.plans.room_outline import point_inside_room, reading_angle
from heatloop.report.plots import style
from heatloop.text.formatting import number

RUN_MM, LINE_MM, TEXT_MM, RING_MM = 1.5, 4.0, 8.0, 13.0
"""Off the wall, on paper: skirting and pipes, the dimension line, the middle of its figures, the mark."""
FIGURE_MM, MARK_MM, CORNER_MM = 2.5, 4.8, 1.5
"""Along the wall, on paper: from figure to figure, from mark to mark, from the corner to a figure."""
FARTHER_MM = (0.0, 2.3, 4.6, 6.9, 9.2, 11.5, 13.8, 16.1, 18.4)
SIDEWAYS_MM = (0.0, -2.5, 2.5, -5.0, 5.0, -7.5, 7.5, -10.0, 10.0, -12.5, 12.5)
"""How much farther off the wall, and along it, figures and mark may go so as to cover nothing."""

Spot = Callable[[float, float], Point]
"""A point of the plan from mm along a wall and mm off it, on paper."""
Box = tuple[float, float, float, float]
"""West, south, east and north edge of what is written, m in the plan."""


@dataclass(frozen=True)
class _Straight:
    """One straight of a room on paper: its marks, every pipe's distance from the left-hand corner, its length (mm
    on paper), and points of the plan along it and off it."""

    marks: tuple[PipePosition, ...]
    places_mm: tuple[float, ...]
    length_mm: float
    spot: Spot
    normal: Point


def draw_dimensions(ax: Axes, first_fix: FirstFixResult, plan: RoomPlan, shift: Point, mm: float) -> list[Box]:
    """Figures from the ring at its left-hand corner to every pipe of every straight of a room, and the marks.

    `plan` stands where it is drawn, `shift` from the room's own coordinates; `mm` is a millimetre on paper, m in
    the plan. Returns what is written, so that more can keep clear of it.
    """
    marks = [mark for mark in first_fix.marks if mark.room == plan.room]
    straights = [
        _straight(first_fix, plan, shift, [mark for mark in marks if mark.straight == run], mm)
        for run in dict.fromkeys(mark.straight for mark in marks)
    ]
    outline = Path(plan.outline_m)
    taken = [
        box_around(one.spot(place, (RUN_MM + LINE_MM) / 2.0), 0.5 * mm, 2.0 * mm, (-one.normal[1], one.normal[0]))
        for one in straights
        for place in one.places_mm
    ]
    for one in straights:
        _line(ax, [one.spot(0.0, RUN_MM), one.spot(0.0, LINE_MM), one.spot(one.places_mm[-1], LINE_MM)])
        (x, y) = one.spot(0.0, LINE_MM)
        ring: dict[str, Any] = {"markerfacecolor": style.PAPER, "markersize": 3.4, "markeredgewidth": 0.7, "zorder": 9}
        ax.plot([x], [y], "o", color=style.INK, **ring)
        middles = spread_mm([len(mark.pipes) for mark in one.marks], one.places_mm, one.length_mm)
        at = 0
        for mark, centre in zip(one.marks, middles, strict=True):
            there = one.places_mm[at : at + len(mark.pipes)]
            at += len(mark.pipes)
            tries = {
                (aside, off): _boxes(mark, centre + aside, off, one, mm)
                for aside, off in product(SIDEWAYS_MM, FARTHER_MM)
            }
            aside, off = min(tries, key=lambda go: (_cost(tries[go], taken, outline, mm), 1.5 * abs(go[0]) + go[1]))
            taken += tries[aside, off]
            _mark(ax, mark, there, centre + aside, off, one)
    return taken


def _straight(
    first_fix: FirstFixResult, plan: RoomPlan, shift: Point, marks: Sequence[PipePosition], mm: float
) -> _Straight:
    room, geometry = first_fix.survey.room(plan.room), first_fix.layout.room(plan.room).geometry
    if geometry is None:
        raise ValueError(f"room {plan.room!r} has no walls to draw")
    run = marks[0].straight
    corner = plan.outline_m[run[0] - 1]
    points = []
    for pipe in (pipe for mark in marks for pipe in mark.pipes):
        (x, y), *_ = plan_points(room, geometry, pipe.wall, (pipe.at_m,))
        points.append((x + shift[0], y + shift[1]))
    far = points[-1]
    ux, uy = (far[0] - corner[0]) / math.dist(far, corner), (far[1] - corner[1]) / math.dist(far, corner)

    def spot(along_mm: float, off_mm: float) -> Point:
        return point_inside_room(
            plan, run[0], (corner[0] + along_mm * mm * ux, corner[1] + along_mm * mm * uy), off_mm * mm
        )

    places_mm = tuple(math.dist(corner, point) / mm for point in points)
    length_mm = sum(room.walls[wall - 1].length_m for wall in run) / mm
    return _Straight(tuple(marks), places_mm, length_mm, spot, (uy, -ux))


def spread_mm(counts: Sequence[int], places_mm: Sequence[float], straight_mm: float) -> list[float]:
    """Middles of the marks' figures along a straight, as near their pipes as they go without touching, mm.

    `counts` are the pipes of each mark, `places_mm` all pipes from the left-hand corner. Least squares under the
    order of the marks.

    >>> [round(x, 2) for x in spread_mm([1, 1], [20.0, 21.0], 100.0)]
    [18.1, 22.9]
    """
    centres, halves, at = [], [], 0
    for count in counts:
        centres.append(sum(places_mm[at : at + count]) / count)
        halves.append(max(count * FIGURE_MM, MARK_MM) / 2.0)
        at += count
    before = np.cumsum([0.0, *(a + b for a, b in pairwise(halves))])
    first_mm = CORNER_MM + (counts[0] - 1) * FIGURE_MM / 2.0
    last_mm = straight_mm - CORNER_MM - (counts[-1] - 1) * FIGURE_MM / 2.0
    base = isotonic_regression(np.array(centres) - before).x
    fitted = np.clip(base, first_mm, max(first_mm, last_mm - before[-1])) + before
    return [float(x) for x in fitted]


def box_around(centre: Point, half_along: float, half_across: float, along: Point) -> Box:
    """The box that holds a rectangle round a point, its sides `along` a direction and across it, m."""
    length = math.hypot(*along) or 1.0
    c, s = abs(along[0]) / length, abs(along[1]) / length
    dx, dy = half_along * c + half_across * s, half_along * s + half_across * c
    return centre[0] - dx, centre[1] - dy, centre[0] + dx, centre[1] + dy


def is_covered(box: Box, taken: Sequence[Box]) -> float:
    """Area of a box that others take, m2, counted once for each of them."""
    area = 0.0
    for other in taken:
        wide = min(box[2], other[2]) - max(box[0], other[0])
        high = min(box[3], other[3]) - max(box[1], other[1])
        area += max(wide, 0.0) * max(high, 0.0)
    return area


def _mark(
    ax: Axes, mark: PipePosition, places_mm: Sequence[float], centre: float, farther: float, straight: _Straight
) -> None:
    spot, angle = straight.spot, reading_angle([(0.0, 0.0), straight.normal])
    for i, (pipe, there) in enumerate(zip(mark.pipes, places_mm, strict=True)):
        here = centre + (i - (len(mark.pipes) - 1) / 2.0) * FIGURE_MM
        (x, y) = spot(there, RUN_MM)
        ax.plot([x], [y], "o", color=style.INK, markersize=2.3, zorder=10)
        _line(ax, [spot(there - 0.45, LINE_MM - 0.9), spot(there + 0.45, LINE_MM + 0.9)], 0.7)
        _line(ax, [spot(there, RUN_MM), spot(there, LINE_MM), spot(here, TEXT_MM - 2.3), spot(here, TEXT_MM + farther)])
        ax.annotate(
            number(pipe.from_left_corner_m * 1000.0),
            spot(here, TEXT_MM + farther),
            ha="center",
            va="center",
            rotation=angle,
            fontsize=6.2,
            zorder=11,
            bbox={"facecolor": style.FLOOR, "edgecolor": "none", "pad": 0.4},
        )
    ax.annotate(
        str(mark.number),
        spot(centre, RING_MM + farther),
        ha="center",
        va="center",
        fontsize=6.6,
        weight="bold",
        zorder=12,
        bbox={"boxstyle": "circle,pad=0.22", "facecolor": style.PAPER, "edgecolor": style.INK, "linewidth": 0.8},
    )


def _boxes(mark: PipePosition, centre: float, farther: float, straight: _Straight, mm: float) -> list[Box]:
    """Boxes of a mark's figures and of its ring, m."""
    spot, normal = straight.spot, straight.normal
    wide = max(len(mark.pipes) * FIGURE_MM, 2.0) / 2.0
    figures = box_around(spot(centre, TEXT_MM + farther), 2.4 * mm, wide * mm, normal)
    return [figures, box_around(spot(centre, RING_MM + farther), 2.2 * mm, 2.2 * mm, normal)]


def _cost(boxes: Sequence[Box], taken: Sequence[Box], outline: Path, mm: float) -> float:
    """Cost of a place for figures and ring: overlap with others, mm2 on paper, with a penalty outside the room."""
    middles = [((west + east) / 2.0, (south + north) / 2.0) for west, south, east, north in boxes]
    out = len(boxes) - int(outline.contains_points(middles).sum())
    return round(sum(is_covered(box, taken) for box in boxes) / mm**2, 3) + 100.0 * out


def _line(ax: Axes, points: Sequence[Point], width: float = 0.5) -> None:
    ax.plot(*zip(*points, strict=True), color=style.INK, linewidth=width, zorder=8)
