"""What a design misses and remedies are sought for: failed checks, and missed limits of comfort."""

from __future__ import annotations

from dataclasses import dataclass

from heatloop.findings.limits import TOUCH, CheckResult
from heatloop.findings.verdict import Verdict
from heatloop.results.checks.heat_checks import COLD_PANE, DRAUGHT, ROOM_WARM, UNDERFOOT

COMFORT = tuple(limit.check for limit in (DRAUGHT, COLD_PANE, TOUCH, UNDERFOOT))
"""Checks of comfort, for which remedies are sought although they are cautions."""


@dataclass(frozen=True)
class Shortcoming:
    """A check that is not met: its name, location, calculated value, limit and unit."""

    check: str
    location: str
    calculated: float
    limit: float
    unit: str
    fails: bool

    @property
    def is_short_room(self) -> bool:
        """Whether it is a room that is short of heat; its location is then the room."""
        return self.check == ROOM_WARM.check


def shortcomings(verdict: Verdict) -> tuple[Shortcoming, ...]:
    """Failed checks, then missed limits of comfort, in the order of the verdict."""
    missed = (*verdict.fails, *(caution for caution in verdict.cautions if caution.check in COMFORT))
    return tuple(
        Shortcoming(row.check, row.location, row.calculated, row.limit, row.unit, row.verdict == "fail")
        for row in missed
    )


def missed_check(verdict: Verdict, shortcoming: Shortcoming) -> CheckResult | None:
    """The same check where a verdict still lists it as missed, otherwise None."""
    rows = (*verdict.fails, *verdict.cautions)
    key = (shortcoming.check, shortcoming.location)
    return next((row for row in rows if (row.check, row.location) == key), None)
