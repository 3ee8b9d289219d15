"""Places of pipes out of sight, against positions of the first fix and crossings of the layout."""

from __future__ import annotations

import dataclasses

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
    assert hidden_pipes._along(bare) == "2.3 m of pipe"
    back = dataclasses.replace(crossing, wall=2, to_wall=2, from_m=3.0, to_m=1.5, reason="a door")
    assert hidden_pipes._along(back) == "wall 2, 1.40 to 3.10 m, in the floor at a door"
    shallow = dataclasses.replace(back, depth_m=0.0)
    assert hidden_pipes._along(shallow) == "wall 2, 1.40 to 3.10 m, at a door"


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
