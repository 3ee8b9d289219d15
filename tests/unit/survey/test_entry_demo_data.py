"""The demonstration data: it reads, its rooms fit together, and two results agree with hand arithmetic."""

from __future__ import annotations

import math

import pytest

from heatloop.heat_loss.rooms import room_losses
from heatloop.layout.build import build_layout
from heatloop.layout.model import Layout, Piece
from heatloop.results.design import DesignResult
from heatloop.survey.building import Opening, Room, Wall
from heatloop.survey.entry import read_survey
from heatloop.survey.loops import RouteWalls
from heatloop.survey.survey import SurveyData
from tests.helpers.paths import DATA

FOLDERS = ("alder-lodge", "mill-annexe")

# South-west corner of each room of Alder Lodge on the plan of the house, east and north in metres:
# rooms 0.10 m apart, the thickness of a partition.
SOUTH_WEST_M = {
    "Kitchen-diner": (0.0, 0.0),
    "Living room": (4.9, 0.0),
    "Hall": (3.0, 4.7),
    "Study": (6.5, 4.7),
    "Nursery": (0.0, 0.0),
    "Bathroom": (0.0, 4.7),
    "Landing": (3.0, 4.7),
    "Box room": (6.5, 4.7),
    "Main bedroom": (4.1, 0.0),
}
PARTITION_M = 0.10
TAPE_M = 0.03


@pytest.fixture(scope="module")
def lodge() -> SurveyData:
    return read_survey(DATA / "alder-lodge" / "draft.toml")


@pytest.fixture(scope="module")
def annexe() -> SurveyData:
    return read_survey(DATA / "mill-annexe" / "survey.toml")


@pytest.fixture(scope="module")
def lodge_layout(lodge: SurveyData) -> Layout:
    return build_layout(lodge)


def floor_areas_m2(layout: Layout) -> dict[str, float]:
    return {r.room: r.geometry.floor_area_m2 for r in layout.rooms if r.geometry is not None}


# --- what the demonstration must show ---------------------------------------------------------------


def test_lodge_holds_the_cases_that_a_newcomer_meets(lodge: SurveyData) -> None:
    turns = {room.name: [wall.turn_deg for wall in room.walls] for room in lodge.rooms}
    assert turns["Kitchen-diner"].count(-90.0) == 1
    assert turns["Living room"][3:7] == [-45.0, 45.0, 45.0, -45.0]
    assert len({room.level_m for room in lodge.rooms}) == 2
    assert [room.name for room in lodge.rooms if room.vulnerable] == ["Nursery"]
    assert [room.name for room in lodge.rooms if room.heat_loss_w is not None] == ["Study"]
    assert {trunk.from_trunk for trunk in lodge.trunks} == {None, "ground floor"}
    rooms_of = {
        loop.name: {item.room for arm in loop.arms for item in arm if isinstance(item, RouteWalls)}
        for loop in lodge.loops
    }
    assert {name: len(rooms) for name, rooms in rooms_of.items()} == {
        "Living room": 1,
        "Kitchen": 1,
        "Hall and study": 2,
        "Nursery and bathroom": 2,
        "Bedrooms": 3,
    }
    assert set().union(*rooms_of.values()) == {room.name for room in lodge.rooms}
    middle = lodge.loop("Living room")
    assert len(middle.arms) == len(middle.arm_valves) == 2
    assert [loop.name for loop in lodge.loops if loop.arrangement == "one-way"] == ["Hall and study"]


def test_annexe_is_one_one_way_loop_of_the_three_channel_profile_without_a_trunk(annexe: SurveyData) -> None:
    (loop,) = annexe.loops
    assert (loop.arrangement, loop.trunk, annexe.trunks) == ("one-way", None, ())
    assert len(annexe.catalogue.profile(loop.profile).channels) == 3
    assert (annexe.project.flow_temp_c, annexe.project.delta_t_k) == (70.0, 15.0)


@pytest.mark.parametrize("folder", FOLDERS)
def test_every_catalogue_entry_is_invented_or_says_its_standard_and_has_a_source(folder: str) -> None:
    catalogue = read_survey(DATA / folder / "survey.toml").catalogue
    for entry in (*catalogue.profiles, *catalogue.joints, *catalogue.ends, *catalogue.valves):
        assert entry.invented, entry.name
        assert "invented" in entry.source, entry.name
    for pipe in catalogue.pipes:
        assert not pipe.invented
        assert pipe.source.startswith("EN 1057"), pipe.name


# --- the plan holds together --------------------------------------------------------------------------


@pytest.mark.parametrize("folder", FOLDERS)
def test_every_room_closes_and_some_only_within_tape_error(folder: str) -> None:
    layout = build_layout(read_survey(DATA / folder / "survey.toml"))
    gaps_m = [r.geometry.misclosure_m for r in layout.rooms if r.geometry is not None]
    assert max(gaps_m) < 0.02
    assert max(gaps_m) > 0.005


