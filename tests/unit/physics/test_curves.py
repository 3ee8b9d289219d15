"""Curves, zeros and friction factors against the libraries whose loading they save."""

import numpy as np
import pytest
from fluids.friction import Colebrook
from scipy.interpolate import CubicSpline, PchipInterpolator
from scipy.optimize import brentq
from scipy.special import ellipe

from heatloop.hydraulics.pumps import MonotoneCubic, zero_between
from heatloop.physics.ducts import oval_duct
from heatloop.physics.friction import colebrook_friction_factor
from heatloop.physics.water import spline_coefficients


def test_splines_have_the_coefficients_of_scipy():
    values = np.random.default_rng(1).normal(size=(40, 3))
    theirs = CubicSpline(np.arange(40), values).c[::-1]
    np.testing.assert_allclose(spline_coefficients(values), theirs, rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize("seed", range(60))
def test_monotone_curves_are_those_of_scipy(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 8))
    x = np.cumsum(rng.uniform(0.1, 1.0, count))
    y = (rng.normal(size=count), -np.sort(rng.normal(size=count)), np.round(rng.normal(size=count)))[seed % 3]
    at, theirs = rng.uniform(x[0], x[-1], 50), PchipInterpolator(x, y)
    value, slope = MonotoneCubic.through(x, y).at(at)
    np.testing.assert_allclose(value, theirs(at), rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(slope, theirs.derivative()(at), rtol=1e-10, atol=1e-11)


@pytest.mark.parametrize("cube", [1e-9, 0.2, 1.0, 3.3])
def test_zeros_are_found_between_bounds(cube):
    def miss(x):
        return x**3 - cube

    assert zero_between(miss, 0.0, 1.5, 1e-14) == pytest.approx(brentq(miss, 0.0, 1.5, xtol=1e-15), abs=2e-14)
    assert zero_between(lambda x: -miss(x), 0.0, 1.5, 1e-14) == pytest.approx(cube ** (1.0 / 3.0), abs=2e-14)


def test_bounds_of_one_sign_are_refused():
    with pytest.raises(ValueError, match="no zero between 1 and 2"):
        zero_between(lambda x: x, 1.0, 2.0, 1e-9)


@pytest.mark.parametrize("ratio", [1e-3, 0.1, 0.5, 0.99, 1.0])
def test_the_perimeter_of_an_oval_is_the_elliptic_integral(ratio):
    assert oval_duct(0.02, 0.02 * ratio).perimeter_m == pytest.approx(0.04 * ellipe(1.0 - ratio**2), rel=1e-14)


@pytest.mark.parametrize("roughness", [0.0, 1e-6, 1e-3, 0.05])
def test_colebrook_holds_to_rounding(roughness):
    re = 10.0 ** np.linspace(1.0, 7.5, 60)
    theirs = [Colebrook(number, roughness) for number in re.tolist()]
    np.testing.assert_allclose(colebrook_friction_factor(re, roughness), theirs, rtol=1e-13)
    assert colebrook_friction_factor(1e5, roughness) == pytest.approx(Colebrook(1e5, roughness), rel=1e-13)
