"""Rooms before their survey are estimates; rooms whose survey is being entered are drawn as far as they go."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from heatloop.findings.input_errors import InputError
from heatloop.layout.draft_rooms import DraftPlan, DraftRoom, draft_plan
from heatloop.layout.model import PlacedCrossing
from heatloop.layout.plan_coordinates import Point
from heatloop.survey.building import Diagonal, Obstacle, Opening, Room, Wall
from heatloop.survey.loops import (
    RouteCrossing,
    RouteEstimate,
    RouteItem,
    RouteWalls,
)
from tests.helpers.laid_room import PLAIN, ROOM, laid


def said(*route: RouteItem, rooms: tuple[Room, ...] = (ROOM,)) -> str:
    with pytest.raises(InputError) as caught:
        laid(*route, rooms=rooms)
    return str(caught.value)


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


def test_an_estimate_that_is_all_skirting_leaves_no_wall() -> None:
    _, layout = laid(RouteEstimate("Attic", 6.0), rooms=(ESTIMATED,))
    assert (layout.room("Attic").heated_length_m, layout.room("Attic").spare_wall_m) == (6.0, 0.0)


@pytest.mark.parametrize("beside", [RouteEstimate("Attic", 4.0), RouteWalls("Room", (1,))])
def test_a_crossing_heats_the_room_from_which_it_comes(beside: RouteItem) -> None:
    """And that to which it goes where it is the first of the route, between tails and skirting."""
    _, layout = laid(RouteCrossing("copper 15", 1.0), beside, rooms=(ROOM, ESTIMATED))
    (first,) = [e for e in layout.loops[0].arms[0].elements if isinstance(e, PlacedCrossing)]
    assert first.heats == first.room == beside.room
    _, layout = laid(beside, RouteCrossing("copper 15", 1.0), RouteWalls("Room", (3,)), rooms=(ROOM, ESTIMATED))
    (between,) = [e for e in layout.loops[0].arms[0].elements if isinstance(e, PlacedCrossing)]
    assert between.heats == between.room == beside.room


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


def drafted(*rooms: Room) -> DraftPlan:
    """The plan of a survey that is being entered."""
    survey, _ = laid(RouteWalls("Room", (1,)))
    return draft_plan(replace(survey, rooms=rooms))


def one(*walls: Wall, **changes: object) -> DraftRoom:
    ((_, (room,)),) = drafted(replace(ROOM, walls=walls, **changes)).levels  # type: ignore[arg-type]
    return room


def near(points: Sequence[Point], others: Sequence[Point]) -> bool:
    return bool(np.allclose(points, others, rtol=0.0, atol=1e-9))


def test_a_room_that_closes_is_drawn_with_what_is_on_its_walls() -> None:
    """The first wall goes north and the room lies to its right; positions count from the left-hand end of a wall."""
    door, radiator = Opening("door", 0.5, 0.8, 2.0), Obstacle("pipe", 1.0, 0.5)
    room = one(Wall(3.0, openings=(door,)), Wall(4.0, obstacles=(radiator,)), Wall(3.0), Wall(4.0))
    assert near(room.path_m, [(0.0, 0.0), (0.0, 3.0), (4.0, 3.0), (4.0, 0.0), (0.0, 0.0)])
    assert (room.closes, room.gap_m, room.floor_area_m2) == (True, pytest.approx(0.0, abs=1e-9), pytest.approx(12.0))
    (opening,), (obstacle,) = room.openings, room.obstacles
    assert (opening.item, obstacle.item) == (door, radiator)
    assert near(opening.points_m, [(0.0, 0.5), (0.0, 1.3)])
    assert near(obstacle.points_m, [(1.0, 3.0), (1.5, 3.0)])
    assert (room.index, room.name, room.level_m, room.diagonals) == (0, "Room", 0.0, ())


@pytest.mark.parametrize("bearing_deg", [0.0, 30.0, 250.0])
def test_a_room_that_does_not_close_is_drawn_as_taped_without_openings(bearing_deg: float) -> None:
    """Half a metre too long in the third wall: the ends are half a metre apart, whatever the bearing."""
    walls = (Wall(3.0, openings=(Opening("door", 0.5, 0.8, 2.0),)), Wall(4.0), Wall(3.5), Wall(4.0))
    room = one(*walls, first_wall_bearing_deg=bearing_deg)
    angle = math.radians(bearing_deg)
    taped = [(0.0, 0.0), (0.0, 3.0), (4.0, 3.0), (4.0, -0.5), (0.0, -0.5)]
    turned = [(x * math.cos(angle) + y * math.sin(angle), y * math.cos(angle) - x * math.sin(angle)) for x, y in taped]
    assert near(room.path_m, turned)
    assert (room.closes, room.gap_m) == (False, pytest.approx(0.5))
    assert 0.0 < room.tolerance_m < 0.5
    assert (room.openings, room.walls) == ((), walls)


@pytest.mark.parametrize(
    ("start_m", "width_m", "drawn"),
    [
        (2.2, 0.8, True),
        (2.2, 0.800995, True),
        (2.2, 0.801005, False),
        (0.0, 0.5, True),
        (-0.001, 0.5, False),
        (1.0, 0.0, False),
    ],
)
def test_an_opening_is_drawn_where_it_lies_on_its_wall_within_a_millimetre(
    start_m: float, width_m: float, drawn: bool
) -> None:
    room = one(Wall(3.0, openings=(Opening("door", start_m, width_m, 2.0),)), Wall(4.0), Wall(3.0), Wall(4.0))
    assert len(room.openings) == drawn


def test_what_is_not_entered_yet_leaves_a_room_out_or_stands_at_nought() -> None:
    nan = math.nan
    rooms = (
        replace(ROOM, name="A", walls=(*PLAIN[:3], Wall(nan))),
        replace(ROOM, name="B", level_m=nan, first_wall_bearing_deg=nan),
        replace(ROOM, name="C", walls=PLAIN[:2]),
        replace(ROOM, name="B", level_m=2.7),
        replace(ROOM, name="D", walls=(Wall(3.0, nan), *PLAIN[1:])),
        replace(ROOM, name="E", walls=(Wall(0.0), *PLAIN[1:])),
    )
    plan = drafted(*rooms)
    assert plan.missing == (0, 2, 4, 5)
    assert [(level_m, [(room.index, room.name) for room in level]) for level_m, level in plan.levels] == [
        (0.0, [(1, "B")]),
        (2.7, [(3, "B")]),
    ]
    assert plan.levels[0][1][0].path_m == plan.levels[1][1][0].path_m


def test_diagonals_are_those_between_corners_that_no_wall_joins() -> None:
    pairs = [
        (1, 3, 5.0),
        (2, 4, 5.0),
        (1, 2, 3.0),
        (4, 1, 4.0),
        (2, 1, 3.0),
        (1, 4, 4.0),
        (1, 5, 5.0),
        (0, 2, 5.0),
        (3, 1, math.nan),
        (2, 2, 1.0),
    ]
    room = one(*PLAIN, diagonals=tuple(Diagonal(*pair) for pair in pairs))
    assert [(d.from_corner, d.to_corner) for d in room.diagonals] == [(1, 3), (2, 4)]
    assert room.closes


def test_diagonals_that_disagree_with_the_walls_leave_the_turns_as_stated() -> None:
    """A diagonal of 4 m in a rectangle of 3 by 4 m: the corners are those of the walls."""
    wrong = one(*PLAIN, diagonals=(Diagonal(1, 3, 4.0),))
    assert near(wrong.path_m, one(*PLAIN).path_m)
    assert wrong.diagonals == (Diagonal(1, 3, 4.0),)


def test_the_gap_of_a_room_that_closes_is_its_misclosure_as_taped() -> None:
    """A third wall 20 mm too long, which 0.020 + 0.003 * 14.02 m = 62 mm allows: drawn closed, and the gap stated."""
    room = one(Wall(3.0), Wall(4.0), Wall(3.02), Wall(4.0))
    assert (room.closes, room.path_m[0] == room.path_m[-1]) == (True, True)
    assert (room.gap_m, room.tolerance_m) == (pytest.approx(0.02), pytest.approx(0.06206))


def test_diagonals_shape_a_room_whose_corners_are_out_of_square() -> None:
    """Walls of 3 m and 4 m, and one diagonal of 5.05 m instead of 5 m: the room is a parallelogram. Its corner at the
    end of wall 1 opens beyond 90 degrees, by the cosine rule 5.05 ** 2 = 3 ** 2 + 4 ** 2 + 2 * 3 * 4 * sin(1.2 deg)."""
    room = one(*PLAIN, diagonals=(Diagonal(1, 3, 5.05),))
    rise_m = 4.0 * (5.05**2 - 25.0) / 24.0
    assert rise_m == pytest.approx(0.08375)
    assert room.path_m[2] == pytest.approx((math.sqrt(16.0 - rise_m**2), 3.0 + rise_m), abs=1e-5)
    assert room.path_m[3] == pytest.approx((math.sqrt(16.0 - rise_m**2), rise_m), abs=1e-5)


def test_diagonals_of_a_room_whose_turns_do_not_add_up_are_not_used() -> None:
    """Turns of 4 * 90 - 10 degrees: the room is drawn as taped, whatever its diagonals."""
    walls = (Wall(3.0, 80.0), *PLAIN[1:])
    room = one(*walls, diagonals=(Diagonal(1, 3, 5.05),))
    assert (room.closes, room.path_m) == (False, one(*walls).path_m)
    assert room.path_m[2] == pytest.approx(
        (4.0 * math.sin(math.radians(80.0)), 3.0 + 4.0 * math.cos(math.radians(80.0)))
    )


def test_three_walls_are_a_room() -> None:
    """3, 4 and 5 m, the right angle after the first: turns of 90, 180 - 36.87 and 180 - 53.13 degrees."""
    acute = math.degrees(math.atan2(3.0, 4.0))
    room = one(Wall(3.0), Wall(4.0, 180.0 - acute), Wall(5.0, 90.0 + acute))
    assert (room.closes, room.floor_area_m2) == (True, pytest.approx(6.0))
    assert near(room.path_m, [(0.0, 0.0), (0.0, 3.0), (4.0, 3.0), (0.0, 0.0)])
