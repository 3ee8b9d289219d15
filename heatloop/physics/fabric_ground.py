"""U-values of floors and walls in contact with the ground: ISO 13370 (edition 2017).

The slab is the whole floor of the building, by its area and its exposed perimeter: a room's share
of the loss is its floor area times the U-value of the whole.
"""

from __future__ import annotations

import math

RSI_FLOOR_M2K_W = 0.17
RSE_GROUND_M2K_W = 0.04
# ISO 13370:2017 table 7: 1.5 clay or silt, 2.0 sand or gravel (also where unknown), 3.5 homogeneous rock
GROUND_CONDUCTIVITY_W_MK = {"clay or silt": 1.5, "sand or gravel": 2.0, "rock": 3.5}


def characteristic_dimension_m(area_m2: float, exposed_perimeter_m: float) -> float:
    """B' = A / (0.5 P), m, of the whole floor (ISO 13370:2017 eq. 2); ValueError unless both are above 0.

    >>> characteristic_dimension_m(50.0, 20.0)
    5.0
    """
    if not area_m2 > 0.0:
        raise ValueError(f"slab area {area_m2:g} m2, wanted above 0")
    if not exposed_perimeter_m > 0.0:
        raise ValueError(f"exposed perimeter {exposed_perimeter_m:g} m, wanted above 0")
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


def _equivalent_thickness_m(floor_m2k_w: float, wall_thickness_m: float, ground_w_mk: float) -> float:
    return wall_thickness_m + ground_w_mk * (RSI_FLOOR_M2K_W + floor_m2k_w + RSE_GROUND_M2K_W)
