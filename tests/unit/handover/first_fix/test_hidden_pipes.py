"""Places of pipes out of sight, against positions of the first fix and crossings of the layout."""

from __future__ import annotations

import dataclasses
import re

import pytest

import heatloop as hl
from heatloop.handover.first_fix import hidden_pipes
from heatloop.layout.model import PlacedCrossing


def crossing_of(design: hl.Design) -> PlacedCrossing:
    return next(
        element
        for loop in design.layout.loops
        for arm in loop.arms
        for element in arm.elements
        if isinstance(element, PlacedCrossing)
    )


def test_a_crossing_without_a_wall_is_told_by_its_length(alder_lodge: hl.Design) -> None:
    crossing = crossing_of(alder_lodge)
    bare = dataclasses.replace(crossing, room="Kitchen-diner", wall=None, from_m=None, to_m=None, length_m=2.345)
    assert hidden_pipes._along(alder_lodge.survey, bare) == "pipe of 2.3 m, its route unknown"
    back = dataclasses.replace(bare, wall=1, to_wall=1, from_m=3.0, to_m=1.5, reason="a door")
    assert hidden_pipes._along(alder_lodge.survey, back) == "wall 1 from 1.40 to 3.10 m, in the floor past a door"
    shallow = dataclasses.replace(back, depth_m=0.0)
    assert hidden_pipes._along(alder_lodge.survey, shallow) == "wall 1 from 1.40 to 3.10 m, past a door"


@pytest.mark.parametrize("house", ["alder_lodge", "mill_annexe", "harbour_loft"])
def test_no_place_is_beyond_the_end_of_its_wall(house: str, request: pytest.FixtureRequest) -> None:
    design: hl.Design = request.getfixturevalue(house)
    found = 0
    for pipe in hidden_pipes.hidden_pipes(design.survey, design.layout):
        walls = design.survey.room(pipe.room).walls
        for wall, from_m, to_m in re.findall(r"wall (\d+) from (\d+\.\d\d) to (\d+\.\d\d) m", pipe.place):
            found += 1
            assert 0.0 <= float(from_m) < float(to_m) <= walls[int(wall) - 1].length_m + 0.005, pipe
    assert found


def test_a_stretch_past_a_corner_is_on_both_walls(alder_lodge: hl.Design) -> None:
    found = {(pipe.room, pipe.place) for pipe in hidden_pipes.hidden_pipes(alder_lodge.survey, alder_lodge.layout)}
    # two tails beside one corner (pipes at 703 and 767 mm on wall 8, 33 and 97 mm on wall 9): one stretch on each wall
    assert (
        "Living room",
        "pipes to the heat source: wall 8 from 0.60 to 0.80 m and wall 9 from 0.00 to 0.20 m",
    ) in found
    # a crossing from wall 1 to the wall before it
    corner = "wall 5 from 0.09 to 1.05 m and wall 1 from 0.00 to 0.10 m"
    assert ("Landing", f"{corner}, in the floor past nursery door and 0.10 m of wall beside it") in found


def test_holes_are_kept_off_to_the_end_of_the_wall_where_pipes_rise_near_it(alder_lodge: hl.Design) -> None:
    crossing = dataclasses.replace(crossing_of(alder_lodge), room="Kitchen-diner", reason="a door")
    near = dataclasses.replace(crossing, wall=2, to_wall=2, from_m=0.04, to_m=0.9)
    assert hidden_pipes._along(alder_lodge.survey, near).startswith(
        "wall 1 from 7.54 to 7.60 m and wall 2 from 0.00 to 1.00 m, "
    )
    off = dataclasses.replace(near, from_m=0.35)
    assert hidden_pipes._along(alder_lodge.survey, off).startswith("wall 2 from 0.25 to 1.00 m, ")


@pytest.mark.parametrize("missing", ["wall", "from_m", "to_m"])
def test_a_crossing_whose_place_is_not_whole_is_stated_by_its_length(alder_lodge: hl.Design, missing: str) -> None:
    whole = dataclasses.replace(crossing_of(alder_lodge), wall=2, from_m=1.0, to_m=2.0, length_m=2.345)
    part = dataclasses.replace(whole, **{missing: None})
    assert hidden_pipes._along(alder_lodge.survey, part) == "pipe of 2.3 m, its route unknown"


