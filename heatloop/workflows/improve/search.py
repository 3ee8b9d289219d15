"""The least costly combination of remedies with which no check fails.

Combinations are tried by rising cost, each sized as a whole, until one passes: then none of lower cost does. Two kinds
of combinations are not sized, because they cannot pass:

- the remedies of a group, without the others, leave a room of its own short by more than CROSS of its heat loss;
- they alone give a loop of its own a velocity, or a pressure drop for the pump, above the limit by more than CROSS.

Loops affect each other by the temperature at the ends of trunks only, if they are sized by a drop, and this changes the
heat of a room and the flow of a loop by less than CROSS. If the search ends after a number of sizings, the cost of the
next combination is the lower bound, and the answer is the best of the combinations that were tried first: in each group
the least costly remedies that suffice without the others.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from heatloop.results.checks.limits import MAX_VELOCITY_M_S
from heatloop.survey.loops import Loop
from heatloop.workflows.improve.alternatives import Alternative, Group, groups_of
from heatloop.workflows.improve.candidates.remedies_for import loop_at
from heatloop.workflows.improve.candidates.warmer_loops import heated_by
from heatloop.workflows.improve.enumeration import by_rising_cost
from heatloop.workflows.improve.remedy import Remedy, are_compatible
from heatloop.workflows.improve.rows import Measure
from heatloop.workflows.improve.trial import Trial, Trials

CROSS = 0.01
"""Share of its heat loss, and of its flow, by which changes of other loops affect a room and a loop, at most."""

SAME_COST = 1e-6

MAX_REPAIRS = 4
"""Remedies that are added to a combination whose rooms are warm until no check fails."""


@dataclass(frozen=True, eq=False)
class Cheapest:
    """The least costly survey that passes, as far as it was found.

    `trial` is None where none was found. `bound`: no combination of lower cost passes; infinite where none passes at
    all. `tried`: combinations that were sized. `nearest`: of those that warm all rooms the one with the fewest failed
    checks.
    """

    trial: Trial | None
    bound: float
    tried: int
    nearest: Trial | None = None


def passes(trial: Trial) -> bool:
    """Whether no check fails; rooms are judged first, because that requires no tables."""
    return trial.all_warm and not trial.verdict.fails


def cheapest(
    trials: Trials, remedies: Sequence[Remedy], measure: Measure, max_tries: int, known: Trial | None = None
) -> Cheapest:
    """The least costly combination of these remedies that passes, in at most `max_tries` sizings of combinations.

    `known`: a survey that passes, found otherwise.
    """
    lists = [_Survivors(trials, group) for group in groups_of(trials, remedies, measure)]
    best, best_cost, tried = known, math.inf if known is None else measure.cost(known), 0
    warm: list[Trial] = []
    first = [held.first_sufficient() for held in lists]
    if None not in first:
        chosen = tuple(one for one in first if one is not None)
        tried, trial = 1, _combined(trials, chosen)
        if trial is not None and trial.all_warm:
            warm.append(trial)
            if passes(trial) and _cost(chosen) < best_cost:
                best, best_cost = trial, _cost(chosen)
    for combination in by_rising_cost(lists):
        cost = _cost(combination)
        if best is not None and cost >= best_cost - SAME_COST:
            return Cheapest(best, best_cost, tried)
        if tried >= max_tries:
            return Cheapest(best, cost, tried, _nearest(warm))
        tried += 1
        trial = _combined(trials, combination)
        if trial is not None and trial.all_warm:
            warm.append(trial)
            if passes(trial):
                return Cheapest(trial, cost, tried)
    return Cheapest(best, best_cost, tried, _nearest(warm))


def repaired(trials: Trials, nearest: Trial, remedies: Sequence[Remedy]) -> Trial | None:
    """A survey that passes, by adding one remedy after the other to the nearest, each time the best; or None."""
    for _ in range(MAX_REPAIRS):
        candidates = [
            trial
            for remedy in remedies
            if are_compatible((*nearest.remedies, remedy))
            and isinstance(trial := trials.of(*nearest.remedies, remedy), Trial)
            and trial.all_warm
        ]
        better = _nearest(candidates)
        if better is None or len(better.verdict.fails) >= len(nearest.verdict.fails):
            return None
        nearest = better
        if passes(nearest):
            return nearest
    return None


def _nearest(warm: Sequence[Trial]) -> Trial | None:
    return min(warm, key=lambda trial: len(trial.verdict.fails), default=None)


def _combined(trials: Trials, combination: Sequence[Alternative]) -> Trial | None:
    trial = trials.of(*(remedy for one in combination for remedy in one.remedies))
    return trial if isinstance(trial, Trial) else None


def _cost(combination: Sequence[Alternative]) -> float:
    return sum(one.cost for one in combination)


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

    def first_sufficient(self) -> Alternative | None:
        """The first alternative that warms its rooms without the others and fails no check of its loops."""
        index = 0
        while (one := self.at(index)) is not None:
            trial = self._trials.of(*one.remedies)
            if isinstance(trial, Trial) and self._suffices(trial):
                return one
            index += 1
        return None

    def _suffices(self, trial: Trial) -> bool:
        if not all(trial.is_warm(room) for room in self._group.rooms):
            return False
        own = self._own_loops(trial)
        return not any(loop_at(trial.survey, check.location) in own for check in trial.verdict.fails)

    def _may_pass(self, alternative: Alternative) -> bool:
        trial = self._trials.of(*alternative.remedies)
        if not isinstance(trial, Trial):
            return False
        rooms = self._group.rooms
        if any(trial.margins_w.get(room, 0.0) < -CROSS * trial.losses_w[room] for room in rooms):
            return False
        own = {loop.name for loop in self._own_loops(trial)}
        loops = trial.design.frames["loops"]
        loops = loops[loops["loop"].isin(own)]
        most_kpa = _most_head_kpa(trial)
        too_fast = loops["max_velocity_m_s"] > MAX_VELOCITY_M_S * (1.0 + CROSS)
        too_high = loops["pressure_drop_kpa"] > most_kpa * (1.0 + CROSS) ** 2
        return not (too_fast | too_high).any()

    def _own_loops(self, trial: Trial) -> list[Loop]:
        """The loops of the group: those that heat its rooms."""
        rooms = set(self._group.rooms)
        return [loop for loop in trial.survey.loops if rooms & heated_by(loop)]


def _most_head_kpa(trial: Trial) -> float:
    """Maximum head of the only pump; unlimited where it is not known or there are several."""
    pump = trial.survey.source.pump
    several = any(trunk.pump or trunk.mixed_to_c is not None for trunk in trial.survey.trunks)
    return math.inf if pump is None or several else max(pump.head_kpa)
