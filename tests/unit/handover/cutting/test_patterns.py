"""Ways of cutting one bar: each function against counting out every way."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Sequence

import pytest

from heatloop.handover.cutting import patterns
from heatloop.handover.cutting.patterns import (
    BarType,
    CutProblem,
    Pattern,
    best_fill,
    best_fit_by_value,
    cheapest_bars,
    first_fit,
    list_patterns,
    reachable_sums,
    without_surplus,
)

LONG = BarType(capacity=60, goal=60, stock=60, trim=2, supply=0)
SHORT = BarType(capacity=40, goal=40, stock=40, trim=2, supply=0)
RACK = BarType(capacity=31, goal=0, stock=0, trim=0, supply=2)


def total(values: Sequence[float], counts: Sequence[int]) -> float:
    """Sum of the values, each so many times."""
    return sum(value * n for value, n in zip(values, counts, strict=True))


def ways(problem: CutProblem, capacity: int) -> list[tuple[int, ...]]:
    """Every number of pieces of each length that goes on a bar, none left out but the empty bar."""
    ranges = [range(n + 1) for n in problem.demand]
    return [
        counts
        for counts in itertools.product(*ranges)
        if any(counts) and sum(w * n for w, n in zip(problem.weights, counts, strict=True)) <= capacity
    ]


def problems(count: int) -> list[CutProblem]:
    """Small problems with new bars and offcuts."""
    drawn = []
    for seed in range(count):
        r = random.Random(seed)
        unit = r.choice([1, 1, 2, 5])
        weights = sorted(r.sample(range(3, 20), r.randint(1, 4)), reverse=True)
        demand = tuple(r.randint(1, 4) for _ in weights)
        room = r.randint(20, 60)
        kinds = [BarType(unit * room, unit * room, unit * room, 0, 0)]
        kinds += [BarType(unit * r.randint(10, 30), 0, 0, 0, r.randint(1, 2))] * r.randint(0, 1)
        drawn.append(CutProblem(tuple(unit * w for w in weights), demand, tuple(kinds), unit, 5 * unit))
    return drawn


@pytest.mark.parametrize(
    ("keep", "lost"),
    [
        (8, 2),  # 60 - 49 - 3 = 8 is kept: only the trims are lost
        (9, 10),  # 8 is too short to keep
    ],
)
def test_waste_is_trims_and_what_is_too_short_to_keep(keep: int, lost: int) -> None:
    assert CutProblem((49,), (1,), (LONG,), 3, keep).waste((0, (1,))) == lost


def test_a_bar_filled_to_the_end_loses_its_trims_alone() -> None:
    problem = CutProblem((30,), (2,), (LONG,), 3, 10)
    assert problem.waste((0, (2,))) == 2
    assert problem.used((2,)) == 60
    assert problem.rank([(0, (1,)), (0, (1,))]) == (120, 120, 4, 2), "27 are left of each, which is kept"


def test_rank_counts_goal_then_stock_then_waste_then_bars() -> None:
    problem = CutProblem((20, 9), (3, 2), (LONG, RACK), 1, 50)
    plan: list[Pattern] = [(0, (2, 1)), (1, (1, 1))]
    assert problem.rank(plan) == (60, 60, 2 + 60 - 49 - 1 + 31 - 29 - 1, 2)


@pytest.mark.parametrize("seed", range(12))
def test_best_fill_is_the_greatest_value_of_all_ways(seed: int) -> None:
    r = random.Random(seed)
    problem = problems(seed + 1)[-1]
    values = [float(r.choice([0, 1, 2, 3, 5, 8])) for _ in problem.weights]
    capacity = problem.kinds[0].capacity
    fill = best_fill(problem.weights, values, problem.demand, capacity)
    for room in range(0, capacity + 1, math.gcd(*problem.weights)):
        best = max((total(values, c) for c in ways(problem, room)), default=0.0)
        assert fill.value(room) == best
        counts = fill.counts(room)
        assert total(values, counts) == best
        assert problem.used(counts) <= room
        assert all(n <= limit for n, limit in zip(counts, problem.demand, strict=True))
        assert not any(n for n, value in zip(counts, values, strict=True) if value == 0.0)


@pytest.mark.parametrize("seed", range(20))
def test_patterns_worth_the_minimum_are_all_listed_and_no_other(seed: int) -> None:
    r = random.Random(100 + seed)
    problem = problems(seed + 1)[-1]
    prices = [float(r.randint(0, 6)) for _ in problem.weights]
    minimum = [float(r.randint(0, 12)) for _ in problem.kinds]
    expected = {
        (kind, counts)
        for kind, bar in enumerate(problem.kinds)
        for counts in ways(problem, bar.capacity)
        if total(prices, counts) >= minimum[kind]
    }
    listed = list_patterns(problem, prices, minimum, len(expected))
    assert listed is not None
    assert len(listed) == len(set(listed))
    assert set(listed) == expected
    assert not expected or list_patterns(problem, prices, minimum, len(expected) - 1) is None


def test_bars_of_more_pieces_than_the_deepest_are_not_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(patterns, "DEEPEST", 3)
    three = CutProblem((10,), (9,), (BarType(39, 39, 39, 0, 0), BarType(30, 0, 0, 0, 1)), 0, 0)
    assert list_patterns(three, [1.0], [3.0, 3.0], 9) == [(0, (3,)), (1, (3,))]
    four = CutProblem((10,), (9,), (BarType(40, 40, 40, 0, 0), BarType(30, 0, 0, 0, 1)), 0, 0)
    assert list_patterns(four, [1.0], [3.0, 3.0], 9) is None
    few = CutProblem((10,), (3,), (BarType(90, 90, 90, 0, 0),), 0, 0)
    assert list_patterns(few, [1.0], [3.0], 9) == [(0, (3,))]


def test_patterns_of_up_to_four_hundred_pieces_are_listed() -> None:
    for pieces, listed in ((400, [(0, (400,))]), (401, None)):
        problem = CutProblem((1,), (pieces,), (BarType(500, 500, 500, 0, 0),), 0, 0)
        assert list_patterns(problem, [1.0], [float(pieces)], 9) == listed


def test_first_fit_opens_the_shortest_offcut_that_fits_and_then_new_bars() -> None:
    rack = BarType(capacity=25, goal=0, stock=0, trim=0, supply=1)
    problem = CutProblem((20, 12), (1, 2), (LONG, RACK, rack), 0, 0)
    assert first_fit(problem) == [(2, (1, 0)), (1, (0, 2))]
    problem = CutProblem((30, 20), (1, 4), (LONG, SHORT, RACK), 0, 0)
    assert first_fit(problem) == [(2, (1, 0)), (2, (0, 1)), (0, (0, 3))]


def test_first_fit_takes_the_bar_that_costs_least_for_its_length_and_the_longest_of_equal_ones() -> None:
    cheap = BarType(capacity=40, goal=30, stock=40, trim=0, supply=0)
    assert first_fit(CutProblem((20,), (2,), (LONG, cheap), 0, 0)) == [(1, (2,))]
    assert first_fit(CutProblem((20,), (3,), (SHORT, LONG), 0, 0)) == [(1, (3,))]
    assert first_fit(CutProblem((20,), (1,), (LONG, SHORT), 0, 0)) == [(1, (1,))], "changed for the shorter at the end"


def cut(plan: list[Pattern], size: int) -> list[int]:
    return [sum(counts[item] for _, counts in plan) for item in range(size)]


@pytest.mark.parametrize("seed", range(30))
def test_first_plans_yield_each_piece_once_on_bars_that_hold_them(seed: int) -> None:
    problem = problems(seed + 1)[-1]
    for plan in (first_fit(problem), *(best_fit_by_value(problem, exponent) for exponent in (1.0, 1.05, 1.5))):
        assert cut(plan, len(problem.weights)) == list(problem.demand)
        for kind, counts in plan:
            assert 0 < problem.used(counts) <= problem.kinds[kind].capacity
        for kind, bar in enumerate(problem.kinds):
            if bar.supply:
                assert sum(one == kind for one, _ in plan) <= bar.supply


def test_best_fit_fills_the_offcut_with_the_longest_whole_and_the_bar_beside_its_longest_piece() -> None:
    problem = CutProblem((31, 29, 18, 12), (1, 1, 1, 2), (BarType(60, 60, 60, 0, 0), RACK), 0, 0)
    assert best_fit_by_value(problem, 1.0) == [(1, (1, 0, 0, 0)), (1, (0, 0, 1, 1)), (0, (0, 1, 0, 1))]


def test_best_fit_puts_what_is_left_on_the_cheapest_bar() -> None:
    problem = CutProblem((20,), (4,), (LONG, BarType(25, 25, 25, 0, 0)), 0, 0)
    assert best_fit_by_value(problem, 1.0) == [(0, (3,)), (1, (1,))]


def test_best_fit_counts_what_is_left_whole_before_it_takes_a_cheap_bar() -> None:
    """All three go on the long bar; two of them on the short one would leave the third to another."""
    assert best_fit_by_value(CutProblem((20,), (3,), (LONG, SHORT), 0, 0), 1.0) == [(0, (3,))]


def test_best_fit_takes_a_bar_for_all_that_is_left_though_a_shorter_one_would_be_fuller() -> None:
    """38 and 12 on the bar of 60 leave 10; the bar of 40 would leave 2 beside the 38, and the 12 to another bar."""
    assert best_fit_by_value(CutProblem((38, 12), (1, 1), (LONG, SHORT), 0, 0), 1.0) == [(0, (1, 1))]


@pytest.mark.parametrize(("exponent", "first"), [(1.0, (1, 0, 2, 0)), (1.5, (1, 1, 0, 1))])
def test_an_exponent_above_one_takes_a_long_and_a_short_piece_before_two_of_middle_length(
    exponent: float, first: tuple[int, ...]
) -> None:
    """Beside 30 either 15 + 15 or 20 + 10 fill the bar; to the power of 1.5 the latter are worth 121.1, not 116.2."""
    problem = CutProblem((30, 20, 15, 10), (1, 1, 2, 1), (LONG,), 0, 0)
    assert best_fit_by_value(problem, exponent)[0] == (0, first)


def test_a_bar_is_changed_for_the_one_of_least_goal_then_length_that_holds_its_pieces() -> None:
    same = BarType(capacity=50, goal=40, stock=50, trim=0, supply=0)
    problem = CutProblem((20, 6), (9, 9), (LONG, same, SHORT, RACK), 0, 0)
    plan: list[Pattern] = [(0, (2, 0)), (0, (2, 1)), (0, (2, 2)), (3, (1, 1)), (0, (0, 0))]
    assert cheapest_bars(problem, plan) == [(2, (2, 0)), (1, (2, 1)), (0, (2, 2)), (3, (1, 1))]


def test_surplus_is_taken_from_the_last_bars_and_empty_bars_go() -> None:
    problem = CutProblem((20, 6), (3, 2), (LONG, SHORT), 0, 0)
    plan: list[Pattern] = [(0, (2, 2)), (0, (2, 1)), (0, (1, 0))]
    assert without_surplus(problem, plan) == [(0, (2, 2)), (1, (1, 0))]
    assert without_surplus(problem, [(0, (3, 0)), (1, (0, 2))]) == [(0, (3, 0)), (1, (0, 2))]


@pytest.mark.parametrize(
    ("steps", "unit", "top"), [([4, 6], 2, 30), ([5, 7, 7], 1, 40), ([30], 30, 100), ([9, 3], 3, 3)]
)
def test_sums_that_bars_make_are_those_counted_out(steps: list[int], unit: int, top: int) -> None:
    most = [range(top // step + 1) for step in steps]
    sums = {total(steps, counts) for counts in itertools.product(*most)}
    mask = reachable_sums(steps, unit, top)
    assert {n * unit for n in range(mask.bit_length()) if mask >> n & 1} == {one for one in sums if one <= top}
