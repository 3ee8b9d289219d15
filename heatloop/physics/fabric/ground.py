"""U-values of floors and walls in contact with the ground: ISO 13370 (edition 2017).

The slab is the whole floor of the building, by its area and its exposed perimeter: a room's share
of the loss is its floor area times the U-value of the whole.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

RSI_FLOOR_M2K_W = 0.17
RSI_WALL_M2K_W = 0.13
RSE_GROUND_M2K_W = 0.04
# ISO 13370:2017 table 7: 1.5 clay or silt, 2.0 sand or gravel (also where unknown), 3.5 homogeneous rock
GROUND_CONDUCTIVITY_W_MK = {"clay or silt": 1.5, "sand or gravel": 2.0, "rock": 3.5}


def characteristic_dimension_m(area_m2: float, exposed_perimeter_m: float) -> float:
    """B' = A / (0.5 P), m, of the whole floor (ISO 13370:2017 eq. 2); ValueError unless both are above 0.

    >>> characteristic_dimension_m(50.0, 20.0)
    5.0
    """
    if not area_m2 > 0.0:
        raise ValueError(f"slab area {area_m2:g} m2, must be above 0")
    if not exposed_perimeter_m > 0.0:
        raise ValueError(f"exposed perimeter {exposed_perimeter_m:g} m, must be above 0")
    return area_m2 / (0.5 * exposed_perimeter_m)


def slab_u_w_m2k(
    b_m: float,
    floor_m2k_w: float = 0.0,
    wall_thickness_m: float = 0.3,
    ground_w_mk: float = 2.0,
    depth_m: float = 0.0,
) -> float:
    """U of a slab on the ground, W/(m2 K), insulated all over by `floor_m2k_w` or not at all.

    `b_m` characteristic dimension; `depth_m` of a basement floor below the ground outside
    (ISO 13370:2017 7.1 and 7.4, equations 3 to 5 and 11 to 13).

    >>> round(slab_u_w_m2k(2 / 0.30, 0.0, 0.3, 1.5), 2)
    0.49
    """
    thickness = _equivalent_thickness_m(floor_m2k_w, wall_thickness_m, ground_w_mk)
    total = thickness + 0.5 * depth_m
    if total < b_m:
        return 2.0 * ground_w_mk / (math.pi * b_m + total) * math.log(math.pi * b_m / total + 1.0)
    return ground_w_mk / (0.457 * b_m + total)


@dataclass(frozen=True)
class EdgeStrip:
    """Insulation along the edge of a slab: `width_m` is how far it reaches inwards (flat) or downwards (upright)."""

    width_m: float
    thickness_m: float
    conductivity_w_mk: float
    upright: bool = False


def edge_insulation_psi_w_mk(
    strip: EdgeStrip, floor_m2k_w: float = 0.0, wall_thickness_m: float = 0.3, ground_w_mk: float = 2.0
) -> float:
    """Reduction along the slab's edge by insulation there, W/(m K), below zero.

    ISO 13370:2017 annex D, equations D.1 to D.6. Raises ValueError unless all lengths and conductivities are above 0.
    """
    insulation_m, insulation_w_mk = strip.thickness_m, strip.conductivity_w_mk
    for name, value in (("width_m", strip.width_m), ("thickness_m", insulation_m)):
        if not value > 0.0:
            raise ValueError(f"edge insulation {name} {value:g}, must be above 0")
    if not insulation_w_mk > 0.0:
        raise ValueError(f"edge insulation conductivity_w_mk {insulation_w_mk:g}, must be above 0")
    thickness = _equivalent_thickness_m(floor_m2k_w, wall_thickness_m, ground_w_mk)
    extra = (insulation_m / insulation_w_mk - insulation_m / ground_w_mk) * ground_w_mk
    reach = 2.0 * strip.width_m if strip.upright else strip.width_m
    return -ground_w_mk / math.pi * (math.log(reach / thickness + 1.0) - math.log(reach / (thickness + extra) + 1.0))


def edge_insulated_u_w_m2k(slab_w_m2k: float, psi_w_mk: float, b_m: float) -> float:
    """U of a slab with insulated edges: U + 2 psi / B' (ISO 13370:2017 annex D)."""
    return slab_w_m2k + 2.0 * psi_w_mk / b_m


@dataclass(frozen=True)
class Void:
    """The vented void under a floor: `height_m` of the deck above the ground outside; U of its walls; openings per
    metre of perimeter; mean wind at 10 m, and `wind_shelter` 0.02 (sheltered) to 0.10 (exposed)."""

    height_m: float
    wall_u_w_m2k: float
    vents_m2_m: float
    wind_m_s: float
    wind_shelter: float


def suspended_u_w_m2k(
    b_m: float,
    deck_m2k_w: float,
    void: Void,
    wall_thickness_m: float = 0.3,
    ground_w_mk: float = 2.0,
    ground_m2k_w: float = 0.0,
) -> float:
    """U of a floor suspended over a naturally vented void, W/(m2 K): ISO 13370:2017 7.2 and annex E.

    `deck_m2k_w` resistance of the deck without surfaces; `ground_m2k_w` insulation on the ground of the void.
    Range: ground of the void at most 0.5 m below the outside.

    >>> round(suspended_u_w_m2k(2 / 0.09, 0.2, Void(0.3, 1.5, 0.003, 5.0, 0.05), 0.3, 1.5), 2)
    0.25
    """
    thickness = _equivalent_thickness_m(ground_m2k_w, wall_thickness_m, ground_w_mk)
    ground = 2.0 * ground_w_mk / (math.pi * b_m + thickness) * math.log(math.pi * b_m / thickness + 1.0)
    through_walls = 2.0 * void.height_m * void.wall_u_w_m2k / b_m
    by_air = 1450.0 * void.vents_m2_m * void.wind_m_s * void.wind_shelter / b_m
    return 1.0 / (2.0 * RSI_FLOOR_M2K_W + deck_m2k_w + 1.0 / (ground + (through_walls + by_air)))


def basement_wall_u_w_m2k(
    depth_m: float,
    wall_m2k_w: float,
    floor_m2k_w: float = 0.0,
    wall_thickness_m: float = 0.3,
    ground_w_mk: float = 2.0,
) -> float:
    """U of a wall against the ground down to `depth_m`, W/(m2 K): ISO 13370:2017 7.4.3.

    `wall_m2k_w` resistance of the wall without surfaces. Raises ValueError unless `depth_m` is above 0.
    """
    if not depth_m > 0.0:
        raise ValueError(f"depth_below_ground_m {depth_m:g}, must be above 0")
    wall = ground_w_mk * (RSI_WALL_M2K_W + wall_m2k_w + RSE_GROUND_M2K_W)
    floor = min(_equivalent_thickness_m(floor_m2k_w, wall_thickness_m, ground_w_mk), wall)
    return (
        2.0
        * ground_w_mk
        / (math.pi * depth_m)
        * (1.0 + 0.5 * floor / (floor + depth_m))
        * math.log(depth_m / wall + 1.0)
    )


def _equivalent_thickness_m(floor_m2k_w: float, wall_thickness_m: float, ground_w_mk: float) -> float:
    return wall_thickness_m + ground_w_mk * (RSI_FLOOR_M2K_W + floor_m2k_w + RSE_GROUND_M2K_W)
