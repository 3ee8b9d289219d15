"""Places of pipes out of sight, against positions of the first fix and crossings of the layout."""

from __future__ import annotations

import dataclasses
import re

import pytest

import heatloop as hl
from heatloop.handover.first_fix import hidden_pipes
from heatloop.layout.model import PlacedCrossing


def test_a_crossing_without_a_wall_is_told_by_its_length(alder_lodge: hl.Design) -> None:
    crossing = next(
        element
        for loop in alder_lodge.layout.loops
        for arm in loop.arms
        for element in arm.elements
        if isinstance(element, PlacedCrossing)
    )
    bare = dataclasses.replace(crossing, wall=None, from_m=None, to_m=None, length_m=2.345)
    room = alder_lodge.survey.room("Kitchen-diner")
    assert hidden_pipes._along(room, bare) == "2.3 m of pipe"
    back = dataclasses.replace(crossing, wall=1, to_wall=1, from_m=3.0, to_m=1.5, reason="a door")
    assert hidden_pipes._along(room, back) == "wall 1, 1.40 to 3.10 m, in the floor past a door"
    shallow = dataclasses.replace(back, depth_m=0.0)
    assert hidden_pipes._along(room, shallow) == "wall 1, 1.40 to 3.10 m, past a door"


@pytest.mark.parametrize("house", ["alder_lodge", "mill_annexe", "harbour_loft"])
def test_no_place_is_beyond_the_end_of_its_wall(house: str, request: pytest.FixtureRequest) -> None:
    design: hl.Design = request.getfixturevalue(house)
    found = 0
    for pipe in hidden_pipes.hidden_pipes(design.survey, design.layout):
        walls = design.survey.room(pipe.room).walls
        for wall, from_m, to_m in re.findall(r"wall (\d+), (\d+\.\d\d) to (\d+\.\d\d) m", pipe.place):
            found += 1
            assert 0.0 <= float(from_m) < float(to_m) <= walls[int(wall) - 1].length_m + 0.005, pipe
    assert found


def test_a_stretch_past_a_corner_is_on_both_walls(alder_lodge: hl.Design) -> None:
    found = {(pipe.room, pipe.place) for pipe in hidden_pipes.hidden_pipes(alder_lodge.survey, alder_lodge.layout)}
    # two tails beside one corner (pipes at 703 and 767 mm on wall 8, 33 and 97 mm on wall 9): one stretch on each wall
    assert ("Living room", "wall 8, 0.60 to 0.80 m and wall 9, 0.00 to 0.20 m, to source") in found
    # a crossing from wall 1 to the wall before it
    corner = "wall 5, 0.09 to 1.05 m and wall 1, 0.00 to 0.10 m"
    assert ("Landing", f"{corner}, in the floor past 0.10 m of wall and nursery door") in found


def test_every_position_of_the_first_fix_has_its_place(alder_lodge: hl.Design) -> None:
    positions = alder_lodge.first_fix().positions
    places = hidden_pipes.pipe_places(alder_lodge.survey, alder_lodge.layout)
    known = {(end.wall, end.at_m, position.room) for position in positions for end in position.pipes}
    assert len(places) == len(positions)
    assert {(place.wall, place.at_m, place.room) for place in places} <= known


def test_a_pipe_through_a_wall_is_listed_in_both_rooms(alder_lodge: hl.Design) -> None:
    found = [(pipe.room, pipe.place) for pipe in hidden_pipes.hidden_pipes(alder_lodge.survey, alder_lodge.layout)]
    assert ("Hall", "wall 4, 1.15 m, to Study wall 4, 2.81 m: 1.8 m of pipe") in found
    assert ("Study", "wall 4, 2.81 m, to Hall") in found
