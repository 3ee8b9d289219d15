"""A survey as the reader has made it is not checked again; any other is."""

import math
import pickle
from dataclasses import fields, replace

import pytest

import heatloop as hl
from heatloop.findings.input_errors import InputError
from heatloop.survey import entry
from heatloop.survey.entry import survey_from
from heatloop.survey.read import is_as_read
from heatloop.survey.survey import Project, at_flow_temp
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


VALUES = (0, -1, 1e-9, 5, 20, 21.0, 40, 70, 70.5, 101, 1e308, math.nan, "x", None, True, 2)


@pytest.mark.parametrize("key", [item.name for item in fields(Project)])
def test_another_project_has_the_same_outcome_whether_the_rest_is_known_or_not(survey, key):
    """The same survey to the type of its values, or the same error."""

    def outcome(changed, known):
        try:
            return repr(survey_from("size", changed, known))
        except InputError as error:
            return str(error)

    for value in VALUES:
        changed = replace(survey, project=replace(survey.project, **{key: value}))
        assert outcome(changed, survey) == outcome(changed, None)


def test_of_a_known_survey_with_another_project_only_the_project_is_read(survey, monkeypatch):
    warmer = replace(survey, project=replace(survey.project, flow_temp_c=65, outdoor_c=-6))
    monkeypatch.setattr(entry, "read_again", None)
    checked = survey_from("size", warmer, survey)
    assert is_as_read(checked)
    assert repr(checked.project.flow_temp_c) == "65.0"
    for other in (replace(warmer, rooms=tuple(map(replace, survey.rooms))), replace(warmer, path=None)):
        with pytest.raises(TypeError):
            survey_from("size", other, survey)
    with pytest.raises(TypeError):
        survey_from("size", warmer, replace(survey))
