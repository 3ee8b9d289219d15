"""Which reading separates two faults best."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from heatloop.diagnosis.inference.next_reading import probability_of_correct_ranking


@pytest.mark.parametrize("apart", [0.5, 1.0, 2.0, 4.0])
def test_how_often_the_right_one_of_two_stands_first(apart):
    """Two alike but for a reading `apart` spreads apart: the right one first with Phi(apart / 2)."""
    probability = probability_of_correct_ranking(
        np.array([0.5, 0.5]), np.array([10.0, 10.0 + 2.0 * apart]), np.array([2.0, 2.0])
    )
    assert probability == pytest.approx(norm.cdf(apart / 2.0), abs=1e-4)


def test_a_reading_that_tells_nothing_leaves_the_chance_as_it_was():
    assert probability_of_correct_ranking(np.array([0.3, 0.7]), np.zeros(2), np.ones(2)) == pytest.approx(0.7, abs=1e-4)
