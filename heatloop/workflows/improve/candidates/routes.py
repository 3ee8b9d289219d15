"""Routes reversed, and lengths along them: what the other arrangements of loops are made of."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from heatloop.layout.build import build_layout
from heatloop.layout.model import Arm, Piece, PlacedCrossing
from heatloop.layout.routes import direction
from heatloop.survey.building import Room
from heatloop.survey.loops import Loop, RouteCrossing, RouteItem, RouteWalls
from heatloop.survey.survey import SurveyData


def rooms_of_items(items: Iterable[RouteItem]) -> tuple[str, ...]:
    """Rooms with skirting of a route, in water order."""
    return tuple(dict.fromkeys(item.room for item in items if not isinstance(item, RouteCrossing)))


def reversed_items(survey: SurveyData, loop: Loop, items: Sequence[RouteItem]) -> tuple[RouteItem, ...]:
    """The same route with the water in the other direction."""
    return tuple(_reversed(survey, loop, item) for item in reversed(items))


def _reversed(survey: SurveyData, loop: Loop, item: RouteItem) -> RouteItem:
    if not isinstance(item, RouteWalls):
        return item
    clockwise = direction(survey, loop.name, item, survey.room(item.room)) == "clockwise"
    way = None
    if len(item.walls) == 1 or item.direction is not None:
        way = "anticlockwise" if clockwise else "clockwise"
    return replace(item, walls=item.walls[::-1], from_m=item.to_m, to_m=item.from_m, direction=way)  # type: ignore[arg-type]


def arm_length_m(arm: Arm) -> float:
    """Length along an arm in m, crossings included: of the pipe that would replace it."""
    return sum(
        element.tape_m if isinstance(element, Piece) else element.length_m
        for element in arm.elements
        if isinstance(element, Piece | PlacedCrossing)
    )


def route_length_m(survey: SurveyData, loop: Loop, items: Sequence[RouteItem]) -> float:
    """Length in m along a part of the route of a loop."""
    held = replace(survey, loops=(replace(loop, arms=(tuple(items),), straight_joints=(), arm_valves=()),))
    return arm_length_m(build_layout(held).loops[0].arms[0])


def end_of(survey: SurveyData, loop: Loop, items: Sequence[RouteItem], first: bool) -> tuple[str, float] | None:
    """Room and position along its walls (m from corner 1, clockwise) of an end of a route; None before a survey."""
    item = items[0 if first else -1]
    if not isinstance(item, RouteWalls):
        return None
    room = survey.room(item.room)
    clockwise = direction(survey, loop.name, item, room) == "clockwise"
    wall = item.walls[0 if first else -1]
    stated = item.from_m if first else item.to_m
    length_m = room.walls[wall - 1].length_m
    at_left = clockwise == first
    at_m = (0.0 if at_left else length_m) if stated is None else stated
    return item.room, corner_m(room, wall) + at_m


def corner_m(room: Room, wall: int) -> float:
    """Position of the left-hand end of a wall along the walls, m from corner 1."""
    return sum(item.length_m for item in room.walls[: wall - 1])


def around_m(room: Room, from_m: float, to_m: float) -> float:
    """Shorter way between two positions along the walls of a room, m."""
    whole_m = sum(wall.length_m for wall in room.walls)
    apart_m = abs(to_m - from_m) % whole_m
    return min(apart_m, whole_m - apart_m)


def between_m(survey: SurveyData, start: tuple[str, float], end: tuple[str, float]) -> float | None:
    """Length in m of a pipe along the walls from one position to another in the same or an adjacent room.

    Between two rooms it passes the middle of the shared wall; None where they share none.
    """
    (name, from_m), (other, to_m) = start, end
    room, far = survey.room(name), survey.room(other)
    if name == other:
        return around_m(room, from_m, to_m)
    ways = [around_m(room, from_m, at_m) for at_m in _middles_m(room, other)]
    on = [around_m(far, at_m, to_m) for at_m in _middles_m(far, name)]
    return min(ways) + min(on) if ways and on else None


def _middles_m(room: Room, beyond: str) -> list[float]:
    return [
        corner_m(room, number) + wall.length_m / 2.0
        for number, wall in enumerate(room.walls, start=1)
        if wall.beyond == beyond
    ]
