"""Forms for a survey on site, blank or filled in from a survey."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from heatloop.findings.input_errors import InputError, InputIssue, quoted_value
from heatloop.layout.draft_rooms import draft_plan
from heatloop.report.drawings.survey_form.forms import SurveyForms
from heatloop.report.drawings.survey_form.sheets import FormRoom, form_room, form_sheets
from heatloop.survey.survey import SurveyData
from heatloop.workflows.surveying.plan import drafted

ROOMS, MAX_ROOMS = 4, 200
"""Blank sheets where no number is given, and at most."""


def form(
    survey: SurveyData | str | Path | None = None, rooms: int = ROOMS, *, large_plans: bool = False
) -> SurveyForms:
    """Survey forms on A4: squared paper, and fields in the order of the survey.

    Parameters
    ----------
    survey : Survey, str or pathlib.Path, optional
        A survey, or the path of a survey file (TOML or .xlsx): its rooms are filled in, each plan at scale, to check
        them on site. The survey may be incomplete. Without a survey the sheets are blank.
    rooms : int, default 4
        Number of blank sheets, 1 to 200; not used with a survey.
    large_plans : bool, default False
        Whether a room with a plan smaller than 1:50 on its sheet has an additional page for its plan.

    Returns
    -------
    SurveyForms

    Raises
    ------
    InputError
        If the survey cannot be read at all or has no rooms, or the number of rooms is invalid.

    Examples
    --------
    >>> import heatloop as hl
    >>> hl.form("data/alder-lodge/survey.toml")
    <SurveyForms: 9 sheets>
    """
    if survey is None:
        if isinstance(rooms, bool) or not isinstance(rooms, int) or not 1 <= rooms <= MAX_ROOMS:
            required = f"a whole number, 1 to {MAX_ROOMS}"
            raise InputError([InputIssue("form", "rooms", quoted_value(rooms), required)])
        return SurveyForms("Survey forms", dt.date.today(), form_sheets([FormRoom()] * rooms))
    if not isinstance(survey, SurveyData | str | Path):
        required = "a Survey, or the path of a survey file"
        raise InputError([InputIssue("form", "survey", quoted_value(survey), required)])
    held = survey if isinstance(survey, SurveyData) else drafted(Path(survey)).survey
    if not held.rooms:
        raise InputError([InputIssue(held.file, "room", "nothing", "at least one room, or forms without a survey")])
    plans = {room.index: room for _, rooms_of_level in draft_plan(held).levels for room in rooms_of_level}
    filled = [form_room(held.project.name, room, plans.get(index)) for index, room in enumerate(held.rooms)]
    title = f"{held.project.name}: survey forms" if held.project.name else "Survey forms"
    return SurveyForms(title, held.document.issued_on or dt.date.today(), form_sheets(filled, large_plans))
