"""The dimensions in which a loss is calculated: areas moved outwards, and the supplements that go with them."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatloop.heat_loss.building_load import building_load
from heatloop.heat_loss.dimensions import moved_lengths_m, room_sizes
from heatloop.heat_loss.model import RoomLoss
from heatloop.heat_loss.rooms import room_losses
from heatloop.survey.building import Building, BuildUp, FloorOrCeiling, Layer, Room, UnheatedSpace, Wall
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source

OUTER_M, INNER_M, FLOOR_M, ROOF_M = 0.35, 0.1, 0.25, 0.2
BUILD_UPS = (
    BuildUp("outer", (Layer("masonry", OUTER_M, 0.3),)),
    BuildUp("inner", (Layer("blocks", INNER_M, 0.4),)),
    BuildUp("floor", (Layer("boards", FLOOR_M, 0.2),)),
    BuildUp("roof", (Layer("wool", ROOF_M, 0.04),)),
)
OUT, IN = {"beyond": "outdoors", "build_up": "outer"}, {"build_up": "inner"}
AREAS = {"West": 12.0, "East": 16.0}


def two_rooms(dimensions: str = "inside", supplement: float | None = None) -> SurveyData:
    """Two rooms of 3 m, 4 and 4 m wide, side by side under one roof, over a garage, 2.4 m high."""
    around = {"indoor_c": 20.0, "height_m": 2.4, "air_changes_h": 0.5}
    around |= {"floor": FloorOrCeiling("Garage", "floor"), "ceiling": FloorOrCeiling("outdoors", "roof")}
    west = (Wall(3.0, **OUT), Wall(4.0, beyond="East", **IN), Wall(3.0, **OUT), Wall(4.0, **OUT))
    east = (Wall(4.0, **OUT), Wall(4.0, **OUT), Wall(4.0, **OUT), Wall(4.0, beyond="West", **IN))
    rooms = (Room("West", walls=west, **around), Room("East", walls=east, **around))  # type: ignore[arg-type]
    building = Building(dimensions=dimensions, thermal_bridge_w_m2k=supplement)  # type: ignore[arg-type]
    spaces = (UnheatedSpace("Garage", temp_c=5.0),)
    project = Project("two rooms", -5.0, 50.0, "none.toml", annual_mean_c=10.0)
    return SurveyData(project, building, BUILD_UPS, spaces, rooms, Source(), (), (), Catalogue())


def losses_of(survey: SurveyData) -> tuple[RoomLoss, ...]:
    return room_losses(survey, AREAS)


def area(loss: RoomLoss, label: str) -> float:
    return next(part.area_m2 or 0.0 for part in loss.parts if part.label == label)


def test_inside_dimensions_are_those_of_the_tape() -> None:
    survey = two_rooms()
    sizes = room_sizes(survey, survey.rooms[0], 12.0)
    assert (sizes.lengths_m, sizes.floor_m2, sizes.below_m, sizes.above_m) == ((3.0, 4.0, 3.0, 4.0), 12.0, 0.0, 0.0)


@pytest.mark.parametrize(("dimensions", "skin_m", "floor_m", "roof_m"), [
    ("outside", OUTER_M, FLOOR_M, ROOF_M), ("overall inside", 0.0, 0.0, 0.0),
])  # fmt: skip
def test_rooms_side_by_side_make_up_the_whole_house(
    dimensions: str, skin_m: float, floor_m: float, roof_m: float
) -> None:
    """The parts of both rooms sum to the walls, floor and roof of one box of 7.1 m by 4 m inside its outer walls."""
    west, east = losses_of(two_rooms(dimensions))
    length, breadth, height = 7.0 + INNER_M + 2.0 * skin_m, 4.0 + 2.0 * skin_m, 2.4 + floor_m + roof_m
    assert area(west, "floor") + area(east, "floor") == pytest.approx(length * breadth)
    assert area(west, "ceiling") + area(east, "ceiling") == pytest.approx(length * breadth)
    assert area(west, "wall 1") + area(east, "wall 1") == pytest.approx(length * height)
    assert area(west, "wall 4") == pytest.approx(breadth * height)
    air = [next(part.heat_w for part in loss.parts if part.kind == "air") for loss in (west, east)]
    assert sum(air) == pytest.approx(0.34 * 0.5 * 28.0 * 2.4 * 25.0)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 0.5), st.lists(st.floats(2.0, 8.0), min_size=6, max_size=6), st.floats(30.0, 60.0))
def test_moved_walls_are_those_of_a_mitred_offset(offset_m: float, lengths: list[float], bay_deg: float) -> None:
    """A polygon whose sides all move out by d: perimeter P + 2 d T, area A + d P + d2 T, T the sum of tan(turn / 2)."""
    turns = (90.0, 90.0, -90.0, 90.0, 90.0 + bay_deg, 90.0 - bay_deg)
    tangents = sum(math.tan(math.radians(0.5 * turn)) for turn in turns)
    perimeter = sum(lengths)
    moved = moved_lengths_m(lengths, turns, [offset_m] * 6)
    assert sum(moved) == pytest.approx(perimeter + 2.0 * offset_m * tangents)
    strips = sum(offset_m * 0.5 * (a + b) for a, b in zip(lengths, moved, strict=True))
    assert strips == pytest.approx(offset_m * perimeter + offset_m**2 * tangents)


def test_the_usual_supplement_is_the_one_of_the_dimensions() -> None:
    for dimensions, usual, source in (
        ("inside", 0.05, "EN 12831-1:2017 table B.1"),
        ("outside", 0.05, "EN 12831-1:2017 table B.1"),
        ("overall inside", 0.15, "SAP 2005 appendix K"),
    ):
        silent, stated = losses_of(two_rooms(dimensions))[0], losses_of(two_rooms(dimensions, usual))[0]
        assert silent.total_w == stated.total_w
        (line,) = [line for line in silent.assumptions if line.text.startswith(f"thermal bridges {usual:g} ")]
        assert line.source.startswith(source)
        assert ("a value for outside dimensions" in line.text) == (dimensions == "inside")


@pytest.mark.parametrize(("used", "other", "other_bridges"), [
    ("inside", "outside", 0.1), ("outside", "inside", 0.1), ("overall inside", "outside", 0.05),
])  # fmt: skip
def test_what_other_dimensions_would_change_is_reported_in_watts(used: str, other: str, other_bridges: float) -> None:
    survey = two_rooms(used, 0.1)
    losses = losses_of(survey)
    (line,) = [line for line in building_load(survey, losses, AREAS).assumptions if "dimensions" in line.text]
    change = sum(loss.total_w for loss in losses_of(two_rooms(other, other_bridges))) - sum(
        loss.total_w for loss in losses
    )
    assert abs(change) > 5.0
    assert f"with {other} dimensions and {other_bridges:g} W/(m² K) it would be {abs(change):.0f} W (" in line.text
    assert line.text.endswith("higher" if change > 0.0 else "lower")


def test_walls_without_layers_have_the_usual_thickness_and_a_stated_one_goes_before() -> None:
    survey = two_rooms("outside")
    bare = tuple(BuildUp(one.name, u_w_m2k=0.5) for one in BUILD_UPS)
    usual = room_sizes(replace(survey, build_ups=bare), survey.rooms[0], 12.0)
    assert usual.lengths_m == pytest.approx((3.0 + 0.3 + 0.06, 4.6, 3.36, 4.6))
    assert (usual.below_m, usual.above_m) == (0.3, 0.3)
    building = replace(survey.building, wall_thickness_m=0.5)
    thick = room_sizes(replace(survey, build_ups=bare, building=building), survey.rooms[0], 12.0)
    assert thick.lengths_m == pytest.approx((3.0 + 0.5 + 0.06, 5.0, 3.56, 5.0))


def test_a_wall_round_an_outside_corner_shrinks_to_nothing_and_not_below() -> None:
    """Outside, the short wall between two outside corners is shorter than inside; its window takes all of it."""
    survey = two_rooms("outside")
    walls = (
        Wall(3.0, 90.0, **OUT), Wall(1.0, 90.0, **OUT), Wall(1.0, -90.0, **OUT), Wall(0.5, -90.0, **OUT),
        Wall(1.0, 90.0, **OUT), Wall(1.0, 90.0, **OUT), Wall(3.0, 90.0, **OUT), Wall(2.5, 90.0, **OUT),
    )  # fmt: skip
    room = replace(survey.rooms[0], walls=walls)
    loss = room_losses(replace(survey, rooms=(room,)), {"West": 7.0})[0]
    assert area(loss, "wall 4") == 0.0
    assert area(loss, "wall 1") == pytest.approx((3.0 + 2.0 * OUTER_M) * (2.4 + FLOOR_M + ROOF_M))


def test_a_cellar_wall_grows_below_by_the_floor_and_above_by_the_ceiling() -> None:
    survey = two_rooms("outside")
    wall = Wall(3.0, beyond="ground", build_up="outer")
    for depth, below, above in ((1.0, 1.0 + FLOOR_M, 1.4 + ROOF_M), (2.4, 2.4 + FLOOR_M + ROOF_M, 0.0)):
        room = replace(survey.rooms[0], depth_below_ground_m=depth, walls=(wall, *survey.rooms[0].walls[1:]))
        loss = room_losses(replace(survey, rooms=(room, survey.rooms[1])), AREAS)[0]
        length = 3.0 + OUTER_M + 0.5 * INNER_M
        label = "wall 1" if above == 0.0 else "wall 1, below ground"
        assert area(loss, label) == pytest.approx(length * below)
        if above:
            assert area(loss, "wall 1, above ground") == pytest.approx(length * above)


def test_ground_water_near_the_floor_takes_more() -> None:
    survey = two_rooms()
    slab = FloorOrCeiling("ground", "floor")
    building = replace(survey.building, slab_area_m2=28.0, slab_exposed_perimeter_m=22.0)
    room = replace(survey.rooms[0], floor=slab)
    rooms = (room, survey.rooms[1])
    heat_w = []
    for factor in (None, 1.0, 1.15):
        wet = replace(survey, rooms=rooms, building=replace(building, ground_water_factor=factor))
        heat_w.append(next(part.heat_w for part in losses_of(wet)[0].parts if part.label == "floor"))
    assert heat_w[0] == heat_w[1]
    assert heat_w[2] == pytest.approx(1.15 * heat_w[1])


def test_half_a_floor_between_heated_rooms_belongs_to_each() -> None:
    """By its layers, 0.3 m where nothing is known of it; towards the ground none of it but outside."""
    survey = two_rooms("overall inside")
    deck = BuildUp("thin deck", (Layer("board", 0.08, conductivity_w_mk=0.1),))
    for build_up, beyond, below_m in (
        ("thin deck", "neighbour", 0.04), (None, "neighbour", 0.15), ("thin deck", "ground", 0.0),
    ):  # fmt: skip
        room = replace(survey.rooms[0], floor=FloorOrCeiling(beyond, build_up, neighbour_c=18.0))
        sizes = room_sizes(replace(survey, build_ups=(*survey.build_ups, deck)), room, 12.0)
        assert sizes.below_m == pytest.approx(below_m)
