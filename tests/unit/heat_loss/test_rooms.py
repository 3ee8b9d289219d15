"""Heat loss of rooms and of the building: what goes in, what is assumed, and what is refused."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatloop.findings.input_errors import InputError
from heatloop.heat_loss import defaults
from heatloop.heat_loss.building_load import building_load
from heatloop.heat_loss.model import LossPart, RoomLoss
from heatloop.heat_loss.rooms import room_losses, wall_u_w_m2k
from heatloop.heat_loss.u_values import STATED_U_SOURCE, build_up_named, glazed_openings
from heatloop.heat_loss.ventilation import room_air
from heatloop.physics.fabric import ground, layers
from heatloop.physics.fabric.usual_build_ups import usual_build_ups
from heatloop.survey.building import (
    Building,
    BuildUp,
    EdgeInsulation,
    FloorOrCeiling,
    Layer,
    Opening,
    Reheat,
    Room,
    Underfloor,
    UnheatedSpace,
    Wall,
    WindowParts,
)
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.entry import read_survey
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source
from tests.helpers.paths import DATA

BUILD_UPS = (
    BuildUp("wall", u_w_m2k=0.5),
    BuildUp("glass", u_w_m2k=1.4),
    BuildUp("door", u_w_m2k=2.0),
    BuildUp("inner", u_w_m2k=2.0),
    BuildUp("slab", (Layer("screed", 0.065, 1.15), Layer("insulation", 0.08, 0.022))),
    BuildUp("joists", u_w_m2k=1.5),
)
WINDOW = Opening("window", 1.0, 1.5, 1.2, 0.9, build_up="glass")


def survey_of(*rooms: Room, building: Building | None = None, **changes: object) -> SurveyData:
    """A survey of these rooms at -5 °C outdoors, without loops."""
    survey = SurveyData(
        Project("unit", -5.0, 50.0, "none.toml", annual_mean_c=10.0),
        building or Building(slab_area_m2=60.0, slab_exposed_perimeter_m=30.0, thermal_bridge_w_m2k=0.0),
        BUILD_UPS,
        (UnheatedSpace("Garage", temp_c=5.0), UnheatedSpace("Loft", temperature_factor=0.9)),
        rooms,
        Source(),
        (),
        (),
        Catalogue(),
    )
    return replace(survey, **changes)  # type: ignore[arg-type]


def room_of(*walls: Wall, **keys: object) -> Room:
    """A room of 20 °C and 2.5 m height, without outdoor air unless it is given."""
    given_keys: dict[str, object] = {"indoor_c": 20.0, "height_m": 2.5, "air_changes_h": 0.0, "walls": walls}
    return Room("Room", **{**given_keys, **keys})  # type: ignore[arg-type]


def loss_of(survey: SurveyData, area_m2: float = 10.0) -> RoomLoss:
    """The loss of the first room."""
    return room_losses(survey, {room.name: area_m2 for room in survey.rooms})[0]


def part_of(loss: RoomLoss, label: str) -> LossPart:
    """The part of that label."""
    return next(part for part in loss.parts if part.label == label)


def faults_of(survey: SurveyData, area_m2: float = 10.0) -> list[str]:
    """The lines of the error that the survey gives."""
    with pytest.raises(InputError) as caught:
        loss_of(survey, area_m2)
    return str(caught.value).splitlines()


# --- what a room loses --------------------------------------------------------------------------------


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
    assert part_of(loss, "wall 1").temp_beyond_c == 5.0
    assert part_of(loss, "ceiling").temp_beyond_c == pytest.approx(20.0 - 0.9 * 25.0)
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


# --- outdoor air and reheat ---------------------------------------------------------------------------


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


def test_reheat_by_table_or_by_room() -> None:
    building = Building(reheat=Reheat(hours=2, drop_k=2), thermal_bridge_w_m2k=0.0)
    by_table = loss_of(survey_of(room_of(Wall(4.0)), building=building))
    assert by_table.total_w == pytest.approx(110.0)
    assert any("D.10b" in str(line) for line in by_table.assumptions)
    by_room = loss_of(survey_of(room_of(Wall(4.0), reheat_w_m2=7.5), building=building))
    assert by_room.total_w == pytest.approx(75.0)


def test_the_air_constant_can_be_overridden() -> None:
    building = Building(air_wh_m3k=0.30, thermal_bridge_w_m2k=0.0)
    loss = loss_of(survey_of(room_of(Wall(4.0), air_changes_h=1.0), building=building))
    assert loss.total_w == pytest.approx(0.30 * 25.0 * 25.0)
    assert not any("heat capacity of air" in str(line) for line in loss.assumptions)


# --- build-ups in their place -------------------------------------------------------------------------


def test_a_library_build_up_tells_its_source() -> None:
    wall = Wall(4.0, beyond="outdoors", build_up="solid brick wall, before 1965")
    loss = loss_of(survey_of(room_of(wall)))
    assert part_of(loss, "wall 1").u_w_m2k == 2.1
    (note,) = (one for one in loss.assumptions if "from the library" in one.text)
    assert "table UV1" in note.source


def test_the_survey_goes_before_the_library() -> None:
    name = "solid brick wall, before 1965"
    wall = Wall(4.0, beyond="outdoors", build_up=name)
    loss = loss_of(survey_of(room_of(wall), build_ups=(BuildUp(name, u_w_m2k=1.3),)))
    assert part_of(loss, "wall 1").u_w_m2k == 1.3


def test_a_window_by_its_parts_depends_on_its_size() -> None:
    parts = BuildUp("parts", window=WindowParts(1.1, 1.5, 0.1, 0.04))
    big, small = (Opening("window", 0.0, width, 1.2, build_up="parts") for width in (2.0, 0.6))
    walls = (
        Wall(4.0, beyond="outdoors", build_up="wall", openings=(big,)),
        Wall(4.0, beyond="outdoors", build_up="wall", openings=(small,)),
    )
    loss = loss_of(survey_of(room_of(*walls), build_ups=(*BUILD_UPS, parts)))
    u_big, u_small = (part_of(loss, f"wall {n}, window 1").u_w_m2k for n in (1, 2))
    by_hand = (1.8 * 1.0 * 1.1 + (2.4 - 1.8) * 1.5 + 2 * (1.8 + 1.0) * 0.04) / 2.4
    assert u_big == pytest.approx(by_hand)
    assert u_small is not None
    assert u_big is not None
    assert u_small > u_big


def test_a_well_ventilated_cavity_drops_what_lies_outside_it() -> None:
    clad = BuildUp(
        "clad",
        (
            Layer("block", 0.1, 0.5),
            Layer("cavity", 0.05, cavity="well ventilated"),
            Layer("brick", 0.1, 0.77),
        ),
    )
    loss = loss_of(survey_of(room_of(Wall(4.0, beyond="outdoors", build_up="clad")), build_ups=(clad,)))
    assert part_of(loss, "wall 1").u_w_m2k == pytest.approx(1.0 / (0.13 + 0.2 + 0.13))
    assert any("brick left out" in str(line) for line in loss.assumptions)


def _clad(*cavities: Layer) -> BuildUp:
    return BuildUp(
        "clad", (Layer("insulated frame", 0.1, resistance_m2k_w=1.0), *cavities, Layer("boards", 0.02, 0.13))
    )


def _clad_loss(*cavities: Layer) -> RoomLoss:
    clad = _clad(*cavities)
    return loss_of(survey_of(room_of(Wall(4.0, beyond="outdoors", build_up="clad")), build_ups=(clad,)))


def test_a_slightly_ventilated_cavity_lies_between_closed_and_open_by_its_openings() -> None:
    closed, open_ = 0.13 + 1.0 + 0.18 + 0.02 / 0.13 + 0.04, 0.13 + 1.0 + 0.13
    for area, share in ((500.0, 0.0), (750.0, 0.25), (1500.0, 1.0)):
        loss = _clad_loss(Layer("cavity", 0.05, cavity="slightly ventilated", vent_mm2_m=area))
        u = part_of(loss, "wall 1").u_w_m2k
        assert u == pytest.approx(1.0 / ((1.0 - share) * closed + share * open_)), area
        assert any(f"by openings of {area:g} mm2" in str(line) for line in loss.assumptions)


def test_openings_that_nobody_states_are_in_the_middle_and_said_so() -> None:
    silent = _clad_loss(Layer("cavity", 0.05, cavity="slightly ventilated"))
    stated = _clad_loss(Layer("cavity", 0.05, cavity="slightly ventilated", vent_mm2_m=1000.0))
    assert silent.total_w == stated.total_w
    (line,) = set(silent.assumptions) - set(stated.assumptions)
    assert str(line).startswith("openings of a slightly ventilated air layer 1000 mm2/m")


def test_of_two_ventilated_cavities_the_outer_one_counts_in_the_closed_state_of_the_inner() -> None:
    outer = Layer("outer cavity", 0.05, cavity="well ventilated")
    loss = _clad_loss(Layer("cavity", 0.05, cavity="slightly ventilated"), outer)
    still, ventilated = 0.13 + 1.0 + 0.18 + 0.13, 0.13 + 1.0 + 0.13
    assert part_of(loss, "wall 1").u_w_m2k == pytest.approx(2.0 / (still + ventilated))


def test_a_correction_is_added_to_u() -> None:
    plain = BuildUp("layered", (Layer("block", 0.2, 0.5),))
    walls = Wall(4.0, beyond="outdoors", build_up="layered")
    u = [
        part_of(loss_of(survey_of(room_of(walls), build_ups=(build_up,))), "wall 1").u_w_m2k
        for build_up in (plain, replace(plain, correction_w_m2k=0.02))
    ]
    assert u[1] == pytest.approx((u[0] or 0.0) + 0.02)


def test_edge_insulation_and_void_change_the_floor() -> None:
    floor = FloorOrCeiling("ground", "bare")
    bare = BuildUp("bare", (Layer("concrete", 0.15, 2.0),))
    plain = Building(60.0, 30.0, thermal_bridge_w_m2k=0.0)
    edged = replace(plain, edge_insulation=EdgeInsulation(1.0, 0.1, 0.035))

    def u(building: Building, build_up: BuildUp) -> float:
        survey = survey_of(room_of(Wall(4.0), floor=floor), building=building, build_ups=(build_up,))
        return part_of(loss_of(survey), "floor").u_w_m2k or 0.0

    assert u(edged, bare) < u(plain, bare)
    void = replace(bare, suspended=True)
    still = replace(plain, underfloor=Underfloor(vents_m2_m=0.0))
    assert u(still, void) < u(plain, void)
    survey = survey_of(room_of(Wall(4.0), floor=floor), building=still, build_ups=(void,))
    notes = loss_of(survey).assumptions
    assert any("mean wind" in str(line) for line in notes)
    assert not any("vents of the void" in str(line) for line in notes)


def test_a_cellar_wall_is_split_at_the_ground() -> None:
    build_ups = (*BUILD_UPS, BuildUp("stone", (Layer("stone", 0.4, 1.5),)))
    room = room_of(
        Wall(4.0, beyond="ground", build_up="stone"),
        floor=FloorOrCeiling("ground", "slab"),
        depth_below_ground_m=1.5,
    )
    loss = loss_of(survey_of(room, build_ups=build_ups))
    below, above = part_of(loss, "wall 1, below ground"), part_of(loss, "wall 1, above ground")
    assert below.area_m2 == pytest.approx(6.0)
    assert above.area_m2 == pytest.approx(4.0)
    assert (below.beyond, above.beyond) == ("ground", "outdoors")
    assert below.u_w_m2k is not None
    assert above.u_w_m2k is not None
    assert below.u_w_m2k < above.u_w_m2k
    shallow = loss_of(survey_of(replace(room, depth_below_ground_m=0.5), build_ups=build_ups))
    assert shallow.total_w > loss.total_w


def test_a_cellar_wall_by_hand_and_what_stands_five_centimetres_above_the_ground() -> None:
    """ISO 13370:2017 7.4.3: d_w 2 (0.13 + 0.4/1.5 + 0.04) m, d_f 0.3 + 2 (0.17 + 0.04) m over a floor without build-up,
    2.45 m deep, the ground 2 W/(m K)."""
    build_ups = (*BUILD_UPS, BuildUp("stone", (Layer("stone", 0.4, 1.5),)))
    room = room_of(
        Wall(4.0, beyond="ground", build_up="stone"),
        floor=FloorOrCeiling("neighbour", neighbour_c=20.0),
        depth_below_ground_m=2.45,
    )
    loss = loss_of(survey_of(room, build_ups=build_ups, building=Building(wall_thickness_m=0.4)))
    below, above = part_of(loss, "wall 1, below ground"), part_of(loss, "wall 1, above ground")
    wall_m, floor_m = 2.0 * (0.17 + 0.4 / 1.5), 0.4 + 2.0 * 0.21
    by_hand = 4.0 / (math.pi * 2.45) * (1.0 + 0.5 * floor_m / (floor_m + 2.45)) * math.log(2.45 / wall_m + 1.0)
    assert below.u_w_m2k == pytest.approx(by_hand, rel=1e-9)
    assert above.area_m2 == pytest.approx(4.0 * 0.05, rel=1e-9)
    assert above.heat_w > 0.0


def test_a_cellar_wall_counts_the_floor_it_stands_on() -> None:
    """The floor's own resistance, 0.05 m of 1.5 W/(m K), widens d_f to 0.4 + 2 (0.17 + 0.05/1.5 + 0.04) m."""
    stone, flags = BuildUp("stone", (Layer("stone", 0.8, 1.5),)), BuildUp("flags", (Layer("stone", 0.05, 1.5),))
    build_ups = (*BUILD_UPS, stone, flags)
    room = room_of(
        Wall(4.0, beyond="ground", build_up="stone"), floor=FloorOrCeiling("ground", "flags"), depth_below_ground_m=1.5
    )
    building = Building(slab_area_m2=60.0, slab_exposed_perimeter_m=30.0, wall_thickness_m=0.4)
    below = part_of(loss_of(survey_of(room, build_ups=build_ups, building=building)), "wall 1, below ground")
    wall_m, floor_m = 2.0 * (0.17 + 0.8 / 1.5), 0.4 + 2.0 * (0.21 + 0.05 / 1.5)
    by_hand = 4.0 / (math.pi * 1.5) * (1.0 + 0.5 * floor_m / (floor_m + 1.5)) * math.log(1.5 / wall_m + 1.0)
    assert below.u_w_m2k == pytest.approx(by_hand, rel=1e-9)


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


