"""Cutting plans at their limits: least offcut, time for each grain, order of the bars, faults of very short stock."""

from __future__ import annotations

import itertools
import re

import pytest

from heatloop.handover.cutting import plan as planning
from heatloop.handover.cutting.model import CutPiece, CuttingOptions, Offcut, Stock
from heatloop.handover.cutting.patterns import CutProblem, Pattern
from heatloop.handover.cutting.plan import plan_cuts
from heatloop.handover.cutting.search import SearchResult, search


@pytest.mark.parametrize(("piece_mm", "usable"), [(2497.0, True), (2497.1, False)])
def test_half_a_metre_is_kept_unless_asked_otherwise(piece_mm: float, usable: bool) -> None:
    """3000 mm less the piece and a kerf of 3 mm."""
    (bar,) = plan_cuts([CutPiece("A", piece_mm)], [Stock(3000)]).bars
    assert bar.usable is usable


def clock(monkeypatch: pytest.MonkeyPatch, began_s: float, step_s: float) -> None:
    """A clock that goes on by a step whenever it is read."""
    seconds = itertools.count(began_s, step_s)
    monkeypatch.setattr(planning.time, "monotonic", lambda: next(seconds))


def test_time_is_shared_among_grains_by_their_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    """30 s: after 2 s a quarter of 28 s for one of four pieces, after 4 s all of 26 s for the other three."""
    limits: list[float] = []

    def kept(problem: CutProblem, limit_s: float, *others: object) -> SearchResult:
        limits.append(limit_s)
        plan: tuple[Pattern, ...] = ((0, problem.demand),)
        return SearchResult(plan, 1, 1, False)

    monkeypatch.setattr(planning, "search", kept)
    clock(monkeypatch, 1000.0, 2.0)
    pieces = [CutPiece("A", 900, "ash"), *[CutPiece("B", 900, "oak")] * 3]
    plan = plan_cuts(pieces, [Stock(6000, "ash"), Stock(6000, "oak")])
    assert limits == [7.0, 26.0]
    assert plan.seconds == 6.0


def test_a_grain_that_comes_after_the_time_limit_has_no_time(monkeypatch: pytest.MonkeyPatch) -> None:
    limits: list[float] = []
    monkeypatch.setattr(planning, "search", lambda *job: limits.append(job[1]) or search(job[0], 1.0, *job[2:]))
    clock(monkeypatch, 0.0, 2.0)
    plan_cuts([CutPiece("A", 900)], [Stock(6000)], (), CuttingOptions(time_limit_s=1.0))
    assert limits == [0.0]


def test_bars_are_listed_new_before_offcuts_the_longest_first_and_equal_ones_together() -> None:
    lengths = (2900, 1900, 1400, 900)
    pieces = [CutPiece(str(length), length) for length in lengths for _ in range(4)]
    stock, offcuts = [Stock(4000), Stock(6000)], [Offcut("K", 1500), Offcut("L", 3000), Offcut("M", 1500)]
    options = CuttingOptions()
    job = planning._job("", pieces, stock, offcuts, options)
    assert [length for length, _ in job.bars] == [length * 1_000_000 for length in (4000, 6000, 1500, 3000)]
    plan: list[Pattern] = [
        (2, (0, 0, 1, 0)),
        (1, (1, 0, 1, 1)),
        (0, (0, 2, 0, 0)),
        (1, (1, 1, 0, 1)),
        (3, (1, 0, 0, 0)),
        (1, (1, 0, 1, 1)),
        (2, (0, 0, 1, 0)),
        (0, (0, 1, 0, 1)),
    ]
    bars = planning._bars(job, plan, options)
    assert [(bar.length_mm, bar.offcut_label, [cut.label for cut in bar.cuts]) for bar in bars] == [
        (6000.0, "", ["2900", "1900", "900"]),
        (6000.0, "", ["2900", "1400", "900"]),
        (6000.0, "", ["2900", "1400", "900"]),
        (4000.0, "", ["1900", "1900"]),
        (4000.0, "", ["1900", "900"]),
        (3000.0, "L", ["2900"]),
        (1500.0, "K", ["1400"]),
        (1500.0, "M", ["1400"]),
    ]


def test_a_plan_just_within_the_gap_asked_for_ends_by_that_gap() -> None:
    options = CuttingOptions(relative_gap=0.25)
    assert planning._message(options, 4000.0, 3000.0, 0.25, False).endswith("; stopped within the requested gap")
    assert planning._message(options, 4000.0, 2900.0, 0.275, False).endswith("proof in so many steps")
    assert planning._message(options, 4000.0, 2900.0, 0.275, True).endswith("; stopped at the time limit")


def test_a_proved_plan_states_its_goal_in_its_unit() -> None:
    stock = [Stock(6000, cost=12.5)]
    for prefer, goal in (
        ("least stock", "6000 mm of new stock"),
        ("fewest bars", "1 new bars"),
        ("least cost", "12.5 (cost) of new stock"),
    ):
        plan = plan_cuts([CutPiece("A", 2000)], stock, (), CuttingOptions(prefer=prefer))
        assert plan.message == f"{goal}: proved: no plan needs less stock"


def test_a_plan_above_its_bound_states_both_in_their_unit() -> None:
    result = SearchResult((), 60_000, 45_000, False)
    plan = planning._plan([], [result], 0.0, [], CuttingOptions(relative_gap=0.25), 0.0)
    assert plan.message == (
        "6000 mm of new stock: at most 25.00 % above the least possible (4500 or more); "
        "stopped within the requested gap"
    )
    assert (plan.goal, plan.lower_bound, plan.lower_bound_mm, plan.proved) == (6000.0, 4500.0, 4500.0, False)


def test_a_remainder_of_a_millionth_of_a_millimetre_is_kept_where_everything_is() -> None:
    options = CuttingOptions(kerf_mm=0.0, min_offcut_mm=0.0)
    job = planning._job("", [CutPiece("A", 2999.999999)], [Stock(3000)], (), options)
    (bar,) = planning._bars(job, [(0, (1,))], options)
    assert (bar.remainder_mm, bar.usable) == (1e-6, True)


def faults(pieces: list[CutPiece], stock: list[Stock], options: CuttingOptions | None = None) -> list[str]:
    with pytest.raises(ValueError, match="cutting list: ") as caught:
        plan_cuts(pieces, stock, (), options)
    return str(caught.value).removeprefix("cutting list: ").split("; ")


def test_a_stock_length_of_nothing_is_one_fault() -> None:
    (fault,) = faults([CutPiece("A", 100.0)], [Stock(0.0)])
    assert fault.startswith("stock 1, length_mm is 0.0, must be a finite length above 0")


def test_short_stock_that_the_trims_take_up_is_a_fault() -> None:
    (fault,) = faults([CutPiece("A", 0.1)], [Stock(0.9)], CuttingOptions(end_trim_mm=0.5))
    assert fault == "stock 1, length_mm is 0.9, must be more than the two end trims"


def test_stock_below_the_grid_holds_nothing() -> None:
    (fault,) = faults([CutPiece("A", 0.04)], [Stock(0.05)], CuttingOptions(kerf_mm=3.02))
    assert re.search(r"must be 0 mm or less \(0\.05 mm less the end trims, to 0\.1 mm\)$", fault)
