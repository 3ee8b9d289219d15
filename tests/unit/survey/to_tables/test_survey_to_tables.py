"""A survey as the tables of its file, there and back."""

from dataclasses import replace

import pytest

from heatloop.survey.editing import Survey
from heatloop.survey.entry import survey_from
from heatloop.survey.read import survey_of
from heatloop.survey.to_tables.survey_to_tables import survey_to_tables
from tests.helpers.random_systems import random_survey


@pytest.mark.parametrize("seed", range(12))
def test_random_surveys_are_the_same_after_they_were_checked(seed):
    survey = random_survey(seed)
    assert replace(survey_from("test", survey)) == Survey(**vars(survey))
    again = survey_of(
        survey_to_tables(replace(survey, project=replace(survey.project, catalogue="x"))), None, survey.catalogue
    )
    assert replace(again, project=survey.project) == survey


def test_a_one_way_loop_with_equal_tails_gives_a_length_for_each():
    survey = random_survey(3)
    tails = replace(survey.loops[0].tails, flow_m=2.0, return_m=2.0)
    one = replace(survey.loops[0], arms=survey.loops[0].arms[:1], arm_valves=(), arrangement="one-way", tails=tails)
    table = survey_to_tables(replace(survey, loops=(one,)))["loop"][0]["tails"]
    assert table == {"pipe": tails.pipe, "flow_m": 2.0, "return_m": 2.0}
