"""Ways of cutting one bar, in whole grid units: fills, first plans and lists of patterns.

A pattern is a bar kind and how often each piece length is cut from it. This module does not use labels, millimetres or
files; `heatloop.handover.cutting.plan` converts a job to a `CutProblem` and a plan back to pieces.

The weight of a piece is its length and one kerf. The capacity of a bar is its length between the trims and one kerf,
because the last cut may be at the end of the bar. A pattern fits when the weights add up to
no more than the capacity.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Pattern = tuple[int, tuple[int, ...]]
"""Index of the bar kind, and the number of pieces of each length."""

DEEPEST = 400
"""Most pieces on one bar for which patterns are listed (one level of recursion each)."""


@dataclass(frozen=True)
class BarType:
    """One kind of bar, with lengths in grid units.

    capacity: length between the trims plus one kerf. goal: what one bar adds to the sum that is minimised (0 for an
    offcut on hand). stock: new stock length, 0 for an offcut. trim: length lost at the two ends. supply: number
    available, 0 for any number.
    """

    capacity: int
    goal: int
    stock: int
    trim: int
    supply: int


@dataclass(frozen=True)
class CutProblem:
    """Piece weights (falling) and the number of each; bar kinds; kerf and shortest useful offcut in grid units."""

    weights: tuple[int, ...]
    demand: tuple[int, ...]
    kinds: tuple[BarType, ...]
    kerf: int
    keep: int

    def goal(self, plan: Iterable[Pattern]) -> int:
        """Sum over the bars of the quantity that is minimised."""
        return sum(self.kinds[kind].goal for kind, _ in plan)

    def used(self, counts: Sequence[int]) -> int:
        """Length used by the pieces of a pattern, each with its kerf."""
        return sum(w * n for w, n in zip(self.weights, counts, strict=True))

    def waste(self, pattern: Pattern) -> int:
        """Trims, and the remainder where it is too short to keep."""
        kind = self.kinds[pattern[0]]
        left = max(0, kind.capacity - self.used(pattern[1]) - self.kerf)
        return kind.trim + (left if left < self.keep else 0)

    def rank(self, plan: Sequence[Pattern]) -> tuple[int, int, int, int]:
        """Goal, new stock, waste and bars: of two plans the better has the lower rank."""
        stock = sum(self.kinds[kind].stock for kind, _ in plan)
        return self.goal(plan), stock, sum(map(self.waste, plan)), len(plan)


@dataclass(frozen=True)
class BarFill:
    """Best value for every capacity, and the pieces that give it (bounded knapsack by dynamic programming)."""

    unit: int
    best: NDArray[np.float64]
    parts: tuple[tuple[int, int, int], ...]
    taken: NDArray[np.bool_]
    size: int

    def value(self, capacity: int) -> float:
        """Maximum value that fits in `capacity`."""
        return float(self.best[capacity // self.unit])

    def counts(self, capacity: int) -> tuple[int, ...]:
        """Number of pieces of each length that give that value."""
        room = capacity // self.unit
        counts = [0] * self.size
        for row in range(len(self.parts) - 1, -1, -1):
            item, copies, weight = self.parts[row]
            if self.taken[row, room]:
                counts[item] += copies
                room -= weight
        return tuple(counts)


def best_fill(weights: Sequence[int], values: Sequence[float], limits: Sequence[int], capacity: int) -> BarFill:
    """Fill bars of every capacity up to `capacity` with the maximum value.

    Bounded knapsack, solved exactly by dynamic programming over capacity (Martello and Toth, Knapsack Problems, 1990,
    chapter 3); several pieces of one length are combined in batches of 1, 2, 4 ... Arguments have one entry for each
    piece length: weight (grid units), value (any unit; pieces with a value of 0 or less are left out), maximum number.
    """
    unit = math.gcd(*weights)
    room = capacity // unit
    parts: list[tuple[int, int, int]] = []
    gains: list[float] = []
    for item, (weight, value, limit) in enumerate(zip(weights, values, limits, strict=True)):
        left = min(limit, room // (weight // unit)) if value > 0.0 else 0
        lot = 1
        while left > 0:
            lot = min(lot, left)
            parts.append((item, lot, lot * (weight // unit)))
            gains.append(lot * value)
            left -= lot
            lot *= 2
    best = np.zeros(room + 1)
    taken = np.zeros((len(parts), room + 1), dtype=np.bool_)
    for row, ((_, _, size), gain) in enumerate(zip(parts, gains, strict=True)):
        with_it = best[: room + 1 - size] + gain
        np.greater(with_it, best[size:], out=taken[row, size:])
        np.maximum(with_it, best[size:], out=best[size:])
    return BarFill(unit, best, tuple(parts), taken, len(weights))


def first_fit(problem: CutProblem) -> list[Pattern]:
    """First-fit-decreasing plan: each piece, longest first, goes on the first bar with space for it.

    Offcuts are used first, shortest that fits; then the new bar with the lowest cost for its length. At the end, new
    bars are replaced by the cheapest that hold their pieces. There is always a plan, because every piece fits some new
    bar.
    """
    left = [kind.supply for kind in problem.kinds]
    opening = sorted(
        range(len(problem.kinds)),
        key=lambda t: (
            problem.kinds[t].supply == 0,
            problem.kinds[t].goal / problem.kinds[t].capacity,
            problem.kinds[t].capacity if problem.kinds[t].supply else -problem.kinds[t].capacity,
        ),
    )
    bars: list[tuple[int, list[int]]] = []
    rooms: list[int] = []
    for item, weight in enumerate(problem.weights):
        for _ in range(problem.demand[item]):
            place = next((b for b, room in enumerate(rooms) if room >= weight), -1)
            if place < 0:
                kind = next(
                    t
                    for t in opening
                    if problem.kinds[t].capacity >= weight and (problem.kinds[t].supply == 0 or left[t] > 0)
                )
                left[kind] -= 1
                bars.append((kind, [0] * len(problem.weights)))
                rooms.append(problem.kinds[kind].capacity)
                place = len(bars) - 1
            bars[place][1][item] += 1
            rooms[place] -= weight
    return cheapest_bars(problem, [(kind, tuple(counts)) for kind, counts in bars])


def best_fit_by_value(problem: CutProblem, exponent: float) -> list[Pattern]:
    """Plan made bar by bar: the longest remaining piece, and the best fill beside it.

    The value of a piece is weight ** exponent. An exponent above 1 uses long pieces early and keeps the short ones for
    the last bars, where they fill best.
    """
    values = [float(w) ** exponent for w in problem.weights]
    left = list(problem.demand)
    offcuts = [kind.supply for kind in problem.kinds]
    plan: list[Pattern] = []
    for kind_index in sorted(range(len(problem.kinds)), key=lambda t: problem.kinds[t].capacity):
        for _ in range(offcuts[kind_index]):
            fill = best_fill(problem.weights, values, left, problem.kinds[kind_index].capacity)
            counts = fill.counts(problem.kinds[kind_index].capacity)
            if any(counts):
                plan.append((kind_index, counts))
                left = [have - n for have, n in zip(left, counts, strict=True)]
    new = [t for t, kind in enumerate(problem.kinds) if kind.supply == 0]
    largest = max(problem.kinds[t].capacity for t in new)
    while any(left):
        longest = next(i for i, n in enumerate(left) if n)
        left[longest] -= 1
        start = problem.weights[longest]
        fill = best_fill(problem.weights, values, left, largest - start)
        remaining = problem.used(left) + start
        choices: list[tuple[float, Pattern]] = []
        for t in new:
            room = problem.kinds[t].capacity - start
            if room < 0:
                continue
            beside = list(fill.counts(room))
            beside[longest] += 1
            used = problem.used(beside)
            # a bar that takes all that is left need not be full, only cheap
            choices.append((problem.kinds[t].goal / (used if used < remaining else largest), (t, tuple(beside))))
        best = min(choices, key=lambda choice: choice[0])[1]
        plan.append(best)
        left[longest] += 1
        left = [have - n for have, n in zip(left, best[1], strict=True)]
    return cheapest_bars(problem, plan)


def cheapest_bars(problem: CutProblem, plan: Iterable[Pattern]) -> list[Pattern]:
    """The same pieces on each bar; new bars are replaced by those with the lowest goal, then length, that hold them."""
    new = sorted(
        (t for t, kind in enumerate(problem.kinds) if kind.supply == 0),
        key=lambda t: (problem.kinds[t].goal, problem.kinds[t].stock),
    )
    out: list[Pattern] = []
    for kind, counts in plan:
        used = problem.used(counts)
        if used == 0:
            continue
        if problem.kinds[kind].supply == 0:
            kind = next(t for t in new if problem.kinds[t].capacity >= used)
        out.append((kind, counts))
    return out


def without_surplus(problem: CutProblem, plan: Sequence[Pattern]) -> list[Pattern]:
    """Remove pieces that are cut more often than required, from the last bars first, and adapt the bars."""
    surplus = [-n for n in problem.demand]
    for _, counts in plan:
        surplus = [s + n for s, n in zip(surplus, counts, strict=True)]
    out: list[Pattern] = []
    for kind, counts in reversed(plan):
        drop = [max(0, min(n, s)) for n, s in zip(counts, surplus, strict=True)]
        surplus = [s - d for s, d in zip(surplus, drop, strict=True)]
        out.append((kind, tuple(n - d for n, d in zip(counts, drop, strict=True))))
    return cheapest_bars(problem, reversed(out))


def list_patterns(
    problem: CutProblem, prices: Sequence[float], minimum: Sequence[float], limit: int
) -> list[Pattern] | None:
    """All patterns whose pieces have a value of at least `least[kind]` at `prices`; None beyond `limit`.

    Also None where a bar can hold more than `DEEPEST` pieces. Depth-first search over the piece lengths. A table of the
    maximum value that the undecided lengths can still give excludes every branch that cannot reach `minimum`. The work
    is therefore proportional to the number of patterns.
    """
    unit = math.gcd(*problem.weights)
    if min(sum(problem.demand), max(k.capacity for k in problem.kinds) // min(problem.weights)) > DEEPEST:
        return None
    weights = [w // unit for w in problem.weights]
    rooms = [kind.capacity // unit for kind in problem.kinds]
    size = len(weights)
    table = np.zeros((size + 1, max(rooms) + 1))
    for item in range(size - 1, -1, -1):
        row = table[item + 1].copy()
        weight = weights[item]
        for _ in range(min(problem.demand[item], max(rooms) // weight)):
            row[weight:] = np.maximum(row[weight:], row[:-weight] + prices[item])
        table[item] = row

    patterns: list[Pattern] = []
    counts = [0] * size

    def walk(first: int, room: int, value: float, need: float) -> Iterator[tuple[int, ...]]:
        if value >= need and any(counts):
            yield tuple(counts)
        for item in range(first, size):
            if value + float(table[item, room]) < need:
                return
            if counts[item] < problem.demand[item] and weights[item] <= room:
                counts[item] += 1
                yield from walk(item, room - weights[item], value + prices[item], need)
                counts[item] -= 1

    for kind, room in enumerate(rooms):
        for pattern in walk(0, room, 0.0, minimum[kind]):
            patterns.append((kind, pattern))
            if len(patterns) > limit:
                return None
    return patterns


def reachable_sums(steps: Iterable[int], unit: int, top: int) -> int:
    """Sums up to `top` that any number of `steps` can form: bit n is set where n units can be formed."""
    bits = top // unit + 1
    mask = 1
    for size in sorted(set(steps)):
        shift = size // unit
        while shift < bits:
            mask |= mask << shift
            shift *= 2
        mask &= (1 << bits) - 1
    return mask
