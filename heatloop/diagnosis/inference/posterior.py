"""Posterior probability of each fault, and the estimates of flows, water and probe that follow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.diagnosis.inference.hypotheses import Hypothesis, single_faults, two_faults
from heatloop.diagnosis.inference.likelihood import HypothesisFit, fit_all
from heatloop.diagnosis.site_model.prediction import SiteModel
from heatloop.diagnosis.site_model.reading_conditions import ReadingConditions

Array = NDArray[np.float64]

FIRST_OF_TWO = 6
"""Number of single faults that are combined with each other fault, the most probable first."""


@dataclass(frozen=True)
class WeightedHypothesis:
    """A hypothesis with its fit and its posterior probability."""

    fit: HypothesisFit
    probability: float

    @property
    def hypothesis(self) -> Hypothesis:
        return self.fit.hypothesis


def posterior(model: SiteModel, day: ReadingConditions) -> list[WeightedHypothesis]:
    """All hypotheses, the most probable first.

    These are no fault, every single fault, and pairs of the most probable faults with any other.
    """
    singles = single_faults(model, day)
    fits = fit_all(model, day, singles)
    order = np.argsort([-_log(fit) for fit in fits[1:]])
    first = [singles[1 + i] for i in order[:FIRST_OF_TWO]]
    fits += fit_all(model, day, two_faults(singles, first))
    logs = np.array([_log(fit) for fit in fits])
    probability = np.exp(logs - np.logaddexp.reduce(logs))
    return [WeightedHypothesis(fits[i], float(probability[i])) for i in np.argsort(-probability)]


def _log(fit: HypothesisFit) -> float:
    return float(np.log(fit.hypothesis.prior)) + fit.log_evidence


def most_probable(weighted: Sequence[WeightedHypothesis], part: float = 0.99) -> list[WeightedHypothesis]:
    """The first hypotheses whose probabilities add up to `part`."""
    total, probable = 0.0, []
    for hypothesis in weighted:
        probable.append(hypothesis)
        total += hypothesis.probability
        if total >= part:
            break
    return probable
