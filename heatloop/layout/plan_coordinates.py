"""Plan coordinates of a layout, for pictures: x east, y north, metres.

The coordinates of a room start at its first corner. `rooms_by_storey` places rooms beside each other by their common
doorways. Sizes that the survey does not state are nominal: the thickness of the wall in a doorway, and the distance
between groups without a common doorway.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from heatloop.layout.model import Layout, Piece, PlacedCrossing, RunElement
from heatloop.layout.walls import EPS_M
from heatloop.survey.building import Obstacle, Opening, Room
from heatloop.survey.room_geometry import RoomGeometry
from heatloop.survey.survey import SurveyData

Point = tuple[float, float]
Path = tuple[Point, ...]

SHOWN_WALL_M = 0.1
SHOWN_GAP_M = 1.0
FACING_WITHIN_DEG = 15.0


@dataclass(frozen=True)
class DrawnElement:
    """An element of a loop in a room's plan: one point, or a line in water order."""

    loop: str
    element: RunElement
    points_m: Path


@dataclass(frozen=True)
class DrawnWallItem:
    """An opening or obstacle in plan: its line along the wall, left to right as you face it."""

    wall: int
    item: Opening | Obstacle
    points_m: Path


@dataclass(frozen=True)
class RoomPlan:
    """One room in its own coordinates: outline clockwise, wall numbers, openings and elements.

    `wall_middles_m` has one point per wall, `offset_m` into the room like the elements.
    """

    room: str
    outline_m: Path
    wall_middles_m: Path
    openings: tuple[DrawnWallItem, ...]
    obstacles: tuple[DrawnWallItem, ...]
    drawn: tuple[DrawnElement, ...]

    @property
    def bounds_m(self) -> tuple[float, float, float, float]:
        """West, south, east and north edge of the outline."""
        return bounds_m(self.outline_m)


@dataclass(frozen=True)
class StatedCrossing:
    """A crossing given only by its length: where the run leaves one room and enters another.

    Each point is in the coordinates of its own room.
    """

    loop: str
    crossing: PlacedCrossing
    from_room: str
    from_point_m: Point
    to_room: str
    to_point_m: Point


def plan_points(room: Room, geometry: RoomGeometry, wall: int, at_m: Sequence[float], offset_m: float = 0.0) -> Path:
    """Plan points `at_m` along a wall (number from 1), `offset_m` from it into the room.

    The misclosure is distributed: positions are scaled to the plotted length of the wall. A position beyond the wall
    continues along the next one; at a corner the offset keeps its distance from both walls. Shape: one (x, y) for each
    position, metres.
    """
    return tuple(_point(room, geometry, wall, at, offset_m) for at in at_m)


def crossing_path(room: Room, geometry: RoomGeometry, crossing: PlacedCrossing, offset_m: float = 0.0) -> Path:
    """The line of an automatic crossing in water order, round the corners it passes the shorter way.

    Raises ValueError for a crossing without a place on a wall.
    """
    start, stop = crossing.from_m, crossing.to_m
    if crossing.wall is None or crossing.to_wall is None or start is None or stop is None:
        raise ValueError("a crossing given by its length has no place on a wall")
    if crossing.wall == crossing.to_wall:
        return plan_points(room, geometry, crossing.wall, (start, stop), offset_m)
    ways = []
    for step in (1, -1):
        path = list(plan_points(room, geometry, crossing.wall, (start,), offset_m))
        wall = crossing.wall
        while wall != crossing.to_wall:
            edge = room.walls[wall - 1].length_m if step == 1 else 0.0
            path += plan_points(room, geometry, wall, (edge,), offset_m)
            wall = (wall - 1 + step) % len(room.walls) + 1
        path += plan_points(room, geometry, wall, (stop,), offset_m)
        ways.append(tuple(path))
    return min(ways, key=lambda p: sum(math.dist(a, b) for a, b in pairwise(p)))


