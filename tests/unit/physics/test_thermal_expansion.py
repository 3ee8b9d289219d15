"""How far a length moves between two temperatures, by hand."""

import pytest

from heatloop.physics.thermal_expansion import free_end_gap_mm, gap_at_mm, thermal_expansion_mm


def test_no_length_and_a_short_one_expand_by_their_share():
    assert thermal_expansion_mm(0.0, 23e-6, 50.0) == 0.0
    assert thermal_expansion_mm(0.5, 23e-6, 50.0) == pytest.approx(0.575, rel=1e-12)


def test_cooling_shortens_and_opens_the_gap():
    assert thermal_expansion_mm(4.0, 23.1e-6, -50.0) == -thermal_expansion_mm(4.0, 23.1e-6, 50.0)
    assert gap_at_mm(3.0, 4.0, 23.1e-6, 20.0, 20.0) == 3.0


def test_a_length_and_a_coefficient_that_cannot_be_are_each_refused_by_name():
    """Also where a gap is asked for: the length comes before the coefficient."""
    assert gap_at_mm(3.0, 0.0, 23.1e-6, 20.0, 60.0) == 3.0
    for length_m, coefficient, named in ((-1.0, 2e-5, "length_m = -1"), (1.0, 0.0, "expansion_1_k = 0")):
        with pytest.raises(ValueError, match=named):
            thermal_expansion_mm(length_m, coefficient, 40.0)
        with pytest.raises(ValueError, match=named):
            gap_at_mm(3.0, length_m, coefficient, 20.0, 60.0)
        with pytest.raises(ValueError, match=named):
            free_end_gap_mm(length_m, coefficient, 20.0, 60.0)
