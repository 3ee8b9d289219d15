"""Plain water by short published formulas, for the second site model alone."""

from __future__ import annotations

import numpy as np


def density_kg_m3(temp_c):
    """Density in kg/m3 from 0 to 100 degC (Kell's short form, as in handbooks of hydrology; from memory)."""
    t = np.asarray(temp_c, float)
    return 1000.0 * (1.0 - (t + 288.9414) * (t - 3.9863) ** 2 / (508929.2 * (t + 68.12963)))


def viscosity_pa_s(temp_c):
    """Dynamic viscosity in Pa s (Vogel's form with the constants of handbooks, within 2.5 %; from memory)."""
    return 2.414e-5 * 10.0 ** (247.8 / (np.asarray(temp_c, float) + 273.15 - 140.0))


def conductivity_w_mk(temp_c):
    """Thermal conductivity in W/(m K), a parabola through 0.561 at 0, 0.643 at 50 and 0.679 at 100 degC."""
    t = np.asarray(temp_c, float)
    return 0.561 + 0.00210 * t - 9.2e-6 * t**2


HEAT_CAPACITY_J_KGK = 4183.0
"""Heat capacity of water between 20 and 70 degC, J/(kg K): constant within 0.2 %."""