def test_the_ends_of_hidden_pipe_are_those_of_the_pieces_next_to_it(alder_lodge: hl.Design) -> None:
    """Of an arm with several pieces on either side, from its first element to its last."""
    arm = next(
        arm
        for loop in alder_lodge.layout.loops
        for arm in loop.arms
        if len(arm.pieces) > 3 and all(piece.wall for piece in arm.pieces)
    )
    elements = (*arm.pieces[:2], crossing_of(alder_lodge), *arm.pieces[2:4])
    before, after = hidden_pipes._pieces_beside(elements, 2)
    assert (before[0], after[0]) == (elements[1], elements[3])
    assert before[1] == (elements[1].to_m if elements[1].rightward else elements[1].from_m)
    assert after[1] == (elements[3].from_m if elements[3].rightward else elements[3].to_m)
    assert [piece for piece, _ in hidden_pipes._pieces_beside(elements[2:], 0)] == [elements[3]]


def test_every_position_of_the_first_fix_has_its_place(alder_lodge: hl.Design) -> None:
    positions = alder_lodge.first_fix().positions
    places = hidden_pipes.pipe_places(alder_lodge.survey, alder_lodge.layout)
    known = {(end.wall, end.at_m, position.room) for position in positions for end in position.pipes}
    assert len(places) == len(positions)
    assert {(place.wall, place.at_m, place.room) for place in places} <= known


def test_a_pipe_through_a_wall_is_listed_in_both_rooms(alder_lodge: hl.Design) -> None:
    found = [(pipe.room, pipe.place) for pipe in hidden_pipes.hidden_pipes(alder_lodge.survey, alder_lodge.layout)]
    assert ("Hall", "pipe of 1.8 m to Study, its route unknown: wall 4 from 1.05 to 1.25 m") in found
    assert ("Study", "pipe to Hall: wall 4 from 2.71 to 2.81 m and wall 1 from 0.00 to 0.10 m") in found


def test_no_holes_beside_either_end_of_a_pipe_through_a_wall(alder_lodge: hl.Design) -> None:
    """At both ends the same length is kept clear as beside other pipes, up to the corner."""
    arm = next(arm for loop in alder_lodge.layout.loops for arm in loop.arms if all(piece.wall for piece in arm.pieces))
    piece = dataclasses.replace(arm.pieces[0], room="Study", wall=3)
    crossing = dataclasses.replace(crossing_of(alder_lodge), room="Hall", wall=None)
    before_m = alder_lodge.survey.room("Study").walls[1].length_m
    corner = f"wall 2 from {before_m - 0.06:.2f} to {before_m:.2f} m and wall 3 from 0.00 to 0.14"
    for at_m, clear in ((1.0, "wall 3 from 0.90 to 1.10"), (0.04, corner)):
        (found,) = hidden_pipes._other_sides(alder_lodge.survey, crossing, "Upstairs", [(piece, at_m)])
        assert found == hidden_pipes.HiddenPipe("Study", "Upstairs", f"pipe to Hall: {clear} m")
        beside = [(piece, at_m), (dataclasses.replace(piece, room="Hall"), 2.0)]
        own = dataclasses.replace(crossing, room="Study")
        said = hidden_pipes._along(alder_lodge.survey, own, beside)
        assert said == f"pipe of {own.length_m:.1f} m to Hall, its route unknown: {clear} m"


def test_every_pipe_whose_route_is_not_in_the_design_is_listed(alder_lodge: hl.Design, mill_annexe: hl.Design) -> None:
    """Those to the heat source, and each crossing that the survey gives by its length alone."""
    routes = list(hidden_pipes.unknown_routes(alder_lodge.survey, alder_lodge.layout))
    bare = [
        element
        for loop in alder_lodge.layout.loops
        for arm in loop.arms
        for element in arm.elements
        if isinstance(element, PlacedCrossing) and element.wall is None
    ]
    assert len(routes) == 1 + len(bare) == 4
    assert routes[0] == "between the skirting and the heat source"
    assert set(routes[1:]) == {
        "from Hall to Study (1.8 m)", "from Landing to Box room (0.4 m)", "from Box room to Main bedroom (0.4 m)",
    }  # fmt: skip
    (only,) = hidden_pipes.unknown_routes(mill_annexe.survey, mill_annexe.layout)
    assert only == routes[0]


def test_a_crossing_within_a_room_without_a_wall_is_of_unknown_route(alder_lodge: hl.Design) -> None:
    bare = dataclasses.replace(crossing_of(alder_lodge), room="Hall", wall=None, length_m=2.0)
    assert hidden_pipes._between_rooms(bare, ("Hall",)) == "in Hall (2.0 m)"
    assert hidden_pipes._between_rooms(bare, ("Hall", "Study")) == "from Hall to Study (2.0 m)"
