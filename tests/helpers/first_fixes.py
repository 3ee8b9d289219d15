"""First fix of a survey, and the surveys that its tests use."""

from __future__ import annotations

from heatloop.handover.first_fix.model import FirstFixOptions
from heatloop.handover.first_fix.plan import FirstFixResult, plan_first_fix
from heatloop.layout.build import build_layout
from heatloop.survey.survey import SurveyData
from tests.helpers.paths import DATA, HARBOUR_LOFT

SURVEYS = {
    "alder": DATA / "alder-lodge" / "draft.toml",
    "mill": DATA / "mill-annexe" / "survey.toml",
    "harbour": HARBOUR_LOFT / "survey.toml",
}


def first_fix_of(survey: SurveyData, options: FirstFixOptions | None = None) -> FirstFixResult:
    """First fix of the layout of a survey."""
    return plan_first_fix(survey, build_layout(survey), options)
