"""Thermal bridges of a room: what a supplement stands for."""

from __future__ import annotations

import pytest

from heatloop.survey.building import Building, Wall
from tests.helpers.heat_loss_survey import loss_of, room_of, survey_of


@pytest.mark.parametrize(
    ("supplement", "beyond", "words"),
    [
        (0.05, "outdoors", "new buildings whose junctions are built to recognised rules"),
        (0.15, "outdoors", "inside insulation broken by solid ceilings"),
        (0.07, "outdoors", None),
        (0.05, "neighbour", None),
        (0.07, "neighbour", None),
    ],
)
def test_what_a_supplement_for_bridges_stands_for_is_told_where_it_counts(
    supplement: float, beyond: str, words: str | None
) -> None:
    """One of the standard's, and something exposed to which it applies."""
    wall = Wall(4.0, beyond=beyond, neighbour_c=None if beyond == "outdoors" else 15.0, build_up="wall")
    loss = loss_of(survey_of(room_of(wall), building=Building(60.0, 30.0, thermal_bridge_w_m2k=supplement)))
    told = [note.text for note in loss.assumptions if note.text.startswith("thermal bridges")]
    assert len(told) == (words is not None)
    if words is not None:
        stated = f"thermal bridges {supplement:g} W/(m2 K), as stated in the survey"
        assert f"{stated}; the reference gives this value for {words}" in told[0]
