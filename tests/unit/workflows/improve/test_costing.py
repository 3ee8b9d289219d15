"""What is fitted with a remedy is the same from the layout alone as from the sized system."""

import pytest

from heatloop.hydraulics.loop_paths import RatingAssumptions, loop_paths, profile_characteristics
from heatloop.layout.build import build_layout
from heatloop.workflows.improve.costing import items_with, loop_water_l
from heatloop.workflows.improve.remedy import Edit, Remedy, loop_edit, with_remedies
from heatloop.workflows.improve.trial import Trials
from tests.helpers.random_systems import random_survey


def test_water_of_every_loop_is_that_of_its_path(alder_lodge, mill_annexe, harbour_loft):
    for design in (alder_lodge, mill_annexe, harbour_loft):
        for path in design.system.prepared.paths:
            assert loop_water_l(design.survey, path.loop, design.layout) == pytest.approx(path.water_l, rel=1e-9)


def test_water_of_random_loops_is_that_of_their_paths():
    for seed in range(6):
        survey = random_survey(seed)
        layout = build_layout(survey)
        constants = profile_characteristics(survey, layout, [RatingAssumptions(film=True)])
        for path in loop_paths(survey, layout, constants[0]):
            assert loop_water_l(survey, path.loop, layout) == pytest.approx(path.water_l, rel=1e-9)


def test_items_are_those_of_the_sized_system(mill_annexe):
    trials = Trials(mill_annexe.survey)
    (loop,) = mill_annexe.survey.loops
    for edit in (
        loop_edit(loop, profile="two-channel 140"),
        loop_edit(loop, delta_t_k=10.0),
        Edit("project", "", (("flow_temp_c", 72.0),)),
    ):
        remedy = Remedy("another profile", "", "", (edit,))
        before = trials.items_of((remedy,))
        if before is None:
            assert "two-channel" in str(edit)  # the catalogue of the annexe has one profile
            continue
        after = trials.of(remedy).items
        assert {(i.item, i.unit): i.quantity for i in before} == pytest.approx(
            {(i.item, i.unit): i.quantity for i in after}
        )


def test_what_cannot_be_laid_out_has_no_items(mill_annexe):
    (loop,) = mill_annexe.survey.loops
    wrong = Remedy("another profile", "", "", (loop_edit(loop, profile="no such profile"),))
    assert items_with(mill_annexe.system, [wrong]) is None
    assert with_remedies(mill_annexe.survey, [wrong]).loops[0].profile == "no such profile"
