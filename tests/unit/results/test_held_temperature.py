"""The temperature that a room would hold."""

from __future__ import annotations

import dataclasses

import pytest

import heatloop as hl
from heatloop.results.held_temperature import held_temperature_c, held_temperatures


def test_a_room_that_gets_its_loss_holds_its_temperature() -> None:
    assert held_temperature_c(20.0, 900.0, 40.0, 900.0, 46.0, 1.28) == pytest.approx(20.0, abs=1e-5)


def test_a_linear_emitter_by_hand() -> None:
    # 800 W at an excess of 26 K against 920 W at 23 K: 800/26 (46 - t) = 40 (t + 3)
    assert held_temperature_c(20.0, 920.0, 40.0, 800.0, 46.0, 1.0) == pytest.approx(18.3044, abs=1e-3)


def test_short_rooms_hold_less_and_others_more(alder_draft: hl.Design) -> None:
    design = alder_draft
    held = held_temperatures(design.rooms, design.loops, design.heat_loss_parts, design.summary["outdoor_c"], 1.28)
    rooms = design.rooms.set_index("room")
    assert set(held) == set(rooms.index)
    for room, temp_c in held.items():
        assert (temp_c < rooms.loc[room, "indoor_c"]) == (rooms.loc[room, "margin_w"] < 0.0)


def test_it_agrees_with_the_solver(alder_draft: hl.Design) -> None:
    """Heat that the solved system gives to a room kept at what it would hold is near the loss at that temperature."""
    rooms, loops = alder_draft.rooms, alder_draft.loops
    held = held_temperatures(rooms, loops, alder_draft.heat_loss_parts, alder_draft.summary["outdoor_c"], 1.28)[
        "Kitchen-diner"
    ]
    survey = alder_draft.survey
    kitchen = survey.room("Kitchen-diner")
    cooler = dataclasses.replace(
        survey, rooms=tuple(dataclasses.replace(r, indoor_c=held) if r is kitchen else r for r in survey.rooms)
    )
    row = hl.size(cooler).rooms.set_index("room").loc["Kitchen-diner"]
    assert abs(row["margin_w"]) < 0.25 * 150.0, "of the 150 W that it is short at 20 °C"
