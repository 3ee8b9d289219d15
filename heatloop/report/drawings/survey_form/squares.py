"""The squared paper of a survey form, with the plan of a room on it at scale."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise

from heatloop.layout.draft_rooms import DraftRoom
from heatloop.layout.plan_coordinates import bounds_m
from heatloop.report.drawings.blocks import Zone
from heatloop.report.drawings.geometry import SMALL_MM, Dash, Line, PlanWindow, Point, Primitive, Ring, Words
from heatloop.report.drawings.plan.text_places import CLEAR_MM, Ground, Placed, best_place

SQUARE_MM, DARK_EVERY = 5.0, 5

SCALES = (20, 50, 100, 200, 500)
"""Scales of plans: a square is 0.10, 0.25, 0.50, 1.00 or 2.50 m."""

MARGIN_MM = 9.0
"""Around the plan, for the numbers of its walls."""

MAX_DIAGONALS = 4


def squared_paper(zone: Zone) -> Iterator[Primitive]:
    """Squares of 5 mm from the lower left-hand corner, every fifth line darker."""
    across, up = round(zone.width_mm / SQUARE_MM), round(zone.height_mm / SQUARE_MM)
    for number in range(across + 1):
        x = zone.west + number * SQUARE_MM
        yield Line("HL-NOTE", ((x, zone.south), (x, zone.north)), *_ruling(number, across))
    for number in range(up + 1):
        y = zone.south + number * SQUARE_MM
        yield Line("HL-NOTE", ((zone.west, y), (zone.east, y)), *_ruling(number, up))


def _ruling(number: int, last: int) -> tuple[float, Dash, float]:
    """Width, dash and grey of a line of the squares."""
    if number in (0, last):
        return 0.35, "solid", 0.2
    return (0.18, "solid", 0.55) if number % DARK_EVERY == 0 else (0.1, "solid", 0.78)


def plan_scale(room: DraftRoom, zone: Zone) -> int:
    """The largest scale, 1 to so much, at which a room fits on its squares."""
    west, south, east, north = bounds_m(room.path_m)
    wide, high = zone.width_mm - 2.0 * MARGIN_MM, zone.height_mm - 2.0 * MARGIN_MM
    least = max(1000.0 * (east - west) / wide, 1000.0 * (north - south) / high)
    return next((scale for scale in SCALES if scale >= least), math.ceil(least / 100.0) * 100)


def plan_on_squares(room: DraftRoom, zone: Zone, with_lengths: bool = False) -> tuple[Primitive, ...]:
    """The plan of a room with its first corner on a crossing of the squares, numbers of walls outside it.

    `with_lengths` writes the taped length behind each number, m.
    """
    window = _window(room, zone)
    path = tuple(window.on_paper(point) for point in room.path_m)
    drawn = tuple(_drawn(room, window, path))
    labels = [f"{n}: {wall.length_m:.2f}" if with_lengths else f"{n}" for n, wall in enumerate(room.walls, start=1)]
    lines = [pair for primitive in drawn if isinstance(primitive, Line) for pair in pairwise(primitive.points)]
    return (*drawn, Ring("HL-WALL", path[0], 0.9, 0.25, filled=True), *_numbers(path, zone, lines, labels))


def _drawn(room: DraftRoom, window: PlanWindow, path: Sequence[Point]) -> Iterator[Primitive]:
    """Walls, openings and what stands against the walls."""
    for number, (start, end) in enumerate(pairwise(path), start=1):
        own = [tuple(map(window.on_paper, opening.points_m)) for opening in room.openings if opening.wall == number]
        yield from _wall(start, end, [sorted(math.dist(start, point) for point in ends) for ends in own])
    if not room.closes:
        yield Line("HL-WALL", (path[-1], path[0]), 0.35, "dashed")
    for item in room.openings:
        a, b = (window.on_paper(point) for point in item.points_m)
        yield from _opening(a, b, float(getattr(item.item, "sill_m", 0.0) or 0.0) > 0.0)
    for item in room.obstacles:
        a, b = (window.on_paper(point) for point in item.points_m)
        inward = _normal(a, b)
        c, d = ((x + 3.0 * inward[0], y + 3.0 * inward[1]) for x, y in (b, a))
        yield Line("HL-OBSTACLE", (a, b, c, d, a), 0.18)
        yield Line("HL-OBSTACLE", (a, c), 0.13)


def _window(room: DraftRoom, zone: Zone) -> PlanWindow:
    scale = plan_scale(room, zone)
    west, south, east, north = bounds_m(room.path_m)
    k = 1000.0 / scale
    middle = (
        zone.west + (zone.width_mm - (east - west) * k) / 2.0,
        zone.south + (zone.height_mm - (north - south) * k) / 2.0,
    )
    first = room.path_m[0]
    at = (middle[0] + (first[0] - west) * k, middle[1] + (first[1] - south) * k)
    snapped = tuple(
        low + round((value - low) / SQUARE_MM) * SQUARE_MM
        for value, low in zip(at, (zone.west, zone.south), strict=True)
    )
    return PlanWindow(scale, first, (snapped[0], snapped[1]))


def _wall(start: Point, end: Point, gaps: Sequence[Sequence[float]]) -> Iterator[Primitive]:
    """A wall without its openings, which are from so far to so far along it on paper."""
    length = math.dist(start, end) or 1.0
    at = 0.0
    for low, high in [*sorted((gap[0], gap[-1]) for gap in gaps), (length, length)]:
        if low - at > 0.01:
            shares = (at / length, low / length)
            ends = [tuple(a + share * (b - a) for a, b in zip(start, end, strict=True)) for share in shares]
            yield Line("HL-WALL", tuple((x, y) for x, y in ends), 0.6)
        at = max(at, high)


def _opening(a: Point, b: Point, is_window: bool) -> Iterator[Primitive]:
    """A door as a stroke across each end of its gap; a window as two lines between them as well."""
    normal = _normal(a, b)

    def off(point: Point, by_mm: float) -> Point:
        return point[0] + by_mm * normal[0], point[1] + by_mm * normal[1]

    for point in (a, b):
        yield Line("HL-OPENING", (off(point, -1.2), off(point, 1.2)), 0.35)
    if is_window:
        for by_mm in (-0.4, 0.4):
            yield Line("HL-OPENING", (off(a, by_mm), off(b, by_mm)), 0.2)


def _normal(a: Point, b: Point) -> Point:
    """The unit normal to the right of a line: into the room."""
    length = math.dist(a, b) or 1.0
    return (b[1] - a[1]) / length, (a[0] - b[0]) / length


def _numbers(
    path: Sequence[Point], zone: Zone, drawn: Sequence[tuple[Point, Point]], labels: Sequence[str]
) -> Iterator[Primitive]:
    """The label of each wall outside it; those of short walls in a bay are pushed apart along its normal."""
    walls = list(pairwise(path))
    ground = Ground(walls=[*walls, *drawn, *_edges(zone)])
    for label, (a, b) in zip(labels, walls, strict=True):
        best = best_place(ground, _places(label, a, b, ground))
        if best is not None:
            ground.add(best[1])
            yield from best[1].primitives


def _places(label: str, a: Point, b: Point, ground: Ground) -> Iterator[tuple[float, Placed]]:
    normal = _normal(a, b)
    tries = [
        (off + 6.0 * abs(share - 0.5), off, share)
        for off in (3.6, 5.0, 6.6, 8.4, 10.5, -4.0, -6.0, -9.0)
        for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.15, 0.85)
    ]
    for cost, off, share in sorted(tries, key=lambda attempt: attempt[0] + (20.0 if attempt[1] < 0.0 else 0.0)):
        at = (a[0] + share * (b[0] - a[0]) - off * normal[0], a[1] + share * (b[1] - a[1]) - off * normal[1])
        words = Words("HL-MARK", at, label, SMALL_MM, anchor="centre", bold=True)
        placed = Placed((words,), (words.box.grown(CLEAR_MM),))
        if ground.stands_clear(placed):
            yield cost, placed


def _edges(zone: Zone) -> list[tuple[Point, Point]]:
    corners = ((zone.west, zone.south), (zone.east, zone.south), (zone.east, zone.north), (zone.west, zone.north))
    return list(pairwise((*corners, corners[0])))


def useful_diagonals(path_m: Sequence[Point]) -> list[tuple[int, int]]:
    """Pairs of corners (from 1) between which a tape can be held, longest first: those to take in a closed room.

    >>> useful_diagonals([(0, 0), (0, 3), (4, 3), (4, 0), (0, 0)])
    [(1, 3), (2, 4)]
    """
    corners = list(path_m[:-1])
    count = len(corners)
    walls = list(pairwise((*corners, corners[0])))
    diagonals = []
    for a, b in combinations(range(count), 2):
        if (b - a) % count in (1, count - 1):
            continue
        others = [(c, d) for c, d in walls if corners[a] not in (c, d) and corners[b] not in (c, d)]
        middle = ((corners[a][0] + corners[b][0]) / 2.0, (corners[a][1] + corners[b][1]) / 2.0)
        if not any(_cuts(corners[a], corners[b], c, d) for c, d in others) and _inside(corners, middle):
            diagonals.append((-round(math.dist(corners[a], corners[b]), 6), a + 1, b + 1))
    return [(a, b) for _, a, b in sorted(diagonals)[:MAX_DIAGONALS]]


def _cuts(a: Point, b: Point, c: Point, d: Point) -> bool:
    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) <= 0.0 and side(c, d, a) * side(c, d, b) <= 0.0


def _inside(corners: Sequence[Point], point: Point) -> bool:
    inside, (x, y) = False, point
    for (x0, y0), (x1, y1) in pairwise((*corners, corners[0])):
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) * (x1 - x0) / (y1 - y0):
            inside = not inside
    return inside
