"""Rooms from the outlines of a drawing: traverses, doorways on their walls, and the room behind each wall.

Lengths are those of the drawing to the millimetre. Turns near a multiple of 45 degrees are set to it if the walls then
still close; other turns have the angle of the drawing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from heatloop.survey.drawing.outlines import Outline, Point, Segment, turn_deg
from heatloop.survey.room_geometry import polygon_area_m2, room_geometry

SNAP_STEP_DEG = 45.0
CLOSE_WITHIN_M = 0.010
PARALLEL_DEG = 10.0
STEP_M = 0.25
"""A stretch of wall shorter than this, with another space behind it, is added to the stretch beside it."""
OVERSHOOT_M = 0.10
"""Distance by which the block of a door may exceed its wall: the frame."""


OpeningKind = Literal["window", "glazed door", "door"]


@dataclass(frozen=True)
class Alignment:
    """Corrections of the drawing.

    Angles within `snap_deg` of a multiple of 45 degrees are set to it. Walls between rooms are at most `wall_m` thick.
    `north_deg` is the bearing of the upward direction of the drawing.
    """

    snap_deg: float
    wall_m: float
    north_deg: float = 0.0


@dataclass(frozen=True)
class DrawnOpeningSymbol:
    """A doorway or window as drawn: its middle and direction, `width_m`, and the maximum distance from its wall.

    `at_m` is its position in the drawing, for messages; heights are None where the drawing does not state them.
    """

    kind: OpeningKind
    middle_m: Point
    along: Point
    width_m: float
    near_m: float
    at_m: Point
    name: str = ""
    height_m: float | None = None
    sill_m: float | None = None


@dataclass(frozen=True)
class DrawnOpening:
    """An opening in a wall; `start_m` from the left-hand end. `name` is shared by the two sides of a doorway."""

    kind: OpeningKind
    start_m: float
    width_m: float
    name: str = ""
    height_m: float | None = None
    sill_m: float | None = None

    @property
    def end_m(self) -> float:
        return self.start_m + self.width_m


@dataclass(frozen=True)
class DrawnWall:
    """A wall of a traverse; `beyond` is the room behind it, None where nothing is drawn there."""

    length_m: float
    turn_deg: float
    bearing_deg: float
    beyond: str | None = None
    openings: tuple[DrawnOpening, ...] = ()


@dataclass(frozen=True)
class DrawnRoom:
    """A room as drawn: its walls clockwise from its south-west corner, and its level."""

    name: str
    walls: tuple[DrawnWall, ...]
    drawn_area_m2: float
    level_m: float = 0.0

    @property
    def first_wall_bearing_deg(self) -> float:
        """Bearing of wall 1, clockwise from north."""
        return self.walls[0].bearing_deg


@dataclass(frozen=True)
class UnplacedOpening:
    """An opening that belongs to no wall, and the reason."""

    mouth: DrawnOpeningSymbol
    found: str
    required: str


def drawn_rooms(
    outlines: Sequence[Outline], names: Sequence[str], mouths: Sequence[DrawnOpeningSymbol], alignment: Alignment
) -> tuple[tuple[DrawnRoom, ...], list[UnplacedOpening]]:
    """Rooms of outlines, by name, with the openings on their walls; and the openings on no wall.

    Doorways left as gaps in the outlines are openings too. Two rooms whose walls face each other across at most the
    thickness of a wall share the doorways between them under one name.
    """
    gaps = [_gap(segment) for outline in outlines for segment in outline.gaps]
    placed: list[list[list[DrawnOpening]]] = [[[] for _ in outline.walls] for outline in outlines]
    unplaced: list[UnplacedOpening] = []
    used: set[str] = set()
    for mouth in (*mouths, *gaps):
        sides = _sides(outlines, mouth, alignment.wall_m)
        if not sides:
            unplaced.append(_unplaced(outlines, mouth))
            continue
        sides = [side for side in sides if not _taken(placed[side[0]][side[1]], side[2])]
        if not sides:
            continue
        name = _name([names[room] for room, *_ in sides], mouth, used)
        for room, wall, (start_m, _) in sides:
            length_m = round(math.dist(*outlines[room].walls[wall]), 3)
            placed[room][wall].append(_opening(mouth, name, start_m, length_m))
    rooms = tuple(_room(outlines, names, index, placed[index], alignment) for index in range(len(outlines)))
    return rooms, unplaced


def traverse_turns_deg(corners_m: Sequence[Point], snap_deg: float) -> tuple[float, ...]:
    """The turn at the end of each wall, set to the nearest 45 degrees within `snap_deg` if the walls then close.

    >>> traverse_turns_deg([(0, 0), (0.01, 3), (4, 3), (4, 0)], 1.0)
    (90.0, 90.0, 90.0, 90.0)
    """
    count = len(corners_m)
    drawn = [turn_deg(corners_m[i], corners_m[(i + 1) % count], corners_m[(i + 2) % count]) for i in range(count)]
    snapped = [round(t / SNAP_STEP_DEG) * SNAP_STEP_DEG for t in drawn]
    turns = [s if abs(s - t) <= snap_deg and s != 0.0 else round(t, 2) for s, t in zip(snapped, drawn, strict=True)]
    lengths = [round(math.dist(corners_m[i], corners_m[(i + 1) % count]), 3) for i in range(count)]
    if abs(math.fsum(turns) - 360.0) <= 1.0 and room_geometry(lengths, turns).misclosure_m <= CLOSE_WITHIN_M:
        return tuple(turns)
    return tuple(round(t, 3) for t in drawn)


def _gap(segment: Segment) -> DrawnOpeningSymbol:
    (x0, y0), (x1, y1) = segment
    width_m = math.dist(*segment)
    middle = ((x0 + x1) / 2.0, (y0 + y1) / 2.0)
    return DrawnOpeningSymbol("door", middle, ((x1 - x0) / width_m, (y1 - y0) / width_m), width_m, 0.05, middle)


Side = tuple[int, int, tuple[float, float]]
"""Room, wall (from 0) and the stretch of the wall from its left-hand end, m."""


def _sides(outlines: Sequence[Outline], mouth: DrawnOpeningSymbol, wall_m: float) -> list[Side]:
    """Walls of an opening: the nearest, and the one that faces it in another room."""
    both_sides = []
    for room, outline in enumerate(outlines):
        best: tuple[float, int, tuple[float, float]] | None = None
        for wall, ends in enumerate(outline.walls):
            off_m, stretch = _on(ends, mouth)
            if abs(off_m) <= mouth.near_m + wall_m and stretch is not None and (best is None or abs(off_m) < best[0]):
                best = abs(off_m), wall, stretch
        if best is not None:
            both_sides.append((best[0], room, best[1], best[2]))
    both_sides.sort(key=lambda item: (round(item[0], 3), item[1]))
    if not both_sides or both_sides[0][0] > mouth.near_m:
        return []
    first = both_sides[0]
    sides: list[Side] = [first[1:]]
    for _, room, wall, stretch in both_sides[1:]:
        if _apart_m(outlines[first[1]].walls[first[2]], outlines[room].walls[wall], wall_m) is not None:
            sides.append((room, wall, stretch))
            break
    return sides


def _on(ends: Segment, mouth: DrawnOpeningSymbol) -> tuple[float, tuple[float, float] | None]:
    """Distance of the middle of an opening from the line of a wall, and its stretch on the wall if it lies along it."""
    (x0, y0), (x1, y1) = ends
    length_m = math.dist(*ends)
    ux, uy = (x1 - x0) / length_m, (y1 - y0) / length_m
    dx, dy = mouth.middle_m[0] - x0, mouth.middle_m[1] - y0
    off_m, at_m = uy * dx - ux * dy, ux * dx + uy * dy
    if abs(ux * mouth.along[0] + uy * mouth.along[1]) < math.cos(math.radians(PARALLEL_DEG)):
        return off_m, None
    start_m, end_m = at_m - mouth.width_m / 2.0, at_m + mouth.width_m / 2.0
    if start_m < -OVERSHOOT_M or end_m > length_m + OVERSHOOT_M:
        return off_m, None
    return off_m, (max(start_m, 0.0), min(end_m, length_m))


def _apart_m(segment: Segment, other: Segment, wall_m: float) -> float | None:
    """Thickness between two walls that face each other back to back; None where they do not."""
    (ax, ay), (bx, by) = segment
    (cx, cy), (dx, dy) = other
    length_m, other_m = math.dist(*segment), math.dist(*other)
    ux, uy = (bx - ax) / length_m, (by - ay) / length_m
    if ux * (dx - cx) / other_m + uy * (dy - cy) / other_m > -math.cos(math.radians(PARALLEL_DEG)):
        return None
    mx, my = (cx + dx) / 2.0 - ax, (cy + dy) / 2.0 - ay
    outward_m = ux * my - uy * mx
    return outward_m if -0.01 <= outward_m <= wall_m else None


def _taken(openings: Iterable[DrawnOpening], stretch: tuple[float, float]) -> bool:
    """Whether another opening covers most of a stretch already: the same doorway drawn twice."""
    start_m, end_m = stretch
    return any(min(o.end_m, end_m) - max(o.start_m, start_m) > 0.5 * (end_m - start_m) for o in openings)


def _name(rooms: Sequence[str], mouth: DrawnOpeningSymbol, used: set[str]) -> str:
    """A doorway's own name, or the rooms that it connects; each name once. A window in one room requires none."""
    name = mouth.name or (f"{rooms[0]} to {rooms[1]}" if len(rooms) == 2 else "")
    if not name:
        return ""
    free, number = name, 2
    while free in used:
        free, number = f"{name} {number}", number + 1
    used.add(free)
    return free


