"""Entries of a good survey made wrong one at a time: a cell of its workbook, a key of its file."""

from __future__ import annotations

import copy
import random
from collections.abc import Iterator, Sequence
from typing import Any

import heatloop as hl
from heatloop.survey.files.fields import TextField
from heatloop.survey.files.key_path import Loc
from heatloop.survey.read import survey_of
from heatloop.survey.survey import SurveyData
from heatloop.survey.workbook.choices import names_for
from heatloop.survey.workbook.read_workbook import cell_address
from heatloop.survey.workbook.rows import Grid, tables_of
from heatloop.survey.workbook.sheets import FORM, SURVEY_SHEETS, Column
from heatloop.survey.workbook.sound_rows import sound_tables

WRONG_CELLS = ("No Such Thing", "?")
"""What no cell with a number, a choice or a name from a list may hold."""

Target = tuple[str, int, int, Column | None]
"""A cell by the title of its sheet, its row from 1 and its column from 0, with the key that it has."""


def columns_of(title: str) -> dict[Any, Column | None]:
    """The columns of a sheet by their headings; None for a heading that says where a row belongs."""
    if title == FORM:
        return {(key, column.heading): column for key, columns in SURVEY_SHEETS.form for column in columns}
    sheet = next(sheet for sheet in SURVEY_SHEETS.sheets if sheet.title == title)
    return {**dict.fromkeys(sheet.parents), **{column.heading: column for column in sheet.columns}}


def wrong_cell_targets(grids: Sequence[Grid]) -> Iterator[Target]:
    """Every filled cell that can be wrong by itself; free texts may be anything."""
    for grid in grids:
        columns = columns_of(grid.title)
        for number, row in grid.rows:
            for place, cell in enumerate(row):
                heading = (row[0], row[1]) if grid.title == FORM else grid.headings[place]
                if cell is None or (grid.title == FORM and place != 2):
                    continue
                column = columns[heading]
                is_free = column is not None and isinstance(column.field, TextField)
                if not is_free or (names_for(heading, column) if grid.title != FORM else False):
                    yield grid.title, number, place, column


def with_cell(grids: Sequence[Grid], title: str, number: int, place: int, value: object) -> list[Grid]:
    """The sheets with one cell changed."""
    return [
        grid
        if grid.title != title
        else Grid(
            title,
            grid.headings,
            tuple((n, (*row[:place], value, *row[place + 1 :]) if n == number else row) for n, row in grid.rows),
        )
        for grid in grids
    ]


def survey_of_grids(grids: Sequence[Grid], survey: SurveyData) -> SurveyData:
    """The survey in sheets, with the catalogue of another; InputError names cells."""
    found = tables_of(SURVEY_SHEETS, grids, cell_address, "house.xlsx")
    tables, cells = sound_tables(SURVEY_SHEETS, found, "house.xlsx")
    return survey_of(tables, None, survey.catalogue, cells)


def told_cells(error: hl.InputError) -> list[str]:
    """The cells that the lines of an error begin with."""
    return [issue.place.partition(" (")[0] for issue in error.issues]


def keys_of(node: Any, loc: Loc = ()) -> Iterator[Loc]:
    """The places of all keys in nested tables."""
    steps = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for step, child in steps:
        if isinstance(step, str):
            yield (*loc, step)
        yield from keys_of(child, (*loc, step))


def misspelt(key: str, draw: random.Random) -> str:
    """A key with two letters exchanged, one left out, one doubled, or one of another kind."""
    at = draw.randrange(len(key))
    kind = draw.randrange(4)
    if kind == 0 and at + 1 < len(key) and key[at] != key[at + 1]:
        return key[:at] + key[at + 1] + key[at] + key[at + 2 :]
    if kind == 1 and len(key) > 2:
        return key[:at] + key[at + 1 :]
    return key[:at] + key[at] + key[at:] if kind == 2 else f"{key[:at]}x{key[at:]}"


def with_key(tables: dict[str, Any], loc: Loc, key: str) -> dict[str, Any]:
    """The tables with one key under another name, in its place among the others."""
    changed = copy.deepcopy(tables)
    node: Any = changed
    for step in loc[:-1]:
        node = node[step]
    renamed = {key if name == loc[-1] else name: value for name, value in node.items()}
    node.clear()
    node.update(renamed)
    return changed
