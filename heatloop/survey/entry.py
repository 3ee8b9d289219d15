"""Surveys from files, from data frames and from arguments of functions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from pathlib import Path
from typing import TYPE_CHECKING

from heatloop.findings.input_errors import InputError, InputIssue, check_given, quoted_value
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.editing import Survey
from heatloop.survey.files.survey_tables import ProjectTable
from heatloop.survey.files.validation import IssueCollector, check_tables
from heatloop.survey.read import is_as_read, load_tables, marked_as_read, read_again, read_catalogue, survey_of
from heatloop.survey.rules.rooms import check_indoor
from heatloop.survey.rules.temperatures import check_temperatures
from heatloop.survey.survey import SurveyData, values_of
from heatloop.survey.to_tables.survey_to_tables import project_to_table, survey_to_tables
from heatloop.survey.workbook.frames import tables_of_frames
from heatloop.survey.workbook.sheets import SURVEY_SHEETS
from heatloop.survey.workbook.sound_rows import sound_tables

if TYPE_CHECKING:
    import pandas as pd


def read_survey(path: str | Path) -> Survey:
    """Read a survey and its catalogue.

    Parameters
    ----------
    path : str or pathlib.Path
        The survey file (TOML), or a workbook (.xlsx). The path of its catalogue is
        relative to the folder of the survey.

    Returns
    -------
    Survey

    Raises
    ------
    InputError
        If a file cannot be read or has faults. Every issue of both files is listed with its location, in a workbook
        with its cell.

    See Also
    --------
    size : Size the heating system of a survey.

    Examples
    --------
    >>> import heatloop as hl
    >>> survey = hl.read_survey("data/mill-annexe/survey.toml")
    >>> [room.name for room in survey.rooms]
    ['Annexe']
    """
    path = Path(path)
    tables, cells = load_tables(path, SURVEY_SHEETS)
    return marked_as_read(as_survey(survey_of(tables, path, cells=cells)))


def survey_from_frames(frames: Mapping[str, pd.DataFrame], catalogue: str | Path | Catalogue) -> Survey:
    """A survey from data frames: the sheets of a workbook.

    Parameters
    ----------
    frames : mapping of str to pandas.DataFrame
        Sheets by their titles, as `Survey.to_frames` gives them. Missing cells are blank; numbers may have
        any type.
    catalogue : str, pathlib.Path or Catalogue
        The catalogue, or its file.

    Returns
    -------
    Survey

    Raises
    ------
    InputError
        If the frames have errors; each is listed with its sheet, row (from 1) and column.

    Examples
    --------
    >>> import heatloop as hl
    >>> frames = hl.read_survey("data/mill-annexe/survey.toml").to_frames()
    >>> frames["Rooms"]["indoor_c"] = 21.0
    >>> hl.survey_from_frames(frames, "data/mill-annexe/catalogue.toml").room("Annexe").indoor_c
    21.0
    """
    check_given(
        "survey_from_frames",
        frames=(frames, Mapping, "a mapping of titles of sheets to data frames"),
        catalogue=(catalogue, str | Path | Catalogue, "a catalogue, or the path of its file"),
    )
    tables, cells = sound_tables(SURVEY_SHEETS, tables_of_frames(SURVEY_SHEETS, frames, "frames"), "frames")
    stock = catalogue if isinstance(catalogue, Catalogue) else read_catalogue(catalogue)
    project = tables.setdefault("project", {})
    if not isinstance(catalogue, Catalogue):
        project["catalogue"] = Path(catalogue).as_posix()
    elif "catalogue" not in project:
        project["catalogue"] = ""
    return marked_as_read(as_survey(read_again(tables, None, stock, cells)))


def survey_from(call: str, survey_or_path: object, known: SurveyData | None = None) -> Survey:
    """The survey given to the function `call`, checked, or the one read from the given path.

    `known`: a survey that the reader has made. If the given one differs only in its project, less has to be checked.
    Raises InputError for any other argument, and with every error of the survey or the file.
    """
    if isinstance(survey_or_path, Survey) and is_as_read(survey_or_path):
        return survey_or_path
    if isinstance(survey_or_path, SurveyData):
        if known is not None and (changed := _with_sound_project(survey_or_path, known)) is not None:
            return marked_as_read(as_survey(changed))
        again = read_again(
            survey_to_tables(survey_or_path), survey_or_path.path, survey_or_path.catalogue, survey_or_path.cells
        )
        return marked_as_read(as_survey(again))  # where Python gave a whole number, it holds a float
    if isinstance(survey_or_path, str | Path):
        return read_survey(survey_or_path)
    raise InputError(
        [InputIssue(call, "survey", quoted_value(survey_or_path), "a Survey, or the path of a survey file")]
    )


def _with_sound_project(survey: SurveyData, known: SurveyData) -> SurveyData | None:
    """The survey as it is read, if it is `known` with another project, and this project is without an error.

    Of the rules of a survey only those of its temperatures depend on the project. None where anything else differs, or
    where there is an error: the whole survey is then read again, and the error is described.
    """
    catalogue = known.project.catalogue
    if not is_as_read(known) or not catalogue or survey.project.catalogue != catalogue:
        return None
    others = [item.name for item in fields(SurveyData) if item.name != "project"]
    if not all(_is_same(getattr(survey, name), getattr(known, name)) for name in others):
        return None
    checked = check_tables(ProjectTable, project_to_table(survey.project), "")
    if checked.findings.faulty:
        return None
    changed = replace(survey, project=checked.table.value())
    findings = IssueCollector("", {})
    check_temperatures(changed, findings)
    for index, room in enumerate(changed.rooms):
        check_indoor(("room", index), room, changed.project.outdoor_c, findings)
    return None if findings.faulty else changed


def _is_same(one: object, other: object) -> bool:
    """Whether one object, or each of several, is the same object as the other."""
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(a is b for a, b in zip(one, other, strict=True))
    return one is other


def as_survey(survey: SurveyData) -> Survey:
    """The same survey with the methods that change it."""
    return survey if isinstance(survey, Survey) else Survey(**values_of(survey))
