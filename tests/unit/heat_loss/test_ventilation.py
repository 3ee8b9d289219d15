"""Outdoor air of rooms: stated, by use, by leaks, and with heat recovery."""

from __future__ import annotations

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.heat_loss.model import LossPart, RoomLoss
from heatloop.heat_loss.rooms import room_losses
from heatloop.heat_loss.ventilation import room_air
from heatloop.survey.building import (
    Building,
    Opening,
    Wall,
)
from tests.helpers.heat_loss_survey import loss_of, room_of, survey_of

WINDOW = Opening("window", 1.0, 1.5, 1.2, 0.9, build_up="glass")


def part_of(loss: RoomLoss, label: str) -> LossPart:
    """The part of that label."""
    return next(part for part in loss.parts if part.label == label)


def test_stated_air_counts_as_stated() -> None:
    loss = loss_of(survey_of(room_of(Wall(4.0), air_changes_h=1.2)))
    assert loss.total_w == pytest.approx(0.34 * 1.2 * 25.0 * 25.0)
    assert part_of(loss, "outdoor air 30.0 m3/h").kind == "air"


def test_air_by_use_is_an_assumption_and_stated_air_is_not() -> None:
    kitchen = loss_of(survey_of(room_of(Wall(4.0), air_changes_h=None, use="kitchen")))
    assert kitchen.total_w == pytest.approx(0.34 * 1.5 * 25.0 * 25.0)
    assert any('use "kitchen"' in str(line) for line in kitchen.assumptions)
    stated = loss_of(survey_of(room_of(Wall(4.0), air_changes_h=0.8, use="kitchen")))
    assert not any("at least" in str(line) for line in stated.assumptions)
    assert any("below the usual minimum" in line for line in stated.cautions)


def test_leaks_govern_where_they_exceed_the_least_rate() -> None:
    building = Building(n50_h=20.0, shielding="none", thermal_bridge_w_m2k=0.0)
    walls = (Wall(4.0, beyond="outdoors", build_up="wall", openings=(WINDOW,)),)
    air = part_of(
        loss_of(survey_of(room_of(*walls, air_changes_h=None), building=building)),
        "outdoor air 30.0 m3/h",
    )
    assert air.heat_w == pytest.approx(0.34 * 2.0 * 25.0 * 20.0 * 0.03 * 25.0)


@pytest.mark.parametrize(
    ("wall_beyond", "opening_beyond", "counts"),
    [("outdoors", None, True), ("outdoors", "neighbour", False), ("neighbour", "outdoors", True)],
)
def test_openings_are_exposed_by_what_is_beyond_them(
    wall_beyond: str, opening_beyond: str | None, counts: bool
) -> None:
    """None to the outdoors has no leaks by EN 12831:2003 table D.8, one has 0.03 of both ways without shielding."""
    building = Building(n50_h=20.0, shielding="none", thermal_bridge_w_m2k=0.0)
    opening = replace(WINDOW, beyond=opening_beyond, neighbour_c=None if opening_beyond != "neighbour" else 16.0)
    wall = Wall(4.0, beyond=wall_beyond, build_up="wall", openings=(opening,), neighbour_c=16.0)
    survey = survey_of(room_of(wall, air_changes_h=None), building=building)
    air = room_air(survey, survey.rooms[0], 10.0)
    assert air.infiltration_m3_h == pytest.approx(2.0 * 25.0 * 20.0 * 0.03 if counts else 0.0)


def test_leaks_grow_with_height_above_ground() -> None:
    building = Building(n50_h=20.0, shielding="none", thermal_bridge_w_m2k=0.0)
    walls = (Wall(4.0, beyond="outdoors", build_up="wall", openings=(WINDOW,)),)
    labels = [
        next(
            part.label
            for part in loss_of(survey_of(room_of(*walls, air_changes_h=None, level_m=level), building=building)).parts
            if part.kind == "air"
        )
        for level in (0.0, 12.0, 40.0)
    ]
    assert labels == [f"outdoor air {flow:.1f} m3/h" for flow in (30.0, 36.0, 45.0)]


def test_heat_recovery_leaves_leaks_alone() -> None:
    room = room_of(Wall(4.0), air_changes_h=1.0, heat_recovery=0.8, infiltration_changes_h=0.25)
    assert loss_of(survey_of(room)).total_w == pytest.approx(0.34 * 25.0 * (0.25 + 0.75 * 0.2) * 25.0)
    unknown = loss_of(survey_of(replace(room, infiltration_changes_h=None)))
    assert unknown.total_w == pytest.approx(0.34 * 25.0 * 0.2 * 25.0)
    assert any("heat recovery 80 % is applied to all" in line for line in unknown.cautions)


def test_the_air_constant_can_be_overridden() -> None:
    building = Building(air_wh_m3k=0.30, thermal_bridge_w_m2k=0.0)
    loss = loss_of(survey_of(room_of(Wall(4.0), air_changes_h=1.0), building=building))
    assert loss.total_w == pytest.approx(0.30 * 25.0 * 25.0)
    assert not any("heat capacity of air" in str(line) for line in loss.assumptions)


def test_heat_recovery_lessens_the_factor_of_outdoor_air() -> None:
    """0.5 air changes of 25 m3, all supplied: a fifth is heated where four fifths are recovered."""
    plain = part_of(loss_of(survey_of(room_of(Wall(4.0), air_changes_h=0.5))), "outdoor air 12.5 m3/h")
    spared = part_of(
        loss_of(survey_of(room_of(Wall(4.0), air_changes_h=0.5, infiltration_changes_h=0.0, heat_recovery=0.8))),
        "outdoor air 12.5 m3/h",
    )
    assert (plain.factor, spared.factor) == pytest.approx((1.0, 0.2), rel=1e-12)
    assert spared.heat_w == pytest.approx(0.2 * plain.heat_w, rel=1e-12)


def test_leaks_go_by_the_middle_of_the_room() -> None:
    """A room of 2.5 m: its middle passes 10 m above ground between 8.7 and 8.8 m."""
    building = Building(n50_h=20.0, shielding="none", thermal_bridge_w_m2k=0.0)
    walls = (Wall(4.0, beyond="outdoors", build_up="wall", openings=(WINDOW,)),)
    for level_m, flow in ((8.7, "30.0"), (8.75, "30.0"), (8.8, "36.0")):
        loss = loss_of(survey_of(room_of(*walls, air_changes_h=None, level_m=level_m), building=building))
        assert part_of(loss, f"outdoor air {flow} m3/h").heat_w > 0.0


def test_a_stated_rate_at_the_usual_minimum_is_no_caution(survey: hl.Survey) -> None:
    for changes, cautioned in ((1.5, False), (1.49, True)):
        room = replace(survey.rooms[0], walls=(Wall(4.0),), heat_loss_w=None, use="bathroom", air_changes_h=changes)
        areas = {room.name: 10.0 for room in survey.rooms}
        (loss, *_) = room_losses(replace(survey, rooms=(room, *survey.rooms[1:])), areas)
        assert any("below the usual minimum of 1.5" in line for line in loss.cautions) is cautioned
