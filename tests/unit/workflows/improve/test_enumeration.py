"""Every combination comes once, by rising cost and number of changes."""

import itertools
import random
from dataclasses import dataclass

from heatloop.workflows.improve.enumeration import by_rising_cost


@dataclass(frozen=True)
class Option:
    name: int
    rank: tuple[float, int]


class Options:
    def __init__(self, options):
        self.options = sorted(options, key=lambda one: one.rank)

    def at(self, index):
        return self.options[index] if index < len(self.options) else None


def rank_of(combination):
    return round(sum(one.rank[0] for one in combination), 6), sum(one.rank[1] for one in combination)


def test_every_combination_comes_once_in_order():
    rng = random.Random(1)
    for _ in range(50):
        lists = [
            Options([Option(n, (rng.choice([-2.0, 0.0, 0.0, 1.5, 3.25]), rng.randint(0, 2))) for n in range(size)])
            for size in (rng.randint(1, 4) for _ in range(rng.randint(1, 4)))
        ]
        found = list(by_rising_cost(lists))
        assert len(found) == len(set(found))
        assert set(found) == set(itertools.product(*(held.options for held in lists)))
        assert [rank_of(one) for one in found] == sorted(rank_of(one) for one in found)


def test_a_list_without_a_choice_leaves_no_combination():
    assert list(by_rising_cost([Options([Option(1, (0.0, 0))]), Options([])])) == []
    assert list(by_rising_cost([])) == [()]
