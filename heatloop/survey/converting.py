"""Convert a survey or a catalogue from TOML to a workbook and back, and a survey into its file."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.files.key_path import Loc
from heatloop.survey.files.survey_tables import SurveyTable
from heatloop.survey.files.validation import check_tables
from heatloop.survey.read import read_catalogue, survey_of
from heatloop.survey.rules.rooms import compass_direction
from heatloop.survey.survey import SurveyData
from heatloop.survey.to_tables.survey_to_tables import survey_to_tables
from heatloop.survey.toml.input_text import file_error, input_text
from heatloop.survey.toml.new_file import write_new
from heatloop.survey.toml.toml_reader import toml_tables
from heatloop.survey.toml.toml_slips import comment_count
from heatloop.survey.toml.toml_writer import merged_toml, toml_text
from heatloop.survey.workbook.read_workbook import SUFFIX, is_workbook, sheet_titles, workbook_rows
from heatloop.survey.workbook.rows import grids_of, tables_of
from heatloop.survey.workbook.sheets import CATALOGUE_SHEETS, FORM, SURVEY_SHEETS, SheetSet
from heatloop.survey.workbook.sound_rows import sound_tables

TOML = ".toml"

ROUNDS = 3
"""A change is written into a file at most so often: rooms that copy a changed room are written out in the second."""


@dataclass(frozen=True)
class Conversion:
    """Result of a conversion.

    "survey" or "catalogue", the new file, and the number of comments or notes that were not carried over.
    """

    what: str
    path: Path
    left_behind: int


def convert_file(source: Path, target: Path) -> Conversion:
    """Write a survey or a catalogue as the other kind of file: TOML as a workbook, a workbook as TOML.

    Values are carried over unchanged, including a "?" that is still to be filled in. The path of the catalogue is
    written relative to the new file. Comments of a TOML file and notes of a workbook are not carried over.

    Raises InputError where the target exists or has another kind of name, the source cannot be read, or it has unknown
    keys or headings.
    """
    if {source.suffix.lower(), target.suffix.lower()} != {TOML, SUFFIX}:
        found = f"{source.name} and {target.name}"
        raise file_error("convert", "", found, "a TOML file (.toml) and a workbook (.xlsx), the one from the other")
    if is_workbook(source):
        sheets, tables, left_behind = _from_workbook(source)
    else:
        sheets, tables, left_behind = _from_toml(source)
    tables = _moved(tables, source, target)
    text = toml_text(tables, f"Converted from {source.name} by heatloop.")
    write_new(target, file_content(target, tables, text, _catalogue(tables, target), sheets))
    return Conversion(sheets.what, target, left_behind)


def file_content(
    path: Path,
    tables: Mapping[str, Any],
    text: str,
    catalogue: Catalogue | None,
    sheets: SheetSet = SURVEY_SHEETS,
) -> str | bytes:
    """Content of a new file with these tables: a workbook or, by any other name, the `text`."""
    if not is_workbook(path):
        return text
    from heatloop.survey.workbook.write_workbook import workbook_bytes  # here: openpyxl takes a while

    return workbook_bytes(path, sheets, tables, catalogue)


def _from_toml(source: Path) -> tuple[SheetSet, dict[str, Any], int]:
    text = input_text(source, "a TOML file")
    tables = toml_tables(source, text)
    sheets = CATALOGUE_SHEETS if "profile" in tables and "project" not in tables else SURVEY_SHEETS
    tables = toml_tables(source, text, sheets.kind.list_names())
    _check_nothing_is_lost(sheets, tables, str(source))
    return sheets, tables, comment_count(text)


def _from_workbook(source: Path) -> tuple[SheetSet, dict[str, Any], int]:
    titles = sheet_titles(source)
    catalogue_only = {sheet.title for sheet in CATALOGUE_SHEETS.sheets}
    sheets = CATALOGUE_SHEETS if FORM not in titles and catalogue_only.intersection(titles) else SURVEY_SHEETS
    contents = workbook_rows(source, sheets)
    tables, _ = sound_tables(sheets, contents, str(source))
    ordered = {key: tables[key] for key in sheets.kind.key_names() if key in tables}
    return sheets, ordered, len(contents.notes)


def _check_nothing_is_lost(sheets: SheetSet, tables: dict[str, Any], file: str) -> None:
    """Raise InputError where tables contain something without a cell: unknown keys, or values in place of tables."""
    again = tables_of(sheets, grids_of(sheets, tables), lambda *_: "", file).tables
    if _filled(again) == _filled(tables):
        return
    faults = check_tables(sheets.kind, tables, file).findings.faults
    lost = InputIssue(file, "", "what no cell of a workbook can hold", "the keys and values of a survey or a catalogue")
    raise InputError(faults or [lost])


def _filled(node: Any) -> Any:
    """Tables without empty values, which are blank cells in a workbook."""
    if isinstance(node, dict):
        return {key: held for key, value in node.items() if (held := _filled(value)) not in ({}, [])}
    return [_filled(item) for item in node] if isinstance(node, list) else node


def _moved(tables: dict[str, Any], source: Path, target: Path) -> dict[str, Any]:
    """The tables with the path of the catalogue relative to the folder of the target."""
    project = tables.get("project")
    named = project.get("catalogue") if isinstance(project, Mapping) else None
    if not isinstance(project, dict) or not isinstance(named, str) or source.parent == target.parent:
        return tables
    path = Path(os.path.relpath(source.parent / named, target.parent)).as_posix()
    return {**tables, "project": {**project, "catalogue": path}}


def _catalogue(tables: Mapping[str, Any], target: Path) -> Catalogue | None:
    """The catalogue of a survey, as a source of names to choose from; None where it cannot be read."""
    project = tables.get("project")
    named = project.get("catalogue") if isinstance(project, Mapping) else None
    if not isinstance(named, str):
        return None
    try:
        return read_catalogue(target.parent / named)
    except InputError:
        return None


def wall_notes(survey: SurveyData) -> dict[Loc, str]:
    """For the walls of each room which way they face and what is behind them: comments of a survey file."""
    notes: dict[Loc, str] = {}
    for index, room in enumerate(survey.rooms):
        bearing_deg = room.first_wall_bearing_deg
        for number, wall in enumerate(room.walls):
            beyond = f"; {wall.beyond} behind it" if wall.beyond else ""
            facing = (
                f"{number + 1} {compass_direction(bearing_deg - 90.0)} wall, going {compass_direction(bearing_deg)}"
            )
            notes["room", index, "walls", number] = facing + beyond
            bearing_deg += wall.turn_deg
    return notes


def text_of_changed_file(target: Path, survey: SurveyData) -> str:
    """The text of a survey file (TOML) changed so that it holds this survey; its comments and order stay."""
    required = survey_to_tables(survey)
    text = input_text(target, "a survey file (TOML)")
    held = survey_to_tables(survey_of(toml_tables(target, text, SurveyTable.list_names()), target))
    for _ in range(ROUNDS):
        if held == required:
            return text
        text = merged_toml(text, held, required)
        tables = toml_tables(target, text, SurveyTable.list_names())
        held = survey_to_tables(survey_of(tables, target, survey.catalogue))
    raise file_error(target, "", "a file whose tables cannot be changed one by one", "a new file, by save")


def survey_text(survey: SurveyData) -> str:
    """A survey as the text of a survey file, with the direction above each wall."""
    return toml_text(survey_to_tables(survey), f"{survey.project.name}: written by heatloop.", wall_notes(survey))


def write_survey(survey: SurveyData, path: str | Path, *, keep_comments: bool = False) -> Path:
    """Write a survey into a new file, with the path of its catalogue relative to it; return the path of the file.

    `keep_comments`: with the comments of the file from which the survey was read, if that is TOML. Raises InputError
    where the file exists, its name has neither ending, or it cannot be written, and where the catalogue is in no file.
    """
    target = Path(path)
    if target.suffix.lower() not in (TOML, SUFFIX):
        raise file_error(target, "", "a name that ends in neither", "the name of a new file, .toml or .xlsx")
    if not survey.project.catalogue:
        raise file_error(survey.file, "project, catalogue", "a catalogue in no file", "a name, by with_values")
    catalogue = Path(os.path.relpath(survey.catalogue_file, target.parent)).as_posix()
    moved = replace(survey, project=replace(survey.project, catalogue=catalogue))
    if keep_comments and survey.path is not None and survey.path.suffix.lower() == TOML:
        text = text_of_changed_file(survey.path, moved)
    else:
        text = survey_text(moved)
    return write_new(target, file_content(target, survey_to_tables(moved), text, survey.catalogue))
