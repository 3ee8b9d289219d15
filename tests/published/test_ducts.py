"""Ducts against exact solutions and tables; sources in data/published/ducts.csv."""

import pytest

from heatloop.physics.ducts import oval_duct, rectangular_duct, round_duct
from heatloop.physics.friction import darcy_friction_factor, pressure_gradient_pa_m, reynolds
from heatloop.physics.water import plain_water
from tests.helpers.published import replayed


def oval(width_mm, height_mm):
    return oval_duct(width_mm / 1000, height_mm / 1000)


def oval_reynolds(width_mm, height_mm, flow_ml_s, t_c):
    duct, (rho, _, mu, _, _) = oval(width_mm, height_mm), plain_water().properties(t_c)
    return reynolds(flow_ml_s * 1e-6 * rho, duct.hydraulic_diameter_m, duct.area_m2, mu)


def oval_gradient_pa_m(width_mm, height_mm, flow_ml_s, t_c):
    rho, _, mu, _, _ = plain_water().properties(t_c)
    return pressure_gradient_pa_m(flow_ml_s * 1e-6 * rho, oval(width_mm, height_mm), 1.5e-6, rho, mu)


QUANTITIES = {
    "oval_laminar_f_re": lambda **size: oval(**size).laminar_f_re,
    "oval_hydraulic_diameter_mm": lambda **size: oval(**size).hydraulic_diameter_m * 1000,
    "oval_perimeter_mm": lambda **size: oval(**size).perimeter_m * 1000,
    "oval_reynolds": oval_reynolds,
    "oval_gradient_pa_m": oval_gradient_pa_m,
    "rectangle_laminar_f_re": lambda width_mm, height_mm: rectangular_duct(width_mm, height_mm).laminar_f_re,
    "round_content_l_m": lambda bore_mm: round_duct(bore_mm / 1000).content_l_m,
}


test_published_row = replayed("ducts", __name__, QUANTITIES)


def test_rectangle_agrees_with_the_published_fit():
    """Shah and London's polynomial in the aspect ratio, from memory; good to 0.06 per cent."""
    for r in (1e-6, 0.1, 0.25, 0.5, 0.75, 1.0):
        fit = 96 * (1 - 1.3553 * r + 1.9467 * r**2 - 1.7012 * r**3 + 0.9564 * r**4 - 0.2537 * r**5)
        assert rectangular_duct(1.0, r).laminar_f_re == pytest.approx(fit, rel=6.2e-4)


def test_turbulent_flow_knows_only_the_hydraulic_diameter():
    """D4: the shape counts in laminar flow and no longer from Re 4000."""
    flat, bore = oval_duct(0.04, 0.005), round_duct(0.01)
    assert darcy_friction_factor(1e4, 1e-4, flat.laminar_f_re) == darcy_friction_factor(1e4, 1e-4, bore.laminar_f_re)
    laminar = [darcy_friction_factor(1e3, 1e-4, duct.laminar_f_re) for duct in (flat, bore)]
    assert laminar[0] / laminar[1] == pytest.approx(76.583 / 64.0, rel=1e-4)
