"""Degree days and load of a heating season: hours by outdoor temperature (bins) below a base temperature."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

HOURS_A_DAY, DAYS_A_WEEK = 24.0, 7.0


def degree_days(outdoor_c: ArrayLike, hours: ArrayLike, base_c: float) -> float:
    """Degree days in K d: the sum of hours times kelvin below the base temperature, divided by 24.

    `outdoor_c` and `hours` have the same shape. Hours at or above the base do not count. Source: definition of heating
    degree days (for example CIBSE TM41, from memory). Valid for any bins; the narrower they are, the better near
    the base.

    >>> degree_days([7.5], [48.0], 15.5)
    16.0
    """
    below_k = np.maximum(base_c - np.asarray(outdoor_c, float), 0.0)
    return float((below_k * np.asarray(hours, float)).sum() / HOURS_A_DAY)


def maximum_degree_days(weeks: float, base_c: float, outdoor_c: float) -> float:
    """Degree days in K d of a season that is always at the design outdoor temperature.

    Source: Chadderton, Building Services Engineering, 5th edition, example 2.8. ValueError where the base is not above
    the outdoor temperature.

    >>> maximum_degree_days(30.0, 15.5, -1.0)
    3465.0
    """
    if not outdoor_c < base_c:
        raise ValueError(f"base_c = {base_c:g}: must be above outdoor_c, {outdoor_c:g}")
    return weeks * DAYS_A_WEEK * (base_c - outdoor_c)


def load_factor(season_degree_days: float, most_degree_days: float) -> float:
    """Mean load of a season as a share of the design load: degree days over those of constant design weather.

    Source: Chadderton, example 2.9. ValueError where the maximum is not above 0.

    >>> round(load_factor(2460.0, 3465.0), 2)
    0.71
    """
    if not most_degree_days > 0.0:
        raise ValueError(f"most_degree_days = {most_degree_days:g}: must be above 0")
    return season_degree_days / most_degree_days


def equivalent_hours(outdoor_c: ArrayLike, hours: ArrayLike, base_c: float, design_outdoor_c: float) -> float:
    """Hours at the design load that give the heat of the season: degree hours over the design temperature difference.

    The load is (base - outdoor)/(base - design outdoor) of the design load. Source: EN 14825, equivalent active mode
    hours, with a base of 16 °C. ValueError where the base is not above the design outdoor temperature.

    >>> equivalent_hours([0.0, 8.0], [100.0, 400.0], 16.0, -8.0)
    200.0
    """
    if not design_outdoor_c < base_c:
        raise ValueError(f"base_c = {base_c:g}: must be above design_outdoor_c, {design_outdoor_c:g}")
    return degree_days(outdoor_c, hours, base_c) * HOURS_A_DAY / (base_c - design_outdoor_c)
