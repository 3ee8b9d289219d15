"""Steps of the search for the least stock: sums, relaxation, lists of patterns, choice and tie-break."""

from __future__ import annotations

import itertools
import math
import random
import time
from collections.abc import Sequence
from dataclasses import replace
from itertools import count
from types import SimpleNamespace

import numpy as np
import pytest
import scipy.optimize

from heatloop.handover.cutting import search
from heatloop.handover.cutting import search as searching
from heatloop.handover.cutting.model import CutPiece, CutPlan, CuttingOptions, Offcut, Stock
from heatloop.handover.cutting.patterns import BarType, CutProblem, Pattern, first_fit, reachable_sums
from heatloop.handover.cutting.plan import _job, _material_bound_mm, plan_cuts
from heatloop.handover.cutting.search import Effort, ReachableSums

LONG = BarType(capacity=60, goal=60, stock=60, trim=0, supply=0)
SHORT = BarType(capacity=40, goal=40, stock=40, trim=0, supply=0)
RACK = BarType(capacity=31, goal=0, stock=0, trim=0, supply=1)
PROBLEM = CutProblem((30, 20, 13), (2, 3, 2), (LONG, SHORT, RACK), 0, 0)
LATER = math.inf
SEEDS = (3, 9)


def total(values: Sequence[float], counts: Sequence[int]) -> float:
    """Sum of the values, each so many times."""
    return sum(value * n for value, n in zip(values, counts, strict=True))


def every_pattern(problem: CutProblem) -> list[Pattern]:
    """Every bar with every set of pieces that goes on it."""
    counts = list(itertools.product(*(range(n + 1) for n in problem.demand)))
    return [
        (kind, c)
        for kind, bar in enumerate(problem.kinds)
        for c in counts
        if any(c) and sum(w * n for w, n in zip(problem.weights, c, strict=True)) <= bar.capacity
    ]


