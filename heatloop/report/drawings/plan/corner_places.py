"""Places on a plan for the mark of a corner that is enlarged beside it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import product

from heatloop.report.drawings.geometry import Line, Point, Words
from heatloop.report.drawings.plan.level_plan import RoomOnPaper
from heatloop.report.drawings.plan.text_places import CLEAR_MM, DIMENSION_MM, Placed

NEXT_MM, REACHES_MM = 2.8, (2.8, 4.0, 6.0, 9.0, 13.0, 18.0)
"""Name beside the ring without a leader, and how far from the ring its middle may be."""


def corner_places(rooms: Iterable[RoomOnPaper], group: Sequence[int], name: str) -> Iterator[tuple[float, Placed]]:
    """Places for the name of an enlargement beside the dashed ring about its positions, nearest first."""
    points = [
        straight.at(pipe.along_mm, off)
        for room in rooms
        for straight in room.straights
        for mark in straight.marks
        if mark.number in group
        for pipe in mark.pipes
        for off in (0.0, DIMENSION_MM)
    ]
    xs, ys = zip(*points, strict=True)
    middle = ((min(xs) + max(xs)) / 2.0, (min(ys) + max(ys)) / 2.0)
    radius = max(math.dist(middle, point) for point in points) + 0.8
    ways = [(math.cos(math.radians(turn)), math.sin(math.radians(turn))) for turn in range(0, 361, 10)]
    ring = Line("HL-DETAIL", tuple((middle[0] + radius * x, middle[1] + radius * y) for x, y in ways), 0.18, "dashed")
    for reach, way in product(REACHES_MM, ways[:-1]):
        at, edge = ((middle[0] + off * way[0], middle[1] + off * way[1]) for off in (radius + reach, radius))
        words = Words("HL-DETAIL", at, name, anchor="centre", bold=True)
        foot = _shortened((edge, at), 2.6)
        lines = (ring,) if reach == NEXT_MM else (ring, Line("HL-DETAIL", foot, 0.18))
        yield reach, Placed((*lines, words), (words.box.grown(CLEAR_MM),), () if reach == NEXT_MM else (foot,))


def _shortened(line: tuple[Point, Point], by_mm: float) -> tuple[Point, Point]:
    """A line without its last millimetres."""
    (ax, ay), (bx, by) = line
    share = max(0.0, 1.0 - by_mm / (math.dist(*line) or 1.0))
    return line[0], (ax + share * (bx - ax), ay + share * (by - ay))
