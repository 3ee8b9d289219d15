"""Combinations of one choice from each of several lists, by rising total cost.

With the choices of each list by rising cost, the combinations are found one after the other, the cheapest first,
without listing all of them.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from typing import Protocol, TypeVar

Rank = tuple[float, int]
"""Cost, then number of changes."""


class Choice(Protocol):
    """What is chosen from a list."""

    @property
    def rank(self) -> Rank:
        """Cost, then number of changes."""


C_co = TypeVar("C_co", bound=Choice, covariant=True)
C = TypeVar("C", bound=Choice)


class Choices(Protocol[C_co]):
    """Choices by rising rank; each may be found when it is first used."""

    def at(self, index: int) -> C_co | None:
        """The choice at a place; None beyond the last."""


def by_rising_cost(lists: Sequence[Choices[C]]) -> Iterator[tuple[C, ...]]:
    """Every combination of one choice from each list, by rising sum of costs, then by rising number of changes.

    None if a list has no choice. Combinations of equal rank come in the order of their places in the lists.
    """
    heap: list[tuple[Rank, tuple[int, ...]]] = []
    seen: set[tuple[int, ...]] = set()

    def chosen(places: tuple[int, ...]) -> tuple[C, ...] | None:
        found = [held.at(place) for held, place in zip(lists, places, strict=True)]
        return None if any(one is None for one in found) else tuple(one for one in found if one is not None)

    def push(places: tuple[int, ...]) -> None:
        if places in seen:
            return
        seen.add(places)
        combination = chosen(places)
        if combination is not None:
            cost = round(sum(one.rank[0] for one in combination), 6)
            heapq.heappush(heap, ((cost, sum(one.rank[1] for one in combination)), places))

    push((0,) * len(lists))
    while heap:
        _, places = heapq.heappop(heap)
        combination = chosen(places)
        if combination is not None:
            yield combination
        for index, place in enumerate(places):
            push((*places[:index], place + 1, *places[index + 1 :]))
