"""Room geometry from a traverse: closure, area, perimeter and corners.

A traverse runs clockwise seen from above, the wall on the left hand. Closing error and its
distribution in proportion to length are the compass (Bowditch) rule of land surveying: Ghilani,
Elementary Surveying, 15th ed., chapter 10 (chapter number from memory). The area is by the
coordinate (shoelace) formula, chapter 12 of the same (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Corner = Literal["inside", "outside", "straight"]

CLOSING_FIXED_M = 0.020
CLOSING_SHARE = 0.003
STRAIGHT_WITHIN_DEG = 0.5
TURNS_WITHIN_DEG = 1.0


@dataclass(frozen=True)
class RoomGeometry:
    """The plan of one room, from its walls taken clockwise.

    `corners_m` holds one (x, y) per wall, the START of that wall, east and north in metres, first
    corner at the origin, with the misclosure shared out over the walls; `bearing_deg` each wall's
    bearing clockwise from north before that. `misclosure_m` and `misclosure_bearing_deg` are the distance
    and direction of the misclosure: from the first corner to the end of the last wall.
    """

    corners_m: tuple[tuple[float, float], ...]
    bearing_deg: tuple[float, ...]
    floor_area_m2: float
    perimeter_m: float
    misclosure_m: float
    misclosure_bearing_deg: float
    closing_tolerance_m: float

    @property
    def closes(self) -> bool:
        """Whether the measured lengths close within the tolerance."""
        return self.misclosure_m <= self.closing_tolerance_m


def corner_kind(turn_deg: float) -> Corner:
    """Kind of corner of a turn: inside (> 0), outside (< 0) or straight.

    `turn_deg` in degrees, 180 minus the angle inside the room; within 0.5 degrees of 0 is straight.

    >>> corner_kind(90.0), corner_kind(-45.0), corner_kind(0.0)
    ('inside', 'outside', 'straight')
    """
    if abs(turn_deg) <= STRAIGHT_WITHIN_DEG:
        return "straight"
    return "inside" if turn_deg > 0 else "outside"


def interior_angle_deg(turn_deg: float) -> float:
    """The angle measured inside the room, in degrees, for a turn in degrees.

    >>> interior_angle_deg(90.0), interior_angle_deg(-90.0)
    (90.0, 270.0)
    """
    return 180.0 - turn_deg


def closing_tolerance_m(perimeter_m: float) -> float:
    """The largest misclosure taken as tape error, in metres: 20 mm + 0.3 % of the perimeter.

    Common practice for taped rooms.

    >>> closing_tolerance_m(20.0)
    0.08
    """
    return CLOSING_FIXED_M + CLOSING_SHARE * perimeter_m


def room_geometry(
    lengths_m: Sequence[float], turns_deg: Sequence[float], first_bearing_deg: float = 0.0
) -> RoomGeometry:
    """The plan of a room from its walls, clockwise.

    `lengths_m` tape lengths in metres, `turns_deg` the turn at the END of each wall in degrees, same
    number; `first_bearing_deg` the bearing on which wall 1 is walked, clockwise from north.
    Turns that miss 360 degrees by at most 1 are first balanced, an equal share to each. Area and
    misclosure are the same from whichever wall the traverse starts. A traverse that closes keeps its
    tape lengths. Raises ValueError for fewer than three walls, for lists of different
    length, or for a length that is not above zero.
    Source: compass rule and coordinate area as named at the head of this module.
    """
    count = len(lengths_m)
    if count < 3 or count != len(turns_deg):
        raise ValueError(f"found {count} lengths and {len(turns_deg)} turns; required: three or more of each")
    if min(lengths_m) <= 0.0:
        raise ValueError(f"found a length of {min(lengths_m)} m; required: all above 0")
    missing = 360.0 - math.fsum(turns_deg)
    share_deg = missing / count if abs(missing) <= TURNS_WITHIN_DEG else 0.0
    bearings = [first_bearing_deg + math.fsum(turns_deg[:wall]) + wall * share_deg for wall in range(count)]
    steps = [
        (length * math.sin(math.radians(b)), length * math.cos(math.radians(b)))
        for length, b in zip(lengths_m, bearings, strict=True)
    ]
    gap_x = math.fsum(x for x, _ in steps)
    gap_y = math.fsum(y for _, y in steps)
    perimeter = math.fsum(lengths_m)
    corners = [(0.0, 0.0)]
    for (step_x, step_y), length in zip(steps[:-1], lengths_m[:-1], strict=True):
        x, y = corners[-1]
        share = length / perimeter
        corners.append((x + step_x - gap_x * share, y + step_y - gap_y * share))
    return RoomGeometry(
        corners_m=tuple(corners),
        bearing_deg=tuple(b % 360.0 for b in bearings),
        floor_area_m2=polygon_area_m2(corners),
        perimeter_m=perimeter,
        misclosure_m=math.hypot(gap_x, gap_y),
        misclosure_bearing_deg=math.degrees(math.atan2(gap_x, gap_y)) % 360.0,
        closing_tolerance_m=closing_tolerance_m(perimeter),
    )


def polygon_area_m2(corners_m: Sequence[tuple[float, float]]) -> float:
    """Area of a polygon by the coordinate formula, in square metres, positive when clockwise.

    `corners_m` (x east, y north) in metres, closed by itself.

    >>> polygon_area_m2([(0, 0), (0, 3), (4, 3), (4, 0)])
    12.0
    """
    pairs = zip(corners_m, [*corners_m[1:], *corners_m[:1]], strict=True)
    return math.fsum(x2 * y1 - x1 * y2 for (x1, y1), (x2, y2) in pairs) / 2.0


def crossing_walls(corners_m: Sequence[tuple[float, float]]) -> tuple[tuple[int, int], ...]:
    """Pairs of walls (numbers from 1) that cross or touch though they are not neighbours.

    `corners_m` the START of each wall in metres. Orientation test of computational geometry:
    de Berg et al., Computational Geometry, 3rd ed., chapter 2 (from memory).

    >>> crossing_walls([(0, 0), (0, 1), (1, 0), (1, 1)])
    ((2, 4),)
    """
    count = len(corners_m)
    walls = list(zip(corners_m, [*corners_m[1:], *corners_m[:1]], strict=True))
    return tuple(
        (i + 1, j + 1)
        for i in range(count)
        for j in range(i + 2, count)
        if (i, j) != (0, count - 1) and _meet(*walls[i], *walls[j])
    )


Point = tuple[float, float]


def _side(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _meet(a: Point, b: Point, c: Point, d: Point) -> bool:
    if _side(a, b, c) * _side(a, b, d) < 0 and _side(c, d, a) * _side(c, d, b) < 0:
        return True
    return any(_on(a, b, p) for p in (c, d)) or any(_on(c, d, p) for p in (a, b))


def _on(a: Point, b: Point, p: Point) -> bool:
    """Whether `p` lies on the segment within a millimetre: two walls then leave no room between."""
    length = math.dist(a, b)
    along = ((p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1])) / length
    return abs(_side(a, b, p)) / length < 1e-3 and -1e-3 < along < length + 1e-3
