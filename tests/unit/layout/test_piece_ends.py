"""Ends of pieces are the entries of the catalogue."""

from __future__ import annotations

from heatloop.layout.model import Layout, PlacedEnd
from heatloop.survey.building import Room
from heatloop.survey.loops import (
    RouteEstimate,
    RouteWalls,
)
from tests.helpers.laid_room import laid

ESTIMATED = Room("Attic", 20.0, estimated_wall_m=6.0, heat_loss_w=300.0)


def ends(layout: Layout) -> list[tuple[str, str, str, int | None]]:
    found = [e for arm in layout.loops[0].arms for e in arm.elements if isinstance(e, PlacedEnd)]
    return [(end.kind, end.end, end.room, end.wall) for end in found]


def test_ends_are_the_entries_of_the_catalogue_on_walls_and_in_estimates() -> None:
    _, layout = laid(RouteWalls("Room", (1, 2)))
    assert ends(layout) == [("valve end", "front piece", "Room", 1), ("turn end", "far piece", "Room", 2)]
    _, layout = laid(RouteEstimate("Attic", 4.0), rooms=(ESTIMATED,))
    assert ends(layout) == [("valve end", "front piece", "Attic", None), ("turn end", "far piece", "Attic", None)]
