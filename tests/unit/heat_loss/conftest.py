"""The good survey of the tests of bad ones."""

from __future__ import annotations

import pytest

import heatloop as hl
from heatloop.survey.entry import read_survey
from tests.helpers.bad_surveys import GOOD


@pytest.fixture(scope="module")
def survey() -> hl.Survey:
    return read_survey(GOOD / "survey.toml")
