"""Rooms before their survey are estimates."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.survey.building import Room
from heatloop.survey.loops import (
    RouteCrossing,
    RouteEstimate,
    RouteItem,
    RouteWalls,
)
from tests.helpers.laid_room import ROOM, laid


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
