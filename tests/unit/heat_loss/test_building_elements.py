"""What each element of a room is beside, and elements without depth or temperature."""

from __future__ import annotations

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.heat_loss.building_elements import (
    AdjacentSide,
    BuildingElement,
    NotCalculable,
    elements_of,
    far_side,
    opening_element,
)
from heatloop.heat_loss.dimensions import room_sizes
from heatloop.heat_loss.u_values import u_value
from heatloop.survey.building import BuildUp, FloorOrCeiling, Layer, Opening, UnheatedSpace, Wall


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
