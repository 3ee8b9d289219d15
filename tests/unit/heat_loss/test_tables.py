"""Every cell of the tables that heat loss takes over, and what stands at their edges."""

from __future__ import annotations

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.findings.input_errors import InputError
from heatloop.heat_loss import defaults
from heatloop.heat_loss.building_elements import (
    AdjacentSide,
    BuildingElement,
    NotCalculable,
    elements_of,
    far_side,
    opening_element,
)
from heatloop.heat_loss.dimensions import room_sizes
from heatloop.heat_loss.rooms import room_losses
from heatloop.heat_loss.u_values import u_value
from heatloop.survey.building import BuildUp, FloorOrCeiling, Layer, Opening, UnheatedSpace, Wall
from heatloop.survey.entry import read_survey
from tests.helpers.bad_surveys import GOOD

SHELTERED = {"none": (0.0, 0.03, 0.05), "moderate": (0.0, 0.02, 0.03), "heavy": (0.0, 0.01, 0.02)}
"""EN 12831:2003 table D.8, from memory: no, one, and more than one opening to the outdoors."""


@pytest.fixture(scope="module")
def survey() -> hl.Survey:
    return read_survey(GOOD / "survey.toml")


@pytest.mark.parametrize("shielding", SHELTERED)
def test_leaks_by_shielding_and_openings(shielding: str) -> None:
    for openings, exposed in enumerate((*SHELTERED[shielding], SHELTERED[shielding][2])):
        leaks = defaults.infiltration_m3_h(100.0, 3.0, shielding, openings, 5.0)  # type: ignore[arg-type]
        assert leaks == pytest.approx(600.0 * exposed, rel=1e-12)


def test_leaks_by_height_change_above_10_and_30_metres() -> None:
    heights_m = (0.0, 10.0, 10.1, 30.0, 30.1, 90.0)
    leaks = [defaults.infiltration_m3_h(100.0, 1.0, "none", 1, one) for one in heights_m]
    assert leaks == pytest.approx([6.0, 6.0, 7.2, 7.2, 9.0, 9.0], rel=1e-12)


def test_supplements_for_bridges_are_those_of_the_table() -> None:
    assert list(defaults.BRIDGES_W_M2K) == [0.02, 0.05, 0.10, 0.15]


def test_defaults_are_those_that_are_documented() -> None:
    assert {
        default.what: default.value
        for default in (
            defaults.AIR_WH_M3K,
            defaults.ANNUAL_MEAN_C,
            defaults.GROUND_SEASON,
            defaults.GROUND_W_MK,
            defaults.WALL_THICKNESS_M,
            defaults.VOID_HEIGHT_M,
            defaults.VOID_WALL_U_W_M2K,
            defaults.VOID_VENTS_M2_M,
            defaults.VOID_WIND_M_S,
            defaults.VOID_SHELTER,
        )
    } == {
        "heat capacity of air": 0.34,
        "annual mean outdoors": 10.0,
        "loss to the ground in the cold season": 1.45,
        "ground conductivity": 2.0,
        "thickness of the walls on the slab": 0.3,
        "height of the floor above the ground outside": 0.3,
        "U of the walls of the void": 1.5,
        "vents of the void": 0.003,
        "mean wind at 10 m": 5.0,
        "wind shelter of the void": 0.05,
    }


def test_what_is_beyond_by_sort_name_and_temperature(survey: hl.Survey) -> None:
    room = survey.rooms[0]

    def beyond(name: str | None, neighbour_c: float | None = None) -> object:
        return far_side(survey, room, BuildingElement("walls", "w", "p", name, neighbour_c, None, 1.0))

    outdoor_c = survey.project.outdoor_c
    assert beyond("outdoors") == AdjacentSide("outdoors", "outdoors", outdoor_c)
    assert beyond(None) == AdjacentSide("equally warm", "equally warm", room.indoor_c)
    assert beyond("neighbour", 12.0) == AdjacentSide("neighbour", "neighbour", 12.0)
    other = survey.rooms[1]
    assert beyond(other.name) == AdjacentSide("room", other.name, other.indoor_c)
    ground = beyond("ground")
    assert isinstance(ground, AdjacentSide)
    assert (ground.side, ground.name) == ("ground", "ground")


