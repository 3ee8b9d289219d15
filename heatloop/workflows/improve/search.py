"""The least costly combination of remedies with which no check fails.

Combinations are tried by rising cost, each sized as a whole, until one passes: then none of lower cost does. A
combination is not sized if one of its groups alone leaves a room of its own colder than CROSS of its heat loss: other
loops affect a room by the temperature at the ends of trunks only, which changes its heat by less than that. If the
search ends after a number of sizings, the cost of the next combination is the lower bound.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass

from heatloop.workflows.improve.alternatives import Alternative, Group, groups_of
from heatloop.workflows.improve.remedy import Remedy
from heatloop.workflows.improve.rows import Measure
from heatloop.workflows.improve.trial import Trial, Trials

CROSS = 0.03
"""Share of its heat loss by which changes in other loops affect a room, at most."""

Rank = tuple[float, int]
"""Cost, then number of changes."""


@dataclass(frozen=True, eq=False)
class Cheapest:
    """The least costly survey that passes, as far as it was found.

    `trial` is None where none was found. `bound`: no combination of lower cost passes; infinite where none passes.
    `tried`: combinations that were sized.
    """

    trial: Trial | None
    bound: float
    tried: int

    @property
    def is_proved(self) -> bool:
        """Whether nothing cheaper passes, or nothing at all."""
        return math.isinf(self.bound) or self.trial is not None


def passes(trial: Trial) -> bool:
    """Whether no check fails; rooms are judged first, because that requires no tables."""
    return trial.all_warm and not trial.verdict.fails


def cheapest(trials: Trials, remedies: Sequence[Remedy], measure: Measure, max_tries: int) -> Cheapest:
    """The least costly combination of these remedies that passes, in at most `max_tries` sizings of combinations."""
    lists = [_Survivors(trials, group) for group in groups_of(trials, remedies, measure)]
    queue = _Queue(lists)
    for tried in range(max_tries + 1):
        combination = queue.next()
        if combination is None:
            return Cheapest(None, math.inf, tried)
        if tried == max_tries:
            return Cheapest(None, sum(one.cost for one in combination), tried)
        chosen = tuple(remedy for one in combination for remedy in one.remedies)
        trial = trials.of(*chosen)
        if isinstance(trial, Trial) and passes(trial):
            return Cheapest(trial, sum(one.cost for one in combination), tried + 1)
    raise AssertionError("unreachable: the loop returns")


class _Survivors:
    """Alternatives of a group that may be part of a survey that passes, by rising cost, found when first used."""

    def __init__(self, trials: Trials, group: Group) -> None:
        self._trials, self._group = trials, group
        self._found: list[Alternative] = []
        self._next = 0

    def at(self, index: int) -> Alternative | None:
        """The alternative at a place; None beyond the last."""
        alternatives = self._group.alternatives
        while len(self._found) <= index and self._next < len(alternatives):
            candidate = alternatives[self._next]
            self._next += 1
            if self._may_pass(candidate):
                self._found.append(candidate)
        return self._found[index] if index < len(self._found) else None

    def _may_pass(self, alternative: Alternative) -> bool:
        trial = self._trials.of(*alternative.remedies)
        if not isinstance(trial, Trial):
            return False
        return all(trial.margins_w.get(room, 0.0) >= -CROSS * trial.losses_w[room] for room in self._group.rooms)


class _Queue:
    """Combinations of one alternative of each group, by rising cost and number of changes."""

    def __init__(self, lists: Sequence[_Survivors]) -> None:
        self._lists = lists
        self._heap: list[tuple[Rank, tuple[int, ...]]] = []
        self._seen: set[tuple[int, ...]] = set()
        self._push((0,) * len(lists))

    def next(self) -> tuple[Alternative, ...] | None:
        """The next combination; None after the last."""
        if not self._heap:
            return None
        _, places = heapq.heappop(self._heap)
        for index, place in enumerate(places):
            self._push((*places[:index], place + 1, *places[index + 1 :]))
        return self._at(places)

    def _at(self, places: tuple[int, ...]) -> tuple[Alternative, ...] | None:
        chosen = [held.at(place) for held, place in zip(self._lists, places, strict=True)]
        return None if None in chosen else tuple(one for one in chosen if one is not None)

    def _push(self, places: tuple[int, ...]) -> None:
        if places in self._seen:
            return
        self._seen.add(places)
        chosen = self._at(places)
        if chosen is not None:
            rank = round(sum(one.cost for one in chosen), 6), sum(len(one.remedies) for one in chosen)
            heapq.heappush(self._heap, (rank, places))
