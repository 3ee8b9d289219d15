"""Likelihood of the readings under each fault: weighted least squares at each size, summed over the sizes.

At a point of the model the readings are assumed normal about the predicted values. Their variance includes the
instruments and all uncertain quantities (generalised least squares). The unknowns are integrated out exactly, because
readings are linear in them. For a fault of unknown size the likelihood is the sum over its sizes, weighted by the
probability of each size. Bayes' theorem gives the result. No size is fitted, so no penalty for fitted parameters is
required.

Generalised least squares: Aitken 1935. Evidence of models by integration over their parameters: MacKay 2003,
Information Theory, Inference, and Learning Algorithms, chapter 28 (both from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.diagnosis.inference.hypotheses import Hypothesis
from heatloop.diagnosis.site_model.fault_parameters import FaultParameters, concatenate
from heatloop.diagnosis.site_model.prediction import SiteModel, predict
from heatloop.diagnosis.site_model.reading_conditions import MIN_SPAN_K, ReadingConditions
from heatloop.diagnosis.site_model.tolerances import unknowns

Array = NDArray[np.float64]

CHUNK = 1500
"""Number of points calculated together."""

AS_SET = 0.7
"""Probability that a pump delivers its set head (a judgement)."""


@dataclass(frozen=True)
class HypothesisFit:
    """Fit of a hypothesis to the readings.

    log_each (N): logarithm of the likelihood of the readings at each point, times its weight. log_evidence: logarithm
    of their sum. chi2: that of its best point.
    """

    hypothesis: Hypothesis
    log_each: Array
    log_evidence: float
    best: int
    chi2: float


@dataclass(frozen=True)
class LinearisedModel:
    """Linearised model at N points, in M rows.

    mean (N, M); slopes by the K unknowns (N, M, K); spreads of the unknowns (N, K); additional variance of some rows
    (N, M).
    """

    mean: Array
    slope: Array
    spread: Array
    more: Array

    def of_rows(self, rows: NDArray[np.intp]) -> LinearisedModel:
        """The same in some of its rows."""
        return LinearisedModel(self.mean[:, rows], self.slope[:, rows], self.spread, self.more[:, rows])


def linearise(
    model: SiteModel,
    day: ReadingConditions,
    points: FaultParameters,
    steps: Sequence[FaultParameters],
    rows: NDArray[np.intp],
) -> LinearisedModel:
    """Linearise the model about these points in these rows.

    The sizes of faults between points are additional unknowns, after those of the site (see Tolerances).
    """
    predicted, known = predict(model, day, points), unknowns(model, day)
    layout = model.rows
    by_flow, by_output = predicted.by_flow[:, rows], predicted.by_output[:, rows]
    by_supply = predicted.by_supply[:, rows]
    surface = ((rows < layout.flow(0)) | (rows == layout.bias) | (rows >= layout.first_surface)).astype(float)
    head = (rows == layout.head).astype(float)
    slope = by_flow @ known.flow.T + by_output @ known.output.T + by_supply @ known.supply.T
    slope += (rows == layout.setting).astype(float)[:, None] * known.setting
    slope += surface[:, None] * known.bias + head[:, None] * known.head[:, 0]
    slope += _lost(model, day)[rows, None] * known.loss
    columns, spreads = [slope], [np.repeat(known.spread[None], points.count, axis=0)]
    for step in steps:
        column = by_flow @ step.arm_log[:, :, None] + by_output @ step.output_log[:, :, None]
        column += by_supply @ step.supply_k[:, :, None] + (head * step.head_log[:, [0]])[:, :, None]
        columns.append(column)
        spreads.append(np.ones((points.count, 1)))
    return LinearisedModel(
        predicted.mean[:, rows],
        np.concatenate(columns, axis=2),
        np.concatenate(spreads, axis=1),
        predicted.more[:, rows],
    )


def _lost(model: SiteModel, day: ReadingConditions) -> Array:
    """Effect of a unit change of all heat losses on the heat balance of the rooms, in all rows.

    Zero unless the rooms are steady.
    """
    survey, layout = model.site.survey, model.rows
    lost = np.zeros(layout.count)
    if not math.isnan(day.outdoor_c):
        for room in layout.rooms:
            span = max(survey.room(room).indoor_c - survey.project.outdoor_c, MIN_SPAN_K)
            lost[layout.room(room)] = -(day.room_c[room] - day.outdoor_c) / span
    return lost


@dataclass(frozen=True)
class LeastSquaresResult:
    """Fit of N points to the readings.

    log_likelihood (N) except for a constant, chi2 (N), covariance of the readings (N, M, M), and the best-fit unknowns
    (N, K).
    """

    log_likelihood: Array
    chi2: Array
    covariance: Array
    unknown: Array


def solve_least_squares(at: LinearisedModel, day: ReadingConditions) -> LeastSquaresResult:
    """Generalised least squares at every point."""
    miss = day.value - at.mean
    scaled = at.slope * at.spread[:, None, :]
    covariance = scaled @ np.swapaxes(scaled, 1, 2)
    diagonal = np.arange(day.rows.size)
    covariance[:, diagonal, diagonal] += day.error**2 + at.more
    lower = np.linalg.cholesky(covariance)
    white = np.linalg.solve(lower, miss[:, :, None])[:, :, 0]
    chi2 = (white**2).sum(axis=1)
    log_det = 2.0 * np.log(lower[:, diagonal, diagonal]).sum(axis=1)
    weighted = np.linalg.solve(np.swapaxes(lower, 1, 2), white[:, :, None])[:, :, 0]
    unknown = at.spread * (np.swapaxes(scaled, 1, 2) @ weighted[:, :, None])[:, :, 0]
    return LeastSquaresResult(-0.5 * (chi2 + log_det), chi2, covariance, unknown)


def fit_all(model: SiteModel, day: ReadingConditions, hypotheses: Sequence[Hypothesis]) -> list[HypothesisFit]:
    """All hypotheses against the readings of the day."""
    fits, group, size = [], [], 0
    for hypothesis in hypotheses:
        group.append(hypothesis)
        size += hypothesis.weight.size
        if size >= CHUNK:
            fits += _fit_group(model, day, group)
            group, size = [], 0
    return fits + (_fit_group(model, day, group) if group else [])


def _fit_group(model: SiteModel, day: ReadingConditions, group: Sequence[Hypothesis]) -> list[HypothesisFit]:
    points = concatenate([member.points for member in group])
    maximum = max(len(member.steps) for member in group)
    steps = []
    for k in range(maximum):
        steps.append(
            concatenate([member.steps[k] if k < len(member.steps) else member.points.still() for member in group])
        )
    solved = solve_least_squares(linearise(model, day, points, steps, day.rows), day)
    log = solved.log_likelihood + _pump_setting(day, points)
    fits, at = [], 0
    for member in group:
        own = slice(at, at + member.weight.size)
        at += member.weight.size
        each = log[own] + np.log(member.weight)
        best = int(np.argmax(each))
        fits.append(HypothesisFit(member, each, float(np.logaddexp.reduce(each)), best, float(solved.chi2[own][best])))
    return fits


def _pump_setting(day: ReadingConditions, points: FaultParameters) -> Array:
    """Logarithm of the likelihood of the pump's setting: a pump usually has its set head, but not always."""
    if day.pump_setting_log is None:
        return np.zeros(points.count)
    log, error = day.pump_setting_log
    spread = np.hypot(error, 0.1)
    density = np.exp(-0.5 * ((log - points.head_log[:, 0]) / spread) ** 2) / (spread * np.sqrt(2.0 * np.pi))
    return np.asarray(np.log(AS_SET * density + (1.0 - AS_SET) / 3.0))
