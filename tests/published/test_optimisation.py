"""Small problems with a published optimum, by the enumeration that finds the least costly survey.

Sources in data/published/optimisation.csv. Of items to choose, each is a list of two choices: in at no cost, or out at
the cost of its profit. The first combination within all limits has the least lost profit.
"""

from __future__ import annotations

from dataclasses import dataclass

from heatloop.workflows.improve.enumeration import by_rising_cost
from tests.helpers.published import replayed


@dataclass(frozen=True)
class Option:
    """One choice: its cost and its weight for every limit."""

    cost: float
    weights: tuple[float, ...]

    @property
    def rank(self):
        return self.cost, 0


class Options:
    """The choices of one item by rising cost."""

    def __init__(self, options):
        self._options = sorted(options, key=lambda one: one.rank)

    def at(self, index):
        return self._options[index] if index < len(self._options) else None


def rows_of(text):
    return [[float(number) for number in row.split("/")] for row in str(text).split("|")]


def least_cost(items, fits):
    """Cost of the first combination that fits."""
    for chosen in by_rising_cost([Options(item) for item in items]):
        totals = [sum(column) for column in zip(*(one.weights for one in chosen), strict=True)]
        if fits(totals):
            return sum(one.cost for one in chosen)
    raise AssertionError("no combination fits")


def greatest_profit(profits, weights, limits):
    """Profit of the items that are chosen within every limit."""
    (gains,), held, (bounds,) = rows_of(profits), rows_of(weights), rows_of(limits)
    items = [
        [Option(0.0, tuple(row[place] for row in held)), Option(gain, (0.0,) * len(held))]
        for place, gain in enumerate(gains)
    ]
    lost = least_cost(items, lambda used: all(a <= b for a, b in zip(used, bounds, strict=True)))
    return sum(gains) - lost


def greatest_assigned_profit(profits, weights, limits):
    """Profit of items that are each assigned to exactly one bin of limited size."""
    gains, held, (bounds,) = rows_of(profits), rows_of(weights), rows_of(limits)
    bins = range(len(bounds))
    best = [max(row[place] for row in gains) for place in range(len(gains[0]))]
    items = [
        [Option(best[place] - gains[k][place], tuple(held[k][place] if k == j else 0.0 for j in bins)) for k in bins]
        for place in range(len(best))
    ]
    lost = least_cost(items, lambda used: all(a <= b for a, b in zip(used, bounds, strict=True)))
    return sum(best) - lost


def fewest_coins(pay, coins):
    """Number of coins that add up to an amount."""
    (values,) = rows_of(coins)
    items = [[Option(float(n), (n * value,)) for n in range(int(pay // value) + 1)] for value in values]
    return least_cost(items, lambda used: used[0] == pay)


QUANTITIES = {
    "greatest_profit": greatest_profit,
    "greatest_assigned_profit": greatest_assigned_profit,
    "fewest_coins": fewest_coins,
}

test_published_row = replayed("optimisation", __name__, QUANTITIES)
