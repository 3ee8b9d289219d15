"""Select the reading that best distinguishes the remaining faults, by probability of a correct ranking."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.diagnosis import readings as r
from heatloop.diagnosis.inference.estimates import PosteriorEstimate
from heatloop.diagnosis.site_model.prediction import SiteModel
from heatloop.diagnosis.site_model.reading_conditions import ReadingConditions, loops_on_own_pipe

Array = NDArray[np.float64]

SECOND = "second reading of the"
MIN_GAIN = 0.02
"""Minimum gain in the probability of a correct ranking for which a reading is recommended."""

FLOW_ERROR, HEAD_ERROR, SURFACE_K, POCKET_K, BIAS_K = 0.05, 0.05, 0.5, 0.3, 0.5
"""Errors assumed for recommended readings: flows and heads as shares, temperatures in K."""


@dataclass(frozen=True)
class RecommendedReading:
    """A possible reading: its quantity, place, row and error, and the probability of a correct first fault after it.

    `means` and `spreads` are its expected values under each hypothesis.
    """

    quantity: str
    of: str
    row: int
    error: float
    right_after: float
    means: tuple[float, ...]
    spreads: tuple[float, ...]


def recommended_readings(
    model: SiteModel, day: ReadingConditions, likely: Sequence[PosteriorEstimate], maximum: int = 3
) -> list[RecommendedReading]:
    """The most useful readings, the best first."""
    chance = np.array([estimate.weighted.probability for estimate in likely])
    chance = chance / chance.sum()
    best_now = float(chance.max())
    recommended = []
    for quantity, of, row, error in _could_be_read(model, day):
        estimates = [estimate.row(row) for estimate in likely]
        means = np.array([mean for mean, _ in estimates])
        spreads = np.sqrt(np.array([variance for _, variance in estimates]) + error**2)
        after = probability_of_correct_ranking(chance, means, spreads)
        if after >= best_now + MIN_GAIN:
            recommended.append(RecommendedReading(quantity, of, row, error, after, tuple(means), tuple(spreads)))
    return sorted(recommended, key=lambda reading: -reading.right_after)[:maximum]


def probability_of_correct_ranking(chance: Array, means: Array, spreads: Array) -> float:
    """Probability that the most probable hypothesis is right after a reading.

    It is the integral over the values of the reading of the largest product of probability and density. (H) all.
    """
    low, high = float((means - 5.0 * spreads).min()), float((means + 5.0 * spreads).max())
    fine = np.concatenate([np.linspace(m - 5.0 * s, m + 5.0 * s, 201) for m, s in zip(means, spreads, strict=True)])
    grid = np.unique(np.clip(fine, low, high))
    density = np.exp(-0.5 * ((grid[:, None] - means) / spreads) ** 2) / (spreads * np.sqrt(2.0 * np.pi))
    return float(np.trapezoid((density * chance).max(axis=1), grid))


def _could_be_read(model: SiteModel, day: ReadingConditions) -> Iterator[tuple[str, str, int, float]]:
    rows, network = model.rows, model.network
    there = set(day.rows.tolist())
    for i, path in enumerate(network.loops):
        name = path.loop.name
        if rows.flow(i) not in there:
            yield r.FLOW, name, rows.flow(i), FLOW_ERROR
        second = SECOND if rows.return_temp(i) in there else ""
        yield f"{second} {r.RETURN_TEMP}".strip(), name, rows.return_temp(i), SURFACE_K
        for a in range(len(network.arms)):
            if network.arm_loop[a] == i and len(path.arms) > 1 and rows.arm_return(a) not in there:
                yield r.RETURN_TEMP, rows.name(rows.arm_return(a), network)[1], rows.arm_return(a), SURFACE_K
    for quantity, row, error in (
        (r.TOTAL_FLOW, rows.total_flow, FLOW_ERROR),
        (r.PUMP_HEAD, rows.head, HEAD_ERROR),
        (r.SOURCE_TEMP, rows.source_temp, POCKET_K),
        (r.PROBE_BIAS, rows.bias, BIAS_K),
    ):
        if row not in there and (row != rows.total_flow or loops_on_own_pipe(network)):
            yield quantity, "", row, error
