"""Thermal movement of skirting and pipe: expansion along the run and the gap to leave at a free end.

At an inside corner one end slides and the other is fixed. The gap left at fitting must take the expansion from the
temperature during fitting to the maximum temperature of the profile.
"""

from __future__ import annotations

from math import isfinite

# Linear expansion per kelvin near room temperature; tables spread by about 4 per cent.
ALUMINIUM_EXPANSION_1_K = 23.1e-6  # Engineering ToolBox, coefficients of linear thermal expansion
COPPER_EXPANSION_1_K = 16.8e-6  # the same


def thermal_expansion_mm(length_m: float, expansion_1_k: float, rise_k: float) -> float:
    """Expansion in mm of `length_m` (m) over `rise_k` (K), alpha L dT; negative on cooling.

    Linear expansion with a constant coefficient (any handbook of physics); good to the spread of the
    coefficient, some 4 per cent. ValueError for a length below 0 or a coefficient not above 0.

    >>> round(thermal_expansion_mm(6.0, ALUMINIUM_EXPANSION_1_K, 50.0), 2)
    6.93
    """
    if not (isfinite(length_m) and length_m >= 0.0):
        raise ValueError(f"length_m = {length_m:g}: must be 0 or above")
    if not (isfinite(expansion_1_k) and expansion_1_k > 0.0):
        raise ValueError(f"expansion_1_k = {expansion_1_k:g}: must be above 0")
    return 1000.0 * expansion_1_k * length_m * rise_k


def free_end_gap_mm(
    length_m: float, expansion_1_k: float, installation_temp_c: float, hottest_c: float, min_gap_mm: float = 0.0
) -> float:
    """Gap in mm to leave at the free end at `installation_temp_c`, so that `min_gap_mm` is left at `hottest_c` (°C).

    The length `length_m` (m) runs from the fixed end to the free one, and is assumed to have the temperature of the
    water, which is cautious. Source: `thermal_expansion_mm`. ValueError for a fitting temperature above the hottest or
    a clearance below 0.

    >>> round(free_end_gap_mm(6.0, 2.3e-5, 10.0, 70.0, 1.0), 2)
    9.28
    """
    if not installation_temp_c <= hottest_c:
        raise ValueError(f"installation_temp_c = {installation_temp_c:g}: must be at most hottest_c, {hottest_c:g}")
    if not (isfinite(min_gap_mm) and min_gap_mm >= 0.0):
        raise ValueError(f"min_gap_mm = {min_gap_mm:g}: must be 0 or above")
    return min_gap_mm + thermal_expansion_mm(length_m, expansion_1_k, hottest_c - installation_temp_c)


def gap_at_mm(gap_mm: float, length_m: float, expansion_1_k: float, installation_temp_c: float, temp_c: float) -> float:
    """Gap in mm at `temp_c` of a free end that was left `gap_mm` at `installation_temp_c` (°C).

    Negative means that the end would press against the adjacent part. The cover of the joint must hide the widest gap,
    when cold. Source and errors: `thermal_expansion_mm`.

    >>> round(gap_at_mm(9.0, 6.0, 2.3e-5, 10.0, 20.0), 2)
    7.62
    """
    return gap_mm - thermal_expansion_mm(length_m, expansion_1_k, temp_c - installation_temp_c)
