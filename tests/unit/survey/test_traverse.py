"""Diagonals of rooms: which length is wrong, and corners out of square, against geometry worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.findings.input_errors import InputError
from heatloop.results.checks.plausibility import plausibility_checks
from heatloop.survey.building import Diagonal, Room, Wall
from heatloop.survey.traverse.adjustment import Traverse, adjust, adjust_by_tape
from heatloop.survey.traverse.squared_room import geometry_of_room
from heatloop.survey.traverse.wrong_length import compare_lengths
from tests.helpers.paths import DATA, HARBOUR_LOFT

SQUARE = (90.0,) * 4
BOTH = ((1, 3, 5.0), (2, 4, 5.0))
"""Diagonals of a room of 4 m by 3 m: the triangle of sides 3, 4 and 5."""

L_SHAPE = (90.0, 90.0, 90.0, -90.0, 90.0, 90.0)
L_WALLS = (6.0, 4.0, 2.0, 1.5, 4.0, 2.5)
L_DIAGONALS = ((1, 3, math.hypot(6.0, 4.0)), (1, 5, math.hypot(4.0, 2.5)), (2, 5, math.hypot(2.0, 2.5)))
"""Corner 1 at (0, 0), 2 at (0, 6), 3 at (4, 6), 4 at (4, 4), 5 at (2.5, 4), 6 at (2.5, 0)."""


def test_the_corners_of_the_l_are_those_the_diagonals_assume() -> None:
    geometry = hl.build.room("Saloon", 20.0, [Wall(m, turn_deg=t) for m, t in zip(L_WALLS, L_SHAPE, strict=True)])
    corners = geometry_of_room(geometry).corners_m
    assert [(round(x, 9), round(y, 9)) for x, y in corners] == [
        (0.0, 0.0), (0.0, 6.0), (4.0, 6.0), (4.0, 4.0), (2.5, 4.0), (2.5, 0.0)
    ]  # fmt: skip


def test_what_agrees_is_left_as_it_is() -> None:
    compared = compare_lengths(Traverse((4.0, 3.0, 4.0, 3.0), SQUARE, BOTH))
    assert compared.outcome == "agrees"
    assert compared.room.turns_deg == pytest.approx(SQUARE, abs=1e-6)
    assert compared.room.lengths_m == pytest.approx((4.0, 3.0, 4.0, 3.0, 5.0, 5.0), abs=1e-9)


@pytest.mark.parametrize("index", range(4))
@pytest.mark.parametrize("slip_m", [-1.0, -0.3, 0.3, 1.0])
def test_the_wrong_wall_of_a_rectangle_is_named_with_its_length(index: int, slip_m: float) -> None:
    """The misclosure alone fits two walls; two diagonals of 5 m fit one."""
    walls = [4.0, 3.0, 4.0, 3.0]
    walls[index] += slip_m
    compared = compare_lengths(Traverse(tuple(walls), SQUARE, BOTH))
    assert compared.outcome == "wrong length"
    (suspect,) = compared.suspects
    assert suspect.index == index
    assert suspect.length_m == pytest.approx(walls[index] - slip_m, abs=0.005)


def test_a_small_slip_leaves_several_suspects_the_wrong_one_first() -> None:
    """100 mm may be walls of an isosceles trapezium leaning by 1.9 degrees: by Ptolemy 5 x 5 = 4.1 a + 3 x 3."""
    compared = compare_lengths(Traverse((4.1, 3.0, 4.0, 3.0), SQUARE, BOTH))
    assert compared.outcome == "wrong length"
    assert len(compared.suspects) > 1
    assert compared.suspects[0].index == 0
    assert compared.suspects[0].length_m == pytest.approx(4.0, abs=0.005)


def test_a_wrong_diagonal_is_named() -> None:
    compared = compare_lengths(Traverse((4.0, 3.0, 4.0, 3.0), SQUARE, ((1, 3, 5.4), (2, 4, 5.0))))
    assert [suspect.index for suspect in compared.suspects] == [4]
    assert compared.suspects[0].length_m == pytest.approx(5.0, abs=0.005)


@pytest.mark.parametrize(("index", "taped_m"), [(0, 6.2), (2, 2.4), (4, 3.5)])
def test_the_wrong_wall_of_an_l_is_named(index: int, taped_m: float) -> None:
    """Walls 1, 3 and 5 lie along the misclosure: closing alone cannot part them."""
    walls = [*L_WALLS]
    walls[index] = taped_m
    compared = compare_lengths(Traverse(tuple(walls), L_SHAPE, L_DIAGONALS))
    assert [suspect.index for suspect in compared.suspects] == [index]
    assert compared.suspects[0].length_m == pytest.approx(L_WALLS[index], abs=0.02)


def _parallelogram(inside_deg: float) -> Traverse:
    """4 m by 3 m, the inside angle at corners 2 and 4: diagonals by the cosine rule."""
    cosine = math.cos(math.radians(inside_deg))
    return Traverse(
        (4.0, 3.0, 4.0, 3.0), SQUARE, ((1, 3, math.sqrt(25.0 - 24.0 * cosine)), (2, 4, math.sqrt(25.0 + 24.0 * cosine)))
    )


@pytest.mark.parametrize("inside_deg", [88.0, 89.0, 91.5])
def test_corners_a_little_out_of_square_are_squared_by_the_diagonals(inside_deg: float) -> None:
    traverse = _parallelogram(inside_deg)
    assert compare_lengths(traverse).outcome == "agrees"
    turns = adjust_by_tape(traverse).turns_deg
    turn = 180.0 - inside_deg
    assert turns == pytest.approx((turn, inside_deg, turn, inside_deg), abs=0.01)


@pytest.mark.parametrize("inside_deg", [80.0, 84.0, 97.0])
def test_corners_well_out_of_square_are_other_turns(inside_deg: float) -> None:
    compared = compare_lengths(_parallelogram(inside_deg))
    assert compared.outcome == "other turns"
    assert compared.room.turns_deg[0] == pytest.approx(180.0 - inside_deg, abs=0.01)
    stated = replace(_parallelogram(inside_deg), turns_deg=compared.room.turns_deg)
    assert compare_lengths(stated).outcome == "agrees"


def test_two_slips_are_not_put_on_one_length() -> None:
    traverse = Traverse((4.8, 3.7, 4.0, 3.0), SQUARE, BOTH)
    assert compare_lengths(traverse).outcome == "disagrees"


def test_area_of_a_room_out_of_square() -> None:
    """Base 4 m, height 3 sin 80: the walls of a parallelogram with the diagonals that belong to it."""
    traverse = _parallelogram(80.0)
    diagonals = tuple(Diagonal(*one) for one in traverse.diagonals)
    room = Room("Attic", 20.0, walls=tuple(Wall(m) for m in traverse.lengths_m), diagonals=diagonals)
    assert geometry_of_room(room).floor_area_m2 == pytest.approx(12.0 * math.sin(math.radians(80.0)), abs=0.01)
    assert geometry_of_room(replace(room, diagonals=())).floor_area_m2 == pytest.approx(12.0)


def test_scatter_of_taping_is_no_fault() -> None:
    """8 mm here and there."""
    traverse = Traverse((4.006, 2.995, 3.998, 3.004), SQUARE, ((1, 3, 5.008), (2, 4, 4.994)))
    assert compare_lengths(traverse).outcome == "agrees"


def test_a_diagonal_between_no_corners_is_refused() -> None:
    with pytest.raises(ValueError, match="corners that do not exist"):
        adjust(Traverse((4.0, 3.0, 4.0, 3.0), SQUARE, ((1, 5, 5.0),)))


# --- in a survey --------------------------------------------------------------------------------------

SURVEY = HARBOUR_LOFT / "survey.toml"


def _saloon(diagonals: list[dict[str, float]], first_m: float = 6.0) -> list[str]:
    """Issues of the loft with diagonals in its L-shaped room, whose walls are those above."""
    from heatloop.survey.read import survey_of
    from heatloop.survey.toml.toml_reader import load_toml

    tables = load_toml(SURVEY)
    room = next(one for one in tables["room"] if one["name"] == "Saloon")
    room["diagonals"] = diagonals
    room["walls"][0]["length_m"] = first_m
    try:
        survey_of(tables, SURVEY)
    except InputError as error:
        return [str(issue).partition(": ")[2] for issue in error.issues]
    return []


def _tables(diagonals: tuple[tuple[int, int, float], ...]) -> list[dict[str, float]]:
    return [{"from_corner": a, "to_corner": b, "length_m": round(m, 3)} for a, b, m in diagonals]


def test_a_survey_names_the_wall_and_its_length() -> None:
    survey = hl.read_survey(SURVEY)
    walls = tuple(wall.length_m for wall in survey.room("Saloon").walls)
    turns = tuple(wall.turn_deg for wall in survey.room("Saloon").walls)
    corners = geometry_of_room(survey.room("Saloon")).corners_m
    pairs = [(1, 3), (1, 5), (2, 5), (2, 4)]
    diagonals = tuple((a, b, math.dist(corners[a - 1], corners[b - 1])) for a, b in pairs)
    assert compare_lengths(Traverse(walls, turns, diagonals)).outcome == "agrees"
    assert _saloon(_tables(diagonals)) == []
    (fault,) = _saloon(_tables(diagonals), 6.5)
    assert fault == (
        'room "Saloon", wall 1, length_m: found 6.5; required: about 6.00, as the other walls and the diagonals give: '
        "tape it again"
    )
    (fault,) = _saloon(_tables(diagonals), 6.2)
    assert "required: one other length: wall 1 about 6.00 m or the diagonal from corner 1 to 3" in fault


def test_a_diagonal_along_a_wall_or_to_no_corner_is_a_fault() -> None:
    faults = _saloon(_tables(((1, 2, 6.0), (1, 9, 3.0))))
    assert faults == [
        'room "Saloon", diagonal 1: found corners 1 and 2; required: two corners that no wall joins',
        'room "Saloon", diagonal 2, to_corner: found 9; required: a corner of the room, 1 to 6: corner n is the '
        "left-hand end of wall n",
    ]


def test_a_copied_room_with_walls_of_its_own_takes_no_diagonals() -> None:
    survey = hl.read_survey(DATA / "mill-annexe" / "survey.toml")
    one = replace(survey.rooms[0], name="One", walls=tuple(Wall(m) for m in (4.0, 3.0, 4.0, 3.0)), heat_loss_w=500.0,
                  diagonals=(Diagonal(1, 3, 5.0), Diagonal(2, 4, 5.0)))  # fmt: skip
    from heatloop.survey.read import copy_template_rooms
    from heatloop.survey.to_tables.survey_to_tables import room_to_table

    own = {"name": "Two", "copy_of": "One", "walls": [{"length_m": 5.0}] * 4}
    data, _ = copy_template_rooms({"room": [room_to_table(one), own, {"name": "Three", "copy_of": "One"}]})
    assert "diagonals" not in data["room"][1]
    assert data["room"][2]["diagonals"] == _tables(((1, 3, 5.0), (2, 4, 5.0)))


def test_diagonals_survive_file_workbook_and_frames() -> None:
    survey = hl.read_survey(DATA / "mill-annexe" / "survey.toml")
    corners = geometry_of_room(survey.rooms[0]).corners_m
    diagonals = (Diagonal(1, 3, round(math.dist(corners[0], corners[2]), 3)),)
    changed = survey.with_room(replace(survey.rooms[0], diagonals=diagonals))
    assert changed.rooms[0].diagonals == diagonals
    frames = changed.to_frames()
    assert list(frames["Diagonals"].columns[:4]) == ["Room", "from_corner", "to_corner", "length_m"]
    again = hl.survey_from_frames(frames, DATA / "mill-annexe" / "catalogue.toml")
    assert again.rooms[0].diagonals == diagonals
    assert "diagonals" in changed.to_toml()


def test_a_corner_out_of_square_is_a_caution() -> None:
    survey = hl.read_survey(DATA / "mill-annexe" / "survey.toml")
    traverse = _parallelogram(88.0)
    diagonals = tuple(Diagonal(*one) for one in traverse.diagonals)
    room = Room("Attic", 20.0, walls=tuple(Wall(m) for m in traverse.lengths_m), diagonals=diagonals)
    (row,) = [one for one in plausibility_checks(replace(survey, rooms=(room,), loops=())) if "corner" in one.check]
    assert (row.check, row.location) == ("corner as the survey states it", "Attic, end of wall 1 at 92.0°")
    assert row.calculated == pytest.approx(2.0, abs=0.01)
    straight = replace(room, walls=tuple(replace(wall, turn_deg=t) for wall, t in zip(
        room.walls, (92.0, 88.0, 92.0, 88.0), strict=True)))  # fmt: skip
    rows = plausibility_checks(replace(survey, rooms=(straight,), loops=()))
    assert not [one for one in rows if "corner" in one.check]
