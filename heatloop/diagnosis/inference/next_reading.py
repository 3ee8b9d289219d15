"""Select the reading that best distinguishes the remaining faults, by the information that it is expected to give."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.diagnosis import readings as r
from heatloop.diagnosis.inference.estimates import PosteriorEstimate
from heatloop.diagnosis.site_model.prediction import SiteModel
from heatloop.diagnosis.site_model.quantity_index import SurfaceLocation
from heatloop.diagnosis.site_model.reading_conditions import MIN_HEAD_PA, ReadingConditions, loops_on_own_pipe
from heatloop.hydraulics.network.system import PipeNetwork

Array = NDArray[np.float64]

SECOND = "second reading of the"
MIN_INFORMATION = 0.02
"""Minimum expected information, in nats, for which a reading is recommended.

The gain in the probability of a correct ranking is no criterion: a reading can halve the chance that a loop is covered,
or double it, without changing the first explanation. The next reading then decides.
"""

FLOW_ERROR, HEAD_ERROR, SURFACE_K, POCKET_K, BIAS_K, SETTING_K = 0.05, 0.05, 0.5, 0.3, 0.5, 0.5
"""Errors assumed for recommended readings: flows and heads as shares, temperatures in K."""


@dataclass(frozen=True)
class RecommendedReading:
    """A possible reading: its quantity, place, row and error, and the probability of a correct first fault after it.

    `means` and `spreads` are its expected values under each hypothesis. Surfaces of several parallel channels are read
    together: row and values are then those of the channel that gives most information.
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
    entropy = -float((chance * np.log(chance)).sum())
    recommended = []
    for quantity, of, rows, error in _could_be_read(model, day):
        readings = [_reading(quantity, of, row, error, likely, chance) for row in rows]
        information = min(sum(information for _, information in readings), entropy)
        if information >= MIN_INFORMATION:
            recommended.append((information, max(readings, key=lambda pair: pair[1])[0]))
    return [reading for _, reading in sorted(recommended, key=lambda pair: -pair[0])[:maximum]]


def _reading(
    quantity: str, of: str, row: int, error: float, likely: Sequence[PosteriorEstimate], chance: Array
) -> tuple[RecommendedReading, float]:
    """A possible reading and its expected information in nats."""
    estimates = [estimate.row(row) for estimate in likely]
    means = np.array([mean for mean, _ in estimates])
    spreads = np.sqrt(np.array([variance for _, variance in estimates]) + error**2)
    after, information = value_of_reading(chance, means, spreads)
    return RecommendedReading(quantity, of, row, error, after, tuple(means), tuple(spreads)), information


def value_of_reading(chance: Array, means: Array, spreads: Array) -> tuple[float, float]:
    """Probability that the most probable hypothesis is right after a reading, and its expected information in nats.

    The first is the integral over the values of the reading of the largest product of probability and density; the
    second is the mutual information of hypothesis and reading (Lindley 1956). (H) all.
    """
    low, high = float((means - 5.0 * spreads).min()), float((means + 5.0 * spreads).max())
    fine = np.concatenate([np.linspace(m - 5.0 * s, m + 5.0 * s, 201) for m, s in zip(means, spreads, strict=True)])
    grid = np.unique(np.clip(fine, low, high))
    density = np.exp(-0.5 * ((grid[:, None] - means) / spreads) ** 2) / (spreads * np.sqrt(2.0 * np.pi))
    joint = density * chance
    whole = joint.sum(axis=1)
    ratio = np.log(np.maximum(density, 1e-300)) - np.log(np.maximum(whole, 1e-300))[:, None]
    information = float(np.trapezoid((joint * ratio).sum(axis=1), grid))
    return float(np.trapezoid(joint.max(axis=1), grid)), information


def _could_be_read(model: SiteModel, day: ReadingConditions) -> Iterator[tuple[str, str, list[int], float]]:
    """Quantity, place, rows and error of every possible reading."""
    rows, network = model.rows, model.network
    there = set(day.rows.tolist())
    for i, path in enumerate(network.loops):
        name = path.loop.name
        if rows.flow(i) not in there:
            yield r.FLOW, name, [rows.flow(i)], FLOW_ERROR
        second = SECOND if rows.return_temp(i) in there else ""
        yield f"{second} {r.RETURN_TEMP}".strip(), name, [rows.return_temp(i)], SURFACE_K
        for a in range(len(network.arms)):
            if network.arm_loop[a] == i and len(path.arms) > 1 and rows.arm_return(a) not in there:
                yield r.RETURN_TEMP, rows.name(rows.arm_return(a), network)[1], [rows.arm_return(a)], SURFACE_K
    useless = {
        rows.total_flow: not loops_on_own_pipe(network),
        rows.head: bool(model.responses.head_pa[0] < MIN_HEAD_PA),
        rows.setting: day.setting_spread_k == 0.0,
    }
    for quantity, row, error in (
        (r.TOTAL_FLOW, rows.total_flow, FLOW_ERROR),
        (r.PUMP_HEAD, rows.head, HEAD_ERROR),
        (r.SOURCE_TEMP, rows.source_temp, POCKET_K),
        (r.PROBE_BIAS, rows.bias, BIAS_K),
        (r.SOURCE_SETTING, rows.setting, SETTING_K),
    ):
        if row not in there and not useless.get(row, False):
            yield quantity, "", [row], error
    yield from _surfaces(model, there)


def _surfaces(model: SiteModel, there: set[int]) -> Iterator[tuple[str, str, list[int], float]]:
    """Surfaces of an arm, those of parallel channels at the same piece together."""
    rows, network = model.rows, model.network
    together: dict[tuple[int, int], list[SurfaceLocation]] = {}
    for location in rows.surfaces:
        together.setdefault((location.arm, location.cell), []).append(location)
    for locations in together.values():
        channels = [location.channel for location in locations]
        own = [rows.surface(location) for location in locations]
        second = SECOND if there & set(own) else ""
        yield f"{second} {r.SURFACE_TEMP}".strip(), locations[0].name(network, channels), own, SURFACE_K


def surfaces_to_read(network: PipeNetwork) -> tuple[SurfaceLocation, ...]:
    """Surfaces that may be asked for: each of several parallel channels half-way along, and the first channel there or
    at the far end of every arm."""
    found = []
    for a, path in enumerate(network.arms):
        skirting = [m for m, cell in enumerate(path.cells) if cell.skirting]
        if not skirting:
            continue
        middle = skirting[len(skirting) // 2]
        for k, direction in enumerate(path.directions):
            if path.directions.count(direction) > 1:
                found.append(SurfaceLocation(a, middle, k))
        found.append(SurfaceLocation(a, -1, 0) if -1 in path.directions else SurfaceLocation(a, middle, 0))
    return tuple(dict.fromkeys(found))
