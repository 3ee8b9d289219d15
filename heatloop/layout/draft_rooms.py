"""Rooms of a survey that is still being entered, as far as they can be drawn: x east, y north, metres.

A room that does not close is drawn as measured, without its openings, because positions on its walls are not yet valid.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from heatloop.layout.model import Layout, RoomLayout
from heatloop.layout.plan_coordinates import DrawnWallItem, Path, Point, room_plan, rooms_by_storey
from heatloop.survey.building import Diagonal, Room, Wall
from heatloop.survey.room_geometry import TURNS_WITHIN_DEG, RoomGeometry, room_geometry
from heatloop.survey.survey import SurveyData
from heatloop.survey.traverse.squared_room import geometry_of_room, traverse_of
from heatloop.survey.traverse.wrong_length import compare_lengths

FITS_M = 0.001


@dataclass(frozen=True)
class DraftRoom:
    """One room in the plan of its level.

    `index` is its number in the survey, from 0. `path_m` has the start of every wall and, as its last point, the end of
    the last wall: the first point again where the room closes. `gap_m` is the distance between them as taped,
    `tolerance_m` the distance that is allowed. `diagonals`: those that join two corners and have a length.
    """

    index: int
    name: str
    level_m: float
    walls: tuple[Wall, ...]
    path_m: Path
    closes: bool
    gap_m: float
    tolerance_m: float
    floor_area_m2: float
    openings: tuple[DrawnWallItem, ...]
    obstacles: tuple[DrawnWallItem, ...]
    diagonals: tuple[Diagonal, ...] = ()


@dataclass(frozen=True)
class DraftPlan:
    """All rooms that can be drawn, level by level, and the numbers (from 0) of those that cannot."""

    levels: tuple[tuple[float, tuple[DraftRoom, ...]], ...]
    missing: tuple[int, ...]


def draft_plan(survey: SurveyData) -> DraftPlan:
    """Rooms of a survey whose values may be NaN or empty, put together at their doorways."""
    drawable = {index: room for index, room in enumerate(survey.rooms) if _has_lengths(room)}
    plans = {index: _geometry(room) for index, room in drawable.items()}
    names = {index: f"{index}" for index in drawable}  # names may be missing or double
    rooms = tuple(_room(room, names[index], *plans[index]) for index, room in drawable.items())
    own = replace(survey, rooms=rooms, loops=())
    layout = Layout((), tuple(RoomLayout(names[index], plans[index][0], 0.0, 0.0) for index in drawable))
    levels = []
    for level_m, shifts in rooms_by_storey(own, layout).items():
        drafted = [
            _draft_room(int(name), survey.rooms[int(name)], own.room(name), layout, plans[int(name)][1], shift)
            for name, shift in shifts.items()
        ]
        levels.append((level_m, tuple(drafted)))
    return DraftPlan(tuple(levels), tuple(index for index in range(len(survey.rooms)) if index not in drawable))


def _has_lengths(room: Room) -> bool:
    walls = room.walls
    return len(walls) >= 3 and all(wall.length_m > 0.0 and math.isfinite(wall.turn_deg) for wall in walls)


def _geometry(room: Room) -> tuple[RoomGeometry, bool]:
    """The plan of a room, and whether it closes; corners as taped where it does not."""
    bearing = room.first_wall_bearing_deg if math.isfinite(room.first_wall_bearing_deg) else 0.0
    sound = _sound_diagonals(room)
    room = replace(room, first_wall_bearing_deg=bearing, diagonals=sound)
    turns = [wall.turn_deg for wall in room.walls]
    turned = abs(math.fsum(turns) - 360.0) <= TURNS_WITHIN_DEG
    if sound and (not turned or compare_lengths(traverse_of(room)).outcome != "agrees"):
        room = replace(room, diagonals=())
    geometry = geometry_of_room(room)
    if turned and geometry.closes:
        return geometry, True
    raw = room_geometry([wall.length_m for wall in room.walls], turns, bearing)
    return replace(raw, corners_m=_as_taped(room.walls, bearing)), False


def _sound_diagonals(room: Room) -> tuple[Diagonal, ...]:
    return tuple(diagonal for diagonal in room.diagonals if _joins_corners(diagonal, len(room.walls)))


def _joins_corners(diagonal: Diagonal, count: int) -> bool:
    """Whether a diagonal joins two corners that no wall joins, and has a length."""
    exist = all(1 <= corner <= count for corner in (diagonal.from_corner, diagonal.to_corner))
    return (
        exist
        and (diagonal.to_corner - diagonal.from_corner) % count not in (0, 1, count - 1)
        and math.isfinite(diagonal.length_m)
    )


def _as_taped(walls: Sequence[Wall], bearing_deg: float) -> Path:
    """Start of every wall of a traverse, nothing shared out."""
    corners = [(0.0, 0.0)]
    for wall in walls[:-1]:
        angle = math.radians(bearing_deg)
        x, y = corners[-1]
        corners.append((x + wall.length_m * math.sin(angle), y + wall.length_m * math.cos(angle)))
        bearing_deg += wall.turn_deg
    return tuple(corners)


def _room(room: Room, name: str, geometry: RoomGeometry, closes: bool) -> Room:
    """The room with a name of its own and with what of its walls can be drawn."""
    level_m = room.level_m if math.isfinite(room.level_m) else 0.0
    walls = tuple(_wall(wall) if closes else replace(wall, openings=(), obstacles=()) for wall in room.walls)
    return replace(room, name=name, level_m=level_m, walls=walls)


def _wall(wall: Wall) -> Wall:
    """The wall with those of its openings and obstacles that lie on it."""
    openings = tuple(opening for opening in wall.openings if _lies_on(wall, opening.start_m, opening.end_m))
    obstacles = tuple(obstacle for obstacle in wall.obstacles if _lies_on(wall, obstacle.start_m, obstacle.end_m))
    return replace(wall, openings=openings, obstacles=obstacles)


def _lies_on(wall: Wall, start_m: float, end_m: float) -> bool:
    return start_m >= 0.0 and start_m < end_m <= wall.length_m + FITS_M


def _draft_room(index: int, stated: Room, room: Room, layout: Layout, closes: bool, shift: Point) -> DraftRoom:
    plan = room_plan(room, layout, 0.0)
    geometry = layout.room(room.name).geometry
    if geometry is None:
        raise ValueError(f"room {room.name!r} has no walls to draw")

    def moved(points: Sequence[Point]) -> Path:
        return tuple((x + shift[0], y + shift[1]) for x, y in points)

    end = plan.outline_m[0]
    if not closes:
        turned = math.fsum(wall.turn_deg for wall in room.walls[:-1])
        bearing, (x, y) = math.radians(geometry.bearing_deg[0] + turned), plan.outline_m[-1]
        length_m = room.walls[-1].length_m
        end = (x + length_m * math.sin(bearing), y + length_m * math.cos(bearing))
    return DraftRoom(
        index,
        stated.name,
        room.level_m,
        stated.walls,
        moved((*plan.outline_m, end)),
        closes,
        math.dist(end, plan.outline_m[0]) if not closes else geometry.misclosure_m,
        geometry.closing_tolerance_m,
        geometry.floor_area_m2,
        tuple(replace(opening, points_m=moved(opening.points_m)) for opening in plan.openings),
        tuple(replace(obstacle, points_m=moved(obstacle.points_m)) for obstacle in plan.obstacles),
        _sound_diagonals(stated),
    )
