"""What layout gives at its edges: turns that just fit, estimates, emitters alone, openings that only touch a route."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.layout.build import build_layout
from heatloop.layout.joints import joint_fits_turn
from heatloop.layout.model import Layout, PlacedEnd
from heatloop.layout.pieces import split_cuts_m
from heatloop.layout.pipework import allowance_at_end_m, pipe_lays
from heatloop.layout.plan_coordinates import plan_points, rooms_by_storey, stated_crossings
from heatloop.survey.building import Building, Opening, Room, Wall
from heatloop.survey.catalogue import Catalogue, Emitter, End, Joint, Pipe
from heatloop.survey.loops import (
    CrossingRule,
    Loop,
    LoopEmitter,
    RouteCrossing,
    RouteEstimate,
    RouteItem,
    RouteWalls,
    Tails,
)
from heatloop.survey.profiles import Channel, FloorSectionRating, OutputRating, Profile
from heatloop.survey.room_geometry import room_geometry
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source

PROFILE = Profile(
    "plain", 130.0, 28.0, (Channel(13.0), Channel(13.0)), OutputRating(150.0, 1.28), (3.0, 4.0),
    floor_section=FloorSectionRating(60.0, 1.1),
)  # fmt: skip
CATALOGUE = Catalogue(
    (PROFILE,),
    (Joint("any angle", "angle", (-135.0, 135.0), 60.0), Joint("splice", "straight", (0.0, 0.0), 5.0)),
    (End("front piece", "valve end", 140.0), End("far piece", "turn end", 60.0)),
    (Pipe("copper 15", 13.6, 15.0),),
    emitters=(Emitter("rail", 400.0, 1.25, zeta=2.0),),
)
PLAIN = (Wall(3.0), Wall(4.0), Wall(3.0), Wall(4.0))
ROOM = Room("Room", 20.0, walls=PLAIN)


def laid(*route: RouteItem, rooms: tuple[Room, ...] = (ROOM,), **changes: object) -> tuple[SurveyData, Layout]:
    loop = Loop(
        "Loop", "plain", "there-and-back", (route,) if route else (), Tails("copper 15", 2.0, 2.0),
        crossing=CrossingRule("copper 15", 0.2),
    )  # fmt: skip
    loops = (replace(loop, **changes),)  # type: ignore[arg-type]
    project = Project("Test", -3.0, 50.0, "")
    survey = SurveyData(project, Building(), (), (), rooms, Source(), (), loops, CATALOGUE)
    return survey, build_layout(survey)


def said(*route: RouteItem, rooms: tuple[Room, ...] = (ROOM,)) -> str:
    with pytest.raises(InputError) as caught:
        laid(*route, rooms=rooms)
    return str(caught.value)


# --- joints ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("joint", "turn_deg", "fits"),
    [
        (Joint("c", "inside corner", (80.0, 100.0), 45.0), 80.0, True),
        (Joint("c", "inside corner", (80.0, 100.0), 45.0), 100.0, True),
        (Joint("c", "inside corner", (80.0, 100.0), 45.0), 79.999, False),
        (Joint("c", "inside corner", (80.0, 100.0), 45.0), 100.001, False),
        (Joint("a", "angle", (-135.0, 135.0), 60.0), 0.0, False),
        (Joint("s", "straight", (0.0, 0.0), 5.0), 0.0, True),
        (Joint("s", "straight", (1.0, 2.0), 5.0), 0.0, False),
        (Joint("s", "straight", (-2.0, 0.0), 5.0), 0.0, True),
    ],
)
def test_a_joint_makes_the_turns_of_its_range_and_a_straight_one_none(
    joint: Joint, turn_deg: float, fits: bool
) -> None:
    assert joint_fits_turn(joint, turn_deg) is fits


@pytest.mark.parametrize(
    ("length_m", "ends_m", "joint_m", "longest_m", "cuts_m"),
    [
        (4.0, 0.0, 0.005, 4.0, (4.0,)),
        (4.1, 0.1, 0.005, 4.0, (4.0,)),
        (4.11, 0.1, 0.005, 4.0, (2.0, 2.0)),
        (12.02, 0.0, 0.005, 4.0, (4.0, 4.0, 4.0)),
        (12.03, 0.0, 0.005, 4.0, (3.0, 3.0, 3.0, 3.0)),
    ],
)
def test_a_wall_is_made_up_of_the_fewest_equal_pieces(
    length_m: float, ends_m: float, joint_m: float, longest_m: float, cuts_m: tuple[float, ...]
) -> None:
    assert split_cuts_m(length_m, ends_m, joint_m, longest_m) == pytest.approx(cuts_m)


# --- routes ------------------------------------------------------------------------------------------------


ESTIMATED = Room("Attic", 20.0, estimated_wall_m=6.0, heat_loss_w=300.0)
GAP = "skirting that does not start where the part before ends"


@pytest.mark.parametrize(
    ("route", "gap"),
    [
        ((RouteWalls("Room", (1,)), RouteEstimate("Attic", 4.0)), True),
        ((RouteWalls("Room", (1,)), RouteCrossing("copper 15", 1.0), RouteEstimate("Attic", 4.0)), False),
        ((RouteEstimate("Attic", 4.0),), False),
        ((RouteEstimate("Attic", 2.0), RouteEstimate("Attic", 2.0)), True),
        (
            (
                RouteWalls("Room", (1,)), RouteCrossing("copper 15", 1.0), RouteWalls("Room", (3,)),
                RouteEstimate("Attic", 4.0),
            ),
            True,
        ),
    ],
)  # fmt: skip
def test_an_estimate_follows_a_crossing_or_begins_the_route(route: tuple[RouteItem, ...], gap: bool) -> None:
    if gap:
        text = said(*route, rooms=(ROOM, ESTIMATED))
        assert f'loop "Loop", room "Attic": found {GAP}' in text
        return
    _, layout = laid(*route, rooms=(ROOM, ESTIMATED))
    assert [piece.tape_m for piece in layout.loops[0].pieces if piece.room == "Attic"] == [4.0]


@pytest.mark.parametrize(("to_m", "on_route"), [(1.0, False), (1.0 + 2e-6, True), (2.5, True)])
def test_an_opening_that_begins_where_the_route_ends_is_not_on_it(to_m: float, on_route: bool) -> None:
    opening = Opening("glazed door", 1.0, 2.0, 2.1, name="bifold")
    room = replace(ROOM, walls=(PLAIN[0], Wall(4.0, openings=(opening,)), *PLAIN[2:]))
    item = RouteWalls("Room", (1, 2), to_m=to_m, floor_sections=("bifold",))
    try:
        laid(item, rooms=(room,))
        text = ""
    except InputError as error:
        text = str(error)
    assert ("required: an opening on the route (none)" in text) is not on_route


# --- ends, estimates and emitters alone --------------------------------------------------------------------


def ends(layout: Layout) -> list[tuple[str, str, str, int | None]]:
    found = [e for arm in layout.loops[0].arms for e in arm.elements if isinstance(e, PlacedEnd)]
    return [(end.kind, end.end, end.room, end.wall) for end in found]


def test_ends_are_the_entries_of_the_catalogue_on_walls_and_in_estimates() -> None:
    _, layout = laid(RouteWalls("Room", (1, 2)))
    assert ends(layout) == [("valve end", "front piece", "Room", 1), ("turn end", "far piece", "Room", 2)]
    _, layout = laid(RouteEstimate("Attic", 4.0), rooms=(ESTIMATED,))
    assert ends(layout) == [("valve end", "front piece", "Attic", None), ("turn end", "far piece", "Attic", None)]


def test_rooms_are_estimates_before_their_survey_alone() -> None:
    bare = Room("Bare", 20.0, heat_loss_w=100.0)
    unused = replace(ESTIMATED, name="Unused")
    _, layout = laid(
        RouteWalls("Room", (1,)), RouteCrossing("copper 15", 1.0), RouteEstimate("Attic", 4.0),
        rooms=(ROOM, ESTIMATED, bare, unused, replace(ROOM, name="Spare", estimated_wall_m=5.0)),
    )  # fmt: skip
    assert {room.room: room.estimate for room in layout.rooms} == {
        "Room": False,
        "Attic": True,
        "Bare": False,
        "Unused": True,
        "Spare": False,
    }
    assert layout.room("Attic").spare_wall_m == pytest.approx(2.0)
    assert layout.room("Unused").spare_wall_m == pytest.approx(6.0)
    assert layout.room("Bare").spare_wall_m == 0.0


def test_a_loop_of_emitters_alone_has_its_name_and_no_arms() -> None:
    _, layout = laid(profile="", arms=(), emitters=(LoopEmitter("rail", "Room"),))
    (loop,) = layout.loops
    assert (loop.loop, loop.arms, loop.pieces) == ("Loop", (), ())


# --- plan --------------------------------------------------------------------------------------------------


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


def test_rooms_joined_at_a_doorway_are_drawn_a_tenth_of_a_metre_apart() -> None:
    door = Opening("door", 1.0, 0.8, 2.0, name="shared")
    west = replace(ROOM, walls=(*PLAIN[:2], Wall(3.0, openings=(door,)), PLAIN[3]))
    east = Room("East", 20.0, walls=(Wall(3.0, openings=(replace(door, start_m=1.2),)), *PLAIN[1:]))
    places = rooms_by_storey(*laid(RouteWalls("Room", (1,)), rooms=(west, east)))[0.0]
    assert places["East"] == pytest.approx((4.1, 0.0), abs=1e-9)


# --- pipe --------------------------------------------------------------------------------------------------


def test_a_pipe_without_an_allowance_has_150_mm_at_each_end() -> None:
    assert allowance_at_end_m(CATALOGUE.pipes[0]) == 0.15
    assert allowance_at_end_m(replace(CATALOGUE.pipes[0], allowance_m=0.0)) == 0.0
    survey, layout = laid(RouteWalls("Room", (1,)), RouteCrossing("copper 15", 1.0), RouteWalls("Room", (3,)))
    flow, back, crossing = pipe_lays(survey, layout)
    assert [(one.use, one.side, one.ends, one.end_m) for one in (flow, back)] == [
        ("tail", "flow", 1, 0.15),
        ("tail", "return", 1, 0.15),
    ]
    assert (crossing.pipes, crossing.ends, crossing.total_m) == (2, 2, 2.0)
    assert crossing.allowance_m == pytest.approx(0.3)
    assert crossing.total_allowance_m == pytest.approx(0.6)


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
