"""Outcomes of the checks of many dwellings: numbers of failed checks and cautions, and the checks that are not met."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from heatloop.findings.limits import CheckResult, Limit, Outcome, is_at_least, is_at_most

Array = NDArray[np.float64]
Index = NDArray[np.intp]

ALL_MET = "all met"
"""Outcome of a dwelling that meets all checks that are made of many dwellings; it is not that of a whole design."""

NOT_MADE = (
    "thermal movement",
    "the closed system (pressures, expansion vessel, water treatment)",
    "authority of thermostatic valves, and noise when they close",
    "flow error at the nearest settings",
    "flow change when another loop is isolated",
    "rooms controlled by a sensor in another room",
    "effect of an unknown channel coupling",
    "residuals of the calculation",
)
"""Kinds of checks of a design that are not made for many dwellings."""

SCOPE_WORDS = (
    f"Not checked here: {'; '.join(NOT_MADE)}. heatloop size of one dwelling makes all checks and gives the verdict of "
    "its design."
)
"""What the outcome of a dwelling of many does not state."""


@dataclass(frozen=True, eq=False)
class Outcomes:
    """Outcomes of `count` dwellings, as they are added."""

    count: int
    unmet: list[list[CheckResult]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.unmet.extend([] for _ in range(self.count))

    def at_most(self, limit: Limit, dwelling: Index, location: Callable[[int], str], values: Array, bound: Any) -> None:
        """Checks that values, one for each number in `dwelling`, do not exceed a bound, or a bound each."""
        bounds = np.broadcast_to(np.asarray(bound, float), values.shape)
        self._add(limit, dwelling, location, (values, bounds, is_at_most(values, bounds)))

    def at_least(
        self, limit: Limit, dwelling: Index, location: Callable[[int], str], values: Array, bound: Any
    ) -> None:
        """Checks that values do not fall below a bound, or a bound each."""
        bounds = np.broadcast_to(np.asarray(bound, float), values.shape)
        self._add(limit, dwelling, location, (values, bounds, is_at_least(values, bounds)))

    def _add(
        self,
        limit: Limit,
        dwelling: Index,
        location: Callable[[int], str],
        compared: tuple[Array, Array, NDArray[np.bool_]],
    ) -> None:
        values, bounds, met = compared
        for i in np.flatnonzero(~met).tolist():
            self.unmet[dwelling[i]].append(
                CheckResult(
                    limit.check, location(i), float(values[i]), float(bounds[i]), limit.unit, limit.miss, limit.source,
                    limit.remedy,
                )
            )  # fmt: skip

    def add(self, dwelling: int, results: Iterable[CheckResult]) -> None:
        """Results of checks of one dwelling."""
        self.unmet[dwelling].extend(result for result in results if result.verdict != "pass")

    def number(self, outcome: Outcome) -> list[int]:
        """How many checks of each dwelling have this outcome."""
        return [sum(result.verdict == outcome for result in results) for results in self.unmet]

    @property
    def verdicts(self) -> list[str]:
        """Worst outcome of each dwelling: fail, caution or ALL_MET."""
        return [
            "fail" if fails else "caution" if cautions else ALL_MET
            for fails, cautions in zip(self.number("fail"), self.number("caution"), strict=True)
        ]

    def columns(self, names: Sequence[str]) -> dict[str, list[object]]:
        """The checks that are not met, as columns; `names` of the dwellings."""
        rows = [(names[k], result) for k, results in enumerate(self.unmet) for result in results]
        own = ("check", "location", "calculated", "limit", "unit", "verdict")
        return {
            "dwelling": [name for name, _ in rows],
            **{key: [getattr(result, key) for _, result in rows] for key in own},
        }
