"""Plan coordinates: positions on walls, corners, crossings round corners, rooms put together."""

from dataclasses import replace
from math import sqrt

import pytest

from heatloop.layout.build import build_layout
from heatloop.layout.model import Layout, Piece, PlacedCrossing
from heatloop.layout.plan_coordinates import (
    SHOWN_GAP_M,
    SHOWN_WALL_M,
    crossing_path,
    element_points,
    plan_points,
    room_plan,
    rooms_by_storey,
    stated_crossings,
)
from heatloop.survey.building import Building, Obstacle, Opening, Room, Wall
from heatloop.survey.catalogue import Catalogue, End, Joint, Pipe
from heatloop.survey.loops import CrossingRule, Loop, RouteCrossing, RouteItem, RouteWalls, Tails
from heatloop.survey.profiles import Channel, OutputRating, Profile
from heatloop.survey.room_geometry import RoomGeometry
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source

CATALOGUE = Catalogue(
    (Profile("plain", 130.0, 28.0, (Channel(13.0), Channel(13.0)), OutputRating(150.0, 1.28), (6.0,)),),
    (Joint("angle", "angle", (-135.0, 135.0), 60.0),),
    (End("valve end", "valve end", 140.0), End("turn end", "turn end", 60.0)),
    (Pipe("copper 15", 13.6, 15.0),),
)
ROOM = Room("Room", 20.0, walls=(Wall(3.0), Wall(4.0), Wall(3.0), Wall(4.0)))
DOOR = Opening("door", 1.0, 0.8, 2.0, name="shared door")


def laid(*rooms: Room, route: tuple[RouteItem, ...] = ()) -> tuple[SurveyData, Layout]:
    rule = CrossingRule("copper 15", 0.2)
    loops = (Loop("Loop", "plain", "there-and-back", (route,), Tails("copper 15", 2.0, 2.0), crossing=rule),)
    survey = SurveyData(
        Project("Test", -3.0, 50.0, ""), Building(), (), (), rooms, Source(), (), loops if route else (), CATALOGUE
    )
    return survey, build_layout(survey)


def geometry_of(room: Room) -> RoomGeometry:
    geometry = laid(room)[1].room(room.name).geometry
    assert geometry is not None
    return geometry


def at(*points: tuple[float, float]) -> list[object]:
    return [pytest.approx(p, abs=1e-9) for p in points]


def test_walls_run_north_first_with_the_room_to_their_right() -> None:
    geometry = geometry_of(ROOM)
    assert list(plan_points(ROOM, geometry, 1, (0.0, 1.0, 3.0))) == at((0, 0), (0, 1), (0, 3))
    assert list(plan_points(ROOM, geometry, 1, (1.0,), 0.1)) == at((0.1, 1))
    assert list(plan_points(ROOM, geometry, 2, (1.0,), 0.1)) == at((1, 2.9))
    assert list(plan_points(ROOM, geometry, 3, (1.0,), 0.1)) == at((3.9, 2))
    assert list(plan_points(ROOM, geometry, 4, (1.0,), 0.1)) == at((3, 0.1))


def test_first_bearing_turns_the_plan() -> None:
    east = replace(ROOM, first_wall_bearing_deg=90.0)
    assert list(plan_points(east, geometry_of(east), 1, (1.0,), 0.1)) == at((1, -0.1))


def test_corners_keep_the_offset_from_both_walls() -> None:
    geometry = geometry_of(ROOM)
    assert list(plan_points(ROOM, geometry, 1, (3.0,), 0.1)) == at((0.1, 2.9))
    assert plan_points(ROOM, geometry, 1, (3.0,), 0.1) == plan_points(ROOM, geometry, 2, (0.0,), 0.1)
    lengths, turns = (3.0, 2.0, 1.0, 2.0, 2.0, 4.0), (90.0, 90.0, -90.0, 90.0, 90.0, 90.0)
    step = Room("Room", 20.0, walls=tuple(map(Wall, lengths, turns)))
    assert list(plan_points(step, geometry_of(step), 3, (1.0,), 0.1)) == at((1.9, 1.9))


def test_misclosure_stretches_a_wall_to_its_plotted_length() -> None:
    room = replace(ROOM, walls=(Wall(3.02), *ROOM.walls[1:]))
    geometry = geometry_of(room)
    assert geometry.misclosure_m == pytest.approx(0.02)
    assert plan_points(room, geometry, 1, (3.02,))[0] == pytest.approx(geometry.corners_m[1])
    middle = plan_points(room, geometry, 1, (1.51,))[0]
    assert middle == pytest.approx([c / 2 for c in geometry.corners_m[1]])


def test_position_beyond_a_wall_runs_on_along_the_next() -> None:
    room = Room("Room", 20.0, walls=(Wall(1.0, 0.0), Wall(2.0), Wall(4.0), Wall(3.0), Wall(4.0)))
    assert list(plan_points(room, geometry_of(room), 1, (0.5, 1.0, 2.5), 0.1)) == at((0.1, 0.5), (0.1, 1), (0.1, 2.5))


