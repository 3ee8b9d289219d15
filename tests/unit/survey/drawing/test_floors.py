"""Floors of a drawing: a layer of outlines for each, with its level; plans that are drawn too near to each other."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.__main__ import main
from heatloop.survey.drawing.floors import HIGHEST_M, LOWEST_M
from heatloop.survey.files.survey_tables import RoomTable
from tests.helpers.drawn_house import Sheet

UPPER_M = 2.65


def two_floors(folder: Path, *, beside_m: float = 10.0, one_layer: bool = False) -> Path:
    """Two rooms below and one above, drawn so far to the east; a door and a window on each floor, some of one name."""
    sheet = Sheet("mm")
    upper = "GROUND" if one_layer else "UPPER"
    sheet.room([(0, 0), (0, 3), (4, 3), (4, 0)], "GROUND")
    sheet.room([(4.1, 0), (4.1, 3), (7, 3), (7, 0)], "GROUND")
    sheet.room([(x + beside_m, y) for x, y in ((0, 0), (0, 3), (7, 3), (7, 0))], upper)
    for words, x in (("Hall", 1.0), ("Study", 5.0), ("Hall", beside_m + 1.0)):
        sheet.text(words, (x, 1.0))
    sheet.tagged((4.05, 1.5), "DOOR", WIDTH=0.84, NAME="D1")
    sheet.tagged((beside_m + 2.0, 0.0), "DOOR UP", WIDTH=0.90, NAME="D1")
    sheet.tagged((beside_m + 5.0, 3.0), "WINDOW", WIDTH=1.20)
    return sheet.save(folder)


def test_a_layer_for_each_floor_gives_its_level_to_its_rooms(tmp_path: Path) -> None:
    drawing, job = two_floors(tmp_path), tmp_path / "job"
    levels = ["--layer", "GROUND", "--level", "-0.4", "--layer", "upper", "--level", str(UPPER_M)]
    assert main(["start", str(job), "--drawing", str(drawing), *levels]) == 0
    rooms = tomllib.loads((job / "survey.toml").read_text(encoding="utf-8"))["room"]
    assert [(room["name"], room["level_m"]) for room in rooms] == [
        ("Hall", -0.4), ("Study", -0.4), ("Hall 2", UPPER_M),
    ]  # fmt: skip
    behind = [{wall["beyond"] for wall in room["walls"]} for room in rooms]
    assert behind == [{"outdoors", "Study"}, {"outdoors", "Hall"}, {"outdoors"}]
    names = [[o.get("name") for wall in room["walls"] for o in wall.get("openings", [])] for room in rooms]
    assert names == [["D1"], ["D1"], [None, "D1 2"]]  # an opening in one room is another than the doorway below


def test_one_level_is_that_of_all_layers(tmp_path: Path) -> None:
    drawing, job = two_floors(tmp_path), tmp_path / "job"
    hl.start_project(job, drawing=drawing, layer=["GROUND", "UPPER"], level_m=UPPER_M)
    rooms = tomllib.loads((job / "survey.toml").read_text(encoding="utf-8"))["room"]
    assert [room["level_m"] for room in rooms] == [UPPER_M] * 3


@pytest.mark.parametrize(
    ("beside_m", "words"),
    [
        (0.5, "that lie over each other; required: the plans of the floors beside each other in the drawing"),
        (7.3, 'room "Study": found a wall beside "Hall 2", which is on another level; required: the plans of floors'),
    ],
)
def test_floors_that_are_drawn_too_near_are_told(tmp_path: Path, beside_m: float, words: str) -> None:
    drawing = two_floors(tmp_path, beside_m=beside_m)
    with pytest.raises(hl.InputError) as caught:
        hl.start_project(tmp_path / "job", drawing=drawing, layer=("GROUND", "UPPER"), level_m=(0.0, UPPER_M))
    assert words in str(caught.value)
    assert not (tmp_path / "job").exists()


@pytest.mark.parametrize("levels_m", [(0.0,), (0.0, 2.6, 5.2), (0.0, float("nan")), (0.0, 301.0), (0.0, "up")])
def test_a_level_for_each_layer_is_required(tmp_path: Path, levels_m: tuple[float, ...]) -> None:
    with pytest.raises(hl.InputError, match=r"level: found .*; required: 2 numbers, one for each layer, in m"):
        hl.start_project(tmp_path / "job", drawing="x.dxf", layer=("GROUND", "UPPER"), level_m=levels_m)


def test_a_layer_that_is_missing_is_told_for_each_floor(tmp_path: Path) -> None:
    drawing = two_floors(tmp_path, one_layer=True)
    with pytest.raises(hl.InputError) as caught:
        hl.start_project(tmp_path / "job", drawing=drawing, layer=("GROUND", "UPPER", "LOFT"))
    assert [issue.found for issue in caught.value.issues] == [
        'layer "UPPER", which is not in the drawing', 'layer "LOFT", which is not in the drawing',
    ]  # fmt: skip


def test_levels_have_the_range_of_their_key() -> None:
    (field,) = (one for one in RoomTable.model_fields["level_m"].metadata if hasattr(one, "minimum"))
    assert (field.minimum, field.maximum) == (LOWEST_M, HIGHEST_M)
