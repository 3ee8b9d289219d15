"""Sections of ducts against the elliptic integral and the round pipe, and sizes that are refused."""

import numpy as np
import pytest
from scipy.special import ellipe

from heatloop.physics.ducts import oval_duct, rectangular_duct, round_duct


def test_ducts_are_the_same_either_way_round_and_round_in_the_limit():
    assert oval_duct(0.01, 0.02) == oval_duct(0.02, 0.01)
    assert rectangular_duct(0.01, 0.03) == rectangular_duct(0.03, 0.01)
    bore, oval = round_duct(0.013), oval_duct(0.013, 0.013)
    assert (oval.area_m2, oval.perimeter_m, oval.laminar_f_re) == pytest.approx(
        (bore.area_m2, bore.perimeter_m, 64.0), rel=1e-12
    )
    assert bore.hydraulic_diameter_m == pytest.approx(0.013)
    assert oval_duct(1.0, 1e-6).laminar_f_re == pytest.approx(8 * np.pi**2, rel=1e-6)
    assert rectangular_duct(1.0, 1e-7).laminar_f_re == pytest.approx(96.0, rel=1e-6)


@pytest.mark.parametrize("ratio", [1e-3, 0.1, 0.5, 0.99, 1.0])
def test_the_perimeter_of_an_oval_is_the_elliptic_integral(ratio):
    assert oval_duct(0.02, 0.02 * ratio).perimeter_m == pytest.approx(0.04 * ellipe(1.0 - ratio**2), rel=1e-14)
