"""Surveys and catalogues as workbooks: there and back, and what helps while one is filled in."""

import math
import os
import shutil
import subprocess
from dataclasses import replace

import pandas as pd
import pytest
from openpyxl import load_workbook

import heatloop as hl
from heatloop.findings.input_errors import InputError
from heatloop.survey.read import load_tables, read_catalogue
from heatloop.survey.toml.toml_reader import load_toml
from heatloop.survey.workbook.read_workbook import workbook_tables
from heatloop.survey.workbook.sheets import CATALOGUE_SHEETS, FORM, SURVEY_SHEETS
from heatloop.survey.workbook.write_workbook import workbook_bytes
from tests.helpers.paths import DATA, HARBOUR_LOFT
from tests.helpers.random_tables import random_catalogue_tables, random_survey_tables
from tests.helpers.repository_surveys import CATALOGUES, SURVEYS, name_of
from tests.helpers.round_trips import is_close

LODGE = DATA / "alder-lodge" / "survey.toml"


def written(path, sheets, tables, catalogue=None):
    path.write_bytes(workbook_bytes(path, sheets, tables, catalogue))
    return path


@pytest.fixture(scope="module")
def lodge(tmp_path_factory):
    """The house of nine rooms as a workbook, beside its catalogue."""
    folder = shutil.copytree(LODGE.parent, tmp_path_factory.mktemp("workbook") / "lodge")
    return hl.read_survey(folder / "survey.toml").save(folder / "survey.xlsx")


@pytest.mark.parametrize("path", SURVEYS, ids=name_of)
def test_every_survey_is_equal_after_a_workbook(path, tmp_path):
    survey = hl.read_survey(path)
    again = hl.read_survey(survey.save(tmp_path / "again.xlsx"))
    assert again.cells
    assert replace(again, project=survey.project, path=path) == survey


@pytest.mark.parametrize("path", CATALOGUES, ids=name_of)
def test_every_catalogue_is_equal_after_a_workbook(path, tmp_path):
    tables = load_toml(path, CATALOGUE_SHEETS.kind.list_names())
    assert read_catalogue(written(tmp_path / "catalogue.xlsx", CATALOGUE_SHEETS, tables)) == read_catalogue(path)


@pytest.mark.parametrize("seed", range(2))
def test_every_key_comes_back_from_the_cells_of_a_workbook(seed, tmp_path):
    for sheets, tables in (
        (SURVEY_SHEETS, random_survey_tables(seed)),
        (CATALOGUE_SHEETS, random_catalogue_tables(seed)),
    ):
        again, cells = workbook_tables(written(tmp_path / f"{sheets.what}.xlsx", sheets, tables), sheets)
        assert is_close(tables, again)
        assert len(cells) > 200


def rebuilt(survey):
    """The survey with every room and loop of it made anew by the builders."""
    for room in survey.rooms:
        walls = [
            hl.build.wall(
                wall.length_m, wall.beyond, *wall.covered, *wall.obstacles, *wall.openings,
                turn_deg=wall.turn_deg, neighbour_c=wall.neighbour_c, build_up=wall.build_up,
            )
            for wall in room.walls
        ]  # fmt: skip
        others = {key: value for key, value in vars(room).items() if key not in ("name", "indoor_c", "walls")}
        survey = survey.with_room(hl.build.room(room.name, room.indoor_c, walls, **others))
    for loop in survey.loops:
        tails = hl.build.tails(loop.tails.pipe, loop.tails.flow_m, loop.tails.return_m, zeta=loop.tails.zeta)
        others = {key: value for key, value in vars(loop).items() if key not in ("name", "profile", "tails")}
        survey = survey.with_loop(hl.build.loop(loop.name, loop.profile, tails, **others))
    return survey


def test_the_same_house_four_ways_is_the_same_design(harbour_loft, tmp_path):
    survey = hl.read_survey(HARBOUR_LOFT / "survey.toml")
    frames = hl.survey_from_frames(survey.to_frames(), survey.catalogue)
    for way in (hl.read_survey(survey.save(tmp_path / "loft.xlsx")), frames, rebuilt(survey)):
        design = hl.size(way)
        assert design.tables.keys() == harbour_loft.tables.keys()
        for name, frame in harbour_loft.tables.items():
            pd.testing.assert_frame_equal(design.tables[name], frame, rtol=0.0, atol=1e-9)


