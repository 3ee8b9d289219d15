"""Small matrices of the channel equations: inverses, and products with vectors and matrices."""

from __future__ import annotations

import numpy as np
import pytest

from heatloop.physics.channels.equations import inverse_of, link_matrix, matrix_product, matrix_vector

POINTS, CELLS = 4, 7


@pytest.mark.parametrize("channels", [1, 2, 3, 4])
def test_the_inverse_of_walls_with_film_and_links_is_that_of_numpy(channels: int) -> None:
    """Matrices as they occur: the unit matrix and films times links, of unequal rows."""
    random = np.random.default_rng(channels)
    film = random.uniform(0.001, 0.05, (channels, 1, CELLS))
    links = link_matrix(
        random.uniform(0.1, 40.0, (channels - 1, CELLS)), random.uniform(0.5, 9.0, (channels, POINTS, CELLS))
    )
    matrix = film[:, None] * links
    for i in range(channels):
        matrix[i, i] += 1.0
    inverse = inverse_of(matrix)
    for point in range(POINTS):
        for cell in range(CELLS):
            expected = np.linalg.inv(matrix[:, :, point, cell])
            assert inverse[:, :, point, cell] == pytest.approx(expected, rel=1e-12, abs=1e-15)
    unit = matrix_product(matrix, inverse)
    assert unit == pytest.approx(np.broadcast_to(np.eye(channels)[..., None, None], unit.shape), abs=1e-13)
    vector = random.uniform(-1.0, 1.0, (channels, POINTS, CELLS))
    assert matrix_vector(inverse, matrix_vector(matrix, vector)) == pytest.approx(vector, abs=1e-12)