def room_plan(room: Room, layout: Layout, offset_m: float = 0.06) -> RoomPlan:
    """Everything of one room in plan; ValueError for a room without walls.

    Pieces, joints, crossings and ends are drawn `offset_m` into the room, openings and obstacles on
    the wall's own line. Crossings given by their length only are left to `stated_crossings`.
    """
    geometry = layout.room(room.name).geometry
    if geometry is None:
        raise ValueError(f"room {room.name!r} has no walls to draw")
    middles = [plan_points(room, geometry, i + 1, (w.length_m / 2.0,), offset_m)[0] for i, w in enumerate(room.walls)]
    drawn = []
    for loop in layout.loops:
        for element in (e for arm in loop.arms for e in arm.elements if e.room == room.name):
            points = element_points(room, geometry, element, offset_m)
            if points:
                drawn.append(DrawnElement(loop.loop, element, points))
    return RoomPlan(
        room.name,
        geometry.corners_m,
        tuple(middles),
        tuple(_on_wall(room, geometry, i + 1, o) for i, w in enumerate(room.walls) for o in w.openings),
        tuple(_on_wall(room, geometry, i + 1, o) for i, w in enumerate(room.walls) for o in w.obstacles),
        tuple(drawn),
    )


def translated(plan: RoomPlan, shift: Point) -> RoomPlan:
    """The same plan somewhere else."""

    def move(points: Sequence[Point]) -> tuple[Point, ...]:
        return tuple((x + shift[0], y + shift[1]) for x, y in points)

    return RoomPlan(
        plan.room,
        move(plan.outline_m),
        move(plan.wall_middles_m),
        tuple(replace(o, points_m=move(o.points_m)) for o in plan.openings),
        tuple(replace(o, points_m=move(o.points_m)) for o in plan.obstacles),
        tuple(replace(d, points_m=move(d.points_m)) for d in plan.drawn),
    )


def element_points(room: Room, geometry: RoomGeometry, element: RunElement, offset_m: float) -> Path:
    """A piece or crossing as a line in water order, a joint or end as one point; empty if unplaced."""
    if isinstance(element, Piece):
        ends = (element.from_m, element.to_m) if element.rightward else (element.to_m, element.from_m)
        return plan_points(room, geometry, element.wall, ends, offset_m) if element.wall else ()
    if isinstance(element, PlacedCrossing):
        return crossing_path(room, geometry, element, offset_m) if element.wall is not None else ()
    if element.wall is None or element.at_m is None:
        return ()
    return plan_points(room, geometry, element.wall, (element.at_m,), offset_m)


def stated_crossings(survey: SurveyData, layout: Layout, offset_m: float = 0.06) -> tuple[StatedCrossing, ...]:
    """Crossings given by their length, between the skirting they leave and the skirting they enter.

    Several in a row share the same two points. Those beside a room without walls, or at the tails, are
    left out.
    """
    crossings = []
    for loop in layout.loops:
        for arm in loop.arms:
            for i, element in enumerate(arm.elements):
                if not isinstance(element, PlacedCrossing) or element.wall is not None:
                    continue
                before = [e for e in arm.elements[:i] if isinstance(e, Piece)][-1:]
                after = [e for e in arm.elements[i:] if isinstance(e, Piece)][:1]
                lines = []
                for piece in before + after:
                    geometry = layout.room(piece.room).geometry
                    if geometry is not None:
                        lines.append(element_points(survey.room(piece.room), geometry, piece, offset_m))
                if len(lines) == 2 and all(lines):
                    rooms = before[0].room, after[0].room
                    crossings.append(StatedCrossing(loop.loop, element, rooms[0], lines[0][-1], rooms[1], lines[1][0]))
    return tuple(crossings)


def rooms_by_storey(survey: SurveyData, layout: Layout) -> dict[float, dict[str, Point]]:
    """Position of each room with walls on its level: level (m) -> room -> (dx, dy) to add, metres.

    Rooms with a common named doorway are placed together at its middle, across a wall shown 0.1 m thick. Doorways whose
    walls do not face each other within 15 degrees by the surveyed bearings connect nothing. Groups without a common
    doorway are placed side by side, west to east in the order of the survey, with their south edges on one line.
    """
    levels: dict[float, list[Room]] = defaultdict(list)
    for room in survey.rooms:
        if layout.room(room.name).geometry is not None:
            levels[room.level_m].append(room)
    return {level: _level(rooms, layout) for level, rooms in sorted(levels.items())}


def bounds_m(points: Iterable[Point]) -> tuple[float, float, float, float]:
    """West, south, east and north edge of some points."""
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


@dataclass(frozen=True)
class _Doorway:
    """One side of a named opening: its middle on the wall's line and the wall's outward unit normal."""

    room: str
    name: str
    middle_m: Point
    outward: Point


