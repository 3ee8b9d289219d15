"""Room geometry from a traverse: closure, area, perimeter and corners."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class RoomGeometry:
    """The plan of one room, from its walls taken clockwise.

    `corners_m` holds one (x, y) per wall, the START of that wall, east and north in metres, first
    corner at the origin, with the misclosure shared out over the walls; `bearing_deg` each wall's
    bearing clockwise from north before that. `misclosure_m` and `misclosure_bearing_deg` tell by how much and
    which way the tape lengths fail to close.
    """

    corners_m: tuple[tuple[float, float], ...]
    bearing_deg: tuple[float, ...]
    floor_area_m2: float
    perimeter_m: float
    misclosure_m: float
    misclosure_bearing_deg: float
    closing_tolerance_m: float
