"""Samples, bands and shares of the variance, sources in data/published/uncertainty.csv."""

from functools import cache

import numpy as np

from heatloop.workflows.uncertainty.bands import Band
from heatloop.workflows.uncertainty.shares import paired_samples, variance_shares
from tests.helpers.published import replayed

BASE_POINTS, SIMULATED = 4096, 2**17

G_FUNCTION = np.array([0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0])


def ishigami(points):
    x = Band(-np.pi, np.pi).at(points)
    return np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])


def g_function(points):
    return ((np.abs(4.0 * points - 2.0) + G_FUNCTION) / (1.0 + G_FUNCTION)).prod(axis=1)


def linear(points):
    return points @ np.array([5.0, 4.0, 3.0, 2.0, 1.0])


@cache
def shares(function, inputs):
    """Shares of the inputs of a function, with its values at both samples."""
    of_a, of_b = paired_samples(BASE_POINTS, inputs, 0)
    mixed = []
    for i in range(inputs):
        points = of_a.copy()
        points[:, i] = of_b[:, i]
        mixed.append(function(points)[None])
    values = function(of_a)[None], function(of_b)[None]
    return variance_shares(*values, np.array(mixed)), np.concatenate(values, axis=1)[0]


def first(function, inputs):
    return lambda input: shares(function, inputs)[0].first[0, int(input) - 1]


def total(function, inputs):
    return lambda input: shares(function, inputs)[0].total[0, int(input) - 1]


def gaussian(*values):
    """Samples of Gaussian inputs, each a value and its standard uncertainty."""
    points = np.concatenate(paired_samples(SIMULATED, len(values), 0))
    bands = (Band(-1.959963984540054 * u, 1.959963984540054 * u, "normal") for _, u in values)
    return [value + band.at(points[:, i]) for i, ((value, _), band) in enumerate(zip(values, bands, strict=True))]


def viscosity_of(calibration, ball, mixture, liquid, time, own_time):
    return calibration * (ball - mixture) / (ball - liquid) * time / own_time


VISCOSITY = ((4.63, 0.0463), (2217.0, 0.5), (1180.0, 0.5), (810.0, 0.5), (61.0, 6.1), (36.6, 5.49))


@cache
def viscosity():
    return viscosity_of(*gaussian(*VISCOSITY))


@cache
def expansion():
    before_m, after_m, cold_k, warm_k = gaussian((1.4999, 1e-4), (1.5021, 2e-4), (288.15, 0.02), (373.10, 0.05))
    return (after_m - before_m) / (before_m * (warm_k - cold_k))


QUANTITIES = {
    "ishigami_first": first(ishigami, 3),
    "ishigami_total": total(ishigami, 3),
    "ishigami_mean": lambda: shares(ishigami, 3)[1].mean(),
    "ishigami_variance": lambda: shares(ishigami, 3)[1].var(),
    "g_first": first(g_function, 8),
    "g_total": total(g_function, 8),
    "linear_first": first(linear, 5),
    "linear_total": total(linear, 5),
    "viscosity_linear": lambda: viscosity_of(*(value for value, _ in VISCOSITY)),
    "viscosity_mean": lambda: viscosity().mean(),
    "viscosity_spread": lambda: viscosity().std(),
    "viscosity_low": lambda: np.percentile(viscosity(), 2.5),
    "viscosity_high": lambda: np.percentile(viscosity(), 97.5),
    "expansion_mean": lambda: expansion().mean(),
    "expansion_spread": lambda: expansion().std(),
}

test_published_row = replayed("uncertainty", __name__, QUANTITIES)