def test_openings_larger_than_their_wall_are_a_fault_there() -> None:
    large = replace(WINDOW, width_m=3.0, height_m=2.0)
    lines = faults_of(survey_of(room_of(Wall(4.0), Wall(2.0, beyond="outdoors", build_up="wall", openings=(large,)))))
    place = 'survey: room "Room", wall 2'
    assert lines == [f"{place}: found openings 1.00 m2 larger than the wall; required: openings that fit into the wall"]


def test_a_floor_of_the_library_is_a_layer_of_its_name() -> None:
    found = [build_up_named(survey_of(), name) for name, usual in usual_build_ups().items() if usual.u_w_m2k is None]
    assert found
    for build_up, notes in (one for one in found if one is not None):
        (deck,) = build_up.layers
        assert (deck.material, deck.thickness_m) == (build_up.name, 0.1)
        assert f'"{build_up.name}" from the library' in notes[0].text


def test_wall_u_for_the_loss_behind_the_skirting() -> None:
    survey = survey_of(room_of(Wall(4.0, beyond="outdoors", build_up="wall"), Wall(3.0)))
    assert wall_u_w_m2k(survey, "Room", 1) == 0.5
    assert wall_u_w_m2k(survey, "Room", 2) is None
    with pytest.raises(KeyError):
        wall_u_w_m2k(survey, "Room", 3)
    wrong = survey_of(room_of(Wall(4.0, beyond="outdoors", build_up="nothing such")))
    with pytest.raises(InputError, match="nothing such"):
        wall_u_w_m2k(wrong, "Room", 1)


