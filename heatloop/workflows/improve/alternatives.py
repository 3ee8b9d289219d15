"""Remedies in groups that do not affect each other's rooms, and in each group the combinations of its remedies.

A group has the loops that its remedies change. What is fitted in one loop does not depend on another, so the cost of a
combination of alternatives is the sum of their costs.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb

from heatloop.survey.survey import SurveyData
from heatloop.workflows.improve.candidates.warmer_loops import loops_heating, trunks_of
from heatloop.workflows.improve.remedy import Remedy, are_compatible
from heatloop.workflows.improve.rows import Measure
from heatloop.workflows.improve.trial import Trials

MAX_TOGETHER = 3
"""Remedies of one group that are combined."""

MAX_ALTERNATIVES = 400
"""Combinations in a group beyond which no more remedies are combined."""


@dataclass(frozen=True)
class Alternative:
    """Remedies of one group that can be applied together, with their cost; none of them costs nothing."""

    remedies: tuple[Remedy, ...]
    cost: float

    @property
    def rank(self) -> tuple[float, int]:
        """Cost, then number of changes."""
        return round(self.cost, 6), len(self.remedies)


@dataclass(frozen=True)
class Group:
    """Remedies that affect the same loops. `rooms`: heated by these loops and by no others."""

    alternatives: tuple[Alternative, ...]
    rooms: tuple[str, ...]


def groups_of(trials: Trials, remedies: Sequence[Remedy], measure: Measure) -> tuple[Group, ...]:
    """The groups of remedies, each with its alternatives by rising cost; those without layout or cost left out."""
    survey = trials.present.survey
    groups: list[tuple[set[str], list[Remedy]]] = []
    for remedy in remedies:
        loops = loops_changed(survey, remedy)
        same = [group for group in groups if group[0] & loops]
        groups = [group for group in groups if not group[0] & loops]
        merged = [item for _, held in same for item in held]
        groups.append((loops.union(*(held for held, _ in same)), [*merged, remedy]))
    found = []
    for loops, held in groups:
        order = {remedy: place for place, remedy in enumerate(remedies)}
        alternatives = list(_alternatives(trials, sorted(held, key=order.__getitem__), measure))
        found.append(Group(tuple(sorted(alternatives, key=lambda one: one.rank)), _own_rooms(survey, loops)))
    return tuple(found)


def loops_changed(survey: SurveyData, remedy: Remedy) -> set[str]:
    """Names of the loops that a remedy affects; of what affects none, a name that no loop has."""
    names: set[str] = set()
    for edit in remedy.edits:
        if edit.table == "loop":
            names.add(edit.name)
        elif edit.table == "trunk":
            names |= {loop.name for loop in survey.loops if edit.name in {t.name for t in trunks_of(survey, loop)}}
        else:
            names.add(f"\0{edit.table}")
    return names


def _own_rooms(survey: SurveyData, loops: set[str]) -> tuple[str, ...]:
    return tuple(room for room in survey.heated_rooms if {loop.name for loop in loops_heating(survey, room)} <= loops)


def _alternatives(trials: Trials, remedies: Sequence[Remedy], measure: Measure) -> Iterator[Alternative]:
    for count in range(min(len(remedies), MAX_TOGETHER) + 1):
        if count > 1 and comb(len(remedies), count) > MAX_ALTERNATIVES:
            return
        for chosen in combinations(remedies, count):
            if are_compatible(chosen):
                items = trials.items_of(chosen)
                cost = math.nan if items is None else measure.cost_of(items)
                if not math.isnan(cost):
                    yield Alternative(chosen, cost)
