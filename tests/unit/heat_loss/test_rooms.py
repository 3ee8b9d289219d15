"""Heat loss of rooms and of the building: what goes in, what is assumed, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import heatloop as hl
from heatloop.findings.input_errors import InputError
from heatloop.heat_loss import defaults
from heatloop.heat_loss.model import LossPart, RoomLoss
from heatloop.heat_loss.rooms import room_losses
from heatloop.physics.fabric import ground, layers
from heatloop.survey.building import (
    Building,
    BuildUp,
    FloorOrCeiling,
    Layer,
    Opening,
    Reheat,
    Room,
    Wall,
)
from heatloop.survey.entry import read_survey
from heatloop.survey.survey import Project
from tests.helpers.heat_loss_survey import BUILD_UPS, faults_of, loss_of, room_of, survey_of
from tests.helpers.paths import DATA

WINDOW = Opening("window", 1.0, 1.5, 1.2, 0.9, build_up="glass")
EVERY_KEY = """
[project]
name = "Every key"
outdoor_c = -5.0
annual_mean_c = 9.0
flow_temp_c = 50.0
catalogue = "catalogue.toml"

[building]
slab_area_m2 = 60.0
slab_exposed_perimeter_m = 30.0
thermal_bridge_w_m2k = 0.10
wall_thickness_m = 0.4
ground_conductivity_w_mk = 1.5
ground_season_factor = 1.2
air_wh_m3k = 0.33
n50_h = 6.0
shielding = "heavy"
edge_insulation = { width_m = 0.8, thickness_m = 0.05, conductivity_w_mk = 0.035, upright = true }
underfloor = { height_m = 0.4, wall_u_w_m2k = 1.2, vents_m2_m = 0.002, wind_m_s = 4.0, wind_shelter = 0.1 }
reheat = { hours = 3, drop_k = 1 }

[[build_up]]
name = "frame"
correction_w_m2k = 0.01
[[build_up.layers]]
material = "plasterboard"
thickness_m = 0.0125
conductivity_w_mk = 0.21
[[build_up.layers]]
material = "services"
thickness_m = 0.025
cavity = "unventilated"
bridge_fraction = 0.1
bridge_conductivity_w_mk = 0.13
[[build_up.layers]]
material = "wool"
thickness_m = 0.14
conductivity_w_mk = 0.035
bridge = "stud"
bridge_fraction = 0.15
bridge_conductivity_w_mk = 0.13
[[build_up]]
name = "window"
[build_up.window]
glass_u_w_m2k = 1.1
frame_u_w_m2k = 1.4
frame_width_m = 0.08
spacer_psi_w_mk = 0.04
panes_across = 2
panes_up = 1
[[build_up]]
name = "boards"
suspended = true
layers = [ { material = "boards", thickness_m = 0.022, conductivity_w_mk = 0.13 } ]

[[room]]
name = "Study"
indoor_c = 20.0
height_m = 2.5
use = "office"
heat_recovery = 0.5
infiltration_changes_h = 0.2
floor = { beyond = "ground", build_up = "boards" }
ceiling = { beyond = "outdoors", build_up = "roof, 100 mm loft insulation at the joists", area_m2 = 14.0 }
walls = [
  { length_m = 4.0, beyond = "outdoors", build_up = "frame", openings = [
    { kind = "window", start_m = 1.0, width_m = 1.8, height_m = 1.2, sill_m = 0.9, build_up = "window" } ] },
  { length_m = 3.0 }, { length_m = 4.0 }, { length_m = 3.0 },
]

