"""Which ends slide: the assignment is the best of all."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatloop.handover.second_fix.sliding_ends import (
    SlideNode,
    SlideRun,
    assign_free_ends,
    assignment_cost,
    count_restrained,
    missing_expansion_mm,
    slide_options,
)

CHOICES = ("start", "end", "anchor", "give", "stuck")
FREE_AT = {"start": (0,), "end": (1,), "anchor": (0, 1), "give": (), "stuck": ()}
nodes = st.builds(
    SlideNode,
    st.integers(0, 2),
    st.none() | st.sampled_from([1.0, 3.0, 5.0]),
    st.sampled_from([0.0, 0.0, 0.5, 2.0]),
)


@st.composite
def small_runs(draw: st.DrawFn) -> SlideRun:
    growth = draw(st.lists(st.sampled_from([0.4, 1.5, 3.0, 4.5, 8.0]), min_size=1, max_size=5))
    between = draw(st.lists(nodes, min_size=len(growth) + 1, max_size=len(growth) + 1))
    return SlideRun(tuple(growth), tuple(between), draw(st.sampled_from([0.0, 1.0])))


def allowed(run: SlideRun, chosen: tuple[str, ...]) -> bool:
    """Whether an assignment breaks no rule, judged by the text of the rule alone."""
    sliding = [0] * len(run.nodes)
    for i, choice in enumerate(chosen):
        share = len(FREE_AT[choice])
        for side in FREE_AT[choice]:
            node = run.nodes[i + side]
            sliding[i + side] += 1
            if node.slide_mm is not None and run.expansion_mm[i] / share + run.min_gap_mm > node.slide_mm + 1e-9:
                return False
        if (
            choice == "give"
            and run.expansion_mm[i] > run.nodes[i].elastic_allowance_mm + run.nodes[i + 1].elastic_allowance_mm + 1e-9
        ):
            return False
    return all(used <= node.free for used, node in zip(sliding, run.nodes, strict=True))


def price(run: SlideRun, chosen: tuple[str, ...]) -> tuple[float, ...]:
    """Stuck straights, their growth, straights on give alone, anchors, free ends against the water."""
    stuck = [i for i, choice in enumerate(chosen) if choice == "stuck"]
    growth = round(sum(run.expansion_mm[i] for i in stuck), 9)
    return (len(stuck), growth, chosen.count("give"), chosen.count("anchor"), chosen.count("start"))


def best_price(run: SlideRun) -> tuple[float, ...]:
    return min(price(run, c) for c in product(CHOICES, repeat=len(run.expansion_mm)) if allowed(run, c))


@settings(max_examples=200, deadline=None)
@given(run=small_runs())
def test_assignment_is_the_best_of_all(run: SlideRun) -> None:
    found = assign_free_ends(run)
    assert allowed(run, found)
    assert price(run, found) == best_price(run)


@settings(max_examples=150, deadline=None)
@given(run=small_runs())
def test_a_stuck_straight_has_a_group_that_proves_it(run: SlideRun) -> None:
    found = assign_free_ends(run)
    for i, choice in enumerate(found):
        if choice != "stuck":
            with pytest.raises(ValueError, match="has room to grow"):
                missing_expansion_mm(run, i)
            continue
        group = missing_expansion_mm(run, i)
        assert i in group
        assert [k for k in group if found[k] == "stuck"] == [i]
        # even if nothing else stood on the run, every way of placing the group leaves one without room
        others = tuple(mm if k in group else 0.0 for k, mm in enumerate(run.expansion_mm))
        alone = SlideRun(others, run.nodes, run.min_gap_mm)
        for chosen in product(CHOICES, repeat=len(group)):
            whole = ["give"] * len(others)
            for k, c in zip(group, chosen, strict=True):
                whole[k] = c
            assert "stuck" in chosen or not allowed(alone, tuple(whole))


def test_a_long_run_is_settled_at_once() -> None:
    run = SlideRun((2.0,) * 400, (SlideNode(0), *(SlideNode(1),) * 399, SlideNode(0)))
    assert count_restrained(run) == 1
    assert slide_options(run, 3, used=1) == ("end", "stuck")
    assert assignment_cost(run, 3, "stuck")[:2] == (1, 2.0)


def test_nodes_and_straights_must_fit() -> None:
    with pytest.raises(ValueError, match="2 nodes for 2 straights"):
        SlideRun((1.0, 2.0), (SlideNode(0), SlideNode(1)))
