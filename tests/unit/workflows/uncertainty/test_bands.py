"""Bands: shares of values below a deviation, by the definition of each shape."""

import numpy as np
import pytest

from heatloop.workflows.uncertainty.bands import Band

SHARES = np.array([0.025, 0.25, 0.5, 0.975])


@pytest.mark.parametrize(
    ("shape", "deviations"),
    [
        ("even", [-9.25, -2.5, 5.0, 19.25]),
        ("normal", [-10.0, 5.0 - 0.67449 * 15.0 / 1.95996, 5.0, 20.0]),
        ("triangular", [5.0 - 15.0 * (1.0 - np.sqrt(0.05)), 5.0 - 15.0 * (1.0 - np.sqrt(0.5)), 5.0,
                        5.0 + 15.0 * (1.0 - np.sqrt(0.05))]),
    ],
)  # fmt: skip
def test_deviations_of_each_shape_by_hand(shape, deviations):
    assert Band(-10.0, 20.0, shape).at(SHARES) == pytest.approx(deviations, abs=1e-4)


def test_shapes_have_the_spread_of_their_definition():
    share = (np.arange(200_000) + 0.5) / 200_000
    spreads = {shape: Band(-1.0, 1.0, shape).at(share).std() for shape in ("even", "normal", "triangular")}
    expected = {"even": 1 / np.sqrt(3), "normal": 1 / 1.959964, "triangular": 1 / np.sqrt(6)}
    assert spreads == pytest.approx(expected, rel=1e-3)
