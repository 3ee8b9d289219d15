"""Likelihood of readings and unknowns against the normal distribution."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from heatloop.diagnosis.inference.hypotheses import single_faults
from heatloop.diagnosis.inference.likelihood import LinearisedModel, linearise, solve_least_squares
from heatloop.diagnosis.simulate import simulate_readings
from tests.helpers.diagnosis.exact_site import day


def test_likelihood_and_unknowns_are_those_of_the_normal_distribution(model):
    readings, _ = simulate_readings(model.site.system, [], np.random.default_rng(2))
    today = day(model, readings)
    points = single_faults(model, today)[1].points.take(slice(3, 4))
    straight = linearise(model, today, points, (), today.rows)
    solved = solve_least_squares(straight, today)
    j, prior = straight.slope[0], np.diag(straight.spread[0] ** 2)
    covariance = j @ prior @ j.T + np.diag(today.error**2 + straight.more[0])
    required = multivariate_normal(straight.mean[0], covariance).logpdf(today.value)
    constant = -0.5 * today.rows.size * np.log(2.0 * np.pi)
    assert solved.log_likelihood[0] + constant == pytest.approx(required, rel=1e-9)
    # the unknowns by penalised least squares on the stacked system
    noise = np.sqrt(today.error**2 + straight.more[0])
    free = straight.spread[0] > 0.0  # the setting of the source was read: it is no unknown
    assert (~free).sum() == 1
    stacked = np.vstack([j[:, free] / noise[:, None], np.diag(1.0 / straight.spread[0][free])])
    right = np.concatenate([(today.value - straight.mean[0]) / noise, np.zeros(int(free.sum()))])
    fitted = np.linalg.lstsq(stacked, right, rcond=None)[0]
    assert solved.unknown[0][free] == pytest.approx(fitted, abs=1e-6)
    assert not solved.unknown[0][~free].any()
    assert isinstance(straight, LinearisedModel)
