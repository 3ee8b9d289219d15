"""Water film inside a channel (heat transfer from water to wall), and heat loss of plain pipe."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

LAMINAR_NUSSELT = 4.364
"""Fully developed laminar flow in a round bore at constant heat flux, 48/11 (exact). On the hydraulic diameter it is
low for ovals. In a real channel buoyancy increases it, so it is a lower limit."""

LAMINAR_RE, TURBULENT_RE = 2300.0, 4000.0
"""Range of the interpolation of the Nusselt number (Gnielinski 2013); that of the friction factor is different."""

BARE_PIPE_W_M2K = 10.0
"""Outside coefficient of a pipe or its insulation in still indoor air, convection and radiation together
(EN ISO 12241 gives 8 to 11 for such pipes; from memory)."""


def nusselt(re: ArrayLike, prandtl: ArrayLike) -> Array:
    """Nusselt number on the hydraulic diameter, arrays broadcast; continuous in the Reynolds number.

    4.364 below Re 2300; Gnielinski's equation for turbulent tube flow above Re 4000 (Gnielinski 1976,
    friction by Konakov as in Gnielinski 2013, Int. J. Heat Mass Transfer 63, 134-140), Pr 0.5 to 2000, Re to 1e6;
    between, his linear interpolation between the value at 2300 and the value at 4000. Entry length, property
    variation across the film and buoyancy are left out.

    >>> [round(float(value), 1) for value in nusselt([1000.0, 10000.0], 4.0)]
    [4.4, 63.0]
    """
    re, pr = np.broadcast_arrays(np.asarray(re, float), np.asarray(prandtl, float))
    number = np.full(re.shape, LAMINAR_NUSSELT)
    beyond = re > LAMINAR_RE
    if beyond.any():
        re, pr = re[beyond], pr[beyond]
        share = np.minimum((re - LAMINAR_RE) / (TURBULENT_RE - LAMINAR_RE), 1.0)
        number[beyond] += share * (_gnielinski(np.maximum(re, TURBULENT_RE), pr) - LAMINAR_NUSSELT)
    return number


def _gnielinski(re: Array, pr: Array) -> Array:
    friction = 0.125 / np.square(1.8 * np.log10(re) - 1.5)
    return np.asarray(friction * (re - 1000.0) * pr / (1.0 + 12.7 * np.sqrt(friction) * (pr ** (2 / 3) - 1.0)))


def film_resistance_mk_w(
    re: ArrayLike,
    prandtl: ArrayLike,
    conductivity_w_mk: ArrayLike,
    area_m2: ArrayLike,
    hydraulic_diameter_m: ArrayLike,
) -> Array:
    """Resistance of the film on a metre of channel, m K/W, arrays broadcast.

    1 / (Nu k perimeter / hydraulic diameter), the perimeter being 4 area / hydraulic diameter. For a round
    bore the conductance is Nu pi k: about 8.7 W/(m K) in laminar warm water. `re` and `prandtl` of the water.

    >>> round(float(film_resistance_mk_w(1000.0, 4.0, 0.64, 1.327e-4, 0.013)), 4)
    0.114
    """
    d_h, area = np.asarray(hydraulic_diameter_m, float), np.asarray(area_m2, float)
    conductance = nusselt(re, prandtl) * np.asarray(conductivity_w_mk, float) * 4.0 * area / d_h**2
    return np.asarray(1.0 / conductance)


def pipe_loss_w_mk(outside_mm: float, insulation_mm: float, insulation_w_mk: float = 0.035) -> float:
    """Heat loss of a metre of pipe for each kelvin above its surroundings, W/(m K).

    pi / (ln(D/d) / (2 lambda) + 1/(h D)) with the outside coefficient h of 10 W/(m2 K) (EN ISO 12241, linear
    transmittance of pipes); film and pipe wall are left out. Outside diameter above 0, insulation not below.

    >>> round(pipe_loss_w_mk(15.0, 0.0), 3)
    0.471
    """
    if outside_mm <= 0 or insulation_mm < 0 or insulation_w_mk <= 0:
        raise ValueError(
            f"outside_mm = {outside_mm:g}, insulation_w_mk = {insulation_w_mk:g}, insulation_mm = {insulation_mm:g}: "
            "the first two must be above 0, the last 0 or above"
        )
    outer_m = (outside_mm + 2.0 * insulation_mm) / 1000.0
    through = np.log(outer_m / (outside_mm / 1000.0)) / (2.0 * insulation_w_mk)
    return float(np.pi / (through + 1.0 / (BARE_PIPE_W_M2K * outer_m)))