# --- what is assumed, stated, cautioned ---------------------------------------------------------------


def test_a_stated_loss_is_kept_with_who_stated_it() -> None:
    room = Room("Room", 20.0, heat_loss_w=420.0, heat_loss_source="the heat pump designer")
    loss = loss_of(survey_of(room))
    assert (loss.total_w, loss.loss_source, loss.parts) == (420.0, "the heat pump designer", ())
    (line,) = loss.assumptions
    assert line.text == "stated heat losses are at this project's temperatures, ventilation and reheat included"
    assert line.source == defaults.STATED_SOURCE


def test_a_stated_u_towards_the_ground_is_taken_to_include_it() -> None:
    floor = FloorOrCeiling("ground", "stated slab")
    survey = survey_of(room_of(Wall(4.0), floor=floor), build_ups=(BuildUp("stated slab", u_w_m2k=0.3),))
    (line,) = [line for line in loss_of(survey).assumptions if "stated slab" in line.text]
    assert line.text == 'build_up "stated slab": the stated U is taken to include the ground'
    assert line.source == STATED_U_SOURCE


@pytest.mark.parametrize(("beyond_c", "glazed"), [(19.9, True), (20.0, False), (21.0, False)])
def test_glazing_counts_towards_what_is_colder_than_its_room(beyond_c: float, glazed: bool) -> None:
    wall = Wall(4.0, beyond="Porch", build_up="wall", openings=(WINDOW,))
    survey = survey_of(room_of(wall), spaces=(UnheatedSpace("Porch", temp_c=beyond_c),))
    assert bool(glazed_openings(survey)) is glazed


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
        "loss to the ground in the cold season 1.45",
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