def test_pieces_point_the_way_the_water_runs() -> None:
    for walls, ends in (((1, 2), ((0.1, 2.9), (3.9, 2.9))), ((3, 2), ((3.9, 2.9), (0.1, 2.9)))):
        _, layout = laid(ROOM, route=(RouteWalls("Room", walls),))
        geometry = layout.rooms[0].geometry
        assert geometry is not None
        piece = layout.loops[0].pieces[-1]
        assert list(element_points(ROOM, geometry, piece, 0.1)) == at(*ends)


@pytest.mark.parametrize("walls", [(2, 3), (3, 2)])
def test_crossing_goes_round_its_corner_the_short_way(walls: tuple[int, int]) -> None:
    units = Wall(4.0, obstacles=(Obstacle("units", 3.5, 0.5),)), Wall(3.0, obstacles=(Obstacle("units", 0.0, 1.0),))
    room = replace(ROOM, walls=(ROOM.walls[0], *units, ROOM.walls[3]))
    _, layout = laid(room, route=(RouteWalls("Room", walls),))
    (crossing,) = [e for e in layout.loops[0].arms[0].elements if isinstance(e, PlacedCrossing)]
    path = crossing_path(room, geometry_of(room), crossing)
    expected = at((3.5, 3), (4, 3), (4, 2))
    assert list(path) == (expected if walls == (2, 3) else expected[::-1])


def test_room_plan_draws_every_element_of_the_room_once() -> None:
    room = replace(ROOM, walls=(ROOM.walls[0], Wall(4.0, openings=(DOOR,)), *ROOM.walls[2:]))
    _, layout = laid(room, route=(RouteWalls("Room", (1, 2, 3)),))
    plan = room_plan(room, layout, 0.1)
    elements = layout.loops[0].arms[0].elements
    assert [d.element for d in plan.drawn] == list(elements)
    assert [len(d.points_m) for d in plan.drawn] == [
        2 if isinstance(e, Piece | PlacedCrossing) else 1 for e in elements
    ]
    assert plan.bounds_m == pytest.approx((0, 0, 4, 3), abs=1e-9)
    assert list(plan.openings[0].points_m) == at((1, 3), (1.8, 3))
    assert list(plan.wall_middles_m) == at((0.1, 1.5), (2, 2.9), (3.9, 1.5), (2, 0.1))
    # neighbours touch: each element ends where the next begins
    for a, b in zip(plan.drawn, plan.drawn[1:], strict=False):
        assert a.points_m[-1] == pytest.approx(b.points_m[0])
    with pytest.raises(ValueError, match="no walls"):
        room_plan(Room("Hall", 18.0), laid(Room("Hall", 18.0))[1])


def neighbours() -> tuple[Room, Room]:
    """`Room`, and `East` beyond its east wall: the door 1.0 m from the left of wall 3 (going south) is
    1.5 m from the left of wall 1 of `East` (going north)."""
    room = replace(ROOM, walls=(*ROOM.walls[:2], Wall(3.0, openings=(DOOR,)), ROOM.walls[3]))
    there = replace(DOOR, start_m=1.5)
    return room, Room("East", 20.0, walls=(Wall(3.0, openings=(there,)), Wall(2.0), Wall(3.0), Wall(2.0)))


def test_rooms_are_put_together_at_their_shared_doorway() -> None:
    room, east = neighbours()
    apart = replace(ROOM, name="Apart")
    above = replace(ROOM, name="Above", level_m=2.7)
    places = rooms_by_storey(*laid(room, above, east, apart, Room("Bare", 18.0)))
    assert list(places) == [0.0, 2.7]
    assert places[2.7] == {"Above": (0.0, 0.0)}
    here = places[0.0]
    assert here["Room"] == (0.0, 0.0)
    # middle of the door: 1.4 m down from y = 3 in one, 1.9 m up from y = 0 in the other
    assert here["East"] == pytest.approx((4.0 + SHOWN_WALL_M, 1.6 - 1.9))
    assert here["Apart"] == pytest.approx((6.0 + SHOWN_WALL_M + SHOWN_GAP_M, -0.3))
    assert "Bare" not in here


def test_doorways_that_do_not_face_each_other_join_nothing() -> None:
    room, east = neighbours()
    turned = replace(east, first_wall_bearing_deg=45.0)
    places = rooms_by_storey(*laid(room, turned))[0.0]
    west_edge = min(x for x, _ in geometry_of(turned).corners_m)
    assert places["East"][0] + west_edge == pytest.approx(4.0 + SHOWN_GAP_M)
    almost = replace(east, first_wall_bearing_deg=10.0)
    assert rooms_by_storey(*laid(room, almost))[0.0]["East"][0] < 4.0 + SHOWN_GAP_M / 2 + sqrt(2)


def test_stated_crossing_goes_from_run_to_run() -> None:
    room, east = neighbours()
    route = (RouteWalls("Room", (2,)), RouteCrossing("copper 15", 1.5), RouteWalls("East", (3,)))
    (line,) = stated_crossings(*laid(room, east, route=route), offset_m=0.0)
    assert (line.from_room, line.to_room) == ("Room", "East")
    assert [line.from_point_m, line.to_point_m] == at((4, 3), (2, 3))