def _opening(mouth: DrawnOpeningSymbol, name: str, start_m: float, length_m: float) -> DrawnOpening:
    width_m = round(min(mouth.width_m, length_m), 3)
    start_m = min(round(start_m, 3), round(length_m - width_m, 3))
    return DrawnOpening(mouth.kind, start_m, width_m, name, mouth.height_m, mouth.sill_m)


def _unplaced(outlines: Sequence[Outline], mouth: DrawnOpeningSymbol) -> UnplacedOpening:
    """Reason why an opening is on no wall, by the nearest parallel wall."""
    nearest = min((abs(_on(ends, mouth)[0]) for outline in outlines for ends in outline.walls), default=math.inf)
    found = f"a {mouth.kind} {mouth.width_m:.2f} m wide on no wall of a room"
    if math.isfinite(nearest):
        found += f" (the line of the nearest is {nearest:.2f} m off)"
    return UnplacedOpening(mouth, found, f"a wall along it, at most {mouth.near_m:g} m away and as long as it is wide")


def _room(
    outlines: Sequence[Outline],
    names: Sequence[str],
    index: int,
    openings: Sequence[Sequence[DrawnOpening]],
    alignment: Alignment,
) -> DrawnRoom:
    outline = outlines[index]
    turns = traverse_turns_deg(outline.corners_m, alignment.snap_deg)
    (x0, y0), (x1, y1) = outline.walls[0]
    drawn_deg = math.degrees(math.atan2(x1 - x0, y1 - y0))
    square_deg = round(drawn_deg / SNAP_STEP_DEG) * SNAP_STEP_DEG
    up_deg = square_deg if abs(square_deg - drawn_deg) <= alignment.snap_deg else drawn_deg
    bearing = round(up_deg + alignment.north_deg, 2) % 360.0
    walls: list[DrawnWall] = []
    for wall, (ends, turn) in enumerate(zip(outline.walls, turns, strict=True)):
        whole = DrawnWall(
            round(math.dist(*ends), 3), turn, bearing, None, tuple(sorted(openings[wall], key=lambda o: o.start_m))
        )
        walls += _split(whole, _behind(outlines, names, index, ends, alignment.wall_m))
        bearing = round(bearing + turn, 2) % 360.0
    return DrawnRoom(names[index], tuple(walls), polygon_area_m2(outline.corners_m))


