"""A cutting plan is the same on every run: the clock is the last resort and decides nothing before it."""

from __future__ import annotations

import random
from itertools import count

import pytest
import scipy.optimize

from heatloop.handover.cutting import search
from heatloop.handover.cutting.model import CutPiece, CutPlan, CuttingOptions, Offcut, Stock
from heatloop.handover.cutting.plan import _material_bound_mm, plan_cuts

SEEDS = (3, 9)


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


def test_a_search_that_runs_into_its_time_limit_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    seconds = count(0.0, 7.0)
    monkeypatch.setattr("time.monotonic", lambda: next(seconds))
    assert "stopped at the time limit" in _plan(SEEDS[0]).message


def test_material_alone_bounds_the_stock_to_the_nanometre():
    pieces = [CutPiece("a", 500.0, "oak"), CutPiece("b", 700.0, "ash")]
    assert _material_bound_mm(pieces, []) == 1200.0
    assert _material_bound_mm(pieces, [Offcut("K", 800.0, "oak")]) == 700.0