def _level(rooms: Sequence[Room], layout: Layout) -> dict[str, Point]:
    """Rooms of one level put together in groups, the groups side by side."""
    sides = [side for room in rooms for side in _doorways(room, layout)]
    placed: dict[str, Point] = {}
    east = south = None
    for first in rooms:
        if first.name in placed:
            continue
        group = _group(first.name, sides)
        corners = [p for name, shift in group.items() for p in _moved(layout, name, shift)]
        west, low, far, _ = bounds_m(corners)
        dx, dy = (0.0, 0.0) if east is None or south is None else (east + SHOWN_GAP_M - west, south - low)
        placed.update({name: (x + dx, y + dy) for name, (x, y) in group.items()})
        east, south = far + dx, low + dy
    return placed


def _group(first: str, sides: Sequence[_Doorway]) -> dict[str, Point]:
    """Rooms connected with `first` by doorways, relative to it."""
    shifts: dict[str, Point] = {first: (0.0, 0.0)}
    waiting = [first]
    limit = -math.cos(math.radians(FACING_WITHIN_DEG))
    while waiting:
        name = waiting.pop(0)
        dx, dy = shifts[name]
        for side in (s for s in sides if s.room == name):
            for facing in (s for s in sides if s.name == side.name and s.room not in shifts):
                if side.outward[0] * facing.outward[0] + side.outward[1] * facing.outward[1] > limit:
                    continue
                shifts[facing.room] = (
                    dx + side.middle_m[0] + side.outward[0] * SHOWN_WALL_M - facing.middle_m[0],
                    dy + side.middle_m[1] + side.outward[1] * SHOWN_WALL_M - facing.middle_m[1],
                )
                waiting.append(facing.room)
    return shifts


def _doorways(room: Room, layout: Layout) -> list[_Doorway]:
    geometry = layout.room(room.name).geometry
    if geometry is None:
        return []
    doorways = []
    for i, wall in enumerate(room.walls):
        nx, ny = _inward(geometry, i + 1)
        for o in wall.openings:
            if o.name is not None:
                (middle,) = plan_points(room, geometry, i + 1, ((o.start_m + o.end_m) / 2.0,))
                doorways.append(_Doorway(room.name, o.name, middle, (-nx, -ny)))
    return doorways


def _moved(layout: Layout, room: str, shift: Point) -> Path:
    geometry = layout.room(room).geometry
    corners = geometry.corners_m if geometry is not None else ()
    return tuple((x + shift[0], y + shift[1]) for x, y in corners)


def _on_wall(room: Room, geometry: RoomGeometry, wall: int, item: Opening | Obstacle) -> DrawnWallItem:
    return DrawnWallItem(wall, item, plan_points(room, geometry, wall, (item.start_m, item.end_m)))


def _point(room: Room, geometry: RoomGeometry, wall: int, at_m: float, offset_m: float) -> Point:
    count = len(room.walls)
    while at_m > room.walls[wall - 1].length_m + EPS_M:
        at_m -= room.walls[wall - 1].length_m
        wall = wall % count + 1
    length_m = room.walls[wall - 1].length_m
    (x0, y0), (x1, y1) = geometry.corners_m[wall - 1], geometry.corners_m[wall % count]
    share = at_m / length_m
    nx, ny = _inward(geometry, wall)
    if at_m < EPS_M:
        nx, ny = _mitre((nx, ny), _inward(geometry, (wall - 2) % count + 1))
    elif at_m > length_m - EPS_M:
        nx, ny = _mitre((nx, ny), _inward(geometry, wall % count + 1))
    return x0 + share * (x1 - x0) + offset_m * nx, y0 + share * (y1 - y0) + offset_m * ny


def _inward(geometry: RoomGeometry, wall: int) -> Point:
    """Unit normal of a wall into the room: to the right of its clockwise direction."""
    (x0, y0), (x1, y1) = geometry.corners_m[wall - 1], geometry.corners_m[wall % len(geometry.corners_m)]
    length = math.dist((x0, y0), (x1, y1))
    return (y1 - y0) / length, (x0 - x1) / length


def _mitre(a: Point, b: Point) -> Point:
    """The vector with unit component along both unit normals: the offset of a corner.

    Where the angle of two walls is so sharp that it would be longer than 4, the first normal is used.
    """
    scale = 1.0 + a[0] * b[0] + a[1] * b[1]
    return ((a[0] + b[0]) / scale, (a[1] + b[1]) / scale) if scale > 0.125 else a
