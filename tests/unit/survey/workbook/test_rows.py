"""Every key of the files there and back by rows: on tables drawn from the markers of the keys themselves."""

import math
import os
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatloop.survey import read
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.files.validation import check_tables
from heatloop.survey.to_tables.survey_to_tables import survey_to_tables
from heatloop.survey.toml.toml_reader import load_toml
from heatloop.survey.toml.toml_writer import toml_text
from heatloop.survey.workbook.choices import NAMES
from heatloop.survey.workbook.rows import grids_of, tables_of
from heatloop.survey.workbook.sheets import CATALOGUE_SHEETS, SURVEY_SHEETS, TITLES
from tests.helpers.random_tables import random_catalogue_tables, random_survey_tables
from tests.helpers.repository_surveys import CATALOGUES, SURVEYS, name_of
from tests.helpers.round_trips import values_in

SEEDS = st.integers(0, 2**32 - 1)
DRAWN = int(os.environ.get("HEATLOOP_RANDOM_TABLES", "12"))
"""How many sets of tables are drawn."""


def there_and_back(sheets, tables):
    found = tables_of(sheets, grids_of(sheets, tables), lambda title, row, column: f"{title} {row} {column}", "file")
    assert found.issues == []
    return found.tables


@settings(max_examples=DRAWN, deadline=None)
@given(SEEDS)
def test_every_key_of_a_survey_there_and_back(seed):
    tables = random_survey_tables(seed)
    assert check_tables(SURVEY_SHEETS.kind, tables, "file").findings.faults == []
    assert values_in(tables) > 200
    assert there_and_back(SURVEY_SHEETS, tables) == tables
    assert tomllib.loads(toml_text(tables, "a test")) == tables


@settings(max_examples=DRAWN, deadline=None)
@given(SEEDS)
def test_every_key_of_a_catalogue_there_and_back(seed):
    tables = random_catalogue_tables(seed)
    assert check_tables(CATALOGUE_SHEETS.kind, tables, "file").findings.faults == []
    assert there_and_back(CATALOGUE_SHEETS, tables) == tables
    assert tomllib.loads(toml_text(tables, "a test")) == tables


@settings(max_examples=DRAWN, deadline=None)
@given(SEEDS)
def test_every_key_reaches_the_frozen_values_and_comes_back(seed):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(read, "check_survey", lambda *_: None)  # names and walls are drawn by chance
        survey = read.survey_of(random_survey_tables(seed), None, Catalogue())
        again = read.survey_of(survey_to_tables(survey), None, Catalogue())
    assert again == survey
    assert survey_to_tables(again) == survey_to_tables(survey)


def test_the_tables_that_are_drawn_have_every_key():
    """Over a few seeds every column of every sheet is filled somewhere."""
    for sheets, draw in ((SURVEY_SHEETS, random_survey_tables), (CATALOGUE_SHEETS, random_catalogue_tables)):
        filled, expected = set(), set()
        for seed in range(12):
            for grid in grids_of(sheets, draw(seed)):
                for _, row in grid.rows:
                    cells = (row[:2], row[2:]) if grid.title == "Job" else ((grid.title,), row)
                    names = [row[1]] if grid.title == "Job" else grid.headings
                    title = row[0] if grid.title == "Job" else grid.title
                    filled |= {(title, n) for n, cell in zip(names, cells[1], strict=True) if cell is not None}
        expected |= {(key, column.heading) for key, columns in sheets.form for column in columns}
        expected |= {(sheet.title, heading) for sheet in sheets.sheets for heading in sheet.headings}
        assert expected - filled == ({("Rooms", "copy_of")} if sheets is SURVEY_SHEETS else set())


@pytest.mark.parametrize("path", [*SURVEYS, *CATALOGUES], ids=name_of)
def test_files_of_the_repository_there_and_back(path):
    sheets = SURVEY_SHEETS if path in SURVEYS else CATALOGUE_SHEETS
    tables = load_toml(path, sheets.kind.list_names())
    assert there_and_back(sheets, tables) == tables


def test_every_list_of_tables_has_a_sheet_and_every_title_a_list():
    """A new list of tables fails here until it has a title."""
    found = [sheet for sheets in (SURVEY_SHEETS, CATALOGUE_SHEETS) for sheet in sheets.sheets]
    assert [sheet.title for sheet in found if sheet.title not in TITLES.values()] == []
    assert {sheet.title for sheet in found} == set(TITLES.values())
    assert len(set(TITLES.values())) == len(TITLES)


def test_every_heading_that_chooses_from_names_is_there():
    headings = {
        heading.rpartition(".")[2]
        for sheets in (SURVEY_SHEETS, CATALOGUE_SHEETS)
        for sheet in sheets.sheets
        for heading in sheet.headings
    }
    assert set(NAMES) <= headings


def test_the_sheets_of_a_survey_are_those_told():
    walls = next(sheet for sheet in SURVEY_SHEETS.sheets if sheet.title == "Walls")
    assert walls.headings == ("Room", "Wall", "length_m", "turn_deg", "beyond", "neighbour_c", "build_up")
    route = next(sheet for sheet in SURVEY_SHEETS.sheets if sheet.title == "Route")
    assert route.parents == ("Loop", "Arm")
    assert math.isclose(sum(len(sheet.columns) for sheet in SURVEY_SHEETS.sheets), 113, abs_tol=40)
