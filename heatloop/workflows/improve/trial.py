"""Changed surveys tried in the solver: each sized, starting from the present system, and checked when asked."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

from heatloop.findings.input_errors import InputError
from heatloop.findings.limits import ACCURACY, CheckResult
from heatloop.findings.verdict import Verdict
from heatloop.handover.parts.fitted import FittedItem, fitted_items
from heatloop.hydraulics.analysis.room_output import net_room_heat_w
from heatloop.hydraulics.analysis.water_content import system_water_l
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.survey.editing import Survey
from heatloop.survey.entry import survey_from
from heatloop.workflows.design import Design
from heatloop.workflows.improve.costing import items_with
from heatloop.workflows.improve.remedy import Family, Remedy, with_remedies
from heatloop.workflows.improve.shortcomings import Shortcoming, missed_check
from heatloop.workflows.size import design_of, sized_system


@dataclass(frozen=True, eq=False)
class Trial:
    """A survey with some remedies, sized. Its tables and checks are calculated when first used."""

    remedies: tuple[Remedy, ...]
    survey: Survey
    system: SizedSystem

    @cached_property
    def margins_w(self) -> dict[str, float]:
        """Margin of every heated room in W: net heat to the room less its heat loss."""
        heat_w, heated = net_room_heat_w(self.system.state), self.survey.heated_rooms
        return {
            loss.room: heat_w.get(loss.room, 0.0) - loss.total_w
            for loss in self.system.room_losses
            if loss.room in heated
        }

    @cached_property
    def losses_w(self) -> dict[str, float]:
        """Heat loss of every room in W."""
        return {loss.room: loss.total_w for loss in self.system.room_losses}

    @cached_property
    def design(self) -> Design:
        """The design of the survey."""
        return Design.of(design_of(self.system))

    @property
    def verdict(self) -> Verdict:
        """The verdict of the design."""
        return self.design.verdict

    @cached_property
    def items(self) -> tuple[FittedItem, ...]:
        """Everything that is fitted."""
        water_l = system_water_l(self.survey, self.system.state.network)
        return fitted_items(self.survey, self.system.layout, water_l)

    @property
    def profile_m(self) -> float:
        """Length of profile that is fitted, in m."""
        return profile_of(self.items)

    def is_warm(self, room: str) -> bool:
        """Whether a room gets its heat loss."""
        loss_w = self.losses_w[room]
        return loss_w <= 0.0 or self.margins_w.get(room, -loss_w) >= -ACCURACY * loss_w

    @property
    def all_warm(self) -> bool:
        """Whether every heated room gets its heat loss."""
        return all(map(self.is_warm, self.margins_w))

    def missed(self, shortcoming: Shortcoming) -> CheckResult | None:
        """The check of a shortcoming where it is still missed."""
        return missed_check(self.verdict, shortcoming)

    def resolves(self, shortcoming: Shortcoming) -> bool:
        """Whether the check of a shortcoming is met; a short room is judged without the other checks."""
        if shortcoming.is_short_room:
            return self.is_warm(shortcoming.location)
        return self.missed(shortcoming) is None


def profile_of(items: Sequence[FittedItem]) -> float:
    """Length of profile among items that are fitted, in m."""
    return math.fsum(item.quantity for item in items if item.kind == "profile")


@dataclass(frozen=True)
class NotPossible:
    """Remedies that cannot be applied together, with the reason."""

    remedies: tuple[Remedy, ...]
    reason: str


class Trials:
    """Trials of changes of one survey, each made once; `said` is called with the words of each new one."""

    def __init__(
        self, survey: Survey, said: Callable[[str], None] | None = None, initial_guess: SizedSystem | None = None
    ) -> None:
        self.present = Trial((), survey, sized_system(survey, initial_guess))
        self.said = said or (lambda words: None)
        self._made: dict[tuple[Remedy, ...], Trial | NotPossible] = {(): self.present}

    def of(self, *remedies: Remedy) -> Trial | NotPossible:
        """The survey with these remedies, sized."""
        if remedies not in self._made:
            self.said("; ".join(remedy.words for remedy in remedies))
            self._made[remedies] = self._tried(remedies)
        return self._made[remedies]

    def items_of(self, remedies: tuple[Remedy, ...]) -> tuple[FittedItem, ...] | None:
        """What is fitted with these remedies, without sizing; None where they cannot be laid out."""
        if remedies in self._made:
            made = self._made[remedies]
            return made.items if isinstance(made, Trial) else None
        return items_with(self.present.system, remedies)

    def _tried(self, remedies: tuple[Remedy, ...]) -> Trial | NotPossible:
        try:
            survey = survey_from("improve", with_remedies(self.present.survey, remedies))
            return Trial(remedies, survey, sized_system(survey, self.present.system))
        except InputError as error:
            issue = error.issues[0]
            return NotPossible(remedies, f"{issue.place}: found {issue.found}; required: {issue.required}")
        except (ArithmeticError, KeyError) as error:
            return NotPossible(remedies, str(error))

    @property
    def count(self) -> int:
        """Number of trials so far, without the present survey."""
        return len(self._made) - 1

    def least(self, family: Family, shortcoming: Shortcoming) -> Trial | NotPossible:
        """The least amount of a remedy that resolves a shortcoming; otherwise the greatest that is possible.

        The amounts are halved between one that resolves it and one that does not: of amounts whose effect does not
        rise throughout, one that resolves is found, and not always the least.
        """
        resolving = self._first_resolving(family, shortcoming)
        if resolving is None:
            return self._greatest_possible(family)
        low, high = -1, resolving
        while high - low > 1:
            middle = (low + high) // 2
            tried = self.of(family[middle])
            low, high = (low, middle) if isinstance(tried, Trial) and tried.resolves(shortcoming) else (middle, high)
        return self.of(family[high])

    def _first_resolving(self, family: Family, shortcoming: Shortcoming) -> int | None:
        """The first of the greatest, the middle and the least amount that resolves a shortcoming."""
        last = len(family) - 1
        for place in dict.fromkeys((last, last // 2, 0)):
            tried = self.of(family[place])
            if isinstance(tried, Trial) and tried.resolves(shortcoming):
                return place
        return None

    def _greatest_possible(self, family: Sequence[Remedy]) -> Trial | NotPossible:
        """The greatest of the amounts tried that can be sized; the reason of the least where none can."""
        last = len(family) - 1
        tried = [self.of(family[place]) for place in dict.fromkeys((last, last // 2, 0))]
        return next((trial for trial in tried if isinstance(trial, Trial)), tried[-1])
