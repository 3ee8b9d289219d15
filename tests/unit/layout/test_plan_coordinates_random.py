"""What a plan must show of any room: no skirting over skirting, none across an opening, none outside the walls.

The rooms and routes are those that the layout is tested with; lines are compared as drawn, by their coordinates.
"""

from __future__ import annotations

import math
from itertools import combinations, pairwise

from hypothesis import assume, given, settings

from heatloop.layout.model import Piece, PlacedCrossing
from heatloop.layout.plan_coordinates import room_plan
from heatloop.survey.building import Opening, Room
from heatloop.survey.loops import RouteWalls
from tests.helpers import random_rooms

DRAWN_M = 0.002
"""Lines nearer than this are one on paper at any scale a plan is drawn at."""

Line = tuple[tuple[float, float], tuple[float, float]]


def _openings_apart(room: Room) -> bool:
    """Whether no two openings of a wall lie over each other: the reader of surveys lets no others through."""
    return all(
        one.start_m + one.width_m <= other.start_m
        for wall in room.walls
        for one, other in pairwise(sorted(wall.openings, key=lambda opening: opening.start_m))
    )


def shared_m(one: Line, other: Line) -> float:
    """Length over which two lines lie on each other, 0 where they only cross or touch."""
    (x0, y0), (x1, y1) = one
    length = math.dist(*one)
    if length < DRAWN_M:
        return 0.0
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    along = [(x - x0) * ux + (y - y0) * uy for x, y in other]
    off = [abs((y - y0) * ux - (x - x0) * uy) for x, y in other]
    if max(off) > DRAWN_M:
        return 0.0
    return max(0.0, min(length, max(along)) - max(0.0, min(along)))


def test_shared_length_of_lines() -> None:
    assert shared_m(((0, 0), (4, 0)), ((3, 0), (9, 0))) == 1.0
    assert shared_m(((0, 0), (4, 0)), ((9, 0), (3, 0))) == 1.0
    assert shared_m(((0, 0), (4, 0)), ((2, -1), (2, 1))) == 0.0
    assert shared_m(((0, 0), (4, 0)), ((0, 1), (4, 1))) == 0.0
    assert shared_m(((0, 0), (0, 3)), ((0, 1), (0, 2))) == 1.0


@settings(max_examples=150, deadline=None)
@given(case=random_rooms.cases())
def test_no_skirting_over_skirting_and_none_across_an_opening(case: tuple[Room, RouteWalls]) -> None:
    room, item = case
    assume(_openings_apart(room))
    layout = random_rooms.laid(random_rooms.survey_of(room, item))
    assume(layout is not None)
    assert layout is not None
    plan = room_plan(room, layout, 0.0)
    pieces = [(d.element, d.points_m) for d in plan.drawn if isinstance(d.element, Piece)]
    assert len(pieces) == len(layout.loops[0].pieces)
    for (_, one), (_, other) in combinations(pieces, 2):
        assert shared_m((one[0], one[-1]), (other[0], other[-1])) < DRAWN_M
    low = [o for o in plan.openings if isinstance(o.item, Opening) and o.item.sill_m < 0.15]
    for piece, path in pieces:
        for opening in low:
            if piece.floor_section is None or opening.item.name != piece.floor_section:
                across = shared_m((path[0], path[-1]), (opening.points_m[0], opening.points_m[-1]))
                assert across < DRAWN_M, (piece, opening.item)
        for obstacle in plan.obstacles:
            assert shared_m((path[0], path[-1]), (obstacle.points_m[0], obstacle.points_m[-1])) < DRAWN_M
    for drawn in plan.drawn:
        if isinstance(drawn.element, PlacedCrossing):
            for _, path in pieces:
                for start, stop in zip(drawn.points_m, drawn.points_m[1:], strict=False):
                    assert shared_m((path[0], path[-1]), (start, stop)) < DRAWN_M


@settings(max_examples=80, deadline=None)
@given(case=random_rooms.cases())
def test_skirting_stands_on_the_walls(case: tuple[Room, RouteWalls]) -> None:
    """Every piece lies on the outline all along: walls in one straight carry one piece."""
    room, item = case
    layout = random_rooms.laid(random_rooms.survey_of(room, item))
    assume(layout is not None)
    assert layout is not None
    plan = room_plan(room, layout, 0.0)
    corners = [*plan.outline_m, plan.outline_m[0]]
    walls = list(pairwise(corners))
    for drawn in plan.drawn:
        if isinstance(drawn.element, Piece):
            line = (drawn.points_m[0], drawn.points_m[-1])
            on_walls = sum(shared_m(line, wall) for wall in walls)
            assert abs(on_walls - math.dist(*line)) < 3 * DRAWN_M