# --- what is refused ----------------------------------------------------------------------------------

BAD_LAYER = Layer("foam", 0.1, 0.0)
BAD_BRIDGE = Layer("wool", 0.1, 0.04, bridge_fraction=1.2, bridge_conductivity_w_mk=0.13)
MIXED = (
    Layer("wool", 0.1, 0.04, bridge_fraction=0.1, bridge_conductivity_w_mk=0.13, bridge="stud"),
    Layer("wool", 0.1, 0.04, bridge_fraction=0.2, bridge_conductivity_w_mk=0.13, bridge="stud"),
)


@pytest.mark.parametrize(
    ("build_up", "words"),
    [
        (BuildUp("b", (BAD_LAYER,)), 'build_up "b": found layer "foam", conductivity_w_mk 0; required: above 0'),
        (BuildUp("b", (BAD_BRIDGE,)), "bridge_fraction 1.2; required: 0 to 1"),
        (BuildUp("b", MIXED), "fractions 0.1 and 0.2; required: one fraction"),
        (BuildUp("b", (Layer("air", 0.5, cavity="unventilated"),)), "cavity thickness_m 0.5"),
        (BuildUp("b", (Layer("mystery", 0.1),)), 'layer "mystery", nothing but its thickness'),
        (BuildUp("b"), "neither layers nor window nor u_w_m2k"),
        (BuildUp("b", u_w_m2k=0.0), "u_w_m2k 0; required: above 0"),
        (BuildUp("b", window=WindowParts(1.1, 1.4, 0.1)), "window parts"),
    ],
)
def test_a_build_up_that_makes_no_sense_is_one_line(build_up: BuildUp, words: str) -> None:
    survey = survey_of(room_of(*(Wall(4.0, beyond="outdoors", build_up="b") for _ in range(2))), build_ups=(build_up,))
    faults = faults_of(survey)
    assert words in faults[0]
    assert len(faults) == (2 if build_up.window else 1)


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