Stretch = tuple[float, float, str | None]


def _behind(
    outlines: Sequence[Outline], names: Sequence[str], index: int, ends: Segment, wall_m: float
) -> list[Stretch]:
    """Spaces behind a wall from left to right: a room, or None if the drawing shows none."""
    (x0, y0), (x1, y1) = ends
    length_m = math.dist(*ends)
    ux, uy = (x1 - x0) / length_m, (y1 - y0) / length_m
    facing = []
    for other, outline in enumerate(outlines):
        for wall in outline.walls if other != index else ():
            apart_m = _apart_m(ends, wall, wall_m)
            low, high = sorted((x - x0) * ux + (y - y0) * uy for x, y in wall)
            low, high = max(low, 0.0), min(high, length_m)
            if apart_m is not None and high - low > 0.01:
                facing.append((apart_m, low, high, names[other]))
    edges = sorted({0.0, length_m, *(e for _, low, high, _ in facing for e in (low, high))})
    behind: list[Stretch] = []
    for a, b in pairwise(edges):
        over = [(apart, name) for apart, low, high, name in facing if low < (a + b) / 2.0 < high]
        behind.append((a, b, min(over)[1] if over else None))
    return _merged(behind, wall_m)


def _merged(stretches: Sequence[Stretch], wall_m: float) -> list[Stretch]:
    """Stretches of wall, joined where neighbours have the same space behind them.

    A stretch that is too short is added to those beside it: shorter than STEP_M, or than `wall_m` if nothing is behind
    it. The thickness of a wall between two rooms is so divided between them.
    """
    parts = list(stretches)
    while True:
        joined: list[Stretch] = []
        for a, b, name in parts:
            if joined and joined[-1][2] == name:
                a = joined.pop()[0]
            joined.append((a, b, name))
        short = [i for i, (a, b, name) in enumerate(joined) if b - a < (wall_m if name is None else STEP_M) - 1e-9]
        if not short or len(joined) == 1:
            return joined
        i = min(short, key=lambda k: joined[k][1] - joined[k][0])
        a, b, _ = joined.pop(i)
        if 0 < i < len(joined):
            middle = (a + b) / 2.0
            joined[i - 1] = (joined[i - 1][0], middle, joined[i - 1][2])
            joined[i] = (middle, joined[i][1], joined[i][2])
        elif i == 0:
            joined[0] = (a, joined[0][1], joined[0][2])
        else:
            joined[-1] = (joined[-1][0], b, joined[-1][2])
        parts = joined


def _split(wall: DrawnWall, behind: Sequence[Stretch]) -> list[DrawnWall]:
    """Divide a wall into one part for each room behind it; no part ends inside an opening."""
    cuts = []
    for _, at_m, _ in behind[:-1]:
        cut = round(at_m, 3)
        for opening in wall.openings:
            if opening.start_m < cut < opening.end_m:
                before, after = opening.start_m, opening.end_m
                cut = before if cut - before < after - cut else after
        cuts.append(round(cut, 3))
    parts = []
    edges = pairwise([0.0, *sorted(cuts), wall.length_m])
    for (_, _, name), (start_m, end_m) in zip(behind, edges, strict=True):
        if end_m - start_m < 0.001:
            continue
        own = tuple(
            replace(o, start_m=round(o.start_m - start_m, 3))
            for o in wall.openings
            if start_m - 1e-9 <= o.start_m and o.end_m <= end_m + 1e-9
        )
        length_m = round(end_m - start_m, 3)
        parts.append(DrawnWall(length_m, 0.0, wall.bearing_deg, name, own))
    parts[-1] = replace(parts[-1], turn_deg=wall.turn_deg)
    return parts
