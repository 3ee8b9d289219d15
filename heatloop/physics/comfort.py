"""Local comfort beside cold glazing and safety of warm surfaces: pure functions and a table.

Draught and radiant asymmetry by ISO 7730; the downdraught of a cold pane by Heiselberg (1994).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

KELVIN = 273.15
RSI_GLASS_M2K_W = 0.13

AsymmetryKind = Literal["warm ceiling", "cool wall", "cool ceiling", "warm wall"]

# ISO 7730:2005 6.5, equations 8 to 11 (from memory): a, b and c of 100 / (1 + exp(a - b x)) - c,
# and the largest asymmetry, K, for which each holds
_ASYMMETRY: dict[AsymmetryKind, tuple[float, float, float, float]] = {
    "warm ceiling": (2.84, 0.174, 5.5, 23.0),
    "cool wall": (6.61, 0.345, 0.0, 15.0),
    "cool ceiling": (9.93, 0.50, 0.0, 15.0),
    "warm wall": (3.72, 0.052, 3.5, 35.0),
}


@dataclass(frozen=True)
class SurfaceTemperatureLimit:
    """The warmest a touchable surface may be, for whom or how long, with its source."""

    what: str
    contact_s: float | None
    limit_c: float
    source: str
    provenance: str


TOUCH_LIMITS = (
    SurfaceTemperatureLimit(
        "surfaces that vulnerable people may touch, at the largest design output",
        None,
        43.0,
        "HSE HSG220, Health and safety in care homes",
        "quoted by others",
    ),
    SurfaceTemperatureLimit("burn threshold, 1 min contact", 60.0, 51.0, "EN ISO 13732-1", "from memory"),
    SurfaceTemperatureLimit("burn threshold, 10 min contact", 600.0, 48.0, "EN ISO 13732-1", "from memory"),
    SurfaceTemperatureLimit("burn threshold, 8 h contact and longer", 28800.0, 43.0, "EN ISO 13732-1", "from memory"),
)


def burn_threshold_c(contact_s: float) -> float:
    """Surface temperature below which a contact of `contact_s` seconds does not burn, °C.

    EN ISO 13732-1 gives 51, 48 and 43 °C for 1 min, 10 min and 8 h, whatever the material; between
    them the value of the longer time is used, which is cautious. Raises ValueError below 60 s, where the
    material matters.

    >>> burn_threshold_c(60.0), burn_threshold_c(900.0)
    (51.0, 43.0)
    """
    if contact_s < 60.0:
        raise ValueError(f"contact_s {contact_s:g}, must be 60 s or more; shorter contact depends on material")
    thresholds = [limit for limit in TOUCH_LIMITS if limit.contact_s is not None]
    longer = [limit.limit_c for limit in thresholds if limit.contact_s is not None and limit.contact_s >= contact_s]
    return max(longer) if longer else min(limit.limit_c for limit in thresholds)


def draught_rate_percent(air_c: float, velocity_m_s: float, turbulence_percent: float = 40.0) -> float:
    """People dissatisfied by draught, percent: ISO 7730:2005 6.2, equation 6.

    Air 20 to 26 °C, mean velocity below 0.5 m/s (below 0.05 m/s counts as 0.05), turbulence 10 to 60 %
    (40 where unknown), for sedentary people at light work. At most 100. Raises ValueError above 34 °C, where
    air does not cool.

    >>> round(draught_rate_percent(20.0, 0.2, 40.0), 2)
    26.34
    """
    if air_c > 34.0:
        raise ValueError(f"air_c {air_c:g}, must be at most 34")
    velocity = max(velocity_m_s, 0.05)
    excess = float((velocity - 0.05) ** 0.62)
    rate = (34.0 - air_c) * excess * (0.37 * velocity * turbulence_percent + 3.14)
    return min(rate, 100.0)


def downdraught_velocity_m_s(pane_height_m: float, excess_k: float, distance_m: float) -> float:
    """Largest air velocity on the floor `distance_m` from a cold pane, m/s.

    `excess_k` is room air less glass surface. Heiselberg (1994) as quoted by Manz and Frank (2004): 0.083 sqrt(D H) to
    0.4 m, 0.143 sqrt(D H) / (x + 1.32) to 2 m, 0.043 sqrt(D H) beyond. For a free, unheated pane down to the floor.
    Where a sill or heated skirting interrupts the flow of air, this is an upper limit.

    >>> round(downdraught_velocity_m_s(2.0, 10.0, 0.0), 3)
    0.371
    """
    if pane_height_m < 0.0 or distance_m < 0.0:
        raise ValueError("a length below 0, must be 0 or above")
    root = math.sqrt(max(excess_k, 0.0) * pane_height_m)
    if distance_m < 0.4:
        return 0.083 * root
    if distance_m <= 2.0:
        return 0.143 * root / (distance_m + 1.32)
    return 0.043 * root


def glass_inner_c(indoor_c: float, outdoor_c: float, u_w_m2k: float) -> float:
    """Inside surface temperature of a pane, °C: indoor - U Rsi (indoor - outdoor).

    Steady conduction with Rsi 0.13 m2 K/W of ISO 6946; the middle of the pane, away from its edges.

    >>> round(glass_inner_c(20.0, -5.0, 1.2), 2)
    16.1
    """
    return indoor_c - u_w_m2k * RSI_GLASS_M2K_W * (indoor_c - outdoor_c)


def glazing_loss_w_m(u_w_m2k: float, height_m: float, excess_k: float) -> float:
    """Loss of a pane per metre of its width, W/m: U H dT.

    Convention of this program: an upper limit for the required output of skirting below glazing. No published rule is
    known.

    >>> glazing_loss_w_m(1.2, 2.0, 25.0)
    60.0
    """
    return u_w_m2k * height_m * excess_k


def pane_view_factor(width_m: float, height_m: float, distance_m: float) -> float:
    """View factor of a pane from a small vertical plane that faces the middle of the pane.

    Four times the factor of a plane element opposite the corner of a parallel rectangle (ISO 7726:1998
    annex B, and any radiation text). ValueError unless `distance_m` is above 0.

    >>> round(pane_view_factor(2.0, 2.0, 1.0), 3)
    0.554
    """
    if not distance_m > 0.0:
        raise ValueError(f"distance_m {distance_m:g}, must be above 0")
    x, y = 0.5 * width_m / distance_m, 0.5 * height_m / distance_m
    root_x, root_y = math.sqrt(1.0 + x * x), math.sqrt(1.0 + y * y)
    corner = (x / root_x * math.atan(y / root_x) + y / root_y * math.atan(x / root_y)) / (2.0 * math.pi)
    return 4.0 * corner


def radiant_asymmetry_k(view_factor: float, glass_c: float, room_surfaces_c: float) -> float:
    """Radiant temperature asymmetry beside a pane, K: plane radiant temperature of the room's side less
    that of the pane's side, both by fourth powers (ISO 7726:1998 annex B).

    >>> round(radiant_asymmetry_k(0.5, 10.0, 20.0), 2)
    4.87
    """
    room = (room_surfaces_c + KELVIN) ** 4
    pane = view_factor * (glass_c + KELVIN) ** 4 + (1.0 - view_factor) * room
    return float(room**0.25 - pane**0.25)


def asymmetry_dissatisfied_percent(asymmetry_k: float, kind: AsymmetryKind) -> float:
    """People dissatisfied by radiant asymmetry, percent: ISO 7730:2005 6.5, never below 0.

    Valid to 23 K (warm ceiling), 15 K (cool wall, cool ceiling), 35 K (warm wall); ValueError beyond.

    >>> round(asymmetry_dissatisfied_percent(10.0, "cool wall"), 1)
    4.1
    """
    a, b, c, limit_k = _ASYMMETRY[kind]
    if not asymmetry_k <= limit_k:
        raise ValueError(f"asymmetry_k {asymmetry_k:g}, must be at most {limit_k:g} for a {kind}")
    return max(100.0 / (1.0 + math.exp(a - b * asymmetry_k)) - c, 0.0)
