"""Valves: flow coefficient Kv, pressure drop, settings and authority.

Kv is the flow in m3/h of water of 1000 kg/m3 that passes at a drop of 1 bar (IEC 60534-1, EN 60534), in fully
turbulent flow: dp = 1e5 Pa (q / Kv)^2 rho / 1000. Functions take single numbers unless stated otherwise.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from math import exp, inf, isfinite, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

_BAR_PA = 1e5
_KV_DENSITY_KG_M3 = 1000.0
_HOUR_S = 3600.0
_KV_RESISTANCE = _BAR_PA / _KV_DENSITY_KG_M3  # of Kv 1 m3/h, on volume flow in m3/h and density in kg/m3
_KV_PER_CV = 0.865  # m3/h at 1 bar for one US gallon a minute at 1 psi, as rounded in IEC 60534-1


def pressure_drop_from_kv_pa(flow_m3_h: float, kv_m3_h: float, density_kg_m3: float) -> float:
    """Drop in Pa of `flow_m3_h` through a valve of `kv_m3_h`, with the sign of the flow.

    Source: definition of Kv, IEC 60534-1. ValueError for a Kv or density not above 0.

    >>> round(pressure_drop_from_kv_pa(0.2, 0.4, 988.0))
    24700
    """
    _positive("kv_m3_h", kv_m3_h)
    _positive("density_kg_m3", density_kg_m3)
    ratio = _finite("flow_m3_h", flow_m3_h) / kv_m3_h
    return _BAR_PA * (ratio * abs(ratio)) * density_kg_m3 / _KV_DENSITY_KG_M3


def kv_from_pressure_drop(flow_m3_h: float, pressure_drop_pa: float, density_kg_m3: float) -> float:
    """Kv in m3/h that passes `flow_m3_h` at `pressure_drop_pa`.

    Source: definition of Kv, IEC 60534-1. ValueError for an argument not above 0.

    >>> round(kv_from_pressure_drop(0.2, 6250.0, 1000.0), 3)
    0.8
    """
    _positive("flow_m3_h", flow_m3_h)
    _positive("pressure_drop_pa", pressure_drop_pa)
    _positive("density_kg_m3", density_kg_m3)
    return flow_m3_h * sqrt(_BAR_PA * density_kg_m3 / _KV_DENSITY_KG_M3 / pressure_drop_pa)


def flow_from_pressure_drop_m3_h(pressure_drop_pa: float, kv_m3_h: float, density_kg_m3: float) -> float:
    """Flow in m3/h through a valve of `kv_m3_h` at `pressure_drop_pa`, with the sign of the drop.

    Source: definition of Kv, IEC 60534-1. ValueError for a Kv or density not above 0.

    >>> round(flow_from_pressure_drop_m3_h(6250.0, 0.8, 1000.0), 3)
    0.2
    """
    _positive("kv_m3_h", kv_m3_h)
    _positive("density_kg_m3", density_kg_m3)
    drop = _finite("pressure_drop_pa", pressure_drop_pa)
    flow = kv_m3_h * sqrt(abs(drop) / _BAR_PA * _KV_DENSITY_KG_M3 / density_kg_m3)
    return flow if drop >= 0.0 else -flow


def kv_from_cv(cv: float) -> float:
    """Kv in m3/h of a valve rated by `cv` (US gallons a minute at 1 psi): 0.865 Cv (IEC 60534-1).

    ValueError for a Cv not above 0.

    >>> round(kv_from_cv(1.0), 3)
    0.865
    """
    _positive("cv", cv)
    return _KV_PER_CV * cv


def zeta_from_kv(kv_m3_h: float, bore_m: float) -> float:
    """Loss coefficient of a valve referred to the velocity in a round `bore_m` (m), dimensionless.

    From both definitions of the same drop, zeta = 200 (3600 pi d^2 / 4 / Kv)^2, often printed as
    1.6e9 d^4 / Kv^2. ValueError for an argument not above 0.

    >>> round(zeta_from_kv(0.8, 0.013), 1)
    71.4
    """
    _positive("kv_m3_h", kv_m3_h)
    return 200.0 * (_flow_at_1_m_s(bore_m) / kv_m3_h) ** 2


def kv_from_zeta(zeta: float, bore_m: float) -> float:
    """Kv in m3/h of a fitting with `zeta` on the velocity in a round `bore_m` (m): the inverse of `zeta_from_kv`.

    ValueError for an argument not above 0.

    >>> round(kv_from_zeta(71.3, 0.013), 2)
    0.8
    """
    _positive("zeta", zeta)
    return _flow_at_1_m_s(bore_m) * sqrt(200.0 / zeta)


def kv_resistance_1_m4(kv_m3_h: NDArray[np.float64]) -> NDArray[np.float64]:
    """Drop of a valve times density over its mass flow squared, 1/m4, for an array of Kv in m3/h (inf: none).

    dp = kv_resistance m^2 / rho with m in kg/s, which is 100 (3600 / Kv)^2. Source: definition of Kv, IEC 60534-1.

    >>> [f"{value:.3g}" for value in kv_resistance_1_m4(np.array([0.5, 1.0]))]
    ['5.18e+09', '1.3e+09']
    """
    return np.asarray(_KV_RESISTANCE * (_HOUR_S / kv_m3_h) ** 2)


def kv_with_zeta(kv_m3_h: float, zeta: float, area_m2: float) -> float:
    """Kv in m3/h that drops as much as a valve of `kv_m3_h` (inf: none) in series with a `zeta` in a bore of `area_m2`.

    Drops of both add up: 100 (3600 / Kv)^2 and zeta / (2 area^2), times m^2 / rho. Inf where neither drops anything.
    Source: definitions of Kv (IEC 60534-1) and zeta.

    >>> round(kv_with_zeta(0.8, 10.0, 1.33e-4), 3)
    0.749
    """
    both = _KV_RESISTANCE * (_HOUR_S / kv_m3_h) ** 2 + 0.5 * zeta / area_m2**2
    return _HOUR_S * sqrt(_KV_RESISTANCE / both) if both > 0.0 else inf


def authority(valve_drop_pa: float, rest_drop_pa: float) -> float:
    """Share of the drop of its circuit that the open valve takes, 0 to 1: dp / (dp + rest), drops in Pa.

    Source: common definition in hydronics. ValueError for a negative drop, or none at all.

    >>> authority(5000.0, 5000.0)
    0.5
    """
    for name, value in (("valve_drop_pa", valve_drop_pa), ("rest_drop_pa", rest_drop_pa)):
        if _finite(name, value) < 0.0:
            raise ValueError(f"{name} = {value:g}: must be 0 or above")
    _positive("valve_drop_pa + rest_drop_pa", valve_drop_pa + rest_drop_pa)
    return valve_drop_pa / (valve_drop_pa + rest_drop_pa)


def valve_drop_for_authority_pa(required_authority: float, rest_drop_pa: float) -> float:
    """Drop in Pa that the valve must take to have `target_authority` (between 0 and 1) against `rest_drop_pa`.

    Source: common definition in hydronics. ValueError for an authority outside the range or a drop not above 0.

    >>> valve_drop_for_authority_pa(0.5, 5000.0)
    5000.0
    """
    if not 0.0 < required_authority < 1.0:
        raise ValueError(f"required_authority = {required_authority:g}: must be between 0 and 1")
    _positive("rest_drop_pa", rest_drop_pa)
    return rest_drop_pa * required_authority / (1.0 - required_authority)


def kv_at_setting(setting: float, kv_by_setting: Sequence[float]) -> float:
    """Kv in m3/h at a `setting` of a valve whose Kv at settings 1, 2, 3 ... are `kv_by_setting` (rising).

    Between whole settings ln Kv is taken as linear (a constant ratio per turn, as in an equal-percentage
    valve); the data sheet's own values are met exactly. ValueError for a setting beyond the first or the last.

    >>> round(kv_at_setting(2.5, (0.1, 0.2, 0.4)), 3)
    0.283
    """
    _check_curve(kv_by_setting)
    if not 1.0 <= setting <= len(kv_by_setting):
        raise ValueError(f"setting = {setting:g}: must be 1 to {len(kv_by_setting)}")
    below = min(int(setting), len(kv_by_setting) - 1)
    part = setting - below
    if part == 0.0:
        return float(kv_by_setting[below - 1])
    if part == 1.0:
        return float(kv_by_setting[below])
    return kv_by_setting[below - 1] * exp(part * log(kv_by_setting[below] / kv_by_setting[below - 1]))


def setting_for_kv(kv_m3_h: float, kv_by_setting: Sequence[float]) -> float:
    """Setting, with its fraction, at which `kv_at_setting` gives `kv_m3_h`.

    ValueError for a Kv (m3/h) under that of setting 1 or over that of the last.

    >>> round(setting_for_kv(0.2, [0.1, 0.4]), 6)
    1.5
    """
    _check_curve(kv_by_setting)
    if not kv_by_setting[0] <= kv_m3_h <= kv_by_setting[-1]:
        raise ValueError(
            f"kv_m3_h = {kv_m3_h:.4g}: must be {kv_by_setting[0]:g} (setting 1) to {kv_by_setting[-1]:g} "
            f"(setting {len(kv_by_setting)})"
        )
    if kv_m3_h == kv_by_setting[0]:
        return 1.0
    below = min(bisect_right(kv_by_setting, kv_m3_h), len(kv_by_setting) - 1)
    low, high = kv_by_setting[below - 1], kv_by_setting[below]
    return below + log(kv_m3_h / low) / log(high / low)


def nearest_setting(kv_m3_h: float, kv_by_setting: Sequence[float]) -> tuple[int, float]:
    """Whole setting whose Kv is nearest to `kv_m3_h` in ratio, and that Kv in m3/h; beyond either end, the end.

    ValueError for a Kv not above 0.

    >>> nearest_setting(0.22, (0.1, 0.2, 0.4))
    (2, 0.2)
    """
    _check_curve(kv_by_setting)
    _positive("kv_m3_h", kv_m3_h)
    best = min(range(len(kv_by_setting)), key=lambda i: abs(log(kv_by_setting[i] / kv_m3_h)))
    return best + 1, float(kv_by_setting[best])


def _check_curve(kv_by_setting: Sequence[float]) -> None:
    if len(kv_by_setting) == 0:
        raise ValueError("kv_by_setting is empty: must hold the Kv of setting 1, 2, 3 ...")
    below = 0.0
    for i, kv in enumerate(kv_by_setting, start=1):
        if not (isfinite(kv) and kv > below):
            raise ValueError(f"kv_by_setting, setting {i}: {kv:g}, must be above {below:g} (Kv rises with setting)")
        below = kv


def _flow_at_1_m_s(bore_m: float) -> float:
    """Flow in m3/h that moves at 1 m/s in a round bore."""
    _positive("bore_m", bore_m)
    return _HOUR_S * pi * bore_m**2 / 4.0


def _finite(name: str, value: float) -> float:
    if not isfinite(value):
        raise ValueError(f"{name} = {value:g}: must be a finite number")
    return value


def _positive(name: str, value: float) -> None:
    if not (isfinite(value) and value > 0.0):
        raise ValueError(f"{name} = {value:g}: must be above 0")
