"""The remedies of every shortcoming, tried one at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from heatloop.workflows.improve.candidates.remedies_for import families_for
from heatloop.workflows.improve.remedy import Family, Remedy
from heatloop.workflows.improve.rows import Outcome
from heatloop.workflows.improve.shortcomings import Shortcoming
from heatloop.workflows.improve.trial import NotPossible, Trial, Trials

MIN_SHARE = 0.1
"""Share of the shortage of a room that a remedy covers alone if it is combined with others."""

NOTICED_W = 0.5
"""A remedy that raises the margin of its room by less is left out."""


@dataclass(frozen=True, eq=False)
class TriedFamily:
    """One remedy in rising amounts with the amount found for a shortcoming."""

    shortcoming: Shortcoming
    family: Family
    found: Trial | NotPossible

    @property
    def outcome(self) -> Outcome:
        """The amount found, as an outcome."""
        return Outcome(self.shortcoming, self.found.remedies[0], self.found)

    @property
    def amounts(self) -> tuple[Remedy, ...]:
        """The amount found and half of it: together with other remedies less may suffice."""
        place = self.family.index(self.found.remedies[0])
        return tuple(self.family[index] for index in dict.fromkeys((place // 2, place)))


def tried_families(trials: Trials, missed: Sequence[Shortcoming]) -> Iterator[TriedFamily]:
    """Every remedy of these shortcomings; one that does not warm the room that it is for is left out."""
    for shortcoming in missed:
        for family in families_for(trials.present.system, shortcoming):
            found = trials.least(family, shortcoming)
            if isinstance(found, NotPossible) or _has_effect(trials.present, found, shortcoming):
                yield TriedFamily(shortcoming, family, found)


def _has_effect(present: Trial, trial: Trial, shortcoming: Shortcoming) -> bool:
    if not shortcoming.is_short_room:
        return True
    room = shortcoming.location
    return trial.margins_w[room] > present.margins_w[room] + NOTICED_W


def _covers_share(present: Trial, one: TriedFamily) -> bool:
    """Whether a remedy covers a tenth of the shortage of its room, or resolves another check."""
    short, trial = one.shortcoming, one.found
    if not isinstance(trial, Trial):
        return False
    if not short.is_short_room:
        return trial.resolves(short)
    room = short.location
    return trial.margins_w[room] - present.margins_w[room] >= -MIN_SHARE * present.margins_w[room]


def for_search(present: Trial, tried: Sequence[TriedFamily]) -> tuple[Remedy, ...]:
    """Remedies to be combined: of failed checks, with a cost in the parts list, without the flow temperature.

    Those that cover less than a tenth of the shortage of their room alone are left out.
    """
    chosen = [
        remedy
        for one in tried
        if one.shortcoming.fails and _covers_share(present, one)
        for remedy in one.amounts
        if not remedy.other_work and ("project", "", "flow_temp_c") not in remedy.touches
    ]
    return tuple(dict.fromkeys(chosen))


def more_for(present: Trial, missed: Sequence[Shortcoming]) -> tuple[Remedy, ...]:
    """Remedies for checks that fail with other remedies: the least, the middle and the greatest amount of each."""
    chosen = [
        family[index]
        for shortcoming in missed
        if shortcoming.fails and not shortcoming.is_short_room
        for family in families_for(present.system, shortcoming)
        for index in dict.fromkeys((0, len(family) // 2, len(family) - 1))
        if not family[index].other_work
    ]
    return tuple(dict.fromkeys(chosen))
