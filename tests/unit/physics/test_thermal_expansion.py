"""How far a length moves between two temperatures, by hand."""

import pytest

from heatloop.physics.thermal_expansion import gap_at_mm, thermal_expansion_mm


def test_no_length_and_a_short_one_expand_by_their_share():
    assert thermal_expansion_mm(0.0, 23e-6, 50.0) == 0.0
    assert thermal_expansion_mm(0.5, 23e-6, 50.0) == pytest.approx(0.575, rel=1e-12)


def test_cooling_shortens_and_opens_the_gap():
    assert thermal_expansion_mm(4.0, 23.1e-6, -50.0) == -thermal_expansion_mm(4.0, 23.1e-6, 50.0)
    assert gap_at_mm(3.0, 4.0, 23.1e-6, 20.0, 20.0) == 3.0
