"""The plan of a survey while it is entered: rooms before any loop exists, with numbered errors."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from heatloop.findings.input_errors import InputError, InputIssue, quoted_value
from heatloop.layout.build import layout_faults
from heatloop.layout.draft_rooms import draft_plan
from heatloop.report.drawings.survey_plan.level import common_scale, level_picture
from heatloop.report.drawings.survey_plan.picture import SurveyPlan
from heatloop.report.drawings.survey_plan.remarks import remarks_of
from heatloop.survey.read import HELD_IN_PYTHON, SurveyDraft, load_tables, read_draft
from heatloop.survey.survey import SurveyData
from heatloop.survey.to_tables.survey_to_tables import survey_to_tables
from heatloop.survey.toml.input_text import file_error
from heatloop.survey.workbook.sheets import SURVEY_SHEETS
from heatloop.text.formatting import listing


def plan(survey: SurveyData | str | Path) -> SurveyPlan:
    """The rooms of a survey as far as they can be drawn, with numbered errors.

    Parameters
    ----------
    survey : Survey, str or pathlib.Path
        A survey, or the path of a survey file (TOML or .xlsx) that may be incomplete: it can be without
        loops, and errors are drawn, not raised.

    Returns
    -------
    SurveyPlan

    Raises
    ------
    InputError
        If there is no such file.

    Notes
    -----
    A room that does not close is drawn as measured, with a dashed red line from the end of its last wall to the start
    of its first. A file that cannot be read at all gives a plan without rooms and with one error.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.plan("data/alder-lodge/survey.toml").issues
    ()
    """
    if isinstance(survey, SurveyData):
        tables = survey_to_tables(survey)
        if survey.project.catalogue == "":  # a catalogue that is in no file
            tables["project"] = {**tables["project"], "catalogue": HELD_IN_PYTHON}
        draft = read_draft(tables, survey.path, survey.catalogue, survey.cells)
        return _drawn(draft, survey.project.name)
    if not isinstance(survey, str | Path):
        required = "a Survey, or the path of a survey file"
        raise InputError([InputIssue("plan", "survey", quoted_value(survey), required)])
    path = Path(survey)
    if not path.is_file():
        found = "a folder" if path.is_dir() else "no such file"
        raise file_error(path, "", found, "the path of a survey file, TOML or .xlsx")
    try:
        return _drawn(drafted(path), path.name)
    except InputError as error:
        return unreadable(path.name, error)


def drafted(path: Path) -> SurveyDraft:
    """A survey file as far as it can be read; InputError where nothing of it can be read."""
    tables, cells = load_tables(path, SURVEY_SHEETS)
    return read_draft(tables, path, cells=cells)


def unreadable(title: str, error: InputError) -> SurveyPlan:
    """The plan of a file that cannot be read: only its errors."""
    return SurveyPlan(title, error.issues, error.more, (), remarks_of(error.issues, ()), ())


def _drawn(draft: SurveyDraft, file_name: str) -> SurveyPlan:
    """The plan of the readable part; errors of the layout are added once there are no others."""
    survey, issues = draft.survey, draft.issues
    if not issues and not draft.more and survey.loops:
        issues = layout_faults(survey)
    remarks = remarks_of(issues, draft.places)
    drafted_levels = draft_plan(survey)
    scale = common_scale([rooms for _, rooms in drafted_levels.levels])
    levels = []
    for level_m, rooms in drafted_levels.levels:
        indices = {room.index for room in rooms}
        levels.append(
            level_picture(level_m, rooms, tuple(remark for remark in remarks if remark.room in indices), scale)
        )
    names = [survey.rooms[index].name or f"room {index + 1}" for index in drafted_levels.missing]
    notes = [f"Not drawn, because lengths of walls are missing: {listing(names)}."] if names else []
    if draft.more:
        notes.append(f"{draft.more} more faults are not listed.")
    return SurveyPlan(survey.project.name or file_name, issues, draft.more, tuple(levels), remarks, tuple(notes))


def behind_fault(earlier: SurveyPlan, latest: SurveyPlan) -> SurveyPlan:
    """The errors of a file that cannot be read, over the plan that was drawn last."""
    if latest.levels or not earlier.levels:
        return latest
    return replace(latest, title=earlier.title, levels=earlier.levels, notes=earlier.notes, is_earlier=True)
