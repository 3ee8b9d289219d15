"""The search equals all combinations in small houses, states its bound, and never returns a survey that fails."""

import math

import pytest

from heatloop.workflows.improve.alternatives import groups_of
from heatloop.workflows.improve.search import CROSS, cheapest, passes
from tests.helpers.small_houses import ROOMS, small_house

FREE, PRICED = (7, 11, 14), (11, 15, 17, 21, 31, 33, 37)
"""Seeds of houses in which few combinations are cheaper than the first that passes; the long run has all kinds."""


@pytest.fixture(scope="module")
def house():
    """Two rooms are short; several combinations fail before one passes."""
    return small_house(7, (50.0, 64.0), free=False)


@pytest.mark.parametrize(("seed", "free"), [*((seed, True) for seed in FREE), *((seed, False) for seed in PRICED)])
def test_the_search_equals_all_combinations(seed, free):
    case = small_house(seed, (50.0, 66.0) if free else (50.0, 64.0), free)
    found = case.searched()
    cost, _ = case.exhaustive()
    assert found.trial is not None
    assert found.bound == pytest.approx(cost, abs=1e-6)
    assert case.measure.cost(found.trial) == pytest.approx(cost, abs=1e-5)
    assert not found.trial.verdict.fails


def test_a_search_that_ends_early_states_a_bound_below_the_least_cost(house):
    whole = house.searched()
    for tries in range(1, whole.tried + 1):
        part = cheapest(house.trials, house.remedies, house.measure, tries)
        assert part.bound <= whole.bound + 1e-9
        assert part.tried <= tries
        if part.trial is not None:
            assert passes(part.trial)
            assert house.measure.cost(part.trial) >= whole.bound - 1e-6
    assert part.bound == pytest.approx(whole.bound)


def test_where_no_combination_passes_there_is_no_bound(house):
    first_room = [remedy for remedy in house.remedies if remedy.where == "Loop 0"]
    found = cheapest(house.trials, first_room, house.measure, 60)
    assert found.trial is None
    assert math.isinf(found.bound)


def test_groups_have_the_rooms_of_their_loops_alone(house):
    groups = groups_of(house.trials, house.remedies, house.measure)
    assert [group.rooms for group in groups] == [(f"Room {index}",) for index in range(ROOMS)]
    for group in groups:
        ranks = [one.rank for one in group.alternatives]
        assert ranks == sorted(ranks)
        assert () in [one.remedies for one in group.alternatives]


def test_loops_affect_the_rooms_of_others_by_less_than_is_assumed(house):
    """All remedies of two rooms together change the third by less than CROSS of its heat loss."""
    drops = small_house(7, (50.0, 64.0))
    for case in (house, drops):
        others = [remedy for remedy in case.remedies[4:] if remedy.words.split(", ")[1] != "towel rail"]
        both = [others[-1], next(remedy for remedy in others if remedy.where == "Loop 1")]
        changed = case.trials.of(*both)
        before_w, after_w = (trial.margins_w["Room 0"] for trial in (case.trials.present, changed))
        assert abs(after_w - before_w) < CROSS * changed.losses_w["Room 0"]
