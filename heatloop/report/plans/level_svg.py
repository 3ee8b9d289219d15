"""Plan of a level as SVG at a scale on paper: rooms with coverage or pieces by number, no label over another."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from heatloop.layout.build import piece_letters
from heatloop.layout.model import Piece, PlacedCrossing
from heatloop.layout.plan_coordinates import Point, RoomPlan, room_plan, rooms_by_storey, translated
from heatloop.report.pages.html_tables import HtmlFragment
from heatloop.results.design import DesignResult
from heatloop.results.summaries import room_state
from heatloop.text.formatting import number, percent, plural
from heatloop.text.html import rendered

SCALES = (20, 50, 100, 200)
"""Scales of drawings after ISO 5455, 1:n, and the next one for very long levels."""

LARGEST_WITH_RINGS = 100
"""The smallest scale, 1:n, at which the rings of pieces stand clear of each other; longer levels are cut into parts."""

EDGE_MM = 1.5
NAME_MM, FIGURE_MM = 2.7, 2.4
"""Height of letters of room names and of figures."""
LETTER_SHARE = 0.56
"""Width of a letter as a share of its height, about."""
RING_MM, LONG_NUMBER_MM = 2.1, 0.5
"""Half the height of a ring, which is also half its width; more on each side of a number of three digits."""
SHIFTS_MM = (0.0, 3.0, -3.0, 6.0, -6.0, 9.0, -9.0, 12.0, -12.0)
DEPTHS_MM = (4.2, 8.4, 12.6)

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Label:
    """Text in the plan: where (mm), its lines, and half the width of its ring; 0 for none."""

    x_mm: float
    y_mm: float
    lines: tuple[str, ...]
    ring_mm: float = 0.0


@dataclass(frozen=True)
class LevelPlan:
    """The plan of a level as markup, its scale (1:n), rooms that are named by number below it, and which part of the
    level it is, 0 for the whole."""

    level_m: float
    svg: HtmlFragment
    scale: int
    numbered: tuple[tuple[str, str], ...]
    part: int = 0


def level_plans(
    design: DesignResult,
    size_mm: tuple[float, float],
    numbers: Mapping[str, int] | None = None,
    scales: Sequence[int] = SCALES,
) -> tuple[LevelPlan, ...]:
    """The plans of all levels, each as large as its scale fits `size_mm` (width and height).

    Without `numbers` rooms show their coverage by colour, pattern and figure; with them pieces carry their numbers,
    which are given by label.
    """
    storeys = rooms_by_storey(design.survey, design.layout)
    plans = {
        level_m: [
            translated(room_plan(design.survey.room(name), design.layout, 0.0), shift) for name, shift in rooms.items()
        ]
        for level_m, rooms in storeys.items()
    }
    scale = max((_scale(level_bounds_m(rooms), size_mm, scales) for rooms in plans.values()), default=scales[0])
    if numbers is None or scale <= LARGEST_WITH_RINGS:
        return tuple(_level(design, level_m, rooms, scale, numbers) for level_m, rooms in plans.items())
    return tuple(
        _level(design, level_m, part, LARGEST_WITH_RINGS, numbers, place if len(parts) > 1 else 0)
        for level_m, rooms in plans.items()
        for parts in (_parts(rooms, size_mm[0]),)
        for place, part in enumerate(parts, start=1)
    )


def _parts(plans: Sequence[RoomPlan], width_mm: float) -> list[list[RoomPlan]]:
    """The rooms of a level from west to east in parts that are no wider than that at the smallest scale with rings."""
    parts: list[list[RoomPlan]] = []
    for plan in sorted(plans, key=lambda plan: plan.bounds_m[0]):
        if parts:
            west, _, east, _ = level_bounds_m([*parts[-1], plan])
            if 1000.0 * (east - west) / LARGEST_WITH_RINGS <= width_mm - 2 * EDGE_MM:
                parts[-1].append(plan)
                continue
        parts.append([plan])
    return parts


def floor_key(design: DesignResult) -> str:
    """What the patterns on the floors of rooms mean, of those that the plans have; empty where they have none."""
    states = {room_state(row) for row in design.rooms.to_dict("records")}
    words = (("short", "hatched: too little heat"), ("tight", "dotted: enough heat, with a margin below 5 %"))
    return "; ".join(text for state, text in words if state in states)


def fitted_scale(design: DesignResult, size_mm: tuple[float, float]) -> tuple[int, ...]:
    """The one scale, not a standard one, at which every level fits `size_mm`: for pictures that are not measured."""
    storeys = rooms_by_storey(design.survey, design.layout)
    bounds = [
        level_bounds_m([translated(room_plan(design.survey.room(n), design.layout, 0.0), s) for n, s in rooms.items()])
        for rooms in storeys.values()
    ]
    return (max((min_scale(box, size_mm) for box in bounds), default=SCALES[0]),)


def level_bounds_m(plans: Sequence[RoomPlan]) -> Box:
    """West, south, east and north edge of rooms at their places."""
    boxes = [plan.bounds_m for plan in plans]
    west, south, east, north = zip(*boxes, strict=True)
    return min(west), min(south), max(east), max(north)


def min_scale(bounds: Box, size_mm: tuple[float, float]) -> int:
    """The largest whole scale, 1:n, at which bounds in metres fit a size on paper."""
    west, south, east, north = bounds
    wide, high = (size - 2 * EDGE_MM for size in size_mm)
    return math.ceil(max(1000.0 * (east - west) / wide, 1000.0 * (north - south) / high))


def _scale(bounds: Box, size_mm: tuple[float, float], scales: Sequence[int]) -> int:
    least = min_scale(bounds, size_mm)
    return next((scale for scale in scales if scale >= least), max(least, scales[-1]))


def _level(
    design: DesignResult,
    level_m: float,
    plans: Sequence[RoomPlan],
    scale: int,
    numbers: Mapping[str, int] | None,
    part: int = 0,
) -> LevelPlan:
    """The plan of a level, or of that part of it."""
    west, south, east, north = level_bounds_m(plans)

    def on_paper(point: Point) -> Point:
        return EDGE_MM + 1000.0 * (point[0] - west) / scale, EDGE_MM + 1000.0 * (north - point[1]) / scale

    rows = {row["room"]: row for row in design.rooms.to_dict("records")}
    boxes: list[Box] = []
    rings = [] if numbers is None else list(_piece_rings(plans, on_paper, numbers, boxes))
    names, numbered = room_labels(plans, on_paper, rows, numbers is None, boxes)
    rooms = [room_lines(plan, on_paper, room_state(rows[plan.room]) if numbers is None else "plain") for plan in plans]
    width_mm, height_mm = (2 * EDGE_MM + 1000.0 * size / scale for size in (east - west, north - south))
    short = sum(room_state(rows[plan.room]) == "short" for plan in plans)
    states = f"; {plural(short, 'room')} short of heat" if numbers is None and short else ""
    title = f"Plan of level {number(level_m, 2, sign=True)} m: {', '.join(plan.room for plan in plans)}{states}"
    svg = rendered(
        "heatloop.report.plans",
        "level.html",
        rooms=rooms,
        labels=[*names, *rings],
        figures=(),
        pipes=(),
        width=round(width_mm, 2),
        height=round(height_mm, 2),
        title=title,
        key=f"{'n' if numbers else 'c'}{abs(round(100 * level_m))}{'b' if level_m < 0 else ''}"
        + (f"p{part}" if part else ""),
        ring=RING_MM,
        name_mm=NAME_MM,
        figure_mm=FIGURE_MM,
    )
    return LevelPlan(level_m, HtmlFragment(svg), scale, tuple(numbered), part)


def room_lines(plan: RoomPlan, on_paper: Callable[[Point], Point], state: str) -> dict[str, Any]:
    """The lines of a room on paper as the template of a level draws them, and the state of its floor."""
    return {
        "state": state,
        "outline": _points(map(on_paper, plan.outline_m)),
        "obstacles": [_points(map(on_paper, obstacle.points_m)) for obstacle in plan.obstacles],
        "openings": [
            (_points(map(on_paper, opening.points_m)), "sill_m" in _window(opening)) for opening in plan.openings
        ],
        "pieces": [_points(map(on_paper, d.points_m)) for d in plan.drawn if isinstance(d.element, Piece)],
        "crossings": [_points(map(on_paper, d.points_m)) for d in plan.drawn if isinstance(d.element, PlacedCrossing)],
    }


def _window(opening: object) -> dict[str, float]:
    """The sill of an opening above the floor; none for a door."""
    sill = getattr(getattr(opening, "item", None), "sill_m", 0.0) or 0.0
    return {"sill_m": sill} if sill > 0.0 else {}


def _points(points: Iterator[Point] | map[Point]) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in points)


def room_labels(
    plans: Sequence[RoomPlan],
    on_paper: Callable[[Point], Point],
    rows: Mapping[str, Mapping[Any, Any]],
    coverage: bool,
    boxes: list[Box],
) -> tuple[list[Label], list[tuple[str, str]]]:
    """The name of every room with its coverage, where it fits; else a letter that is listed below the plan.

    Numbers in a plan are those of walls or pieces.
    """
    labels: list[Label] = []
    numbered: list[tuple[str, str]] = []
    for plan in plans:
        outline = [on_paper(point) for point in plan.outline_m]
        x, y, wide = _widest_place(outline, boxes)
        figure = f"{percent(rows[plan.room]['coverage'])} %" if coverage else ""
        name = plan.room
        if LETTER_SHARE * NAME_MM * len(name) > wide - 1.0:
            mark = piece_letters(len(numbered)).upper()
            numbered.append((mark, name))
            name = f"({mark})"
        if coverage and LETTER_SHARE * FIGURE_MM * len(figure) > wide:
            figure = ""
        labels.append(Label(x, y, tuple(filter(None, (name, figure)))))
        half = LETTER_SHARE * NAME_MM * len(name) / 2.0
        boxes.append((x - half, y - NAME_MM, x + half, y + NAME_MM + FIGURE_MM))
    return labels, numbered


def _widest_place(outline: Sequence[Point], boxes: Sequence[Box]) -> tuple[float, float, float]:
    """Where in a room a label has the most width that no other label takes: x, y and that width, mm."""
    xs, ys = zip(*outline, strict=True)
    low, high = min(ys), max(ys)
    middle = (low + high) / 2.0
    best = ((min(xs) + max(xs)) / 2.0, middle, 0.0)
    rank = -math.inf
    for step in range(2, 23):
        y = low + (high - low) * step / 24.0
        for left, right in _free(outline, boxes, y):
            value = min(right - left, 60.0) - 0.6 * abs(y - middle)
            if value > rank + 1e-9:
                best, rank = ((left + right) / 2.0, y, right - left), value
    return best


def _free(outline: Sequence[Point], boxes: Sequence[Box], y: float) -> Iterator[tuple[float, float]]:
    """Stretches of a line across a room, both lines of a label inside it, that no label takes."""
    both = [_inside(outline, y - NAME_MM / 2.0), _inside(outline, y + NAME_MM)]
    for a_left, a_right in both[0]:
        for b_left, b_right in both[1]:
            left, right = max(a_left, b_left) + 0.8, min(a_right, b_right) - 0.8
            taken = sorted(
                (box[0], box[2])
                for box in boxes
                if box[1] < y + NAME_MM + FIGURE_MM and box[3] > y - NAME_MM and box[0] < right and box[2] > left
            )
            for begin, end in taken:
                if begin > left:
                    yield left, begin
                left = max(left, end)
            if right > left:
                yield left, right


def _inside(outline: Sequence[Point], y: float) -> list[tuple[float, float]]:
    """Where a horizontal line is inside an outline: stretches from west to east."""
    crossings_x = []
    for (x0, y0), (x1, y1) in zip(outline, [*outline[1:], outline[0]], strict=True):
        if (y0 <= y) != (y1 <= y):
            crossings_x.append(x0 + (y - y0) * (x1 - x0) / (y1 - y0))
    crossings_x.sort()
    return list(zip(crossings_x[::2], crossings_x[1::2], strict=False))


def _piece_rings(
    plans: Sequence[RoomPlan], on_paper: Callable[[Point], Point], numbers: Mapping[str, int], boxes: list[Box]
) -> Iterator[Label]:
    """The number of every piece in a ring beside its middle, at the first place where no other ring stands."""
    for plan in plans:
        outline = [on_paper(point) for point in plan.outline_m]
        for drawn in plan.drawn:
            if not isinstance(drawn.element, Piece) or drawn.element.label not in numbers:
                continue
            (x0, y0), (x1, y1) = on_paper(drawn.points_m[0]), on_paper(drawn.points_m[-1])
            label = str(numbers[drawn.element.label])
            half_mm = RING_MM + (LONG_NUMBER_MM if len(label) > 2 else 0.0)
            x, y = _ring_place(outline, (x0, y0), (x1, y1), boxes, half_mm)
            boxes.append((x - half_mm, y - RING_MM, x + half_mm, y + RING_MM))
            yield Label(x, y, (label,), half_mm)


def _ring_place(outline: Sequence[Point], start: Point, end: Point, boxes: Sequence[Box], half_mm: float) -> Point:
    (x0, y0), (x1, y1) = start, end
    length = math.hypot(x1 - x0, y1 - y0) or 1.0
    along = ((x1 - x0) / length, (y1 - y0) / length)
    candidates = []
    for depth in DEPTHS_MM:
        for shift in SHIFTS_MM:
            for side in (1.0, -1.0):
                x = (x0 + x1) / 2.0 + shift * along[0] - side * depth * along[1]
                y = (y0 + y1) / 2.0 + shift * along[1] + side * depth * along[0]
                inside = any(left + half_mm < x < right - half_mm for left, right in _inside(outline, y))
                clash = sum(
                    min(box[2], x + half_mm) > max(box[0], x - half_mm)
                    and min(box[3], y + RING_MM) > max(box[1], y - RING_MM)
                    for box in boxes
                )
                candidates.append((clash, not inside, depth + abs(shift), (x, y)))
    return min(candidates, key=lambda candidate: candidate[:3])[3]
