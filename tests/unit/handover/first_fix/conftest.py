"""The survey that most tests of first fix use."""

from __future__ import annotations

import pytest

from heatloop.survey.entry import read_survey
from heatloop.survey.survey import SurveyData
from tests.helpers.first_fixes import SURVEYS


@pytest.fixture(scope="module")
def alder() -> SurveyData:
    return read_survey(SURVEYS["alder"])
