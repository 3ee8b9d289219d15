"""How often the wrong length is named, in random rooms taped with 5 mm of scatter: seeded, so the counts are fixed."""

from __future__ import annotations

import math
import random
from itertools import combinations

import pytest

from heatloop.survey.traverse.adjustment import Traverse
from heatloop.survey.traverse.wrong_length import compare_lengths

ROOMS = 40
SCATTER_M = 0.005

SHAPES = {
    4: ([(0, 0), (0, 1), (1, 1), (1, 0)], (90.0,) * 4),
    6: ([(0, 0), (0, 1), (0.6, 1), (0.6, 0.45), (1, 0.45), (1, 0)], (90.0, 90.0, -90.0, 90.0, 90.0, 90.0)),
    8: (
        [(0, 0), (0, 1), (0.4, 1), (0.4, 0.6), (0.7, 0.6), (0.7, 1), (1, 1), (1, 0)],
        (90.0, 90.0, -90.0, -90.0, 90.0, 90.0, 90.0, 90.0),
    ),
}
"""Corners within 1 m by 1 m and turns: a rectangle, an L and a U."""


def taped(rng: random.Random, count: int, slip_m: float) -> tuple[Traverse, int]:
    """A room of 2.5 to 7 m either way with two diagonals fewer than its walls, one wall wrong by `slip_m`."""
    shape, turns = SHAPES[count]
    wide, high = rng.uniform(2.5, 7.0), rng.uniform(2.5, 7.0)
    corners = [(x * wide, y * high) for x, y in shape]

    def length(a: int, b: int) -> float:
        return math.dist(corners[a], corners[b]) + rng.gauss(0.0, SCATTER_M)

    walls = [length(n, (n + 1) % count) for n in range(count)]
    pairs = [(a, b) for a, b in combinations(range(count), 2) if (b - a) % count not in (1, count - 1)]
    diagonals = tuple((a + 1, b + 1, length(a, b)) for a, b in rng.sample(pairs, count - 2))
    wrong = rng.randrange(count)
    walls[wrong] += slip_m if walls[wrong] < slip_m + 0.3 or rng.random() < 0.5 else -slip_m
    return Traverse(tuple(walls), turns, diagonals), wrong


@pytest.mark.parametrize("count", SHAPES)
def test_scatter_alone_is_no_fault(count: int) -> None:
    rng = random.Random(count)
    outcomes = [compare_lengths(taped(rng, count, 0.0)[0]).outcome for _ in range(ROOMS)]
    assert outcomes == ["agrees"] * ROOMS


@pytest.mark.parametrize(("count", "slip_m", "first", "alone"), [
    (4, 0.2, 39, 24), (6, 0.2, 36, 29), (8, 0.2, 36, 25), (4, 0.5, 40, 39), (6, 0.5, 40, 39), (8, 0.5, 40, 39),
])  # fmt: skip
def test_the_wrong_wall_comes_first(count: int, slip_m: float, first: int, alone: int) -> None:
    """At least so many of 40 rooms have it first, and as the only one."""
    rng = random.Random(100 * count + round(10 * slip_m))
    rooms = [taped(rng, count, slip_m) for _ in range(ROOMS)]
    found = [(compare_lengths(traverse).suspects, wrong) for traverse, wrong in rooms]
    named = [suspects for suspects, wrong in found if suspects and suspects[0].index == wrong]
    assert len(named) >= first
    assert sum(len(suspects) == 1 for suspects in named) >= alone
