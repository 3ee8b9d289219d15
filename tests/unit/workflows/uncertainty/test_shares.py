"""Samples and shares of the variance; published cases in tests/published/test_uncertainty.py."""

import numpy as np
import pytest
from scipy.stats import sobol_indices

from heatloop.workflows.uncertainty.bands import Band
from heatloop.workflows.uncertainty.shares import paired_samples, variance_shares


def results(function, count, inputs, seed=0):
    """A function at both samples and at the mixed ones, (Q, N), (Q, N) and (I, Q, N)."""
    of_a, of_b = paired_samples(count, inputs, seed)
    mixed = []
    for i in range(inputs):
        points = of_a.copy()
        points[:, i] = of_b[:, i]
        mixed.append(function(points))
    return function(of_a), function(of_b), np.array(mixed)


def product(points):
    return np.stack([points[:, 0] + 2.0 * points[:, 1], points[:, 0] * points[:, 1] * points[:, 2]])


def test_shares_are_those_of_another_library():
    """scipy.stats.sobol_indices with the same function values; it does not count results from their mean."""
    given = results(product, 1024, 3)
    shares = variance_shares(*given)
    theirs = sobol_indices(func={"f_A": given[0], "f_B": given[1], "f_AB": given[2]}, n=1024, method="saltelli_2010")
    assert shares.total == pytest.approx(theirs.total_order, rel=1e-9)
    assert shares.first == pytest.approx(theirs.first_order, abs=0.01)


def test_a_result_that_does_not_vary_has_no_shares():
    shares = variance_shares(np.ones((1, 8)), np.ones((1, 8)), np.ones((2, 1, 8)))
    assert np.isnan(shares.first).all()
    assert np.isnan(shares.total).all()


def test_samples_fill_every_input_evenly_and_repeat_for_a_seed():
    of_a, of_b = paired_samples(256, 3, 7)
    for points in (of_a, of_b):
        assert points.shape == (256, 3)
        for column in points.T:
            assert sorted((column * 256).astype(int)) == list(range(256)), "one point in each of 256 equal parts"
    again = paired_samples(256, 3, 7)
    assert np.array_equal(of_a, again[0])
    assert not np.array_equal(of_a, paired_samples(256, 3, 8)[0])
    assert abs(np.corrcoef(of_a[:, 0], of_b[:, 0])[0, 1]) < 0.1


def additive(widths):
    """Spread and half width of the interval of 95 % of a sum of rectangular inputs with these standard deviations."""
    of_a, of_b = paired_samples(2**15, len(widths), 1)
    points = np.concatenate([of_a, of_b])
    ends = np.sqrt(3.0) * np.array(widths)
    total = sum(Band(-end, end).at(points[:, i]) for i, end in enumerate(ends))
    low, high = np.percentile(total, [2.5, 97.5])
    return total.std(), (high - low) / 2.0


def test_a_sum_of_rectangular_inputs_has_the_interval_of_its_closed_form():
    """JCGM 101 (2008), 9.2.3 and 9.2.4, from memory: the first is exact, 2√3 (2 - (24 · 0.025)^(1/4))."""
    assert additive([1.0] * 4) == pytest.approx((2.0, 3.8794), abs=0.02)
    spread, half = additive([1.0, 1.0, 1.0, 10.0])
    assert spread == pytest.approx(np.sqrt(103.0), abs=0.02)
    assert half == pytest.approx(17.0, abs=0.1)


def test_a_mass_by_comparison_spreads_more_than_its_linear_terms():
    """JCGM 101 (2008), 9.3, from memory: 1.234 mg, spread 0.0754, shortest interval of 95 % from 1.0834 to 1.3825."""
    points = np.concatenate(paired_samples(2**16, 5, 2))
    reference, own = (Band(-1.959963984540054 * u, 1.959963984540054 * u, "normal") for u in (0.050, 0.020))
    air, weights, standards = Band(1.10, 1.30), Band(7000.0, 9000.0), Band(7950.0, 8050.0)
    buoyancy = (air.at(points[:, 2]) - 1.2) * (1.0 / weights.at(points[:, 3]) - 1.0 / standards.at(points[:, 4]))
    nominal = 1e5 + reference.at(points[:, 0]) + 1.234 + own.at(points[:, 1])
    excess_mg = np.sort(nominal * (1.0 + buoyancy) - 1e5)
    assert excess_mg.mean() == pytest.approx(1.234, abs=0.0005)
    assert excess_mg.std() == pytest.approx(0.0754, abs=0.0005)
    assert excess_mg.std() > 1.35 * np.hypot(0.050, 0.020), "the linear terms alone give 0.0539"
    covered = round(0.95 * excess_mg.size)
    shortest = np.argmin(excess_mg[covered:] - excess_mg[:-covered])
    assert excess_mg[shortest] == pytest.approx(1.0834, abs=0.003)
    assert excess_mg[shortest + covered] == pytest.approx(1.3825, abs=0.003)


def test_means_of_linear_results_spread_as_those_of_a_sample_in_equal_parts():
    """One point anywhere in each of n parts: the variance of the mean is 1/(12 n³); of random points n² times that."""
    count, inputs, designs = 8, 16, 500
    means = np.concatenate(
        [np.concatenate(paired_samples(count, inputs, seed), axis=1).mean(axis=0) for seed in range(designs)]
    )
    assert means.var() == pytest.approx(1.0 / (12.0 * count**3), rel=0.05)
