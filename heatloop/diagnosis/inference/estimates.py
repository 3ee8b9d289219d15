"""Posterior estimates under each likely fault: each row of the model, read or not, with its spread."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from heatloop.diagnosis.inference.likelihood import linearise, solve_least_squares
from heatloop.diagnosis.inference.posterior import WeightedHypothesis
from heatloop.diagnosis.site_model.prediction import SiteModel, fault_free
from heatloop.diagnosis.site_model.reading_conditions import ReadingConditions
from heatloop.diagnosis.site_model.tolerances import unknowns

Array = NDArray[np.float64]

BIAS = 0
"""Place of the probe's bias among the unknowns."""


@dataclass(frozen=True)
class PosteriorEstimate:
    """Posterior estimate under one hypothesis, at its N points.

    Probability of each point (N); mean and variance of every row without the error of a reading (N, R); means (N, K)
    and variances (N, K) of the unknowns; sizes of each fault (N).
    """

    weighted: WeightedHypothesis
    weight: Array
    mean: Array
    variance: Array
    unknown: Array
    unknown_variance: Array
    sizes: tuple[Array, ...]

    def row(self, row: int) -> tuple[float, float]:
        """Mean and variance of a row over all points."""
        mean = float(self.weight @ self.mean[:, row])
        spread = float(self.weight @ (self.variance[:, row] + (self.mean[:, row] - mean) ** 2))
        return mean, spread

    def unknown_at(self, place: int) -> tuple[float, float]:
        """Mean and variance of an unknown over all points."""
        mean = float(self.weight @ self.unknown[:, place])
        return mean, float(self.weight @ (self.unknown_variance[:, place] + (self.unknown[:, place] - mean) ** 2))


def posterior_estimate(model: SiteModel, day: ReadingConditions, candidate: WeightedHypothesis) -> PosteriorEstimate:
    """Posterior estimate under this hypothesis."""
    hypothesis = candidate.hypothesis
    rows = np.arange(model.rows.count)
    every = linearise(model, day, hypothesis.points, hypothesis.steps, rows)
    read = every.of_rows(day.rows)
    solved = solve_least_squares(read, day)
    scaled = read.slope * every.spread[:, None, :]
    gain = np.linalg.solve(solved.covariance, scaled)
    left = np.eye(every.spread.shape[1]) - np.swapaxes(scaled, 1, 2) @ gain
    loaded = every.slope * every.spread[:, None, :]
    variance = np.einsum("nrk,nkj,nrj->nr", loaded, left, loaded) + every.more
    mean = every.mean + (every.slope @ solved.unknown[:, :, None])[:, :, 0]
    of_unknown = np.einsum("nkk->nk", left) * every.spread**2
    weight = np.exp(candidate.fit.log_each - candidate.fit.log_evidence)
    sizes = _refined_sizes(candidate, solved.unknown)
    return PosteriorEstimate(
        candidate, weight, mean, np.maximum(variance, 0.0), solved.unknown, np.maximum(of_unknown, 0.0), sizes
    )


def _refined_sizes(candidate: WeightedHypothesis, unknown: Array) -> tuple[Array, ...]:
    """Sizes of the faults, moved within their step to the best fit of the readings, (N) each."""
    hypothesis = candidate.hypothesis
    first = unknown.shape[1] - len(hypothesis.steps)
    maximum = math.sqrt(3.0)  # half a step: an even distribution of spread 1 ends there
    return tuple(
        sizes + np.clip(unknown[:, first + k], -maximum, maximum) * step
        for k, (sizes, step) in enumerate(zip(hypothesis.sizes, hypothesis.size_steps, strict=True))
    )


def mixture_quantiles(estimates: Sequence[PosteriorEstimate], row: int, parts: Sequence[float]) -> list[float]:
    """Quantiles of a row over all hypotheses, weighted by their probabilities."""
    whole = sum(estimate.weighted.probability for estimate in estimates)
    weight = np.concatenate([estimate.weight * estimate.weighted.probability / whole for estimate in estimates])
    mean = np.concatenate([estimate.mean[:, row] for estimate in estimates])
    spread = np.sqrt(np.concatenate([estimate.variance[:, row] for estimate in estimates])) + 1e-9
    grid = np.linspace(float((mean - 5.0 * spread)[weight > 1e-9].min()), float((mean + 5.0 * spread).max()), 4001)
    keep = weight > 1e-6
    chance = sum(w * ndtr((grid - m) / s) for w, m, s in zip(weight[keep], mean[keep], spread[keep], strict=True))
    return [float(np.interp(part, np.asarray(chance), grid)) for part in parts]


def fault_free_estimate(model: SiteModel, day: ReadingConditions, estimate: PosteriorEstimate) -> Array:
    """Readings of every row on this day without the fault, with probe, source and pump as estimated, (R)."""
    none = linearise(model, day, fault_free(model), (), np.arange(model.rows.count))
    common = unknowns(model, day).common
    unknown = estimate.weight @ estimate.unknown
    return np.asarray(none.mean[0] + none.slope[0][:, :common] @ unknown[:common])
