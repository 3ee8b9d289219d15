"""Snapping of clicks: square to the previous wall, on an existing corner or wall, in line with the first corner.

All distances are in pixels of the picture. `reach_px` is how far a point may be moved; towards other rooms it is half
of that, since the two faces of a partition are near each other.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from heatloop.survey.tracing.model import PixelPoint, PixelSegment, TracedRoom

SnapKind = Literal["free", "first corner", "corner", "wall", "square", "in line"]

STEP_DEG = 45.0
ON_LINE_PX = 1e-6
MIN_CORNERS = 3


@dataclass(frozen=True)
class Snap:
    """A snapped point, the kind of snap, and the pixel size of the clicks that an existing corner or wall came from."""

    point: PixelPoint
    kind: SnapKind
    click_px: float = 0.0


@dataclass(frozen=True)
class WallPoint:
    """A point on a wall of a room, and that wall."""

    point: PixelPoint
    wall: PixelSegment
    off_px: float


def snapped_corner(
    at: PixelPoint,
    corners: Sequence[PixelPoint],
    others: Sequence[TracedRoom],
    reach_px: float,
    frame_deg: float = 0.0,
    free: bool = False,
) -> Snap:
    """The next corner of a room for a click at `at`, after the `corners` placed already.

    The first corner is taken where it is near and closes the room. Otherwise the wall is set to the nearest multiple of
    45 degrees from the frame or from the wall before it, if the point is within reach of that direction; along it the
    point is set in line with the first corner, or on another room. `others` are rooms of the same level, `frame_deg` is
    the direction that counts as level. `free` leaves the point where it is, but for the first corner.

    >>> snapped_corner((203.0, 4.0), [(0.0, 0.0)], (), 8.0)
    Snap(point=(203.0, 0.0), kind='square', click_px=0.0)
    """
    if len(corners) >= MIN_CORNERS and math.dist(at, corners[0]) <= reach_px:
        return Snap(corners[0], "first corner")
    if free:
        return Snap(at, "free")
    if not corners:
        return _on_other(at, others, reach_px / 2.0) or Snap(at, "free")
    lines = _directions(corners, frame_deg)
    corner = _nearest_corner(at, others, reach_px / 2.0)
    if corner is not None and any(_off(corner.point, corners[-1], line) <= ON_LINE_PX for line in lines):
        return corner
    line = min(lines, key=lambda one: _off(at, corners[-1], one))
    if _off(at, corners[-1], line) > reach_px:
        return corner or Snap(at, "free")
    return _along(_foot(at, corners[-1], line), corners, others, reach_px, line)


def point_on_wall(at: PixelPoint, walls: Iterable[PixelSegment], reach_px: float) -> WallPoint | None:
    """The nearest point of the walls, if one is within reach; its distance comes with it."""
    found = [WallPoint(foot, wall, math.dist(at, foot)) for wall in walls for foot in (held_to_wall(at, wall),)]
    near = min(found, key=lambda one: one.off_px, default=None)
    return near if near is not None and near.off_px <= reach_px else None


def held_to_wall(at: PixelPoint, wall: PixelSegment) -> PixelPoint:
    """The point of a wall that is nearest to a point.

    >>> held_to_wall((12.0, 3.0), ((0.0, 0.0), (10.0, 0.0)))
    (10.0, 0.0)
    """
    (x0, y0), (x1, y1) = wall
    dx, dy = x1 - x0, y1 - y0
    share = ((at[0] - x0) * dx + (at[1] - y0) * dy) / (dx * dx + dy * dy)
    share = min(max(share, 0.0), 1.0)
    return x0 + share * dx, y0 + share * dy


def direction_deg(a: PixelPoint, b: PixelPoint) -> float:
    """The direction from a to b in the picture, in degrees."""
    return math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))


def _directions(corners: Sequence[PixelPoint], frame_deg: float) -> list[tuple[float, float]]:
    """Directions, as unit vectors, that a wall may be set to: the frame's and those of the wall before."""
    bases = [frame_deg]
    if len(corners) > 1:
        bases.append(direction_deg(corners[-2], corners[-1]))
    return [_unit(base + k * STEP_DEG) for base in bases for k in range(4)]


def _unit(angle_deg: float) -> tuple[float, float]:
    """Unit vector of a direction; exact for those along the sides of the picture."""
    quarter = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
    turn = angle_deg % 360.0
    return quarter.get(turn, (math.cos(math.radians(turn)), math.sin(math.radians(turn))))


def _off(at: PixelPoint, origin: PixelPoint, line: tuple[float, float]) -> float:
    """Distance of a point from a line through an origin."""
    return abs((at[0] - origin[0]) * line[1] - (at[1] - origin[1]) * line[0])


def _foot(at: PixelPoint, origin: PixelPoint, line: tuple[float, float]) -> PixelPoint:
    """The point of a line that is nearest to a point."""
    along = (at[0] - origin[0]) * line[0] + (at[1] - origin[1]) * line[1]
    return origin[0] + along * line[0], origin[1] + along * line[1]


def _along(
    foot: PixelPoint,
    corners: Sequence[PixelPoint],
    others: Sequence[TracedRoom],
    reach_px: float,
    line: tuple[float, float],
) -> Snap:
    """A point of the line of a wall, moved along it to what is near."""
    if len(corners) > 1:
        marks = [
            _meet(corners[-1], line, corners[0], _unit(k * STEP_DEG + direction_deg(*corners[:2]))) for k in (0, 2)
        ]
        near = [mark for mark in marks if mark is not None and math.dist(mark, foot) <= reach_px]
        if near:
            return Snap(min(near, key=lambda mark: math.dist(mark, foot)), "in line")
    for room in others:
        for a, b in room.walls_px:
            mark = _meet(corners[-1], line, a, _unit(direction_deg(a, b)))
            beside = mark is not None and math.dist(held_to_wall(mark, (a, b)), mark) <= ON_LINE_PX
            if mark is not None and beside and math.dist(mark, foot) <= reach_px / 2.0:
                return Snap(mark, "wall", room.click_px)
    return Snap(foot, "square")


def _meet(
    origin: PixelPoint, line: tuple[float, float], other: PixelPoint, other_line: tuple[float, float]
) -> PixelPoint | None:
    """Where two lines meet; None where they are parallel."""
    cross = line[0] * other_line[1] - line[1] * other_line[0]
    if abs(cross) < 0.1:
        return None
    t = ((other[0] - origin[0]) * other_line[1] - (other[1] - origin[1]) * other_line[0]) / cross
    return origin[0] + t * line[0], origin[1] + t * line[1]


def _nearest_corner(at: PixelPoint, others: Sequence[TracedRoom], reach_px: float) -> Snap | None:
    found = [Snap(corner, "corner", room.click_px) for room in others for corner in room.corners_px]
    near = min(found, key=lambda one: math.dist(at, one.point), default=None)
    return near if near is not None and math.dist(at, near.point) <= reach_px else None


def _on_other(at: PixelPoint, others: Sequence[TracedRoom], reach_px: float) -> Snap | None:
    """A corner of another room, else a point on its wall."""
    corner = _nearest_corner(at, others, reach_px)
    if corner is not None:
        return corner
    found = [(place, room) for room in others if (place := point_on_wall(at, room.walls_px, reach_px)) is not None]
    if not found:
        return None
    place, room = min(found, key=lambda one: one[0].off_px)
    return Snap(place.point, "wall", room.click_px)