def test_living_room_closes_by_hand(lodge_layout: Layout) -> None:
    # South-going walls of the bay side: 1.10 + 0.85 cos 45 + 1.50 + 0.85 cos 45 + 0.80 = 4.6021 m,
    # against 4.60 m up the west wall; east 1.55 + 2.85 = 4.40 m against 4.41 m back along the south.
    geometry = lodge_layout.room("Living room").geometry
    assert geometry is not None
    splay_m = 0.85 * math.cos(math.radians(45.0))
    south_m = 4.60 - (1.10 + splay_m + 1.50 + splay_m + 0.80)
    west_m = 1.55 + 2.85 - 4.41
    assert geometry.misclosure_m == pytest.approx(math.hypot(south_m, west_m), abs=1e-9)
    # Rectangle and bay: 4.405 x 4.60 + the trapezium of the bay, 0.601 (1.50 + 2.702)/2
    assert geometry.floor_area_m2 == pytest.approx(4.405 * 4.60 + splay_m * (1.50 + splay_m), abs=0.02)


def opening_middle_m(room: Room, wall_number: int, opening: Opening) -> tuple[float, float]:
    """Where an opening's middle is on the plan of the house, from the tape lengths alone."""
    x, y = SOUTH_WEST_M[room.name]
    bearing = room.first_wall_bearing_deg
    for wall in room.walls[: wall_number - 1]:
        x, y = _along(x, y, bearing, wall.length_m)
        bearing += wall.turn_deg
    return _along(x, y, bearing, opening.start_m + opening.width_m / 2.0)


def _along(x: float, y: float, bearing_deg: float, length_m: float) -> tuple[float, float]:
    angle = math.radians(bearing_deg)
    return x + length_m * math.sin(angle), y + length_m * math.cos(angle)


def named_openings(survey: SurveyData) -> dict[str, list[tuple[Room, int, Wall, Opening]]]:
    found: dict[str, list[tuple[Room, int, Wall, Opening]]] = {}
    for room in survey.rooms:
        for number, wall in enumerate(room.walls, start=1):
            for opening in wall.openings:
                if opening.name is not None:
                    found.setdefault(opening.name, []).append((room, number, wall, opening))
    return found


def test_doorways_lie_in_one_place_from_both_rooms(lodge: SurveyData) -> None:
    doorways = {n: sides for n, sides in named_openings(lodge).items() if sides[0][2].beyond != "outdoors"}
    assert len(doorways) == 8
    for name, sides in doorways.items():
        (room_a, wall_a, side_a, door_a), (room_b, wall_b, side_b, door_b) = sides
        assert (side_a.beyond, side_b.beyond) == (room_b.name, room_a.name), name
        assert (door_a.width_m, door_a.height_m) == (door_b.width_m, door_b.height_m), name
        (xa, ya), (xb, yb) = (
            opening_middle_m(room_a, wall_a, door_a),
            opening_middle_m(room_b, wall_b, door_b),
        )
        across, along = sorted((abs(xa - xb), abs(ya - yb)), reverse=True)
        assert across == pytest.approx(PARTITION_M, abs=TAPE_M), name
        assert along < TAPE_M, name


# --- two results by hand ---------------------------------------------------------------------------------


def test_loss_of_the_bathroom_by_hand(lodge: SurveyData, lodge_layout: Layout) -> None:
    # R in m2 K/W, from the inside: surfaces 0.13 (0.10 upwards) and 0.04 outdoors, 0.13 or 0.10 again
    # on the far side of what stands between spaces (ISO 6946).
    u_outer = 1.0 / (0.13 + 0.0125 / 0.21 + 0.060 / 0.040 + 0.1025 / 0.56 + 0.065 / 0.036 + 0.1025 / 0.77 + 0.04)
    assert u_outer == pytest.approx(0.260, abs=0.0005)

    def bridged_u(plain: float, clear: float, bridge: float, share: float) -> float:
        """Mean of the upper and lower limits, one layer bridged over `share` of the area."""
        upper = 1.0 / ((1.0 - share) / (plain + clear) + share / (plain + bridge))
        lower = plain + 1.0 / ((1.0 - share) / clear + share / bridge)
        return 2.0 / (upper + lower)

    board = 0.0125 / 0.21
    u_loft = bridged_u(0.10 + board + 0.200 / 0.040 + 0.10, 0.100 / 0.040, 0.100 / 0.13, 0.09)
    u_partition = bridged_u(0.13 + 2 * board + 0.18 + 0.13, 0.050 / 0.037, 0.050 / 0.13, 0.12)
    # The floor: heat flows down, surfaces 0.17 on both sides, from 22 °C to the diner's 20 °C
    u_floor = bridged_u(0.17 + board + 0.022 / 0.13 + 0.17, 0.100 / 0.040, 0.100 / 0.13, 0.10)

    # Bathroom 22 °C, 2.90 x 2.90 m, 2.35 m high; outdoors -3 °C, so 25 K
    area = 2.90 * 2.90
    window = 0.70 * 1.00
    door = 0.76 * 2.04
    outer = 2 * 2.90 * 2.35 - window
    by_hand_w = {
        "outer walls": outer * u_outer * 25.0,
        "window": window * 1.3 * 25.0,
        "to the landing, 18 °C": (2.90 * 2.35 - door) * u_partition * 4.0 + door * 2.0 * 4.0,
        "to the nursery, 20 °C": 2.90 * 2.35 * u_partition * 2.0,
        "floor, to 20 °C": area * u_floor * 2.0,
        # the roof space stands at 22 - 0.9 x 25 = -0.5 °C
        "ceiling": area * u_loft * 0.9 * 25.0,
        # 0.05 W/(m2 K) on what faces outdoors, and at 0.9 on the ceiling
        "thermal bridges": 0.05 * (outer + window) * 25.0 + 0.05 * area * 0.9 * 25.0,
        # 1.5 changes an hour, 70 % of the heat recovered, 0.34 W h/(m3 K)
        "air": 0.34 * 1.5 * area * 2.35 * (1.0 - 0.7) * 25.0,
    }
    losses = {loss.room: loss for loss in room_losses(lodge, floor_areas_m2(lodge_layout))}
    assert losses["Bathroom"].total_w == pytest.approx(sum(by_hand_w.values()), rel=1e-9)
    assert sum(by_hand_w.values()) == pytest.approx(273.9, abs=0.05)


