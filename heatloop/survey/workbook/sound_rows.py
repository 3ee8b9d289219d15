"""Tables from rows, or every error of the rows that does not follow from another."""

from __future__ import annotations

from typing import Any

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.survey.files.key_path import location_text, place_in_file
from heatloop.survey.files.validation import check_tables
from heatloop.survey.workbook.rows import FoundRows
from heatloop.survey.workbook.sheets import SheetSet


def sound_tables(sheets: SheetSet, contents: FoundRows, file: str) -> tuple[dict[str, Any], dict[str, str]]:
    """Tables from rows, and the cells by the places in words that messages use.

    An unknown heading or a row without a parent means that rows are missing. InputError then has these errors, and
    those of type and range in filled cells, but no error that may only follow from them.
    """
    cells: dict[str, str] = {}
    for loc, cell in contents.cells.items():
        cells.setdefault(location_text(contents.tables, loc), cell)
    if contents.issues:
        raise InputError([*contents.issues, *_own_faults(sheets, contents, cells, file)])
    return contents.tables, cells


def _own_faults(sheets: SheetSet, contents: FoundRows, cells: dict[str, str], file: str) -> list[InputIssue]:
    """Errors of type and range in filled cells."""
    leaves = [
        location_text(contents.tables, loc) for loc, cell in contents.cells.items() if cell in contents.filled and loc
    ]
    exact = {place_in_file(place, cells) for place in leaves if place in cells}
    faults = check_tables(sheets.kind, contents.tables, file, cells=cells).findings.faults
    return [fault for fault in faults if fault.found != "nothing" and fault.place in exact]
