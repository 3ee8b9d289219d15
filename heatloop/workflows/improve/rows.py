"""Trials as rows of tables: remedies in their order, their effect on rooms and on parts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, get_args

from heatloop.findings.limits import CheckResult
from heatloop.handover.parts.fitted import FittedItem, fitted_price, unit_price
from heatloop.handover.price_file import PriceList
from heatloop.workflows.improve.remedy import Kind, Remedy
from heatloop.workflows.improve.shortcomings import Shortcoming
from heatloop.workflows.improve.trial import NotPossible, Trial, profile_of

SAME = 1e-9
"""Smaller differences of quantities count as none."""


@dataclass(frozen=True, eq=False)
class Outcome:
    """The trial of one remedy for one shortcoming."""

    shortcoming: Shortcoming
    remedy: Remedy
    trial: Trial | NotPossible


@dataclass(frozen=True)
class Measure:
    """What a change costs: the price of fitted parts or, without prices, metres of profile.

    Ranking and search read `words`, `cost` and `cost_of` alone, so that another measure, such as one with a yearly
    running cost, is another class with these three.
    """

    present: Trial
    prices: PriceList | None

    @property
    def words(self) -> str:
        """The measure in a phrase."""
        return "price" if self.prices else "profile added"

    @property
    def missing(self) -> tuple[str, ...]:
        """Items of the present survey without a price."""
        if self.prices is None:
            return ()
        return fitted_price(self.present.survey.catalogue, self.prices, self.present.items)[1]

    def price_change(self, trial: Trial) -> float:
        """Change of the price of the fitted parts; NaN without prices, or if an item is new that has none."""
        return self._price_change(trial.items)

    def profile_added_m(self, trial: Trial) -> float:
        """Change of the length of profile, in m."""
        return trial.profile_m - self.present.profile_m

    def cost(self, trial: Trial) -> float:
        """The price change or, without prices, the metres of profile added."""
        return self.cost_of(trial.items)

    def cost_of(self, items: Sequence[FittedItem]) -> float:
        """The cost of a survey in which these items are fitted."""
        if self.prices is None:
            return profile_of(items) - self.present.profile_m
        return self._price_change(items)

    def _price_change(self, items: Sequence[FittedItem]) -> float:
        if self.prices is None:
            return math.nan
        catalogue = self.present.survey.catalogue
        before, missing_before = fitted_price(catalogue, self.prices, self.present.items)
        after, missing = fitted_price(catalogue, self.prices, items)
        return after - before if set(missing) <= set(missing_before) else math.nan


def ranked(outcomes: Sequence[Outcome], measure: Measure) -> list[Outcome]:
    """Outcomes of one shortcoming, the best first.

    Those that resolve it come first, then those with fewer failed checks, then those whose cost is known, then, of
    those that leave a room short, the warmest, then the least cost, then the fewest cautions.
    """
    kinds = get_args(Kind)

    def rank(outcome: Outcome) -> tuple[Any, ...]:
        trial, order = outcome.trial, kinds.index(outcome.remedy.kind)
        if isinstance(trial, NotPossible):
            return (2, order)
        verdict = trial.verdict
        resolves = trial.resolves(outcome.shortcoming)
        cost = measure.cost(trial)
        known = not outcome.remedy.other_work and not math.isnan(cost)
        room = outcome.shortcoming.location
        missing_w = 0.0 if resolves or not outcome.shortcoming.is_short_room else -trial.margins_w[room]
        cost = round(cost, 4) if known else 0.0
        return (not resolves, len(verdict.fails), not known, round(missing_w, 2), cost, len(verdict.cautions), order)

    return sorted(outcomes, key=rank)


def remedy_row(number: int, outcome: Outcome, measure: Measure) -> dict[str, Any]:
    """One row of the table of remedies."""
    short, remedy, trial = outcome.shortcoming, outcome.remedy, outcome.trial
    present = measure.present
    room = short.is_short_room
    row: dict[str, Any] = {
        "number": number,
        "check": short.check,
        "location": short.location,
        "kind": remedy.kind,
        "remedy": remedy.words,
        "resolves": False,
        "before": present.margins_w[short.location] if room else short.calculated,
        "after": math.nan,
        "limit": 0.0 if room else short.limit,
        "unit": "W" if room else short.unit,
        "checks_failed": math.nan,
        "checks_caution": math.nan,
        "min_margin_room": "",
        "min_margin_w": math.nan,
        "removed_w_k": math.nan,
        "profile_added_m": math.nan,
        "price_change": math.nan,
        "other_work": remedy.other_work,
        "assumed": remedy.assumed,
        "not_possible": "",
    }
    if isinstance(trial, NotPossible):
        return row | {"not_possible": trial.reason}
    missed = None if room else trial.missed(short)
    coldest = min(trial.margins_w, key=trial.margins_w.__getitem__, default="")
    return row | {
        "resolves": trial.resolves(short),
        "after": trial.margins_w[short.location] if room else _value_of(trial, short, missed),
        "checks_failed": len(trial.verdict.fails),
        "checks_caution": len(trial.verdict.cautions),
        "min_margin_room": coldest,
        "min_margin_w": trial.margins_w.get(coldest, math.nan),
        "removed_w_k": _removed_w_k(present, trial),
        "profile_added_m": measure.profile_added_m(trial),
        "price_change": measure.price_change(trial),
    }


def room_rows(number: int, trial: Trial, present: Trial) -> Iterator[tuple[Any, ...]]:
    """Margins of the heated rooms of either survey before and after."""
    for room in dict.fromkeys([*present.margins_w, *trial.margins_w]):
        before_w, after_w = (t.margins_w.get(room, math.nan) for t in (present, trial))
        yield number, room, before_w, after_w, after_w - before_w


def part_rows(number: int, trial: Trial, measure: Measure) -> Iterator[tuple[Any, ...]]:
    """Items whose quantity changes."""
    before, after = _by_item(measure.present.items), _by_item(trial.items)
    for name in dict.fromkeys([*before, *after]):
        item = after.get(name) or before[name]
        held, new = (side[name].quantity if name in side else 0.0 for side in (before, after))
        change = new - held
        if abs(change) > SAME * max(abs(held), abs(new)):
            unit = None if measure.prices is None else unit_price(trial.survey.catalogue, measure.prices, item)
            yield number, item.item, item.unit, held, new, change, math.nan if unit is None else unit * change


def _by_item(items: Sequence[FittedItem]) -> dict[tuple[str, str, str], FittedItem]:
    return {(item.item, item.kind, item.unit): item for item in items}


def _value_of(trial: Trial, short: Shortcoming, missed: CheckResult | None) -> float:
    """Calculated value of a check; NaN where it is met and its value is in no table of checks."""
    if missed is not None:
        return missed.calculated
    checks = trial.design.checks
    rows = checks[(checks["check"] == short.check) & (checks["location"] == short.location)]
    return float(rows["calculated"].iloc[0]) if len(rows) else math.nan


def _removed_w_k(present: Trial, trial: Trial) -> float:
    """Reduction of the heat loss of all rooms per kelvin to outdoors, in W/K; NaN where it is none."""
    outdoor_c = present.survey.project.outdoor_c
    removed = math.fsum(
        (loss.total_w - trial.losses_w.get(loss.room, loss.total_w)) / (loss.indoor_c - outdoor_c)
        for loss in present.system.room_losses
        if loss.indoor_c > outdoor_c
    )
    return removed if abs(removed) > SAME else math.nan
