"""Layout at its edges: openings that only touch a route, loops of emitters alone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.layout.build import build_layout
from heatloop.layout.model import PlacedCrossing
from heatloop.layout.routes import WallChain, WallSpan
from heatloop.layout.walls import wall_parts
from heatloop.survey.building import Opening, Room, Wall
from heatloop.survey.loops import (
    LoopEmitter,
    RouteItem,
    RouteWalls,
)
from tests.helpers.laid_room import CATALOGUE, PLAIN, ROOM, laid

STRAIGHT = Room("Room", 20.0, walls=(Wall(2.0, turn_deg=0.0), Wall(1.0), Wall(4.0), Wall(3.0), Wall(4.0)))
"""A rectangle of 3 m by 4 m whose first side is two walls."""


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
    fault = 'loop "Loop", room "Room", floor_sections: found "bifold"; required: an opening on the route (none)'
    assert (fault in text) is not on_route


def test_a_loop_of_emitters_alone_has_its_name_and_no_arms() -> None:
    _, layout = laid(profile="", arms=(), emitters=(LoopEmitter("rail", "Room"),))
    (loop,) = layout.loops
    assert (loop.loop, loop.arms, loop.pieces) == ("Loop", (), ())


def test_a_stretch_on_two_walls_of_one_straight_has_a_part_on_each() -> None:
    assert wall_parts(STRAIGHT, 1, 0.5, 2.7) == ((1, 0.5, 2.0), (2, 0.0, pytest.approx(0.7)))
    assert wall_parts(STRAIGHT, 1, 2.0, 2.7) == ((2, 0.0, pytest.approx(0.7)),)
    assert wall_parts(STRAIGHT, 1, 0.5, 2.0) == ((1, 0.5, 2.0),)


def test_the_corner_between_two_walls_is_the_end_of_one_or_the_start_of_the_next() -> None:
    chain = WallChain(ROOM, (WallSpan(1, 0.0, 3.0, 0.0, 90.0), WallSpan(2, 0.0, 4.0, 3.0)))
    assert chain.place(3.0) == (2, 0.0)
    assert chain.place(3.0, leaving=True) == (1, 3.0)
    assert chain.place(7.0) == chain.place(7.0, leaving=True) == (2, 4.0)


@pytest.mark.parametrize(
    "items",
    [
        (RouteWalls("Room", (1,)), RouteWalls("Room", (2, 3))),
        (RouteWalls("Room", (3, 2)), RouteWalls("Room", (1,), direction="anticlockwise")),
    ],
)
def test_items_that_touch_where_two_walls_are_one_straight_are_one_run(items: tuple[RouteItem, ...]) -> None:
    _, layout = laid(*items, rooms=(STRAIGHT,))
    assert sorted((piece.wall, piece.tape_m) for piece in layout.loops[0].pieces) == [(1, 3.0), (3, 4.0)]


def test_each_crossing_has_the_depth_of_what_it_passes() -> None:
    """The usual depth is 0.2 m at each side; that of the second opening is stated as 0.5 m."""
    openings = (Opening("door", 0.6, 0.8, 2.0), Opening("door", 2.2, 0.9, 2.0, crossing_depth_m=0.5))
    room = replace(ROOM, walls=(PLAIN[0], Wall(4.0, openings=openings), *PLAIN[2:]))
    _, layout = laid(RouteWalls("Room", (2,)), rooms=(room,))
    crossings = [e for e in layout.loops[0].arms[0].elements if isinstance(e, PlacedCrossing)]
    assert [(one.depth_m, one.length_m) for one in crossings] == [(0.2, pytest.approx(1.2)), (0.5, pytest.approx(1.9))]


@pytest.mark.parametrize(("wall_m", "fits"), [(4.15, True), (4.25, False)])
def test_a_wall_longer_than_stock_by_its_ends_is_one_piece(wall_m: float, fits: bool) -> None:
    """Ends of 140 and 60 mm and stock of 4 m: up to 4.2 m, beyond it a straight joint, which this catalogue lacks."""
    room = replace(ROOM, walls=(Wall(wall_m), Wall(4.0), Wall(wall_m), Wall(4.0)))
    survey, _ = laid(RouteWalls("Room", (1,)), rooms=(room,))
    survey = replace(survey, catalogue=replace(CATALOGUE, joints=CATALOGUE.joints[:1]))
    if fits:
        (piece,) = build_layout(survey).loops[0].pieces
        assert piece.cut_m == pytest.approx(wall_m - 0.2)
        return
    with pytest.raises(InputError) as raised:
        build_layout(survey)
    assert str(raised.value) == (
        'survey: loop "Loop", room "Room", wall 1: found 4.25 m of wall (a turn of 0 degrees that no joint can make); '
        "required: a straight joint in the catalogue, stock being 4 m at most"
    )


def test_a_bearing_beyond_a_full_turn_is_an_error_of_its_room() -> None:
    with pytest.raises(InputError) as raised:
        laid(RouteWalls("Room", (1,)), rooms=(replace(ROOM, first_wall_bearing_deg=400.0),))
    (fault,) = raised.value.issues
    assert (fault.place, fault.found) == ('room "Room", first_wall_bearing_deg', "400")
    assert fault.required == "a bearing in degrees from north, -360 to 360"


@pytest.mark.parametrize("arms", [(), ((),)])
def test_a_loop_without_skirting_and_without_emitters_is_an_error(arms: tuple[tuple[RouteItem, ...], ...]) -> None:
    with pytest.raises(InputError, match=r'loop "Loop": found no skirting on its route; required: at least one piece'):
        laid(arms=arms)


def test_without_a_profile_no_wall_is_spare() -> None:
    survey, _ = laid(profile="", arms=(), emitters=(LoopEmitter("rail", "Room"),))
    assert build_layout(survey).room("Room").spare_wall_m == pytest.approx(14.0)
    bare = replace(survey, catalogue=replace(CATALOGUE, profiles=()))
    assert build_layout(bare).room("Room").spare_wall_m == 0.0
