"""A survey as the reader has made it is not checked again; any other is."""

import pickle
from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.findings.input_errors import InputError
from heatloop.survey.entry import survey_from
from heatloop.survey.read import is_as_read
from heatloop.survey.survey import at_flow_temp
from tests.helpers.paths import DATA


@pytest.fixture(scope="module")
def survey():
    return hl.read_survey(DATA / "mill-annexe" / "survey.toml")


def test_a_survey_of_the_reader_is_used_as_it_is(survey):
    framed = hl.survey_from_frames(survey.to_frames(), survey.catalogue)
    for made in (survey, survey.with_outdoor(-5.0), framed, pickle.loads(pickle.dumps(survey))):
        assert is_as_read(made)
        assert survey_from("size", made) is made


def test_a_survey_changed_by_other_means_is_checked_and_then_equal(survey):
    for changed in (replace(survey), at_flow_temp(survey, 60.0), replace(survey, rooms=survey.rooms)):
        assert not is_as_read(changed)
        checked = survey_from("size", changed)
        assert checked == changed
        assert is_as_read(checked)


def test_faults_of_a_changed_survey_are_found_before_it_is_sized(survey):
    wrong = replace(survey, project=replace(survey.project, delta_t_k=-3.0))
    with pytest.raises(InputError, match="delta_t_k"):
        hl.size(wrong)
