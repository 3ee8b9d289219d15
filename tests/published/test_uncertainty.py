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


def gaussian(*values, even=()):
    """Samples of Gaussian inputs, each a value and its standard uncertainty, and of even ones from -end to end."""
    bands = [Band(-1.959963984540054 * u, 1.959963984540054 * u, "normal") for _, u in values]
    bands += [Band(-end, end) for end in even]
    middles = [value for value, _ in values] + [0.0] * len(even)
    points = np.concatenate(paired_samples(SIMULATED, len(bands), 0))
    return [middle + band.at(points[:, i]) for i, (middle, band) in enumerate(zip(middles, bands, strict=True))]


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


GAUGE_NM, GAUGE = 50_000_623.0, ("standard", "expansion_difference", "temperature_difference", "comparison")


@cache
def end_gauge(varied):
    """Length of the end gauge in nanometres where inputs of these names vary, the others have their values."""
    standard, *parts, steady, cyclic, expansion, difference, kelvin = gaussian(
        (GAUGE_NM, 25.0),
        (215.0, 5.8),
        (0.0, 3.9),
        (0.0, 6.7),
        (-0.1, 0.2),
        even=(np.pi, 2e-6, 1e-6, 0.05),
    )
    inputs = {
        "standard": (GAUGE_NM, standard),
        "comparison": (215.0, sum(parts)),
        "expansion": (11.5e-6, 11.5e-6 + expansion),
        "expansion_difference": (0.0, difference),
        "temperature_difference": (0.0, kelvin),
        "deviation": (-0.1, steady + 0.5 * np.sin(cyclic)),  # of cyclic temperature: arcsine within ± 0.5
    }
    own, compared, alpha, delta_alpha, delta_c, theta = (
        samples if varied in ("all", name) else value for name, (value, samples) in inputs.items()
    )
    return own + compared - own * (delta_alpha * theta + alpha * delta_c)


READINGS = np.array(
    [
        (5.007, 19.663, 1.0456),
        (4.994, 19.639, 1.0438),
        (5.005, 19.640, 1.0468),
        (4.990, 19.685, 1.0428),
        (4.999, 19.678, 1.0433),
    ]
)
"""Voltage in V, current in mA and phase angle in rad, five times together (GUM H.2)."""


@cache
def impedance():
    """Resistance, reactance and impedance in ohm (3, N) from the means of readings that vary together."""
    covariance = np.cov(READINGS.T) / len(READINGS)
    independent = np.array(gaussian(*((0.0, 1.0) for _ in range(3))))
    volt, milliampere, angle = READINGS.mean(axis=0)[:, None] + np.linalg.cholesky(covariance) @ independent
    ohm = volt / milliampere * 1e3
    return np.array([ohm * np.cos(angle), ohm * np.sin(angle), ohm])


OHMS = {"resistance": 0, "reactance": 1, "impedance": 2}

QUANTITIES = {
    "end_gauge_length": lambda: end_gauge("all").mean(),
    "end_gauge_spread": lambda: end_gauge("all").std(),
    "end_gauge_linear": lambda: np.sqrt(sum(end_gauge(name).var() for name in GAUGE)),
    "end_gauge_component": lambda input: end_gauge(input).std(),
    "ohm_mean": lambda of: impedance()[OHMS[of]].mean(),
    "ohm_spread": lambda of: impedance()[OHMS[of]].std(),
    "ohm_correlation": lambda of, to: np.corrcoef(impedance())[OHMS[of], OHMS[to]],
    "ishigami_first": first(ishigami, 3),
    "ishigami_total": total(ishigami, 3),
    "ishigami_mean": lambda: shares(ishigami, 3)[1].mean(),
    "ishigami_variance": lambda: shares(ishigami, 3)[1].var(),
    "g_first": first(g_function, 8),
    "g_total": total(g_function, 8),
    "linear_first": first(linear, 5),
    "linear_total": total(linear, 5),
    "viscosity_mean": lambda: viscosity().mean(),
    "viscosity_spread": lambda: viscosity().std(),
    "viscosity_low": lambda: np.percentile(viscosity(), 2.5),
    "viscosity_high": lambda: np.percentile(viscosity(), 97.5),
    "expansion_mean": lambda: expansion().mean(),
    "expansion_spread": lambda: expansion().std(),
}

test_published_row = replayed("uncertainty", __name__, QUANTITIES)
