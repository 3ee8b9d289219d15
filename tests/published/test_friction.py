"""Pipe friction against textbooks and tables; sources in data/published/friction.csv."""

import numpy as np
import pytest
from scipy.optimize import brentq

from heatloop.physics.constants import GRAVITY_M_S2
from heatloop.physics.ducts import round_duct
from heatloop.physics.friction import (
    darcy_friction_factor,
    friction_table,
    local_loss_pa,
    pressure_gradient_pa_m,
    reynolds,
)
from heatloop.physics.water import plain_water
from tests.helpers.published import replayed


class Pipe:
    """Flow in a round pipe, from the inputs of a case; water at 250 kPa where only a temperature is given."""

    def __init__(
        self, bore_mm, roughness_mm, mass_flow_kg_s=0.0, t_c=None, density_kg_m3=None, viscosity_pa_s=None, **rest
    ):
        self.duct, self.roughness_m, self.flow = round_duct(bore_mm / 1000), roughness_mm / 1000, mass_flow_kg_s
        self.rho, self.mu, self.rest = density_kg_m3, viscosity_pa_s, rest
        if t_c is not None:
            self.rho, _, self.mu, _, _ = plain_water().properties(t_c)

    def gradient(self, flow):
        return pressure_gradient_pa_m(flow, self.duct, self.roughness_m, self.rho, self.mu)

    def velocity(self):
        return self.flow / (self.rho * self.duct.area_m2)

    def re(self):
        return reynolds(self.flow, self.duct.hydraulic_diameter_m, self.duct.area_m2, self.mu)

    def factor(self):
        return darcy_friction_factor(self.re(), self.roughness_m / self.duct.hydraulic_diameter_m)

    def flow_at_gradient(self):
        return brentq(lambda flow: self.gradient(flow) - self.rest["gradient_pa_m"], 1e-4, 10.0)

    def drop(self):
        """Friction, fittings and lift, Pa."""
        fittings = local_loss_pa(self.rest.get("zeta", 0.0), self.rho, self.velocity())
        lift = self.rho * GRAVITY_M_S2 * self.rest.get("lift_m", 0.0)
        return self.gradient(self.flow) * self.rest["length_m"] + fittings + lift

    def head(self):
        return self.drop() / (self.rho * GRAVITY_M_S2)

    def power(self):
        return self.drop() * self.flow / self.rho / self.rest.get("efficiency", 1.0)


QUANTITIES = {
    "pressure_gradient_pa_m": lambda **inputs: Pipe(**inputs).gradient(inputs["mass_flow_kg_s"]),
    "mass_flow_kg_s": lambda **inputs: Pipe(**inputs).flow_at_gradient(),
    "velocity_m_s": lambda **inputs: Pipe(**inputs).velocity(),
    "reynolds": lambda **inputs: Pipe(**inputs).re(),
    "friction_factor": lambda **inputs: Pipe(**inputs).factor(),
    "friction_factor_at_re": darcy_friction_factor,
    "pressure_drop_pa": lambda **inputs: Pipe(**inputs).drop(),
    "head_loss_m": lambda **inputs: Pipe(**inputs).head(),
    "head_m": lambda **inputs: Pipe(**inputs).head(),
    "pumping_power_w": lambda **inputs: Pipe(**inputs).power(),
    "brake_power_w": lambda **inputs: Pipe(**inputs).power(),
}


test_published_row = replayed("friction", __name__, QUANTITIES)


@pytest.mark.parametrize("relative_roughness", [0.0, 1e-4, 0.02])
def test_turbulent_factor_solves_colebrooks_equation(relative_roughness):
    """P8, solved here a second way: the root of the equation as Colebrook (1939) wrote it."""
    for re in np.geomspace(4000.0, 1e6, 25):

        def residual(f, re=re):
            return 1 / np.sqrt(f) + 2 * np.log10(relative_roughness / 3.7 + 2.51 / (re * np.sqrt(f)))

        expected = brentq(residual, 1e-3, 1.0, xtol=1e-15, rtol=1e-14)
        assert darcy_friction_factor(re, relative_roughness) == pytest.approx(expected, rel=1e-9)
        table = friction_table(relative_roughness, 64.0)
        assert table.factor_and_slope(re)[0] == pytest.approx(expected, rel=1e-9)


def test_laminar_factor_is_hagen_poiseuilles():
    re = np.geomspace(1.0, 2000.0, 50)
    assert darcy_friction_factor(re, 0.001) == pytest.approx(64.0 / re, rel=1e-12)
    assert friction_table(0.001, 64.0).factor_and_slope(re)[0] == pytest.approx(64.0 / re, rel=1e-12)


@pytest.mark.parametrize("relative_roughness", [0.0, 1e-4, 0.01])
def test_bridge_is_the_published_cubic(relative_roughness):
    """P8: the interpolation as printed in the EPANET 2 manual after Dunlop (1991), coefficients from memory.

    Its polynomial in R = Re/2000 takes two numbers, FA and FB, from the turbulent end: the factor there, and
    twice the factor plus twice its slope in R. With Colebrook in both places it must be the same curve.
    """
    fa = darcy_friction_factor(4000.0, relative_roughness)
    step = 1e-3
    slope = (darcy_friction_factor(4000.0 + 2 * step, relative_roughness) - fa) / (step * 1e-3)
    fb = 2.0 * (fa + slope)
    for re in np.linspace(2000.0, 4000.0, 41):
        r = re / 2000.0
        x1, x2 = 7.0 * fa - fb, 0.128 - 17.0 * fa + 2.5 * fb
        x3, x4 = -0.128 + 13.0 * fa - 2.0 * fb, r * (0.032 - 3.0 * fa + 0.5 * fb)
        published = x1 + r * (x2 + r * (x3 + x4))
        assert darcy_friction_factor(re, relative_roughness) == pytest.approx(published, rel=2e-6)


def test_bridge_is_near_the_one_with_swamee_jain():
    """The same cubic with the Swamee-Jain ends that EPANET uses: a different turbulent end, so near only.

    Swamee-Jain stands up to 3 per cent off Colebrook at Re 4000.
    """
    for relative_roughness in (0.0, 1e-4, 0.005):
        y2 = relative_roughness / 3.7 + 5.74 / 4000.0**0.9
        y3 = -2.0 * np.log10(y2)
        fa = y3**-2.0
        fb = fa * (2.0 - 0.00514215 / (y2 * y3))
        for re in (2200.0, 2800.0, 3400.0, 3900.0):
            r = re / 2000.0
            x3, x4 = -0.128 + 13.0 * fa - 2.0 * fb, r * (0.032 - 3.0 * fa + 0.5 * fb)
            published = 7.0 * fa - fb + r * (0.128 - 17.0 * fa + 2.5 * fb + r * (x3 + x4))
            assert darcy_friction_factor(re, relative_roughness) == pytest.approx(published, rel=0.03)
