"""A survey begun from a drawing: lengths and areas kept, and every value named that is left to fill in."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from heatloop.findings.input_errors import InputError
from heatloop.survey.drawing.options import DrawingOptions
from heatloop.survey.drawing.read_dxf import read_drawing
from heatloop.survey.drawing.survey_template import TemplateOptions, survey_skeleton
from heatloop.survey.entry import read_survey
from heatloop.survey.read import read_catalogue
from heatloop.survey.room_geometry import room_geometry
from heatloop.survey.starter_files import start_files
from tests.helpers.drawn_house import drawn_house


def _filled(text: str) -> str:
    """A skeleton with every mark filled in."""
    values = {
        "outdoor_c": "-3.0", "flow_temp_c": "50.0", "u_w_m2k": "0.5", "indoor_c": "20.0", "height_m": "2.4",
        "sill_m": "0.9", "length_m": "3.0", "beyond": '"outdoors"', "profile": '"two-channel"', "pipe": '"copper 15"',
        "flow": '"thermostatic 15"', "return": '"lockshield 15"',
    }  # fmt: skip
    text = re.sub(r'height_m = "\?", sill_m', "height_m = 1.2, sill_m", text)
    return re.sub(r'(\w+) = "\?"', lambda m: f"{m[1]} = {values[m[1]]}", text)


def test_outline_to_skeleton_to_survey_keeps_lengths_and_area(tmp_path: Path) -> None:
    start_files(tmp_path / "start")
    (tmp_path / "catalogue.toml").write_bytes((tmp_path / "start" / "catalogue.toml").read_bytes())
    rooms = read_drawing(drawn_house(tmp_path), "ROOMS")
    text = survey_skeleton(rooms)
    path = tmp_path / "survey.toml"
    path.write_text(_filled(text), encoding="utf-8")
    survey = read_survey(path)
    assert [room.name for room in survey.rooms] == ['Hall "A"', "Kitchen\\back", "Living room"]
    for drawn, room in zip(rooms, survey.rooms, strict=True):
        assert [w.length_m for w in room.walls] == [w.length_m for w in drawn.walls]
        assert [w.turn_deg for w in room.walls] == [w.turn_deg for w in drawn.walls]
        geometry = room_geometry(
            [w.length_m for w in room.walls], [w.turn_deg for w in room.walls], room.first_wall_bearing_deg
        )
        assert geometry.floor_area_m2 == pytest.approx(drawn.drawn_area_m2, abs=0.01)
        assert geometry.misclosure_m < 0.005
    assert survey.room('Hall "A"').walls[0].length_m == 2.902
    shared = {o.name for w in survey.room("Living room").walls for o in w.openings}
    assert shared == {'Living room to Hall "A"'}
    assert survey.room('Hall "A"').walls[2].beyond == "Kitchen\\back"


def test_a_skeleton_names_every_value_that_is_left(tmp_path: Path) -> None:
    path = tmp_path / "survey.toml"
    text = survey_skeleton(read_drawing(drawn_house(tmp_path), "ROOMS"))
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_survey(path)
    told = [fault for fault in caught.value.issues if "?" in fault.found]
    # names of the catalogue cannot be judged before there is one
    marks = [key for key in re.findall(r'(\w+) = "\?"', text) if key not in ("profile", "pipe", "flow", "return")]
    assert len(told) == len(marks) > 20
    assert any(f.place == 'room "Living room", indoor_c' and "°C" in f.required for f in told)
    assert any(f.place == 'build-up "outer wall", u_w_m2k' for f in told)
    assert any("where there is no file" in fault.found for fault in caught.value.issues)


def test_what_is_known_is_written_in(tmp_path: Path) -> None:
    start_files(tmp_path)
    options = TemplateOptions(
        project="Job", entries=read_catalogue(tmp_path / "catalogue.toml"), height_m=2.5, indoor_c=20.0,
        outdoor_c=-5.0, flow_temp_c=45.0, floor_beyond="outdoors", ceiling_beyond="outdoors",
    )  # fmt: skip
    rooms = read_drawing(drawn_house(tmp_path), "ROOMS", DrawingOptions(levels_m=(2.7,)))
    text = survey_skeleton(rooms, options)
    for part in ('profile = "two-channel"', "level_m = 2.7", "indoor_c = 20", "height_m = 2.5", "outdoor_c = -5"):
        assert part in text
    left = re.findall(r'^[^#"\n]*(\w+) = "\?"', text, re.MULTILINE)
    assert "indoor_c" not in text.split('"?"')[0].split("\n")[-1]
    assert set(re.findall(r'(\w+) = "\?"', text)) == {"u_w_m2k", "length_m", "height_m", "sill_m"}
    assert left
    with pytest.raises(ValueError, match="requires at least one"):
        survey_skeleton(())
