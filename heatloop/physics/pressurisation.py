"""Expansion vessel, fill pressures, static head, strength test and dosing of a closed heating system.

Pressures are gauge pressures in kPa. A vessel follows Boyle's law: its gas, at the precharge when empty of water, is
compressed by the expansion of the water from fill to maximum temperature. The rules for reserve and margins are those
of EN 12828 annex D, from memory; the instructions of vessel and boiler take precedence.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from heatloop.physics.constants import GRAVITY_M_S2
from heatloop.physics.water import Fluid

ATMOSPHERE_KPA = 100.0  # rounded as in EN 12828

TEST_FACTOR = 1.3
TEST_FACTOR_SOURCE = (
    "common practice: 1.3 times the setting of the relief valve; EN 14336, as quoted by others: 1.3 times the working "
    "pressure; the maker's instructions and local rules take precedence"
)

_RESERVE_SHARE, _MIN_RESERVE_L = 0.005, 3.0
_SMALL_VESSEL_L, _SMALL_VESSEL_RESERVE = 15.0, 0.2


def expansion_by_density(fluid: Fluid, fill_c: float, max_temp_c: float) -> float:
    """Increase in volume from `fill_c` to `max_temp_c` (°C) as a fraction of the cold volume, rho_fill/rho_hot - 1.

    Holds for mixtures as well as for water; the whole content is taken to reach the maximum temperature.
    Source: density of the fluid. ValueError outside the fluid's range or for temperatures in the wrong order.

    >>> from heatloop.physics.water import plain_water
    >>> round(expansion_by_density(plain_water(), 10.0, 60.0), 4)
    0.0168
    """
    fluid.check_range([fill_c, max_temp_c])
    if max_temp_c < fill_c:
        raise ValueError(f"max_temp_c = {max_temp_c:g}: must be at least fill_c, {fill_c:g}")
    return float(fluid.density_kg_m3(fill_c) / fluid.density_kg_m3(max_temp_c)) - 1.0


def expansion_en_12828(max_temp_c: float) -> float:
    """Expansion of plain water filled at 10 °C as a fraction of its volume: 0.0031 + 3.9e-6 T^2.

    `max_temp_c` in °C, 30 to 110. A fit to the table of EN 12828 annex D, both from memory. Against the
    densities it is 0.25 per cent of the content high at 30 °C, even near 65 and 0.1 low from 90 up. ValueError
    outside the range.

    >>> round(expansion_en_12828(60.0), 4)
    0.0171
    """
    if not 30.0 <= max_temp_c <= 110.0:
        raise ValueError(f"max_temp_c = {max_temp_c:g}: must be 30 to 110")
    return 0.0031 + 3.9e-6 * max_temp_c**2


def static_head_kpa(height_m: float, density_kg_m3: float = 1000.0) -> float:
    """Pressure in kPa of a column of water `height_m` (m) high, rho g h; 1000 kg/m3 unless stated.

    `height_m` is the height of the highest point of the system above the vessel; negative where the vessel is
    the higher. ValueError for a density not above 0.

    >>> round(static_head_kpa(5.0), 1)
    49.0
    """
    _positive("density_kg_m3", density_kg_m3)
    return density_kg_m3 * GRAVITY_M_S2 * height_m / 1000.0


def precharge_for_head_kpa(static_kpa: float, margin_kpa: float = 30.0) -> float:
    """Gas pressure in kPa to set in the empty vessel: static head plus a margin that keeps the top full.

    Margin 20 to 30 kPa, EN 12828 annex D, from memory; below 100 °C no allowance for vapour is needed. A
    vessel above the system (a negative head) gets the margin alone. ValueError for a margin not above 0.

    >>> precharge_for_head_kpa(49.0)
    79.0
    """
    _positive("margin_kpa", margin_kpa)
    return max(static_kpa, 0.0) + margin_kpa


def final_under_relief_kpa(relief_kpa: float) -> float:
    """Maximum working pressure in kPa with a relief valve set at `relief_kpa`.

    50 kPa below it up to 500 kPa, a tenth below it beyond (EN 12828 annex D, from memory).
    ValueError for a setting not above 50 kPa.

    >>> final_under_relief_kpa(300.0)
    250.0
    """
    if not relief_kpa > 50.0:
        raise ValueError(f"relief_kpa = {relief_kpa:g}: must be above 50")
    return relief_kpa - max(50.0, 0.1 * relief_kpa)


@dataclass(frozen=True)
class VesselNeed:
    """Required content of a vessel in litres: expansion, water reserve, and the minimum nominal volume for both."""

    expansion_l: float
    reserve_l: float
    min_volume_l: float


def vessel_need(content_l: float, expansion: float, precharge_kpa: float, final_kpa: float) -> VesselNeed:
    """Minimum nominal volume of a vessel: (expansion + reserve)(final + atmosphere)/(final - precharge).

    `content_l` of the system in litres, `expansion` a fraction of it (see `expansion_by_density`),
    `precharge_kpa` and `final_kpa` gauge pressures. The reserve is 0.5 per cent of the content and at least 3 l; in a
    vessel of up to 15 l a fifth of the vessel.

    Source: EN 12828 annex D, from memory; Boyle's law. ValueError for a content not above 0, an expansion
    outside 0 to 0.2, a negative precharge or a final pressure that is not above it.

    >>> round(vessel_need(200.0, 0.0281, 100.0, 250.0).min_volume_l, 2)
    20.11
    """
    _positive("content_l", content_l)
    if not 0.0 <= expansion <= 0.2:
        raise ValueError(f"expansion = {expansion:g}: must be a fraction from 0 to 0.2")
    _check_pressures(precharge_kpa, final_kpa)
    expansion_l = content_l * expansion
    per_litre = (final_kpa + ATMOSPHERE_KPA) / (final_kpa - precharge_kpa)
    reserve_l = max(_RESERVE_SHARE * content_l, _MIN_RESERVE_L)
    min_l = (expansion_l + reserve_l) * per_litre
    if min_l <= _SMALL_VESSEL_L:
        min_l = expansion_l * per_litre / (1.0 - _SMALL_VESSEL_RESERVE * per_litre)
        reserve_l = _SMALL_VESSEL_RESERVE * min_l
    return VesselNeed(expansion_l, reserve_l, min_l)


@dataclass(frozen=True)
class FillPressures:
    """Cold gauge pressures in kPa between which a vessel works: enough reserve, and room for the expansion."""

    min_kpa: float
    max_kpa: float


def fill_pressures(
    vessel_l: float, content_l: float, expansion: float, precharge_kpa: float, final_kpa: float
) -> FillPressures:
    """Range of cold fill pressure for a chosen vessel of `vessel_l` litres; other arguments as `vessel_need`.

    At the minimum pressure the vessel contains its reserve. At the maximum the pressure reaches `final_kpa` when hot.
    Source: Boyle's law; reserve as `vessel_need`. ValueError where the vessel is too small for both.

    >>> limits = fill_pressures(18.0, 100.0, 0.017, 100.0, 250.0)
    >>> round(limits.min_kpa), round(limits.max_kpa)
    (140, 200)
    """
    need = vessel_need(content_l, expansion, precharge_kpa, final_kpa)
    if not vessel_l >= need.min_volume_l * (1.0 - 1e-12):
        raise ValueError(f"vessel_l = {vessel_l:g}: must be at least {need.min_volume_l:.4g}")
    reserve_l = max(_RESERVE_SHARE * content_l, _MIN_RESERVE_L)
    if vessel_l <= _SMALL_VESSEL_L:
        reserve_l = _SMALL_VESSEL_RESERVE * vessel_l
    gas_kpa_l = vessel_l * (precharge_kpa + ATMOSPHERE_KPA)
    hot_gas_l = gas_kpa_l / (final_kpa + ATMOSPHERE_KPA)
    return FillPressures(
        min_kpa=gas_kpa_l / (vessel_l - reserve_l) - ATMOSPHERE_KPA,
        max_kpa=gas_kpa_l / (hot_gas_l + need.expansion_l) - ATMOSPHERE_KPA,
    )


def hot_pressure_kpa(vessel_l: float, expansion_l: float, precharge_kpa: float, fill_kpa: float) -> float:
    """Gauge pressure in kPa after the water has expanded by `expansion_l`, from a cold fill at `fill_kpa` gauge.

    Source: Boyle's law. ValueError where the fill is under the precharge or the water more than fills the vessel.

    >>> round(hot_pressure_kpa(18.0, 2.0, 100.0, 130.0), 1)
    163.7
    """
    _positive("vessel_l", vessel_l)
    if not 0.0 <= precharge_kpa <= fill_kpa:
        raise ValueError(f"fill_kpa = {fill_kpa:g}: must be at least the precharge, {precharge_kpa:g}, of 0 or above")
    gas_kpa_l = vessel_l * (precharge_kpa + ATMOSPHERE_KPA)
    hot_gas_l = gas_kpa_l / (fill_kpa + ATMOSPHERE_KPA) - expansion_l
    if not hot_gas_l > 0.0:
        raise ValueError(
            f"expansion_l = {expansion_l:g}: must be below {hot_gas_l + expansion_l:.4g}, the gas there is"
        )
    return gas_kpa_l / hot_gas_l - ATMOSPHERE_KPA


def strength_test_kpa(working_kpa: float, factor: float = TEST_FACTOR) -> float:
    """Gauge pressure in kPa of the strength test with water: `factor` times the maximum working pressure.

    The source of 1.3 is weak: see `TEST_FACTOR_SOURCE`, and state both in the report. This is not a test with air,
    which stores enough energy to injure people. ValueError for a pressure not above 0 or a factor below 1.

    >>> strength_test_kpa(300.0)
    390.0
    """
    _positive("working_kpa", working_kpa)
    if not (isfinite(factor) and factor >= 1.0):
        raise ValueError(f"factor = {factor:g}: must be 1 or above")
    return factor * working_kpa


def dose_l(content_l: float, percent: float) -> float:
    """Litres of inhibitor or cleaner for `content_l` litres of system at `percent` of the content, 0 to 100.

    The percentage is the product's own; cleaning, inhibitor and yearly check follow BS 7593:2019 as summarised
    in the trade. ValueError for a content not above 0 or a percentage outside the range.

    >>> dose_l(120.0, 1.0)
    1.2
    """
    _positive("content_l", content_l)
    if not 0.0 <= percent <= 100.0:
        raise ValueError(f"percent = {percent:g}: must be 0 to 100")
    return content_l * percent / 100.0


def _check_pressures(precharge_kpa: float, final_kpa: float) -> None:
    if not precharge_kpa >= 0.0:
        raise ValueError(f"precharge_kpa = {precharge_kpa:g}: must be 0 or above")
    if not (isfinite(final_kpa) and final_kpa > precharge_kpa):
        raise ValueError(f"final_kpa = {final_kpa:g}: must be above the precharge, {precharge_kpa:g}")


def _positive(name: str, value: float) -> None:
    if not (isfinite(value) and value > 0.0):
        raise ValueError(f"{name} = {value:g}: must be above 0")