def test_depth_below_ground_belongs_to_the_floor_alone(survey: hl.Survey) -> None:
    room = replace(
        survey.rooms[0],
        floor=FloorOrCeiling("ground"),
        ceiling=FloorOrCeiling("outdoors"),
        depth_below_ground_m=1.2,
    )
    depths = {
        element.kind: element.depth_m
        for element in elements_of(room, room_sizes(survey, room, 10.0))
        if element.kind != "walls"
    }
    assert depths["floor"] == 1.2
    assert depths["ceiling"] == 0.0


@pytest.mark.parametrize("area_m2", [None, 0.0])
def test_a_room_without_floor_area_is_refused(survey: hl.Survey, area_m2: float | None) -> None:
    areas = {room.name: 10.0 for room in survey.rooms}
    first = replace(survey.rooms[0], walls=(Wall(4.0),), heat_loss_w=None)
    if area_m2 is None:
        del areas[first.name]
    else:
        areas[first.name] = area_m2
    with pytest.raises(InputError, match="no floor area"):
        room_losses(replace(survey, rooms=(first, *survey.rooms[1:])), areas)


def test_half_a_square_metre_is_floor_area_enough(survey: hl.Survey) -> None:
    small = replace(survey.rooms[0], walls=(Wall(4.0),), heat_loss_w=None, floor=None, ceiling=None)
    areas = {room.name: 10.0 for room in survey.rooms} | {small.name: 0.5}
    losses = room_losses(replace(survey, rooms=(small, *survey.rooms[1:])), areas)
    assert losses[0].room == small.name


def test_a_stated_rate_at_the_usual_minimum_is_no_caution(survey: hl.Survey) -> None:
    for changes, cautioned in ((1.5, False), (1.49, True)):
        room = replace(survey.rooms[0], walls=(Wall(4.0),), heat_loss_w=None, use="bathroom", air_changes_h=changes)
        areas = {room.name: 10.0 for room in survey.rooms}
        (loss, *_) = room_losses(replace(survey, rooms=(room, *survey.rooms[1:])), areas)
        assert any("below the usual minimum of 1.5" in line for line in loss.cautions) is cautioned


def test_a_cellar_wall_without_depth_and_a_space_without_temperature_are_refused(survey: hl.Survey) -> None:
    cellar = BuildingElement("walls", "w", "the wall", "ground", None, None, 1.0)
    space = replace(survey, spaces=(UnheatedSpace("Porch"),))
    beyond = replace(cellar, beyond="Porch")
    assert far_side(space, survey.rooms[0], beyond) == NotCalculable(
        'space "Porch"', "no temperature", "temp_c or temperature_factor"
    )
    ground = far_side(survey, survey.rooms[0], cellar)
    assert isinstance(ground, AdjacentSide)
    stone = replace(survey, build_ups=(BuildUp("stone", (Layer("stone", 0.4, 1.5),)),))
    result = u_value(stone, replace(cellar, build_up="stone"), ground, 20.0)
    assert result == NotCalculable("the wall", 'beyond = "ground"', "depth_below_ground_m of the room above 0")


@pytest.mark.parametrize(
    ("own_c", "own_beyond", "wall_beyond", "expected"),
    [
        (None, None, "neighbour", ("neighbour", 14.0)),
        (9.0, None, "neighbour", ("neighbour", 9.0)),
        (0.0, None, "neighbour", ("neighbour", 0.0)),
        (None, "outdoors", "neighbour", ("outdoors", 14.0)),
        (None, None, "ground", ("outdoors", 14.0)),
        (None, None, None, (None, 14.0)),
    ],
)
def test_an_opening_takes_over_what_is_beyond_its_wall_unless_it_says(
    survey: hl.Survey,
    own_c: float | None,
    own_beyond: str | None,
    wall_beyond: str | None,
    expected: tuple[str | None, float],
) -> None:
    opening = Opening("window", 1.0, 1.2, 1.1, build_up="pane", beyond=own_beyond, neighbour_c=own_c)
    wall = Wall(4.0, beyond=wall_beyond, neighbour_c=14.0, build_up="wall")
    found = opening_element(replace(survey.rooms[0], name="Den"), 3, wall, 2, opening)
    assert (found.beyond, found.neighbour_c) == expected
    assert (found.label, found.place) == ("wall 3, window 2", 'room "Den", wall 3, opening 2')
    assert (found.kind, found.build_up, found.area_m2) == ("windows", "pane", pytest.approx(1.2 * 1.1))
    assert (found.width_m, found.height_m) == (1.2, 1.1)
