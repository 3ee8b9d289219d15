"""Places of pipes out of sight, against positions of the first fix and crossings of the layout."""

from __future__ import annotations

import dataclasses

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
    bare = dataclasses.replace(crossing, wall=None, from_m=None, to_m=None, length_m=2.345)
    assert hidden_pipes._along(bare) == "2.3 m of pipe"
    back = dataclasses.replace(crossing, wall=2, to_wall=2, from_m=3.0, to_m=1.5, reason="a door")
    assert hidden_pipes._along(back) == "wall 2, 1.40 to 3.10 m, in the floor at a door"
    shallow = dataclasses.replace(back, depth_m=0.0)
    assert hidden_pipes._along(shallow) == "wall 2, 1.40 to 3.10 m, at a door"


def test_holes_are_kept_off_to_the_end_of_the_wall_where_pipes_rise_near_it(alder_lodge: hl.Design) -> None:
    near = dataclasses.replace(crossing_of(alder_lodge), wall=2, to_wall=2, from_m=0.04, to_m=0.9, reason="a door")
    assert hidden_pipes._along(near).startswith("wall 2, 0.00 to 1.00 m, ")
    off = dataclasses.replace(near, from_m=0.35)
    assert hidden_pipes._along(off).startswith("wall 2, 0.25 to 1.00 m, ")


@pytest.mark.parametrize("missing", ["wall", "from_m", "to_m"])
def test_a_crossing_whose_place_is_not_whole_is_stated_by_its_length(alder_lodge: hl.Design, missing: str) -> None:
    whole = dataclasses.replace(crossing_of(alder_lodge), wall=2, from_m=1.0, to_m=2.0, length_m=2.345)
    part = dataclasses.replace(whole, **{missing: None})
    assert hidden_pipes._along(part) == "2.3 m of pipe"


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
    assert ("Hall", "wall 4, 1.05 to 1.25 m, to Study: 1.8 m of pipe") in found
    assert ("Study", "wall 4, 2.71 to 2.91 m, to Hall") in found


def test_no_holes_beside_either_end_of_a_pipe_through_a_wall(alder_lodge: hl.Design) -> None:
    """At both ends the same length is kept clear as beside other pipes, up to the corner."""
    arm = next(arm for loop in alder_lodge.layout.loops for arm in loop.arms if all(piece.wall for piece in arm.pieces))
    piece = dataclasses.replace(arm.pieces[0], room="Study", wall=3)
    crossing = dataclasses.replace(crossing_of(alder_lodge), room="Hall", wall=None)
    for at_m, clear in ((1.0, "0.90 to 1.10"), (0.04, "0.00 to 0.14")):
        (found,) = hidden_pipes._other_sides(crossing, "Upstairs", [(piece, at_m)])
        assert found == hidden_pipes.HiddenPipe("Study", "Upstairs", f"wall 3, {clear} m, to Hall")
        own = dataclasses.replace(piece, room="Hall")
        assert hidden_pipes._along(crossing, [(own, at_m), (piece, 2.0)]).startswith(f"wall 3, {clear} m, to Study: ")
