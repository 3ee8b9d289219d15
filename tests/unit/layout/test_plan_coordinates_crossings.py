"""Places on the plan: crossings, rooms joined at a doorway, corners of any angle."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest

from heatloop.layout.plan_coordinates import plan_points, room_plan, rooms_by_storey, stated_crossings
from heatloop.survey.building import Opening, Room, Wall
from heatloop.survey.loops import (
    RouteCrossing,
    RouteWalls,
)
from heatloop.survey.room_geometry import room_geometry
from tests.helpers.laid_room import PLAIN, ROOM, laid


@pytest.mark.parametrize("walls", [(2,), (1, 2), (4, 1, 2)])
def test_a_stated_crossing_leaves_the_last_piece_and_enters_the_next(walls: tuple[int, ...]) -> None:
    east = Room("East", 20.0, walls=PLAIN)
    survey, layout = laid(
        RouteWalls("Room", walls), RouteCrossing("copper 15", 1.5), RouteWalls("East", (3, 4)), rooms=(ROOM, east)
    )
    (line,) = stated_crossings(survey, layout)
    assert line.loop == "Loop"
    assert line.crossing.length_m == 1.5
    assert (line.from_room, line.to_room) == ("Room", "East")
    # 60 mm off the wall unless stated: the north wall ends at the north-east corner, the east wall begins there
    assert line.from_point_m == pytest.approx((4.0, 3.0 - 0.06), abs=0.07)
    assert line.to_point_m == pytest.approx((4.0 - 0.06, 3.0), abs=0.07)
    assert min(3.0 - line.from_point_m[1], 4.0 - line.to_point_m[0]) == pytest.approx(0.06, abs=1e-9)


@pytest.mark.parametrize("bearing_deg", [0.0, 90.0, 155.0, 270.0])
@pytest.mark.parametrize("first", ["Room", "East"])
def test_rooms_joined_at_a_doorway_are_drawn_a_tenth_of_a_metre_apart(first: str, bearing_deg: float) -> None:
    """The first room stands at the origin, the other beyond a wall of 0.1 m, whichever way the house is turned."""
    door = Opening("door", 1.0, 0.8, 2.0, name="shared")
    west = replace(ROOM, walls=(*PLAIN[:2], Wall(3.0, openings=(door,)), PLAIN[3]), first_wall_bearing_deg=bearing_deg)
    east_walls = (Wall(3.0, openings=(replace(door, start_m=1.2),)), *PLAIN[1:])
    east = replace(west, name="East", walls=east_walls)
    rooms = (west, east) if first == "Room" else (east, west)
    places = rooms_by_storey(*laid(RouteWalls("Room", (1,)), rooms=rooms))[0.0]
    eastward = (4.1 * math.cos(math.radians(bearing_deg)), -4.1 * math.sin(math.radians(bearing_deg)))
    assert places[first] == (0.0, 0.0)
    assert tuple(e - w for e, w in zip(places["East"], places["Room"], strict=True)) == pytest.approx(eastward)


def test_rooms_without_a_common_doorway_stand_side_by_side_on_one_line() -> None:
    """A metre apart from west to east, their south edges level, however each is turned."""
    rooms = tuple(replace(ROOM, name=name, first_wall_bearing_deg=30.0 * i) for i, name in enumerate("ABCD"))
    survey, layout = laid(RouteWalls("A", (1,)), rooms=rooms)
    edges = []
    for name, (dx, dy) in rooms_by_storey(survey, layout)[0.0].items():
        west, south, east, _ = room_plan(survey.room(name), layout).bounds_m
        edges.append((west + dx, east + dx, south + dy))
    assert [south for _, _, south in edges] == pytest.approx([0.0] * 4, abs=1e-9)
    assert [later[0] - before[1] for before, later in pairwise(edges)] == pytest.approx([1.0] * 3)


@pytest.mark.parametrize("bearing_deg", [0.0, 30.0, 200.0])
def test_corners_of_any_angle_keep_the_offset_from_both_walls(bearing_deg: float) -> None:
    """A room with a bay of 45 degrees: at every corner the point lies 0.1 m to the right of both walls."""
    side = 2.0**0.5
    lengths = (3.0, 1.0, side, 2.0, side, 1.0, 3.0, 6.0)
    turns = (90.0, -45.0, 45.0, 45.0, -45.0, 90.0, 90.0, 90.0)
    room = Room("Bay", 20.0, first_wall_bearing_deg=bearing_deg, walls=tuple(map(Wall, lengths, turns)))
    geometry = room_geometry(lengths, turns, bearing_deg)
    assert geometry.misclosure_m < 1e-9
    corners = geometry.corners_m
    for number in range(1, 9):
        (point,) = plan_points(room, geometry, number, (lengths[number - 1],), 0.1)
        assert plan_points(room, geometry, number % 8 + 1, (0.0,), 0.1)[0] == pytest.approx(point)
        for wall in (number - 1, number % 8):
            (x0, y0), (x1, y1) = corners[wall], corners[(wall + 1) % 8]
            along = math.dist((x0, y0), (x1, y1))
            right = ((y1 - y0) * (point[0] - x0) - (x1 - x0) * (point[1] - y0)) / along
            assert right == pytest.approx(0.1)
