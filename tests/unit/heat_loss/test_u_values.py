"""U-values of build-ups: cavities, edge insulation, cellar walls, the library, and build-ups without sense."""

from __future__ import annotations

import ast
import inspect
import math
import re
from dataclasses import replace
from types import ModuleType

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.heat_loss import u_values
from heatloop.heat_loss.model import LossPart, RoomLoss
from heatloop.heat_loss.rooms import wall_u_w_m2k
from heatloop.heat_loss.u_values import STATED_U_SOURCE, build_up_named, glazed_openings
from heatloop.physics.fabric import ground, layers, windows
from heatloop.physics.fabric.usual_build_ups import usual_build_ups
from heatloop.survey.building import (
    Building,
    BuildUp,
    EdgeInsulation,
    FloorOrCeiling,
    Layer,
    Opening,
    Underfloor,
    UnheatedSpace,
    Wall,
    WindowParts,
)
from tests.helpers.heat_loss_survey import BUILD_UPS, faults_of, loss_of, room_of, survey_of

WINDOW = Opening("window", 1.0, 1.5, 1.2, 0.9, build_up="glass")
BAD_LAYER = Layer("foam", 0.1, 0.0)
BAD_BRIDGE = Layer("wool", 0.1, 0.04, bridge_fraction=1.2, bridge_conductivity_w_mk=0.13)
MIXED = (
    Layer("wool", 0.1, 0.04, bridge_fraction=0.1, bridge_conductivity_w_mk=0.13, bridge="stud"),
    Layer("wool", 0.1, 0.04, bridge_fraction=0.2, bridge_conductivity_w_mk=0.13, bridge="stud"),
)


def part_of(loss: RoomLoss, label: str) -> LossPart:
    """The part of that label."""
    return next(part for part in loss.parts if part.label == label)


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


@pytest.mark.parametrize("module", [layers, ground, windows, u_values])
def test_every_error_of_the_formulas_can_be_divided_into_found_and_required(module: ModuleType) -> None:
    tree = ast.parse(inspect.getsource(module))
    raised = [
        "".join(
            part.value if isinstance(part, ast.Constant) else "0"
            for part in (text.values if isinstance(text, ast.JoinedStr) else [text])
        )
        for node in ast.walk(tree)
        if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) and node.cause is None
        for text in node.exc.args
        if isinstance(node.exc.func, ast.Name) and node.exc.func.id == "ValueError"
    ]
    assert raised
    for message in raised:
        assert len(re.split(", must (?:be|have|leave) ", message)) == 2, message
