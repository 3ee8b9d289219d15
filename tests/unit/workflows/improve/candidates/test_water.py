"""Pipes, drops, valves and pump settings: amounts rise, and each is a valid survey."""

import pytest

from heatloop.survey.entry import survey_from
from heatloop.workflows.improve.candidates import water
from heatloop.workflows.improve.remedy import with_remedies
from tests.helpers.survey_parts import with_project


@pytest.fixture(scope="module")
def survey(alder_draft):
    return alder_draft.survey


def checked(survey, remedy):
    return survey_from("test", with_remedies(survey, [remedy]))


def test_larger_pipes_by_rising_bore_in_tails_and_crossings(survey):
    (family,) = water.larger_pipes(survey, survey.loop("Bedrooms"))
    pipes = [checked(survey, remedy).loop("Bedrooms") for remedy in family]
    assert [loop.tails.pipe for loop in pipes] == ["copper 22", "copper 28"]
    assert all(loop.crossing.pipe == loop.tails.pipe for loop in pipes)
    assert all(item.pipe == loop.tails.pipe for loop in pipes for item in loop.arms[0] if not hasattr(item, "walls"))
    (trunks,) = water.larger_trunk(survey, "upstairs")
    assert [checked(survey, remedy).trunk("upstairs").pipe for remedy in trunks] == ["copper 28"]
    assert list(water.larger_trunk(survey, "ground floor")) == [()]


def test_larger_drops_rise_from_the_present_one(survey):
    (family,) = water.other_drops(survey, survey.loop("Kitchen"), "larger drop")
    drops_k = [checked(survey, remedy).loop("Kitchen").delta_t_k for remedy in family]
    assert drops_k[0] == 7.5
    assert drops_k[-1] == 17.0
    assert drops_k == sorted(drops_k)
    assert {remedy.kind for remedy in family} == {"larger drop"}


def test_smaller_drops_end_at_the_smallest_of_sizing(alder_lodge):
    survey = alder_lodge.survey
    (family,) = water.other_drops(survey, survey.loop("Bathroom"), "smaller drop")
    assert [checked(survey, remedy).loop("Bathroom").delta_t_k for remedy in family] == [3.0, 2.5, 2.0]
    assert {remedy.kind for remedy in family} == {"smaller drop"}


@pytest.mark.parametrize("kind", ["smaller drop", "larger drop"])
def test_loops_sized_by_heat_loss_have_no_other_drops(survey, kind):
    by_loss = with_project(survey, size_by="loss")
    assert not list(water.other_drops(by_loss, by_loss.loop("Bedrooms"), kind))


def test_a_valve_that_closes_takes_the_place_of_another_only(survey):
    words = [family[0].words for family in water.other_valves(survey, survey.loop("Kitchen"))]
    assert not any("thermostatic 15 on the return" in text for text in words)
    arms = [family[0] for family in water.other_valves(survey, survey.loop("Living room"))]
    assert "lockshield 15 on the return of loop Living room" in [remedy.words for remedy in arms]
    for remedy in arms:
        checked(survey, remedy)


def test_the_pump_is_set_to_the_head_that_the_index_loop_requires(alder_draft):
    ((remedy,),) = water.pump_settings(alder_draft.system)
    pump = checked(alder_draft.survey, remedy).source.pump
    required_kpa = alder_draft.summary["pump_head_kpa"]
    assert required_kpa <= pump.constant_kpa < required_kpa + 0.5
    assert pump.speed is None
