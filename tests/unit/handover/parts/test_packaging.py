"""Packs: the least that holds the quantity, and the fewest."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heatloop.handover.parts.packaging import fill_packs
from heatloop.survey.catalogue import PackSize


@settings(max_examples=100, deadline=None)
@given(quantity=st.integers(0, 60), holds=st.lists(st.integers(1, 25), min_size=1, max_size=3, unique=True))
def test_packs_are_the_least_and_the_fewest(quantity: int, holds: list[int]) -> None:
    found = fill_packs(quantity, [PackSize("x", f"bag of {n}", n) for n in holds])
    total, count = sum(p.quantity for p in found), sum(p.count for p in found)
    ways = product(*(range(-(-quantity // n) + 1) for n in holds))
    best = min(
        (sum(n * h for n, h in zip(way, holds, strict=True)), sum(way))
        for way in ways
        if sum(n * h for n, h in zip(way, holds, strict=True)) >= quantity
    )
    assert (total, count) == best


def test_packs_that_cannot_be() -> None:
    with pytest.raises(ValueError, match="quantity = -1: must be 0 or above"):
        fill_packs(-1.0, [PackSize("x", "bag", 5.0)])
    with pytest.raises(ValueError, match="no packs"):
        fill_packs(1.0, [])