def test_heated_length_of_the_nursery_and_bathroom_loop_by_hand(lodge_layout: Layout) -> None:
    loop = lodge_layout.loop("Nursery and bathroom")
    # Tape length less take-offs: valve end 0.130, inside corner 0.042, crossing 0.050, turn end 0.055 m.
    by_hand_m = [
        4.00 - 0.130 - 0.042,  # nursery, south wall: from the valve to the south-west corner
        4.60 - 0.042 - 0.050,  # nursery, west wall: from there to the crossing into the bathroom
        2.90 - 0.050 - 0.042,  # bathroom, west wall
        2.90 - 0.042 - 0.055,  # bathroom, north wall: to the turn
    ]
    assert [piece.heated_m for piece in loop.pieces] == pytest.approx(by_hand_m, abs=1e-9)
    assert loop.heated_length_m == pytest.approx(13.947, abs=1e-9)


def test_garden_doors_are_laid_as_a_sill_and_units_carry_none(lodge_layout: Layout) -> None:
    pieces = [e for e in lodge_layout.loop("Kitchen").arms[0].elements if isinstance(e, Piece)]
    (sill,) = [piece for piece in pieces if piece.floor_section]
    assert (sill.wall, sill.from_m, sill.to_m) == (6, pytest.approx(0.90), pytest.approx(3.30))
    assert max(piece.to_m for piece in pieces if piece.wall == 1) == pytest.approx(4.30)
    assert not [piece for piece in pieces if piece.wall == 2]


# --- the designs that come of it --------------------------------------------------------------------------


def test_lodge_keeps_every_room_warm_but_the_kitchen_diner(alder_draft: DesignResult) -> None:
    design = alder_draft
    failed = design.checks[design.checks["verdict"] == "fail"]
    assert failed[["check", "location"]].values.tolist() == [["heat to the room", "Kitchen-diner"]]
    coverage = design.rooms.set_index("room")["coverage"]
    assert 0.75 < coverage.pop("Kitchen-diner") < 0.95
    assert coverage.between(1.0, 1.3).all(), coverage


def test_annexe_passes_and_its_flow_carries_its_output(mill_annexe: DesignResult) -> None:
    design = mill_annexe
    assert "fail" not in set(design.checks["verdict"])
    (loop,) = design.loops.to_dict("records")
    # By hand. The water: l/h at the flow pipe's 70 °C, 0.9778 kg/l; 4.187 kJ/(kg K) from 70 to 55 °C.
    water_w = loop["flow_l_h"] * 0.9778 / 3600.0 * 4187.0 * 15.0
    # A metre of tube, 15 mm with 13 mm of 0.035 W/(m K), 10 W/(m2 K) outside it; room 21 °C. The tails
    # are 3.0 m at 70 °C and 3.5 m at 55 °C, the three pipes past the door 0.93 + 2 x 0.15 m at 58 °C.
    tube_w_mk = 1.0 / (math.log(41.0 / 15.0) / (2.0 * math.pi * 0.035) + 1.0 / (10.0 * math.pi * 0.041))
    pipes_w = tube_w_mk * (3.0 * (70.0 - 21.0) + 3.5 * (55.0 - 21.0) + 3 * 1.23 * (58.0 - 21.0))
    assert pipes_w == pytest.approx(75.0, abs=1.0)
    assert loop["heat_to_rooms_w"] == pytest.approx(water_w - pipes_w, rel=0.001)


def test_readme_names_every_published_table() -> None:
    readme = (DATA / "README.md").read_text(encoding="utf-8")
    unnamed = [path.name for path in (DATA / "published").glob("*.csv") if f"`{path.name}`" not in readme]
    assert not unnamed, "data/README.md has a table of these files: add a row for each"