@pytest.mark.parametrize(("steps", "top"), [([4, 6], 32), ([40, 60], 220), ([7, 12], 50), ([30], 90)])
def test_next_sums_up_and_down_are_those_counted_out(steps: list[int], top: int) -> None:
    unit = math.gcd(*steps)
    most = [range(top // step + 1) for step in steps]
    made = sorted({s for c in itertools.product(*most) if (s := total(steps, c)) <= top})
    sums = ReachableSums(unit, reachable_sums(steps, unit, top), top)
    for value in range(top + 1):
        assert sums.at_least(value) == next((one for one in made if one >= value), top), value
        assert sums.below(value) == max((one for one in made if one < value), default=-1), value
    assert sums.at_least(made[1] + 1e-7) == made[1], "a millionth is rounding"
    assert sums.at_least(made[1] + 0.5) == made[2]
    assert sums.at_least(-3.0) == 0
    assert sums.at_least(top + unit) == top + unit, "beyond the table by whole units"


def test_a_billionth_of_a_large_sum_is_rounding() -> None:
    """Ten million units of 0.1 mm are a kilometre of bars; a billionth of them is a hundredth of a unit."""
    sums = ReachableSums(40_000, 0, 20_000_000)
    assert [sums.at_least(value) for value in (10_000_000.005, 10_000_000.05)] == [10_000_000, 10_040_000]


def test_without_a_table_sums_are_whole_units() -> None:
    sums = ReachableSums(20, 0, 210)
    assert [sums.at_least(value) for value in (0, 1, 20, 21, 300.5)] == [0, 20, 20, 40, 320]
    assert [sums.below(value) for value in (0, 1, 20, 21, 41)] == [-1, 0, 0, 20, 40]


def test_the_table_of_sums_has_its_limit_of_size(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = CutProblem((20,), (6,), (LONG, SHORT, RACK), 0, 0)
    assert searching._reachable(problem, 120).mask == 0b1111101, "all units of 20 but one alone"
    monkeypatch.setattr(searching, "MASK_BITS", 6)
    assert searching._reachable(problem, 120).mask
    assert searching._reachable(problem, 140) == ReachableSums(20, 0, 140)


def relaxed(problem: CutProblem = PROBLEM) -> searching.Relaxation:
    return searching._relax(problem, first_fit(problem), LATER, lambda bound: False)


def test_reduced_costs_are_never_negative_and_the_bound_is_the_value_of_the_prices() -> None:
    found = relaxed()
    cost = [bar.goal / found.scale for bar in PROBLEM.kinds]
    for kind, counts in every_pattern(PROBLEM):
        worth = total(found.prices, counts)
        limit = found.values[kind] if PROBLEM.kinds[kind].supply else cost[kind]
        assert worth <= limit + 1e-9
    rent = sum(bar.supply * worth for bar, worth in zip(PROBLEM.kinds, found.values, strict=True))
    assert found.bound == pytest.approx(found.scale * (total(found.prices, PROBLEM.demand) - rent), rel=1e-12)


def test_the_bound_is_that_of_the_linear_program_over_every_pattern() -> None:
    from scipy.optimize import linprog

    patterns = every_pattern(PROBLEM)
    counts = np.array([c for _, c in patterns]).T
    rack = np.array([[float(kind == 2) for kind, _ in patterns]])
    least = linprog(
        [PROBLEM.kinds[kind].goal for kind, _ in patterns],
        A_ub=np.vstack([-counts, rack]),
        b_ub=[*(-float(n) for n in PROBLEM.demand), 1.0],
    ).fun
    assert relaxed().bound == pytest.approx(least, rel=1e-8)


def test_bounds_on_the_way_are_in_units_of_the_problem_from_that_by_material_on() -> None:
    bounds: list[float] = []
    searching._relax(PROBLEM, first_fit(PROBLEM), LATER, lambda bound: bounds.append(bound) or False)
    assert bounds == sorted(bounds)
    assert 0.5 * relaxed().bound < bounds[0] <= relaxed().bound + 1e-9
    assert bounds[0] >= 60 + 60 + 26 - 31 - 1e-9, "the material, less the offcut"


def test_the_relaxation_ends_when_the_bound_is_near_enough_or_time_is_up(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[float] = []
    problem = CutProblem((29, 23, 17, 11), (7, 5, 6, 8), (LONG, SHORT), 0, 0)
    searching._relax(problem, first_fit(problem), LATER, lambda bound: asked.append(bound) or True)
    assert len(asked) == 1
    clock = iter(range(10))
    monkeypatch.setattr(searching, "time", SimpleNamespace(monotonic=lambda: float(next(clock))))
    searching._relax(problem, first_fit(problem), 0.5, lambda bound: asked.append(bound) or False)
    assert len(asked) == 2


def test_without_time_the_bound_is_that_by_material() -> None:
    problem = CutProblem((29, 23, 17, 11), (7, 5, 6, 8), (LONG, SHORT), 0, 0)
    plan = first_fit(problem)
    relaxed = searching._relax(problem, plan, -math.inf, lambda bound: pytest.fail("no program is solved"))
    material = sum(weight * count for weight, count in zip(problem.weights, problem.demand, strict=True))
    dearest = max(kind.goal / kind.capacity for kind in problem.kinds)
    assert 0.0 < relaxed.bound <= material * dearest
    assert set(relaxed.columns) == set(plan)
    solved = searching._relax(problem, plan, LATER, lambda bound: False)
    assert relaxed.bound <= solved.bound


def gaps(found: searching.Relaxation, problem: CutProblem = PROBLEM) -> dict[Pattern, float]:
    """Reduced cost of every pattern, in units of the problem."""
    cost = [found.values[t] if bar.supply else bar.goal / found.scale for t, bar in enumerate(problem.kinds)]
    return {(kind, c): found.scale * (cost[kind] - total(found.prices, c)) for kind, c in every_pattern(problem)}


@pytest.mark.parametrize("over", [0.0, 5.0, 20.0, 35.0])
def test_patterns_within_a_target_are_those_of_no_greater_reduced_cost(over: float) -> None:
    found = relaxed()
    listed = searching._within(PROBLEM, found, found.bound + over, 1000)
    assert set(listed or ()) == {pattern for pattern, gap in gaps(found).items() if gap <= over + 1e-6}


def test_promising_patterns_are_those_within_half_the_distance_or_half_of_that() -> None:
    found, plan = relaxed(), first_fit(PROBLEM)
    of = gaps(found)
    target = round(found.bound) + 40
    half = {pattern for pattern, gap in of.items() if gap <= 0.5 * (target - found.bound) + 1e-6}
    quarter = {pattern for pattern, gap in of.items() if gap <= 0.25 * (target - found.bound) + 1e-6}
    assert len(quarter) < len(half) < len(of)
    for limit, expected in ((len(half), half), (len(half) - 1, quarter)):
        listed = searching._promising(PROBLEM, found, target, plan, limit, LATER)
        assert set(listed) == expected | set(found.columns) | set(plan)
        assert len(listed) == len(set(listed))
    assert set(searching._promising(PROBLEM, found, target, plan, 0, LATER)) == {*found.columns, *plan}
    assert set(searching._promising(PROBLEM, found, target, plan, 99, -LATER)) == {*found.columns, *plan}


def chosen(columns: list[Pattern], problem: CutProblem, exact: bool, rows: tuple = ()) -> tuple[list[Pattern], float]:
    cost = np.array([problem.kinds[kind].goal for kind, _ in columns], dtype=float)
    return searching._choose(problem, columns, cost, rows, exact, Effort(0.0, time.monotonic() + 60.0, 500))


def least(problem: CutProblem) -> int:
    """Least goal over every choice of bars, by trying all numbers of each pattern."""

    def rest(left: tuple[int, ...], racks: int) -> int:
        if not any(left):
            return 0
        first = next(i for i, n in enumerate(left) if n)
        best = 10**9
        for kind, counts in every_pattern(problem):
            if counts[first] and all(n <= have for n, have in zip(counts, left, strict=True)):
                if problem.kinds[kind].supply and not racks:
                    continue
                after = tuple(have - n for n, have in zip(counts, left, strict=True))
                used = bool(problem.kinds[kind].supply)
                best = min(best, problem.kinds[kind].goal + rest(after, racks - used))
        return best

    return rest(problem.demand, sum(bar.supply for bar in problem.kinds))


def test_the_cheapest_choice_yields_just_the_pieces_and_its_bound_is_its_cost() -> None:
    found, lower = chosen(every_pattern(PROBLEM), PROBLEM, exact=True)
    assert sum(PROBLEM.kinds[kind].goal for kind, _ in found) == least(PROBLEM)
    assert [sum(c[i] for _, c in found) for i in range(3)] == list(PROBLEM.demand)
    assert sum(kind == 2 for kind, _ in found) <= 1
    assert lower == pytest.approx(least(PROBLEM), rel=1e-6)


def test_a_choice_may_yield_more_than_the_pieces_where_that_is_allowed() -> None:
    problem = CutProblem((20,), (3,), (LONG, SHORT), 0, 0)
    assert chosen([(1, (2,))], problem, exact=True) == ([], math.inf)
    assert chosen([(1, (2,))], problem, exact=False)[0] == [(1, (2,)), (1, (2,))]


def test_a_choice_keeps_to_its_further_rows() -> None:
    problem = CutProblem((20,), (2,), (LONG, SHORT), 0, 0)
    columns: list[Pattern] = [(1, (2,)), (0, (2,))]
    assert chosen(columns, problem, True)[0] == [(1, (2,))]
    at_least_60 = (np.array([40.0, 60.0]), 50, 100)
    assert chosen(columns, problem, True, (at_least_60,))[0] == [(0, (2,))]
    none = (np.array([40.0, 60.0]), 0, 30)
    assert chosen(columns, problem, True, (none,)) == ([], math.inf)


@pytest.mark.parametrize(("small", "bars"), [(1, 1), (0, 2)])
def test_ties_among_too_many_patterns_are_broken_in_small_jobs_alone(
    small: int, bars: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two pieces of one length: the bar that is cut anyhow holds both, so that the offcut stays whole."""
    problem = CutProblem((20,), (2,), (LONG, RACK), 0, 0)
    loose: list[Pattern] = [(0, (1,)), (1, (1,))]
    found = searching._relax(problem, [(0, (2,)), *loose], LATER, lambda bound: False)
    monkeypatch.setattr(searching, "SMALL", small)
    monkeypatch.setattr(searching, "_within", lambda *_: None)
    assert len(searching._tidy(problem, found, loose, time.monotonic() + 60.0)) == bars


@pytest.mark.parametrize(
    ("weight", "plan", "programs"),
    [
        (30, [(0, (2,))], 0),  # one bar, filled
        (31, [(0, (1,)), (0, (1,))], 0),  # two bars, because both pieces are longer than one
        (20, [(0, (1,)), (0, (1,))], 1),  # two bars for what one holds
    ],
)
def test_fewer_bars_than_the_material_requires_are_not_searched_for(
    weight: int, plan: list[Pattern], programs: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    problem, costs = CutProblem((weight,), (2,), (LONG,), 0, 0), list[float]()
    found = searching._relax(problem, plan, LATER, lambda bound: False)

    def choose(problem: CutProblem, columns: Sequence[Pattern], cost: np.ndarray, *_: object) -> object:
        costs.append(float(cost.sum()))
        return [], math.inf

    monkeypatch.setattr(searching, "_choose", choose)
    assert searching._tidy(problem, found, plan, LATER) == plan
    assert len(costs) == programs


def hard_job() -> tuple[list[CutPiece], list[Stock], list[Offcut], CuttingOptions]:
    r = random.Random(4)
    pieces = [CutPiece(f"P{i}", r.randrange(700, 2600)) for i in range(14)]
    return pieces, [Stock(4000), Stock(6000)], [], CuttingOptions(time_limit_s=60.0)


def beaten_job() -> tuple[list[CutPiece], list[Stock], list[Offcut], CuttingOptions]:
    """A job whose least plan takes less than the first ones."""
    r = random.Random(14)
    pieces = [CutPiece(f"P{i}", r.randrange(700, 2600)) for i in range(14)]
    return pieces, [Stock(4000), Stock(6000)], [], CuttingOptions(time_limit_s=5.0)


def test_a_search_that_cannot_list_all_patterns_ends_by_itself_with_a_plan_as_good(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    best = plan_cuts(*hard_job())
    monkeypatch.setattr(searching, "LISTED", 0)
    began = time.process_time()
    other = plan_cuts(*hard_job())
    assert time.process_time() - began < 30.0
    assert best.proved
    assert other.lower_bound <= best.goal <= other.goal <= 1.05 * best.goal
    assert "time limit" not in other.message


def test_a_search_that_finds_no_better_plan_within_its_steps_ends_with_the_one_it_has(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Without a choice among patterns the plan by first fit stays, and what is left to the bound is said."""
    job = beaten_job()
    best = plan_cuts(*job)
    monkeypatch.setattr(searching, "_within", lambda *_: None)
    monkeypatch.setattr(searching, "_choose", lambda *_: ([], -math.inf))
    kept = plan_cuts(*job)
    assert best.proved
    assert not kept.proved
    assert kept.lower_bound <= best.goal < kept.goal
    assert "too many patterns for a proof" in kept.message


def test_a_bound_that_whole_bars_reach_is_not_raised(monkeypatch: pytest.MonkeyPatch) -> None:
    """The program over all patterns proves the least goal, but ends before it finds that plan; sums go in 2 m."""
    job = beaten_job()
    best = plan_cuts(*job)
    monkeypatch.setattr(searching, "_choose", lambda *_: ([], best.goal / 2000.0))
    kept = plan_cuts(*job)
    assert best.proved
    assert kept.lower_bound == best.goal < kept.goal


def test_at_the_time_limit_the_first_plan_stays_and_no_patterns_are_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = _job("", *beaten_job()).problem
    listed: list[object] = []
    monkeypatch.setattr(searching, "_within", lambda *asked: listed.append(asked))
    monkeypatch.setattr("time.monotonic", lambda: 5.0)
    found = searching.search(problem, 0.0, 0.0, lambda *_: None)
    assert found.bound < found.goal == problem.goal(found.plan)
    assert searching._promising(PROBLEM, relaxed(), 200, [], 99, 5.0) == list(relaxed().columns)
    assert listed == []


def test_a_plan_is_proved_where_no_pattern_can_be_in_a_better_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(searching, "_within", lambda *_: [])
    monkeypatch.setattr(searching, "_choose", lambda *_: ([], -math.inf))
    assert plan_cuts(*beaten_job()).proved


def reported(*job: object) -> list[str]:
    """What the search says that it does."""
    reports: list[str] = []
    plan_cuts(*job, lambda *news: reports.append(news[0]))  # type: ignore[arg-type]
    return reports


def test_a_gap_asked_for_ends_a_large_search_at_the_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    """With more lengths than `SMALL` the relaxation may end as soon as the gap is reached; with so many it may not."""
    pieces, stock, offcuts, options = hard_job()
    lengths = len({piece.length_mm for piece in pieces})
    bounds: dict[int, int] = {}
    for small in (lengths - 1, lengths):
        monkeypatch.setattr(searching, "SMALL", small)
        bounds[small] = reported(pieces, stock, offcuts, replace(options, relative_gap=0.3)).count("bound")
    assert bounds[lengths - 1] < bounds[lengths]


def test_a_large_search_goes_on_with_its_bound_until_the_gap_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    *job, options = beaten_job()
    monkeypatch.setattr(searching, "SMALL", 0)
    wide, narrow = (reported(*job, replace(options, relative_gap=gap)).count("bound") for gap in (0.5, 0.0))
    assert wide == 2, "the first bound is near enough; it is reported once more at the end"
    assert narrow > wide


@pytest.mark.parametrize(("gap", "searched"), [(0.0, True), (0.5, False)])
def test_whole_bars_are_searched_only_for_a_plan_outside_the_gap(gap: float, searched: bool) -> None:
    *job, options = beaten_job()
    reports = reported(*job, replace(options, relative_gap=gap))
    assert ("whole bars" in reports) is searched


def test_lengths_below_a_millimetre_are_cut() -> None:
    plan = plan_cuts([CutPiece("shim", 0.5)], [Stock(0.9, cost=0.5)], [Offcut("K", 0.4)], CuttingOptions(kerf_mm=0.1))
    assert [(bar.length_mm, bar.source) for bar in plan.bars] == [(0.9, "new")]
    assert plan.cost == 0.5


def _plan(seed: int) -> CutPlan:
    r = random.Random(seed)
    pieces = [CutPiece(f"P{i}", r.randrange(500, 4500)) for i in range(25)]
    return plan_cuts(pieces, [Stock(4000), Stock(5000), Stock(6000)], (), CuttingOptions(time_limit_s=15.0))


@pytest.mark.parametrize("seed", SEEDS)
def test_same_plan_with_a_clock_that_stands_still(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    by_the_clock = _plan(seed)
    monkeypatch.setattr("time.monotonic", lambda: 0.0)
    assert _plan(seed) == by_the_clock


@pytest.mark.parametrize("seed", SEEDS)
def test_every_whole_number_program_ends_after_a_number_of_nodes(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    solve, options = scipy.optimize.milp, []
    monkeypatch.setattr(scipy.optimize, "milp", lambda *a, **k: options.append(dict(k["options"])) or solve(*a, **k))
    _plan(seed)
    assert options
    assert all(0 < one["node_limit"] <= search.NODES for one in options)
    assert all(0.1 <= one["time_limit"] <= 15.0 for one in options)
    assert all(one["mip_rel_gap"] == 0.0 for one in options), "no gap is asked for"


def test_a_search_that_runs_into_its_time_limit_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    seconds = count(0.0, 7.0)
    monkeypatch.setattr("time.monotonic", lambda: next(seconds))
    assert "stopped at the time limit" in _plan(SEEDS[0]).message


def test_material_alone_bounds_the_stock_to_the_nanometre():
    pieces = [CutPiece("a", 500.0, "oak"), CutPiece("b", 700.0, "ash")]
    assert _material_bound_mm(pieces, []) == 1200.0
    assert _material_bound_mm(pieces, [Offcut("K", 800.0, "oak")]) == 700.0
