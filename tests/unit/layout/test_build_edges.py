"""Layout at its edges: openings that only touch a route, loops of emitters alone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.survey.building import Opening, Wall
from heatloop.survey.loops import (
    LoopEmitter,
    RouteWalls,
)
from tests.helpers.laid_room import PLAIN, ROOM, laid


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