def test_a_workbook_helps_while_it_is_filled_in(lodge):
    book = load_workbook(lodge)
    assert book.sheetnames[:3] == ["How to", FORM, "Rooms"]
    walls = book["Walls"]
    assert walls["C2"].value == "metres"
    assert "wall length as measured" in walls["C1"].comment.text
    assert "required" in walls["C1"].comment.text
    assert walls["C1"].fill.fgColor.rgb != walls["D1"].fill.fgColor.rgb == walls["E1"].fill.fgColor.rgb
    assert walls.freeze_panes == "C3"
    rules = {str(rule.sqref): rule for rule in walls.data_validations.dataValidation}
    length, beyond = rules["C3:C500"], rules["E3:E500"]
    assert (length.type, length.formula1, length.formula2) == ("decimal", "0", "60")
    assert (beyond.type, beyond.formula1, beyond.errorStyle) == ("list", "=far_sides", "warning")
    names = {name: found.attr_text for name, found in book.defined_names.items()}
    assert names["rooms"] == "'Rooms'!$A$3:$A$500"
    assert {"profiles", "pipes", "valves", "build_ups", "far_sides", "trunks", "loops"} <= names.keys()
    offered = [cell.value for row in book["Lists"].iter_rows() for cell in row]
    assert {"two-channel 140", "copper 22", "lockshield 15", "outdoors"} <= set(offered)
    assert sum(len(sheet.data_validations.dataValidation) for sheet in book) > 120
    listed = [rule for sheet in book for rule in sheet.data_validations.dataValidation if rule.type == "list"]
    assert all(len(rule.formula1) <= 255 for rule in listed)


def test_texts_that_look_like_something_else_stay_texts(tmp_path):
    names = ["12", "1-2", "=A1", "+1", " Hall ", '"quoted"', "3.0", "TRUE", "007", "a; b"]
    tables = {"room": [{"name": name, "indoor_c": 20, "walls": [{"length_m": 1}] * 3} for name in names]}
    path = written(tmp_path / "names.xlsx", SURVEY_SHEETS, tables)
    assert workbook_tables(path, SURVEY_SHEETS)[0] == tables
    cell = load_workbook(path)["Rooms"]["A5"]
    assert (cell.value, cell.data_type, cell.number_format, cell.quotePrefix) == ("=A1", "s", "@", True)


def test_numbers_typed_as_a_name_are_names(tmp_path):
    path = tmp_path / "numbers.xlsx"
    book = load_workbook(written(path, SURVEY_SHEETS, {}))
    for cell, value in {"A3": 12, "A4": 3.0, "B3": " 20.5 ", "B4": "19.5"}.items():
        book["Rooms"][cell] = value
    book["Walls"]["A3"], book["Walls"]["C3"] = 12, 4
    book["Job"]["C3"] = "−3"
    book["Route"]["A3"] = "x"
    book.save(path)
    with pytest.raises(InputError) as caught:
        load_tables(path, SURVEY_SHEETS)
    assert [issue.place for issue in caught.value.issues] == ["Route!A3"]
    book["Route"]["A3"] = None
    book.save(path)
    tables = load_tables(path, SURVEY_SHEETS)[0]
    rooms = tables["room"]
    assert [room["name"] for room in rooms] == ["12", "3"]
    assert [room["indoor_c"] for room in rooms] == [20.5, 19.5]
    assert rooms[0]["walls"] == [{"length_m": 4}]
    assert tables["project"] == {"outdoor_c": -3.0}


@pytest.mark.parametrize("value", ["a\x07b", math.nan, math.inf, 10**400, {"a": 1}, "x" * 40_000])
def test_what_no_cell_can_hold_is_told(value, tmp_path):
    tables = {"project": {"name": value}} if not isinstance(value, dict) else {"space": [{"name": [value]}]}
    with pytest.raises(InputError, match=r"(Job!C2|Spaces!A3): found") as caught:
        workbook_bytes(tmp_path / "x.xlsx", SURVEY_SHEETS, tables)
    assert len(caught.value.issues) == 1


def office():
    """The path of a spreadsheet program, None where there is none."""
    return shutil.which("soffice") or shutil.which("libreoffice")


@pytest.mark.skipif(office() is None, reason="no LibreOffice for a workbook that it opened and saved")
def test_a_spreadsheet_program_opens_and_saves_it_without_loss(lodge, tmp_path):
    environment = {**os.environ, "HOME": str(tmp_path)}
    asked = [office(), "--headless", "--convert-to", "xlsx", "--outdir", str(tmp_path / "saved"), str(lodge)]
    subprocess.run(asked, check=True, capture_output=True, env=environment, timeout=120)
    shutil.copy(lodge.parent / "catalogue.toml", tmp_path / "saved")
    saved = hl.read_survey(tmp_path / "saved" / "survey.xlsx")
    assert replace(saved, path=None) == replace(hl.read_survey(lodge), path=None)
