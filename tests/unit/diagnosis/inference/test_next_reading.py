"""Which reading separates two faults best."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from heatloop.diagnosis.inference.next_reading import value_of_reading


@pytest.mark.parametrize("apart", [0.5, 1.0, 2.0, 4.0])
def test_how_often_the_right_one_of_two_stands_first(apart):
    """Two alike but for a reading `apart` spreads apart: the right one first with Phi(apart / 2)."""
    right, _ = value_of_reading(np.array([0.5, 0.5]), np.array([10.0, 10.0 + 2.0 * apart]), np.array([2.0, 2.0]))
    assert right == pytest.approx(norm.cdf(apart / 2.0), abs=1e-4)


def test_a_reading_that_tells_nothing_leaves_the_chance_as_it_was():
    right, information = value_of_reading(np.array([0.3, 0.7]), np.zeros(2), np.ones(2))
    assert right == pytest.approx(0.7, abs=1e-4)
    assert information == pytest.approx(0.0, abs=1e-4)


def test_a_reading_that_tells_all_gives_the_entropy_of_the_chances():
    """Mutual information of two hypotheses that a reading separates surely: - sum p ln p."""
    chance = np.array([0.2, 0.8])
    right, information = value_of_reading(chance, np.array([0.0, 20.0]), np.ones(2))
    assert right == pytest.approx(1.0, abs=1e-4)
    assert information == pytest.approx(-float((chance * np.log(chance)).sum()), abs=1e-3)


def test_information_is_that_of_a_gaussian_channel_where_both_are_near():
    """Two normal values d spreads apart, p and q = 1 - p: p q d^2 / 2 for small d."""
    _, information = value_of_reading(np.array([0.4, 0.6]), np.array([0.0, 0.2]), np.ones(2))
    assert information == pytest.approx(0.4 * 0.6 * 0.2**2 / 2.0, rel=0.02)