# --- the building -------------------------------------------------------------------------------------


def two_rooms(**keys: object) -> tuple[Room, Room]:
    """A warm and a cool room side by side, each with an outside wall."""
    walls = {
        name: (
            Wall(4.0, beyond="outdoors", build_up="wall"),
            Wall(4.0, beyond=other, build_up="inner"),
            Wall(1.0),
        )
        for name, other in (("Warm", "Cool"), ("Cool", "Warm"))
    }
    warm = Room("Warm", 22.0, 2.5, walls=walls["Warm"], **keys)  # type: ignore[arg-type]
    cool = Room("Cool", 18.0, 2.5, walls=walls["Cool"], **keys)  # type: ignore[arg-type]
    return warm, cool


AREAS = {"Warm": 10.0, "Cool": 10.0}


def test_heat_between_rooms_is_not_load_of_the_building() -> None:
    survey = survey_of(*two_rooms(air_changes_h=0.0))
    losses = room_losses(survey, AREAS)
    load = building_load(survey, losses, AREAS)
    assert load.transmission_w == pytest.approx(10.0 * 0.5 * (27.0 + 23.0))
    assert load.between_rooms_w == pytest.approx(0.0)
    assert load.sum_of_rooms_w == pytest.approx(sum(loss.total_w for loss in losses))


def test_heat_towards_a_stated_room_stays() -> None:
    warm, cool = two_rooms(air_changes_h=0.0)
    stated = replace(cool, walls=(), heat_loss_w=300.0)
    survey = survey_of(warm, stated)
    load = building_load(survey, room_losses(survey, AREAS), AREAS)
    assert load.total_w == pytest.approx(10.0 * 0.5 * 27.0 + 10.0 * 2.0 * 4.0 + 300.0)
    assert load.stated_w == 300.0


