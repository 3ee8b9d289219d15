"""Closed room outlines from the lines of a drawing: plane geometry only, without file or library.

Points are (x, y) in metres, x to the right and y up. A resulting outline is clockwise seen from above; its corners are
the ends of straight walls. A gap in the line of a wall, between two free ends, is a doorway.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise, product

from heatloop.survey.room_geometry import STRAIGHT_WITHIN_DEG, crossing_walls, polygon_area_m2

Point = tuple[float, float]
Segment = tuple[Point, Point]

IN_LINE_M = 0.02
"""Maximum distance of a free end from the line of a wall at which it counts as the continuation of the wall."""
MIN_ROOM_M2 = 0.3
DOUBLES_BACK_DEG = 179.0
OVER_M = 0.10
"""Width and height of an area that two outlines with sides in line may have in common: an error of the drawing."""


@dataclass(frozen=True)
class Outline:
    """A closed outline, clockwise from its south-westernmost corner, and the doorways that are gaps in it."""

    corners_m: tuple[Point, ...]
    gaps: tuple[Segment, ...] = ()

    @property
    def area_m2(self) -> float:
        """Area inside the outline."""
        return polygon_area_m2(self.corners_m)

    @property
    def walls(self) -> tuple[Segment, ...]:
        """Both ends of every wall, in order."""
        return tuple(pairwise((*self.corners_m, self.corners_m[0])))


@dataclass(frozen=True)
class OutlineProblem:
    """An error of an outline: location, found, required."""

    at_m: Point
    found: str
    required: str
    more_m: tuple[Point, ...] = ()


def closed_outline(points: Sequence[Point], join_m: float, gaps: Sequence[Segment] = ()) -> Outline | OutlineProblem:
    """An outline from its corners in either direction, or its error.

    Corners nearer than `join_m` are joined. Corners at which a wall continues straight (within 0.5 degrees) are left
    out.
    """
    corners = _corners(points, join_m)
    first = points[0] if points else (0.0, 0.0)
    if len(corners) < 3:
        return OutlineProblem(first, "an outline of no width", "three corners or more, not in one line")
    if polygon_area_m2(corners) < 0.0:
        corners = corners[::-1]
    for a, b, c in zip((corners[-1], *corners), corners, (*corners[1:], corners[0]), strict=False):
        if abs(turn_deg(a, b, c)) > DOUBLES_BACK_DEG:
            return OutlineProblem(
                b, "a side that doubles back on the one before", "an outline that does not meet itself"
            )
    crossed = crossing_walls(corners)
    if crossed:
        return _crossed(corners, crossed[0])
    area_m2 = polygon_area_m2(corners)
    if area_m2 < MIN_ROOM_M2:
        required = f"a room of at least {MIN_ROOM_M2:g} m2, or the drawing's true units"
        return OutlineProblem(first, f"an outline of {area_m2:.3g} m2", required)
    start = min(range(len(corners)), key=lambda i: (round(corners[i][0] + corners[i][1], 6), corners[i]))
    return Outline((*corners[start:], *corners[:start]), tuple(gaps))


def joined_lines(segments: Sequence[Segment], join_m: float, gap_m: float) -> list[Outline | OutlineProblem]:
    """Outlines made of separate lines; ends nearer than `join_m` are joined.

    Two free ends at most `gap_m` apart form a doorway if at least one lies in the line of the other's wall. Each
    connected figure that is not an outline gives one error.
    """
    nodes, edges = _graph(segments, join_m)
    problems: list[Outline | OutlineProblem] = []
    ends: dict[int, list[int]] = defaultdict(list)
    for a, b in edges:
        ends[a].append(b)
        ends[b].append(a)
    bad = {node for node, others in ends.items() if len(others) > 2}
    for node in sorted(bad):
        found = f"{len(ends[node])} lines that meet in one point"
        problems.append(OutlineProblem(nodes[node], found, "an outline of its own for each room, inside its walls"))
    figures = _figures(ends)
    loose = [node for node, others in ends.items() if len(others) == 1]
    gaps: list[tuple[int, int]] = []
    for a, b in _doorways(nodes, ends, loose, gap_m):
        ends[a].append(b)
        ends[b].append(a)
        gaps.append((a, b))
    for figure in _figures(ends):
        open_ends = sorted(node for node in figure if len(ends[node]) == 1)
        if bad & figure:
            continue
        if open_ends:
            problems.append(_open(nodes, open_ends, gap_m, sum(part <= figure for part in figures)))
            continue
        own = [(nodes[a], nodes[b]) for a, b in gaps if a in figure]
        problems.append(closed_outline([nodes[node] for node in _walk(ends, min(figure))], join_m, own))
    return problems


def contains_point(point: Point, corners: Sequence[Point]) -> bool:
    """Whether a point lies within a polygon: ray casting (de Berg et al., Computational Geometry, from memory).

    >>> square = [(0, 0), (0, 2), (2, 2), (2, 0)]
    >>> contains_point((1.0, 1.0), square), contains_point((3.0, 1.0), square)
    (True, False)
    """
    x, y = point
    within = False
    for (x0, y0), (x1, y1) in pairwise((*corners, corners[0])):
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) * (x1 - x0) / (y1 - y0):
            within = not within
    return within


def overlapping(outlines: Sequence[Outline], join_m: float) -> list[OutlineProblem]:
    """Outlines that lie inside one another or cross. Rooms do neither."""
    problems = []
    for i, outline in enumerate(outlines):
        for other in outlines[i + 1 :]:
            corner = _shared_corner(outline, other, join_m) or _shared_corner(other, outline, join_m)
            corner = corner or _shared_point(outline, other)
            if corner is not None or _cross(outline, other):
                at = corner if corner is not None else outline.corners_m[0]
                text = f"outlines of {outline.area_m2:.1f} m2 and {other.area_m2:.1f} m2 that lie over each other"
                problems.append(
                    OutlineProblem(at, text, "rooms side by side, and no outline of the whole building among them")
                )
    return problems


def _corners(points: Sequence[Point], join_m: float) -> list[Point]:
    kept: list[Point] = []
    for point in points:
        if not kept or math.dist(point, kept[-1]) > join_m:
            kept.append(point)
    while len(kept) > 1 and math.dist(kept[0], kept[-1]) <= join_m:
        kept.pop()
    while len(kept) > 2:
        turns = [abs(turn_deg(kept[i - 1], kept[i], kept[(i + 1) % len(kept)])) for i in range(len(kept))]
        flattest = min(range(len(kept)), key=lambda i: turns[i])
        if turns[flattest] > STRAIGHT_WITHIN_DEG:
            break
        kept.pop(flattest)
    return kept


def turn_deg(a: Point, b: Point, c: Point) -> float:
    """Turn to the right at b on the way from a to c, in degrees, from -180 to 180.

    >>> round(turn_deg((0, 0), (0, 1), (1, 1)), 6)
    90.0
    """
    (x0, y0), (x1, y1) = (b[0] - a[0], b[1] - a[1]), (c[0] - b[0], c[1] - b[1])
    return math.degrees(math.atan2(y0 * x1 - x0 * y1, x0 * x1 + y0 * y1))


def _crossed(corners: Sequence[Point], pair: tuple[int, int]) -> OutlineProblem:
    (a, b), (c, d) = ((corners[n - 1], corners[n % len(corners)]) for n in pair)
    found = "two sides of an outline that cross or touch"
    return OutlineProblem(_meeting(a, b, c, d), found, "an outline that does not meet itself")


def _meeting(a: Point, b: Point, c: Point, d: Point) -> Point:
    """Intersection of the lines through two segments; if they are parallel, the nearest end."""
    (x0, y0), (x1, y1) = (b[0] - a[0], b[1] - a[1]), (d[0] - c[0], d[1] - c[1])
    cross = x0 * y1 - y0 * x1
    if abs(cross) < 1e-9 * math.hypot(x0, y0) * math.hypot(x1, y1):
        return c
    t = ((c[0] - a[0]) * y1 - (c[1] - a[1]) * x1) / cross
    t = min(max(t, 0.0), 1.0)
    return a[0] + t * x0, a[1] + t * y0


def _graph(segments: Sequence[Segment], join_m: float) -> tuple[list[Point], list[tuple[int, int]]]:
    """Points and the lines between them; ends within `join_m` are one point, and a line drawn twice is one line."""
    nodes: list[Point] = []
    cells: dict[tuple[int, int], list[int]] = defaultdict(list)

    def node(point: Point) -> int:
        column, row = (math.floor(x / join_m) for x in point)
        for i in range(column - 1, column + 2):
            for j in range(row - 1, row + 2):
                for known in cells[i, j]:
                    if math.dist(nodes[known], point) <= join_m:
                        return known
        nodes.append(point)
        cells[column, row].append(len(nodes) - 1)
        return len(nodes) - 1

    edges = dict.fromkeys((min(a, b), max(a, b)) for a, b in ((node(p), node(q)) for p, q in segments) if a != b)
    return nodes, list(edges)


def _figures(ends: dict[int, list[int]]) -> list[set[int]]:
    """Connected figures, each the set of its points."""
    figures: list[set[int]] = []
    seen: set[int] = set()
    for start in ends:
        if start in seen:
            continue
        figure, waiting = set(), [start]
        while waiting:
            node = waiting.pop()
            if node not in figure:
                figure.add(node)
                waiting += ends[node]
        seen |= figure
        figures.append(figure)
    return figures


def _doorways(
    nodes: Sequence[Point], ends: dict[int, list[int]], loose: Sequence[int], gap_m: float
) -> list[tuple[int, int]]:
    """Pairs of free ends with a doorway between them: those best in line and nearest first."""
    doorways = []
    for i, a in enumerate(loose):
        for b in loose[i + 1 :]:
            apart_m = math.dist(nodes[a], nodes[b])
            if apart_m <= gap_m and ends[a] != [b]:
                lined = _ahead(nodes[ends[a][0]], nodes[a], nodes[b]) + _ahead(nodes[ends[b][0]], nodes[b], nodes[a])
                if lined:
                    doorways.append((-lined, apart_m, a, b))
    taken: set[int] = set()
    pairs = []
    for *_, a, b in sorted(doorways):
        if not {a, b} & taken:
            taken |= {a, b}
            pairs.append((a, b))
    return pairs


def _ahead(before: Point, end: Point, other: Point) -> bool:
    """Whether `other` lies straight ahead of a wall that comes from `before` and ends at `end`."""
    length = math.dist(before, end)
    ux, uy = (end[0] - before[0]) / length, (end[1] - before[1]) / length
    dx, dy = other[0] - end[0], other[1] - end[1]
    return ux * dx + uy * dy > 0.0 and abs(ux * dy - uy * dx) <= IN_LINE_M


def _open(nodes: Sequence[Point], open_ends: Sequence[int], gap_m: float, parts: int) -> OutlineProblem:
    points = [nodes[node] for node in open_ends]
    apart_m = math.dist(points[0], points[1])
    found = f"an outline open by {apart_m:.3f} m"
    if parts > 1 or len(points) > 2:
        found = f"an outline with {len(points)} loose ends"
    required = f"a closed outline, or gaps of at most {gap_m:g} m in the line of a wall for its doorways"
    return OutlineProblem(points[0], found, required, tuple(points[1:]))


def _walk(ends: dict[int, list[int]], start: int) -> list[int]:
    """The points of a closed figure in order."""
    order, before, node = [start], start, ends[start][0]
    while node != start:
        order.append(node)
        a, b = ends[node]
        before, node = node, (b if a == before else a)
    return order


def _shared_corner(outline: Outline, other: Outline, join_m: float) -> Point | None:
    """A corner of one outline that lies well inside the other."""
    for corner in outline.corners_m:
        if contains_point(corner, other.corners_m) and min(_off(corner, a, b) for a, b in other.walls) > 2.0 * join_m:
            return corner
    return None


def _shared_point(outline: Outline, other: Outline) -> Point | None:
    """A point of an area that is common to two outlines, wider and higher than OVER_M.

    It finds outlines that lie over each other with sides in line, whose corners are all on sides.
    """
    heights = sorted({y for _, y in (*outline.corners_m, *other.corners_m)})
    for low, high in pairwise(heights):
        y = (low + high) / 2.0
        for (a, b), (c, d) in product(_inside(outline, y), _inside(other, y)):
            if min(b, d) - max(a, c) > OVER_M and high - low > OVER_M:
                return (max(a, c) + min(b, d)) / 2.0, y
    return None


def _inside(outline: Outline, y: float) -> list[tuple[float, float]]:
    """Stretches of a horizontal line, from x to x, that are inside an outline; no corner may be on the line."""
    crossed = sorted(
        x0 + (y - y0) * (x1 - x0) / (y1 - y0) for (x0, y0), (x1, y1) in outline.walls if (y0 > y) != (y1 > y)
    )
    return list(zip(crossed[::2], crossed[1::2], strict=True))


def _off(point: Point, a: Point, b: Point) -> float:
    """Distance of a point from a segment."""
    length2 = (b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2
    t = ((point[0] - a[0]) * (b[0] - a[0]) + (point[1] - a[1]) * (b[1] - a[1])) / length2
    t = min(max(t, 0.0), 1.0)
    return math.dist(point, (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])))


def _cross(outline: Outline, other: Outline) -> bool:
    """Whether walls of two outlines cross; contact without crossing does not count."""

    def side(a: Point, b: Point, c: Point) -> float:
        return ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])) / math.dist(a, b)

    return any(
        min(abs(side(a, b, c)), abs(side(a, b, d)), abs(side(c, d, a)), abs(side(c, d, b))) > IN_LINE_M
        and side(a, b, c) * side(a, b, d) < 0
        and side(c, d, a) * side(c, d, b) < 0
        for a, b in outline.walls
        for c, d in other.walls
    )
