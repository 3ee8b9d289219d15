"""Corner enlargements of first fix: positions on two straights of a room that are close together on paper."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise

from heatloop.handover.first_fix.model import PipePosition
from heatloop.report.drawings.blocks import Block
from heatloop.report.drawings.geometry import (
    Hole,
    Line,
    PlanWindow,
    Point,
    Primitive,
    Ring,
    Words,
    centred_box,
    fitting,
    moved,
    text_width_mm,
)
from heatloop.report.drawings.plan.level_plan import LevelOnPaper, RoomOnPaper
from heatloop.report.drawings.plan.text_places import Ground, Placed, best_place, clear_places
from heatloop.text.formatting import escape_control_characters, listing, number

NEAR_MM = 9.0
"""Positions on different straights with less than this between them on paper are enlarged."""

SCALES, MAX_MM, ABOUT_MM = (5, 10, 20), 30.0, 7.0
"""Scales of enlargements, the longest side on paper (longer at the last scale), and what is shown about the outermost
pipes there."""

ROW_MM, CLEAR_MM, GAP_MM = 4.2, 0.4, 3.0

REACHES_MM = (3.6, 4.6, 5.8, 7.2, 9.0, 11.0, 13.5)
TURNS_DEG = tuple(range(0, 360, 15))
"""Where the mark of a pipe is tried about the edge of its opening."""


def close_positions(level: LevelOnPaper) -> tuple[tuple[int, ...], ...]:
    """Numbers of the positions of a plan that are close together on different straights of one room, group by group."""
    groups: list[set[int]] = []
    for room in level.rooms:
        placed = [(run, mark, run.at(mark.middle_mm, 0.0)) for run in room.straights for mark in run.marks]
        for (straight, mark, at), (other, neighbour, there) in combinations(placed, 2):
            if straight is other or math.dist(at, there) >= NEAR_MM:
                continue
            joined = {mark.number, neighbour.number}
            for group in [joining for joining in groups if joining & joined]:
                groups.remove(group)
                joined |= group
            groups.append(joined)
    return tuple(tuple(sorted(group)) for group in sorted(groups, key=min))


def corner_blocks(level: LevelOnPaper, marks: Sequence[PipePosition]) -> list[Block]:
    """The enlargement of every group of close positions, X1 and on, with both figures of every pipe."""
    blocks = []
    for index, group in enumerate(close_positions(level), start=1):
        own = [mark for mark in marks if mark.number in group]
        room = next(candidate for candidate in level.rooms if candidate.name == own[0].room)
        blocks.append(_block(f"X{index}", room, level, own))
    return blocks


def _block(name: str, room: RoomOnPaper, level: LevelOnPaper, marks: Sequence[PipePosition]) -> Block:
    pipes = {pipe.mark: (mark, pipe) for mark in marks for pipe in mark.pipes}
    holes = [hole for hole in level.holes if hole.mark in pipes]
    xs, ys = zip(*(hole.centre_m for hole in holes), strict=True)
    wide_m, high_m = max(xs) - min(xs), max(ys) - min(ys)
    longest = MAX_MM - 2.0 * ABOUT_MM
    scale = next((n for n in SCALES if max(wide_m, high_m) * 1000.0 / n <= longest), SCALES[-1])
    window = PlanWindow(scale, (min(xs), min(ys)), (ABOUT_MM, ABOUT_MM))
    wide, high = (side * 1000.0 / scale + 2.0 * ABOUT_MM for side in (wide_m, high_m))
    walls = list(_walls(room, level.window, window, (wide, high)))
    sketch = [*(Line("HL-DETAIL", wall, 0.5) for wall in walls), *_openings(holes, walls, window, (wide, high))]
    named = fitting(escape_control_characters(room.name), 40.0, bold=True)
    title = f"{name}  {named}, positions {listing(str(mark.number) for mark in marks)}, 1:{scale}"
    lines = [
        f"{pipe.mark} {pipe.direction[0].upper()}: {number(pipe.from_left_corner_m * 1000.0)} "
        f"({number(pipe.from_right_corner_m * 1000.0)}), wall {pipe.wall}"
        for _, pipe in pipes.values()
    ]
    top = -6.0
    words = [Words("HL-DETAIL", (0.0, -2.5), title, bold=True)]
    words += [Words("HL-DETAIL", (wide + GAP_MM, top - 1.5 - ROW_MM * i), line) for i, line in enumerate(lines)]
    beside = max(map(text_width_mm, lines))
    return Block(
        max(wide + GAP_MM + beside, text_width_mm(title, bold=True)),
        -top + max(high, ROW_MM * len(lines)) + 1.0,
        (*words, *moved(sketch, 0.0, top - high)),
    )


def _walls(room: RoomOnPaper, plan: PlanWindow, window: PlanWindow, size: Point) -> Iterator[tuple[Point, Point]]:
    """Parts of the walls of a room inside the sketch."""
    corners = [window.on_paper(plan.in_level(point)) for point in room.outline]
    for a, b in pairwise((*corners, corners[0])):
        part = clipped(a, b, size)
        if part is not None:
            yield part


def _openings(
    holes: Sequence[Hole], walls: Sequence[tuple[Point, Point]], window: PlanWindow, size: Point
) -> list[Primitive]:
    """Openings at their true places and diameters, with the marks of their pipes where they have room."""
    ground = Ground(walls=list(walls))
    circles = [(hole, window.on_paper(hole.centre_m), hole.diameter_m * 500.0 / window.scale) for hole in holes]
    ground.solid += [centred_box(at, (1.0, 0.0), (0.0, 1.0), radius, radius) for _, at, radius in circles]
    drawn: list[Primitive] = []
    for hole, at, radius in circles:
        drawn.append(Ring("HL-DETAIL", at, radius, 0.25))
        drawn += [
            Line("HL-DETAIL", ((at[0] - 0.6, at[1]), (at[0] + 0.6, at[1])), 0.13),
            Line("HL-DETAIL", ((at[0], at[1] - 0.6), (at[0], at[1] + 0.6)), 0.13),
        ]
        best = best_place(ground, clear_places(ground, _mark_places(hole.mark, at, radius, size), None))
        if best is not None:
            ground.add(best[1])
            drawn += best[1].primitives
    return drawn


def _mark_places(mark: str, at: Point, radius: float, size: Point) -> Iterator[tuple[float, Placed]]:
    """Places for the mark of a pipe about its opening and within the sketch, the nearest first."""
    for reach in REACHES_MM:
        for turn in TURNS_DEG:
            way = (math.cos(math.radians(turn)), math.sin(math.radians(turn)))
            middle = (at[0] + (radius + reach) * way[0], at[1] + (radius + reach) * way[1])
            words = Words("HL-DETAIL", middle, mark, anchor="centre", bold=True)
            west, south, east, north = words.box.bounds
            if west < 0.0 or south < 0.0 or east > size[0] or north > size[1]:
                continue
            edge = (at[0] + radius * way[0], at[1] + radius * way[1])
            foot = (at[0] + (radius + reach - 2.2) * way[0], at[1] + (radius + reach - 2.2) * way[1])
            leader = (Line("HL-DETAIL", (edge, foot), 0.13),)
            yield reach, Placed((*leader, words), (words.box.grown(CLEAR_MM),), ((edge, foot),))


def clipped(a: Point, b: Point, size: Point) -> tuple[Point, Point] | None:
    """Part of a line inside a rectangle from 0, 0 to its size; None where there is none.

    >>> clipped((-2.0, 1.0), (6.0, 1.0), (4.0, 2.0)), clipped((-2.0, 3.0), (6.0, 3.0), (4.0, 2.0))
    (((0.0, 1.0), (4.0, 1.0)), None)
    """
    enter, leave = 0.0, 1.0
    for start, step, most in ((a[0], b[0] - a[0], size[0]), (a[1], b[1] - a[1], size[1])):
        if step == 0.0:
            if not 0.0 <= start <= most:
                return None
            continue
        low, high = sorted((-start / step, (most - start) / step))
        enter, leave = max(enter, low), min(leave, high)
    if enter >= leave:
        return None
    ends = tuple((a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])) for t in (enter, leave))
    return ends[0], ends[1]
