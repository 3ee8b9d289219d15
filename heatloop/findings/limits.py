"""A limit, and one row of the table of checks: a number compared with it, and the verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

Outcome = Literal["pass", "caution", "fail"]

WORST = {"pass": 0, "caution": 1, "fail": 2}

ACCURACY = 1e-6
"""Share of a bound within which a limit is met: the uncertainty of calculated values. Loops sized for the heat loss
give rooms exactly their heat loss, and rounding would decide otherwise."""

YES_OR_NO = "yes/no"
"""Unit of a check that is met or not met: 1 is yes, 0 is no."""


@dataclass(frozen=True)
class Limit:
    """A limit with its name in the report, its source and the recommendation where it is not met."""

    check: str
    unit: str
    source: str
    remedy: str
    miss: Outcome = "fail"


@dataclass(frozen=True)
class CheckResult:
    """One row of the checks table."""

    check: str
    location: str
    calculated: float
    limit: float
    unit: str
    verdict: Outcome
    source: str
    recommendation: str


def check_at_most(limit: Limit, subject: str, value: float, bound: float) -> CheckResult:
    """A check that `value` does not exceed `bound`."""
    return _check(limit, subject, value, bound, is_at_most(value, bound))


def check_at_least(limit: Limit, subject: str, value: float, bound: float) -> CheckResult:
    """A check that `value` does not fall below `bound`."""
    return _check(limit, subject, value, bound, is_at_least(value, bound))


def is_at_most(value: Any, bound: Any) -> Any:
    """Whether `value` does not exceed `bound`, numbers or arrays; a missing value does not meet a limit."""
    return value <= bound + ACCURACY * abs(bound)


def is_at_least(value: Any, bound: Any) -> Any:
    """Whether `value` does not fall below `bound`, numbers or arrays; a missing value does not meet a limit."""
    return value >= bound - ACCURACY * abs(bound)


def _check(limit: Limit, subject: str, value: float, bound: float, met: bool) -> CheckResult:
    verdict: Outcome = "pass" if met else limit.miss
    return CheckResult(
        limit.check, subject, float(value), float(bound), limit.unit, verdict, limit.source, "" if met else limit.remedy
    )


TOUCH_C = 43.0

TOUCH = Limit(
    "touch temperature, vulnerable room", "degC",
    "43 °C: UK health and safety guidance on hot surfaces, as quoted by others; local rules come first",
    "guard the skirting, or lower the flow temperature of this loop", "caution",
)  # fmt: skip
