"""Warmer water where it is mixed, smaller drops to the limit, stronger profiles, other emitters."""

from dataclasses import replace

import pytest

from heatloop.workflows.improve.candidates import comfort, warmer_loops
from heatloop.workflows.improve.remedy import with_remedies


@pytest.fixture(scope="module")
def survey(alder_lodge):
    return alder_lodge.survey


def test_the_source_gets_hotter_up_to_its_maximum(survey):
    (family,) = warmer_loops.hotter_water(survey, survey.loop("Kitchen"))
    temps_c = [with_remedies(survey, [remedy]).project.flow_temp_c for remedy in family]
    assert temps_c == [50.5 + 0.5 * step for step in range(10)]


def test_a_mixed_trunk_and_a_mixed_loop_get_hotter_themselves(survey):
    (family,) = warmer_loops.hotter_water(survey, survey.loop("Nursery"))
    mixed = [with_remedies(survey, [remedy]).trunk("nursery").mixed_to_c for remedy in family]
    assert (mixed[0], mixed[-1]) == (43.5, 50.0)
    own = replace(survey.loop("Bedrooms"), flow_temp_c=46.2)
    (family,) = warmer_loops.hotter_water(survey.with_loop(own), own)
    temps_c = [with_remedies(survey.with_loop(own), [remedy]).loop("Bedrooms").flow_temp_c for remedy in family]
    assert (temps_c[0], temps_c[-1]) == (46.7, 50.0)


def test_only_profiles_with_a_greater_output_take_the_place_of_one(survey):
    ((remedy,),) = warmer_loops.stronger_profiles(survey, survey.loop("Bathroom"))
    assert with_remedies(survey, [remedy]).loop("Bathroom").profile == "three-channel 175"
    strong = replace(survey.loop("Bathroom"), profile="three-channel 175")
    assert not list(warmer_loops.stronger_profiles(survey, strong))
    assert not list(warmer_loops.stronger_profiles(survey, replace(strong, profile="", arms=())))


def test_an_emitter_is_added_to_those_of_its_loop(survey):
    families = list(warmer_loops.other_emitters(survey, "Kitchen-diner"))
    assert len(families) == len(survey.catalogue.emitters)
    for (remedy,) in families:
        assert len(with_remedies(survey, [remedy]).loop("Kitchen").emitters) == 2


def test_cooler_water_ends_above_the_room(survey):
    (family,) = comfort.cooler_loops(survey, "Main bedroom", (survey.loop("Bedrooms"),))
    temps_c = [with_remedies(survey, [remedy]).loop("Bedrooms").flow_temp_c for remedy in family]
    assert temps_c[0] == 49.0
    assert temps_c[-1] >= survey.room("Main bedroom").indoor_c + 8.0
    assert all(remedy.other_work and "mixing valve" in remedy.assumed for remedy in family)


def test_a_floor_section_takes_the_place_of_a_crossing(survey):
    kitchen = survey.loop("Kitchen")
    (item,) = kitchen.arms[0]
    plain = survey.with_loop(replace(kitchen, arms=((replace(item, floor_sections=()),),)))
    glazed = comfort.glazing_at(plain, "Kitchen-diner, wall 6, garden doors")
    ((remedy,),) = comfort.floor_section_below(plain, glazed)
    assert with_remedies(plain, [remedy]).loops == survey.loops
    assert not list(comfort.floor_section_below(survey, glazed))
    assert comfort.glazing_at(survey, "Hall, no such opening") is None