def test_least_rates_govern_the_building_unless_half_the_leaks_exceed_them() -> None:
    window = Opening("window", 0.5, 1.0, 1.0, build_up="glass")
    rooms = tuple(
        replace(room, walls=(replace(room.walls[0], openings=(window,)), *room.walls[1:])) for room in two_rooms()
    )
    for n50, flow_m3_h in ((5.0, 12.5), (25.0, 0.5 * 2.0 * 25.0 * 25.0 * 0.03)):
        building = Building(n50_h=n50, shielding="none", thermal_bridge_w_m2k=0.0)
        survey = survey_of(*rooms, building=building)
        load = building_load(survey, room_losses(survey, AREAS), AREAS)
        assert load.air_w == pytest.approx(0.34 * flow_m3_h * (27.0 + 23.0))


def test_stated_air_without_a_split_counts_in_full_and_says_so() -> None:
    survey = survey_of(*two_rooms(air_changes_h=1.0))
    load = building_load(survey, room_losses(survey, AREAS), AREAS)
    assert load.air_w == pytest.approx(0.34 * 25.0 * 50.0)
    assert any("count in full" in str(line) for line in load.assumptions)


@pytest.mark.parametrize(
    ("keys", "half", "in_full"),
    [
        ({"air_changes_h": 1.0}, False, True),
        ({"air_changes_h": 1.0, "infiltration_changes_h": 0.01}, True, False),
        ({"air_changes_h": None}, False, False),
        ({"air_changes_h": None, "infiltration_changes_h": 0.01}, True, False),
    ],
)
def test_what_of_the_air_counts_for_the_building_is_said(keys: dict[str, object], half: bool, in_full: bool) -> None:
    """A hundredth of a change is a quarter of a cubic metre an hour of leaks."""
    survey = survey_of(*two_rooms(**keys))
    lines = [str(line) for line in building_load(survey, room_losses(survey, AREAS), AREAS).assumptions]
    assert any("infiltration of several rooms counts" in line for line in lines) is half
    assert any("count in full" in line for line in lines) is in_full


def test_a_house_that_loses_next_to_nothing_has_its_share_of_change_too() -> None:
    """0.5 m² of U 0.5 at 25 K and as much at 21 K: some eleven watts; in watts below one as well."""
    small = tuple(
        replace(room, walls=(Wall(width_m, beyond="outdoors", build_up="wall"), Wall(1.0)), air_changes_h=0.0)
        for room, width_m in zip(two_rooms(), (0.02, 0.01), strict=True)
    )
    survey = survey_of(*small)
    losses = room_losses(survey, AREAS)
    assert 0.0 < sum(loss.total_w for loss in losses) < 1.0
    lines = [str(line) for line in building_load(survey, losses, AREAS).assumptions]
    (line,) = [line for line in lines if "would change the loss of the rooms" in line]
    assert re.search(r"by \+\d+ W \(\+\d+%\)", line)


def test_a_room_no_warmer_than_outdoors_is_refused() -> None:
    for indoor_c in (-5.0, -6.0):
        (line,) = faults_of(survey_of(room_of(Wall(4.0), indoor_c=indoor_c)))
        assert f"found indoor_c {indoor_c:g}; required: above the outdoor design temperature, -5 °C" in line
    assert loss_of(survey_of(room_of(Wall(4.0), indoor_c=-4.0))).total_w == pytest.approx(0.0)


def test_recovery_works_on_the_supply_of_the_building() -> None:
    keys = {"air_changes_h": 1.0, "infiltration_changes_h": 0.4, "heat_recovery": 0.75}
    survey = survey_of(*two_rooms(**keys))
    load = building_load(survey, room_losses(survey, AREAS), AREAS)
    assert load.air_w == pytest.approx(0.34 * 25.0 * (0.2 + 0.6 * 0.25) * 50.0)


# --- from the file to the loss ------------------------------------------------------------------------

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
tails = { pipe = "copper 15 lagged", length_m = 2.0 }
crossing = { pipe = "copper 15 lagged", depth_m = 0.2 }
route = [ { room = "Study", walls = [1, 2] } ]
"""


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