[[loop]]
name = "Study"
profile = "two-channel 140"
arrangement = "there-and-back"
tails = { pipe = "copper 15", length_m = 2.0 }
crossing = { pipe = "copper 15", depth_m = 0.2 }
route = [ { room = "Study", walls = [1, 2] } ]
"""


def part_of(loss: RoomLoss, label: str) -> LossPart:
    """The part of that label."""
    return next(part for part in loss.parts if part.label == label)


def test_a_wall_loses_by_its_net_area_and_its_opening_apart() -> None:
    loss = loss_of(survey_of(room_of(Wall(4.0, beyond="outdoors", build_up="wall", openings=(WINDOW,)))))
    assert part_of(loss, "wall 1").area_m2 == pytest.approx(4.0 * 2.5 - 1.8)
    assert part_of(loss, "wall 1").heat_w == pytest.approx(8.2 * 0.5 * 25.0)
    assert part_of(loss, "wall 1, window 1").heat_w == pytest.approx(1.8 * 1.4 * 25.0)
    assert part_of(loss, "wall 1, window 1").kind == "windows"


def test_doors_and_glazed_doors_are_reported_apart() -> None:
    openings = (
        Opening("door", 0.1, 0.9, 2.0, build_up="door"),
        Opening("glazed door", 1.5, 1.5, 2.0, name="terrace", build_up="glass"),
    )
    loss = loss_of(survey_of(room_of(Wall(4.0, beyond="outdoors", build_up="wall", openings=openings))))
    assert part_of(loss, "wall 1, door 1").kind == "doors"
    assert part_of(loss, "wall 1, terrace").kind == "windows"


def test_an_opening_may_face_elsewhere_than_its_wall() -> None:
    door = Opening("door", 0.1, 0.9, 2.0, build_up="door", beyond="Garage")
    loss = loss_of(survey_of(room_of(Wall(4.0, beyond="outdoors", build_up="wall", openings=(door,)))))
    assert part_of(loss, "wall 1, door 1").heat_w == pytest.approx(1.8 * 2.0 * 15.0)


def test_spaces_stand_at_their_temperature_or_by_their_factor() -> None:
    loss = loss_of(
        survey_of(
            room_of(
                Wall(4.0, beyond="Garage", build_up="wall"),
                ceiling=FloorOrCeiling("Loft", "wall"),
            )
        )
    )
    assert part_of(loss, "wall 1").adjacent_temp_c == 5.0
    assert part_of(loss, "ceiling").adjacent_temp_c == pytest.approx(20.0 - 0.9 * 25.0)
    assert part_of(loss, "ceiling").heat_w == pytest.approx(10.0 * 0.5 * 0.9 * 25.0)


def test_a_neighbour_stands_at_its_stated_temperature() -> None:
    loss = loss_of(survey_of(room_of(Wall(4.0, beyond="neighbour", neighbour_c=12.0, build_up="inner"))))
    assert loss.total_w == pytest.approx(10.0 * 2.0 * 8.0)


def test_what_one_room_gives_the_other_takes() -> None:
    warm = Room("Warm", 22.0, 2.5, air_changes_h=0.0, walls=(Wall(4.0, beyond="Cool", build_up="inner"),))
    cool = Room("Cool", 18.0, 2.5, air_changes_h=0.0, walls=(Wall(4.0, beyond="Warm", build_up="inner"),))
    losses = room_losses(survey_of(warm, cool), {"Warm": 10.0, "Cool": 10.0})
    assert losses[0].total_w == pytest.approx(10.0 * 2.0 * 4.0)
    assert losses[1].total_w == pytest.approx(-losses[0].total_w)
    assert any("gains more" in caution for caution in losses[1].cautions)


def test_floor_and_ceiling_between_two_rooms_agree() -> None:
    floor = BuildUp("floor", (Layer("boards", 0.022, 0.13), Layer("joists", 0.2, cavity="unventilated")))
    below = room_of(Wall(4.0), ceiling=FloorOrCeiling("Above", "floor"))
    above = Room("Above", 17.0, 2.5, air_changes_h=0.0, walls=(Wall(4.0),), floor=FloorOrCeiling("Room", "floor"))
    losses = room_losses(survey_of(below, above, build_ups=(floor,)), {"Room": 10.0, "Above": 10.0})
    u = 1.0 / (0.10 + 0.022 / 0.13 + 0.16 + 0.10)
    assert losses[0].total_w == pytest.approx(10.0 * u * 3.0)
    assert losses[1].total_w == pytest.approx(-losses[0].total_w)


def test_the_ground_takes_by_slab_mean_and_season() -> None:
    loss = loss_of(survey_of(room_of(Wall(4.0), floor=FloorOrCeiling("ground", "slab"))))
    floor = part_of(loss, "floor")
    b_m, thickness_m = 4.0, 0.3 + 2.0 * (0.17 + 0.065 / 1.15 + 0.08 / 0.022 + 0.04)
    assert floor.u_w_m2k == pytest.approx(2.0 / (0.457 * b_m + thickness_m))
    assert floor.heat_w == pytest.approx(10.0 * floor.u_w_m2k * 1.45 * 10.0)  # type: ignore[operator]
    assert floor.factor == pytest.approx(1.45 * 10.0 / 25.0)


def test_a_sloping_ceiling_counts_by_its_own_area() -> None:
    flat = loss_of(survey_of(room_of(Wall(4.0), ceiling=FloorOrCeiling("outdoors", "wall"))))
    sloping = loss_of(survey_of(room_of(Wall(4.0), ceiling=FloorOrCeiling("outdoors", "wall", area_m2=14.0))))
    assert sloping.total_w == pytest.approx(1.4 * flat.total_w)


def test_thermal_bridges_on_what_is_exposed_and_nowhere_else() -> None:
    building = Building(60.0, 30.0, thermal_bridge_w_m2k=0.1)
    walls = (
        Wall(4.0, beyond="outdoors", build_up="wall", openings=(WINDOW,)),
        Wall(3.0, beyond="Garage", build_up="wall"),
        Wall(4.0, beyond="neighbour", neighbour_c=15.0, build_up="inner"),
    )
    loss = loss_of(survey_of(room_of(*walls, floor=FloorOrCeiling("ground", "slab")), building=building))
    bridges = {part.beyond: part for part in loss.parts if part.kind == "bridges"}
    assert set(bridges) == {"outdoors", "Garage"}
    assert bridges["outdoors"].heat_w == pytest.approx(10.0 * 0.1 * 25.0)
    assert bridges["Garage"].heat_w == pytest.approx(7.5 * 0.1 * 15.0)


@settings(max_examples=40, deadline=None)
@given(
    outdoor_c=st.floats(-25.0, 10.0),
    length_m=st.floats(0.5, 20.0),
    changes=st.floats(0.0, 3.0),
    neighbour_c=st.floats(0.0, 30.0),
)
def test_parts_follow_their_factor_and_sum_to_the_total(
    outdoor_c: float, length_m: float, changes: float, neighbour_c: float
) -> None:
    walls = (
        Wall(length_m, beyond="outdoors", build_up="wall"),
        Wall(length_m, beyond="neighbour", neighbour_c=neighbour_c, build_up="inner"),
        Wall(3.0, beyond="Loft", build_up="wall"),
    )
    room = room_of(*walls, air_changes_h=changes, floor=FloorOrCeiling("ground", "slab"))
    survey = survey_of(room, project=Project("unit", outdoor_c, 50.0, "none", annual_mean_c=9.0))
    loss = loss_of(survey)
    assert loss.total_w == pytest.approx(sum(part.heat_w for part in loss.parts))
    for part in loss.parts:
        if part.area_m2 is not None and part.u_w_m2k is not None:
            by_factor = part.area_m2 * part.u_w_m2k * part.factor * (20.0 - outdoor_c)
            assert part.heat_w == pytest.approx(by_factor, abs=1e-9)


def test_reheat_by_table_or_by_room() -> None:
    building = Building(reheat=Reheat(hours=2, drop_k=2), thermal_bridge_w_m2k=0.0)
    by_table = loss_of(survey_of(room_of(Wall(4.0)), building=building))
    assert by_table.total_w == pytest.approx(110.0)
    assert any("D.10b" in str(line) for line in by_table.assumptions)
    by_room = loss_of(survey_of(room_of(Wall(4.0), reheat_w_m2=7.5), building=building))
    assert by_room.total_w == pytest.approx(75.0)


def test_a_floor_over_a_neighbour_as_warm_as_the_room_counts_as_losing() -> None:
    build_ups = (*BUILD_UPS, BuildUp("flags", (Layer("stone", 0.05, 1.5),)))
    u = {
        neighbour_c: next(
            part.u_w_m2k
            for part in loss_of(
                survey_of(
                    room_of(Wall(4.0), floor=FloorOrCeiling("neighbour", "flags", neighbour_c)), build_ups=build_ups
                )
            ).parts
            if part.kind == "floor"
        )
        for neighbour_c in (19.0, 20.0, 21.0)
    }
    assert u[20.0] == u[19.0] != u[21.0]


def test_openings_larger_than_their_wall_are_a_fault_there() -> None:
    large = replace(WINDOW, width_m=3.0, height_m=2.0)
    lines = faults_of(survey_of(room_of(Wall(4.0), Wall(2.0, beyond="outdoors", build_up="wall", openings=(large,)))))
    place = 'survey: room "Room", wall 2'
    assert lines == [f"{place}: found openings 1.00 m2 larger than the wall; required: openings that fit into the wall"]


def test_a_stated_loss_is_kept_with_who_stated_it() -> None:
    room = Room("Room", 20.0, heat_loss_w=420.0, heat_loss_source="the heat pump designer")
    loss = loss_of(survey_of(room))
    assert (loss.total_w, loss.loss_source, loss.parts) == (420.0, "the heat pump designer", ())
    (line,) = loss.assumptions
    assert line.text == "stated heat losses are at this project's temperatures, ventilation and reheat included"
    assert line.source == defaults.STATED_SOURCE


def test_what_is_not_said_is_listed() -> None:
    project = Project("unit", -5.0, 50.0, "none")
    room = room_of(Wall(4.0), Wall(3.0, beyond="Other"), air_changes_h=None, floor=FloorOrCeiling("ground", "slab"))
    other = Room("Other", 20.0, heat_loss_w=100.0)
    building = Building(slab_area_m2=60.0, slab_exposed_perimeter_m=30.0)
    loss = loss_of(survey_of(room, other, building=building, project=project))
    listed = "\n".join(map(str, loss.assumptions))
    for words in (
        "wall 1: adjacent space not stated",
        "wall 2: no build_up stated, and none required",
        "ceiling: adjacent space not stated",
        "annual mean outdoors 10 °C",
        "ground conductivity 2 W/(m K)",
        "correction of the loss to the ground for the cold season, factor 1.45",
        "heat capacity of air 0.34",
        "outdoor air at least 0.5",
        "no reheat",
    ):
        assert words in listed
    assert len(set(loss.assumptions)) == len(loss.assumptions)


def test_unlikely_but_legal_gives_cautions() -> None:
    leaky = (*BUILD_UPS, BuildUp("leaky", u_w_m2k=7.0))
    steel = BuildUp(
        "steel",
        (Layer("wool", 0.1, 0.035, bridge_fraction=0.01, bridge_conductivity_w_mk=50.0),),
    )
    room = room_of(
        Wall(4.0, beyond="outdoors", build_up="leaky"),
        Wall(4.0, beyond="outdoors", build_up="steel"),
        height_m=6.0,
    )
    cautions = "\n".join(loss_of(survey_of(room, build_ups=(*leaky, steel))).cautions)
    assert "U 7.00 W/(m2 K) is above 6" in cautions
    assert "limits method" in cautions
    assert "height 6 m" in cautions


def test_an_ordinary_room_gives_no_caution() -> None:
    assert loss_of(survey_of(room_of(Wall(4.0, beyond="outdoors", build_up="wall")))).cautions == ()


@pytest.mark.parametrize(
    ("room", "words"),
    [
        (room_of(Wall(4.0, beyond="outdoors")), 'room "Room", wall 1: found no build_up towards "outdoors"'),
        (room_of(Wall(4.0, beyond="Shed", build_up="wall")), 'beyond = "Shed"; required: "outdoors"'),
        (room_of(Wall(4.0, beyond="outdoors", build_up="none")), 'build_up = "none"; required: one of "wall"'),
        (room_of(Wall(4.0, beyond="neighbour", build_up="wall")), "neighbour_c as well"),
        (room_of(Wall(4.0, beyond="ground", build_up="slab")), "depth_below_ground_m"),
        (room_of(Wall(4.0), ceiling=FloorOrCeiling("ground", "slab")), "a floor or a wall against the ground"),
        (room_of(Wall(4.0), indoor_c=-8.0), "above the outdoor design temperature, -5 °C"),
        (Room("Room", 20.0), "no walls to calculate its heat loss"),
        (
            room_of(Wall(0.5, beyond="outdoors", build_up="wall", openings=(WINDOW,))),
            "openings 0.55 m2 larger than the wall",
        ),
    ],
)
def test_a_room_that_cannot_be_computed_is_one_line(room: Room, words: str) -> None:
    (fault,) = faults_of(survey_of(room))
    assert words in fault


def test_all_faults_come_at_once_and_once() -> None:
    first = room_of(Wall(4.0, beyond="outdoors"), Wall(3.0, beyond="Shed", build_up="wall"))
    second = replace(first, name="Second", walls=(Wall(4.0, beyond="ground", build_up="slab"),))
    faults = faults_of(survey_of(first, second, building=Building(reheat=Reheat(9, 1))))
    assert len(faults) == 4
    assert "hours from 1 to 4" in faults[0]


def test_a_slab_without_its_size_is_asked_for_once() -> None:
    rooms = [
        Room(name, 20.0, air_changes_h=0.0, walls=(Wall(4.0),), floor=FloorOrCeiling("ground", "slab"))
        for name in ("A", "B")
    ]
    (fault,) = faults_of(survey_of(*rooms, building=Building()))
    assert "slab_exposed_perimeter_m of the whole slab" in fault


def test_a_room_no_warmer_than_outdoors_is_refused() -> None:
    for indoor_c in (-5.0, -6.0):
        (line,) = faults_of(survey_of(room_of(Wall(4.0), indoor_c=indoor_c)))
        assert f"found indoor_c {indoor_c:g}; required: above the outdoor design temperature, -5 °C" in line
    assert loss_of(survey_of(room_of(Wall(4.0), indoor_c=-4.0))).total_w == pytest.approx(0.0)


def test_every_key_of_the_file_reaches_the_loss(tmp_path: Path) -> None:
    catalogue = DATA / "alder-lodge" / "catalogue.toml"
    (tmp_path / "catalogue.toml").write_text(catalogue.read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "survey.toml").write_text(EVERY_KEY, encoding="utf-8")
    survey = read_survey(tmp_path / "survey.toml")
    loss = loss_of(survey, 12.0)
    air = next(part for part in loss.parts if part.kind == "air")
    assert air.heat_w == pytest.approx(0.33 * 30.0 * (0.2 + 0.8 * 0.5) * 25.0)
    assert part_of(loss, "reheat 4 W/m2").heat_w == pytest.approx(48.0)
    assert part_of(loss, "ceiling").heat_w == pytest.approx(14.0 * 0.40 * 25.0)
    floor = part_of(loss, "floor")
    deck = ground.suspended_u_w_m2k(4.0, 0.022 / 0.13, ground.Void(0.4, 1.2, 0.002, 4.0, 0.1), 0.4, 1.5)
    assert floor.u_w_m2k == pytest.approx(deck)
    assert floor.factor == pytest.approx(1.2 * 11.0 / 25.0)
    bridges = part_of(loss, "thermal bridges to outdoors")
    assert bridges.heat_w == pytest.approx((10.0 + 14.0) * 0.10 * 25.0)
    wall = part_of(loss, "wall 1")
    build_up = (
        layers.LayerResistance(0.0125 / 0.21),
        layers.LayerResistance(0.18, 0.025 / 0.13, 0.1),
        layers.LayerResistance(0.14 / 0.035, 0.14 / 0.13, 0.15, "stud"),
    )
    assert wall.u_w_m2k == pytest.approx(layers.total_resistance(build_up, 0.13, 0.04).u_w_m2k + 0.01)
    texts = "\n".join(map(str, loss.assumptions))
    for default in ("wind shelter", "ground conductivity", "thickness of the walls", "heat capacity of air"):
        assert default not in texts


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
