"""Which dwellings can be sized in a lot, and why others are sized by themselves."""

from dataclasses import replace

import pytest

from heatloop.hydraulics.lots.dwelling import LotDwelling
from heatloop.survey.loops import Valves
from tests.helpers.lot_systems import lot_survey

SURVEY = lot_survey(305)


def changed(**project):
    return replace(SURVEY, project=replace(SURVEY.project, **project))


def with_loop(**keys):
    return replace(SURVEY, loops=(replace(SURVEY.loops[0], **keys), *SURVEY.loops[1:]))


def test_a_dwelling_of_valves_and_trunks_can_be_in_a_lot():
    assert len(SURVEY.loops) > 1
    assert LotDwelling.of(SURVEY).alone_because() is None


@pytest.mark.parametrize(
    ("survey", "reason"),
    [
        (changed(tees=True), "tees"),
        (with_loop(valves=Valves()), "loop without balancing valve"),
        (
            with_loop(profile="three unlike", arrangement="there-and-back"),
            "parallel channels with unequal flow",
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_others_are_sized_by_themselves_for_a_stated_reason(survey, reason):
    assert LotDwelling.of(survey).alone_because() == reason


def test_the_only_loop_needs_no_balancing_valve():
    survey = replace(SURVEY, loops=(replace(SURVEY.loops[0], valves=Valves(), trunk=None),), trunks=())
    assert LotDwelling.of(survey).alone_because() is None


def test_dwellings_of_one_lot_have_the_same_water_and_are_sized_in_the_same_way():
    by_drop, by_loss = (LotDwelling.of(changed(size_by=way)).of_one_kind_with() for way in ("drop", "loss"))
    assert by_drop != by_loss
    assert (
        by_drop == LotDwelling.of(changed(size_by="drop", delta_t_k=SURVEY.project.delta_t_k + 1.0)).of_one_kind_with()
    )
