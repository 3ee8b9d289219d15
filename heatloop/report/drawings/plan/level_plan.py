"""A level on paper: walls, openings, skirting and crossings of its rooms, and where its pipes stand.

Skirting and pipes are drawn away from the wall for clarity; the holes at their true places are apart.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from heatloop.handover.first_fix.model import PipePosition
from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.layout.model import Piece, PlacedCrossing
from heatloop.layout.plan_coordinates import RoomPlan, bounds_m, plan_points, room_plan, translated
from heatloop.report.drawings.geometry import Dash, Hole, Line, PlanWindow, Point, Primitive

SKIRTING_MM = 1.5
"""Skirting and crossing on paper, off the wall."""

OBSTACLE_MM, TICK_MM = 5.0, 0.7


@dataclass(frozen=True)
class PipeOnPaper:
    """A pipe of a straight: its figure as printed, and how far it is from the left-hand corner on paper, mm."""

    figure: str
    along_mm: float
    is_flow: bool


@dataclass(frozen=True)
class MarkOnPaper:
    """A position on paper: its pipes from left to right on a straight."""

    number: int
    pipes: tuple[PipeOnPaper, ...]

    @property
    def middle_mm(self) -> float:
        """Middle of its pipes along the straight."""
        return (self.pipes[0].along_mm + self.pipes[-1].along_mm) / 2.0


@dataclass(frozen=True)
class StraightOnPaper:
    """A straight with positions: left-hand corner, unit vector along it, unit normal into the room, its positions."""

    walls: tuple[int, ...]
    corner: Point
    along: Point
    inward: Point
    marks: tuple[MarkOnPaper, ...]

    def at(self, along_mm: float, off_mm: float) -> Point:
        """A point by its distance along the straight and off it."""
        return (
            self.corner[0] + along_mm * self.along[0] + off_mm * self.inward[0],
            self.corner[1] + along_mm * self.along[1] + off_mm * self.inward[1],
        )


@dataclass(frozen=True)
class WallOnPaper:
    """A wall: number, ends on paper, length as taped in mm, unit vector along it and normal into the room."""

    number: int
    start: Point
    end: Point
    taped_mm: int
    along: Point
    inward: Point


@dataclass(frozen=True)
class RoomOnPaper:
    """A room of the plan: name, outline, walls, the straights that pipes are on, the lines of its skirting and
    crossings, and the outlines of its obstacles."""

    name: str
    outline: tuple[Point, ...]
    walls: tuple[WallOnPaper, ...]
    straights: tuple[StraightOnPaper, ...]
    skirting: tuple[tuple[Point, Point], ...]
    obstacles: tuple[tuple[Point, ...], ...] = ()


@dataclass(frozen=True)
class LevelOnPaper:
    """A level, or some rooms of it, on paper: what is drawn of it, its rooms, and its holes at their true places."""

    window: PlanWindow
    drawn: tuple[Primitive, ...]
    rooms: tuple[RoomOnPaper, ...]
    holes: tuple[Hole, ...]


def level_bounds_m(first_fix: FirstFixResult, rooms: Mapping[str, Point]) -> tuple[float, float, float, float]:
    """West, south, east and north edge of some rooms of a level, m."""
    corners = []
    for name, (dx, dy) in rooms.items():
        geometry = first_fix.layout.room(name).geometry
        corners += [(x + dx, y + dy) for x, y in (geometry.corners_m if geometry is not None else ())]
    return bounds_m(corners)


def level_on_paper(first_fix: FirstFixResult, rooms: Mapping[str, Point], window: PlanWindow) -> LevelOnPaper:
    """Rooms of a level in a window."""
    drawn: list[Primitive] = []
    rooms_on_paper, holes = [], []
    for name, shift in rooms.items():
        plan = translated(
            room_plan(first_fix.survey.room(name), first_fix.layout, SKIRTING_MM * window.scale / 1000.0), shift
        )
        drawn += _drawn(plan, window)
        marks = [mark for mark in first_fix.positions if mark.room == name]
        rooms_on_paper.append(_room(first_fix, plan, shift, window, marks))
        holes += list(_holes(first_fix, shift, marks))
    return LevelOnPaper(window, tuple(drawn), tuple(rooms_on_paper), tuple(holes))


def _drawn(plan: RoomPlan, window: PlanWindow) -> Iterator[Primitive]:
    """Walls without their openings, openings with ticks at their ends, fittings, skirting, crossings."""
    count = len(plan.outline_m)
    for number in range(1, count + 1):
        start, end = (window.on_paper(plan.outline_m[i % count]) for i in (number - 1, number))
        along, inward = _directions(start, end)
        length = math.dist(start, end)
        own = [opening for opening in plan.openings if opening.wall == number]
        stretches = []
        for opening in own:
            a, b = (window.on_paper(point) for point in opening.points_m)
            low, high = sorted((math.dist(start, a), math.dist(start, b)))
            stretches.append((low, high))
            dash: Dash = "dashed" if getattr(opening.item, "sill_m", 0.0) <= 0.0 else "solid"
            yield Line("HL-OPENING", (a, b), 0.35, dash)
            for at in (low, high):
                middle = (start[0] + at * along[0], start[1] + at * along[1])
                ends = [(middle[0] + k * TICK_MM * inward[0], middle[1] + k * TICK_MM * inward[1]) for k in (-1, 1)]
                yield Line("HL-OPENING", tuple(ends), 0.35)
        for low, high in _between(length, stretches):
            parts = [(start[0] + at * along[0], start[1] + at * along[1]) for at in (low, high)]
            yield Line("HL-WALL", tuple(parts), 0.5)
    for obstacle in plan.obstacles:
        outline = _obstacle(obstacle.points_m, window)
        yield Line("HL-OBSTACLE", outline, 0.18, grey=0.4)
        yield Line("HL-OBSTACLE", (outline[0], outline[2]), 0.13, grey=0.6)
    for drawn in plan.drawn:
        points = tuple(window.on_paper(point) for point in drawn.points_m)
        if isinstance(drawn.element, Piece):
            yield Line("HL-SKIRTING", points, 1.2, grey=0.6, of=drawn.element.label)
        elif isinstance(drawn.element, PlacedCrossing):
            yield Line("HL-CROSSING", points, 0.25, "dotted", of=drawn.loop)


def _obstacle(points_m: Sequence[Point], window: PlanWindow) -> tuple[Point, ...]:
    """Outline of the strip of an obstacle on its wall, closed."""
    a, b = (window.on_paper(point) for point in points_m)
    _, inward = _directions(a, b)
    c, d = ((x + OBSTACLE_MM * inward[0], y + OBSTACLE_MM * inward[1]) for x, y in (b, a))
    return a, b, c, d, a


def _between(length: float, taken: Sequence[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    """Parts of a wall between its openings."""
    at = 0.0
    for low, high in sorted(taken):
        if low > at:
            yield at, low
        at = max(at, high)
    if length > at:
        yield at, length


def _directions(a: Point, b: Point) -> tuple[Point, Point]:
    """Unit vector from a to b, and the unit normal to its right: into the room."""
    length = math.dist(a, b) or 1.0
    ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    return (ux, uy), (uy, -ux)


def _room(
    first_fix: FirstFixResult, plan: RoomPlan, shift: Point, window: PlanWindow, marks: Sequence[PipePosition]
) -> RoomOnPaper:
    room = first_fix.survey.room(plan.room)
    outline = tuple(window.on_paper(point) for point in plan.outline_m)
    walls = []
    for index, wall in enumerate(room.walls):
        start, end = outline[index], outline[(index + 1) % len(outline)]
        along, inward = _directions(start, end)
        walls.append(WallOnPaper(index + 1, start, end, round(wall.length_m * 1000.0), along, inward))
    straights = []
    for run in dict.fromkeys(mark.straight for mark in marks):
        first = walls[run[0] - 1]
        own = [mark for mark in marks if mark.straight == run]
        placed = tuple(_mark(first_fix, mark, shift, window, first) for mark in own)
        straights.append(StraightOnPaper(run, first.start, first.along, first.inward, placed))
    skirting = [
        pair
        for drawn in plan.drawn
        if isinstance(drawn.element, Piece | PlacedCrossing)
        for pair in pairwise(window.on_paper(point) for point in drawn.points_m)
    ]
    obstacles = tuple(_obstacle(obstacle.points_m, window) for obstacle in plan.obstacles)
    return RoomOnPaper(plan.room, outline, tuple(walls), tuple(straights), tuple(skirting), obstacles)


def _mark(
    first_fix: FirstFixResult, mark: PipePosition, shift: Point, window: PlanWindow, wall: WallOnPaper
) -> MarkOnPaper:
    pipes = []
    for pipe, (x, y) in zip(mark.pipes, _places_m(first_fix, mark, 0.0), strict=True):
        at = window.on_paper((x + shift[0], y + shift[1]))
        along = (at[0] - wall.start[0]) * wall.along[0] + (at[1] - wall.start[1]) * wall.along[1]
        pipes.append(PipeOnPaper(figure_of(mark, pipe.mark), along, pipe.direction == "flow"))
    return MarkOnPaper(mark.number, tuple(pipes))


def _places_m(first_fix: FirstFixResult, mark: PipePosition, off_m: float) -> list[Point]:
    """Where the pipes of a position are in their room's own coordinates, m."""
    room, geometry = first_fix.survey.room(mark.room), first_fix.layout.room(mark.room).geometry
    if geometry is None:
        raise ValueError(f"room {mark.room!r} has no walls to draw")
    return [plan_points(room, geometry, pipe.wall, (pipe.at_m,), off_m)[0] for pipe in mark.pipes]


def _holes(first_fix: FirstFixResult, shift: Point, marks: Sequence[PipePosition]) -> Iterator[Hole]:
    for mark in marks:
        for pipe, (x, y) in zip(mark.pipes, _places_m(first_fix, mark, mark.off_wall_m), strict=True):
            yield Hole(pipe.mark, (x + shift[0], y + shift[1]), mark.opening_m)


def figure_of(mark: PipePosition, pipe_mark: str) -> str:
    """The figure of a pipe on the plan: mm from the left-hand corner, its letter, F or R."""
    pipe = next(candidate for candidate in mark.pipes if candidate.mark == pipe_mark)
    letter = pipe.mark.removeprefix(str(mark.number))
    return f"{round(pipe.from_left_corner_m * 1000.0)} {letter}{pipe.direction[0].upper()}"
