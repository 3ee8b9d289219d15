"""A level of a survey that is being entered, on paper: its rooms, and where names, lengths and numbers of faults go."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise, product

from heatloop.layout.draft_rooms import DraftRoom
from heatloop.layout.plan_coordinates import DrawnWallItem, bounds_m
from heatloop.report.drawings.geometry import Box, PlanWindow, Point, Words, centred_box, fitting
from heatloop.report.drawings.plan.level_plan import RoomOnPaper, WallOnPaper
from heatloop.report.drawings.plan.text_places import (
    CLEAR_MM,
    Ground,
    Placed,
    best_place,
    clear_places,
    ground_of,
)
from heatloop.report.drawings.survey_plan.remarks import Remark
from heatloop.text.formatting import escape_control_characters, number

SCALES = (20, 25, 40, 50, 75, 100, 150, 200, 300, 500, 1000, 2000, 5000)
"""Scales of the picture, largest first."""

SIZE_MM = (270.0, 190.0)
"""Width and height that a level takes at most."""

EDGE_MM = 6.0

NAME_MM, DETAIL_MM = 3.0, 2.2
"""Heights of capitals: name of a room, and its area and closing below."""

DISC_MM, DEEP_MM = 2.4, 4.5
"""Radius of the number of a fault; depth of an obstacle."""

MAX_DISCS = 8
"""Numbers of faults on one room; the list has them all."""

LONGEST_NAME_MM = 60.0

SHARES = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88)
"""Where along a wall a text is tried."""


@dataclass(frozen=True)
class Disc:
    """The number of a fault on its room."""

    at: Point
    number: int


@dataclass(frozen=True)
class RoomPicture:
    """A room on paper with everything that is written in it; `numbered` where its name stands below the plan."""

    room: DraftRoom
    path: tuple[Point, ...]
    openings: tuple[tuple[DrawnWallItem, tuple[Point, Point]], ...]
    obstacles: tuple[tuple[Point, ...], ...]
    words: tuple[Words, ...]
    discs: tuple[Disc, ...]
    faults: tuple[int, ...]
    numbered: bool
    diagonals: tuple[tuple[Point, Point], ...] = ()


@dataclass(frozen=True)
class LevelPicture:
    """A level on paper: its size with edges, mm, its scale as 1 to `scale`, and its rooms."""

    level_m: float
    width_mm: float
    height_mm: float
    scale: int
    rooms: tuple[RoomPicture, ...]


def common_scale(levels: Sequence[Sequence[DraftRoom]]) -> int:
    """The largest scale, as 1 to so much, at which each level fits `SIZE_MM`."""
    least = 1.0
    for rooms in levels:
        west, south, east, north = bounds_m([point for room in rooms for point in room.path_m])
        inner = (SIZE_MM[0] - 2.0 * EDGE_MM, SIZE_MM[1] - 2.0 * EDGE_MM)
        least = max(least, 1000.0 * (east - west) / inner[0], 1000.0 * (north - south) / inner[1])
    return next((scale for scale in SCALES if scale >= least), math.ceil(least))


@lru_cache(maxsize=32)  # of a house that is being entered one level changes at a time
def level_picture(
    level_m: float, rooms: tuple[DraftRoom, ...], remarks: tuple[Remark, ...], scale: int
) -> LevelPicture:
    """The level with its texts so that none touches another or a wall; what finds no place is left out.

    `remarks` are those of its rooms.
    """
    west, south, east, north = bounds_m([point for room in rooms for point in room.path_m])
    wide, high = east - west, north - south
    window = PlanWindow(scale, (west, south), (EDGE_MM, EDGE_MM))
    on_paper = {room.index: _on_paper(room, window) for room in rooms}
    ground = ground_of(on_paper.values())
    obstacles = {room.index: tuple(_obstacle(obstacle, window) for obstacle in room.obstacles) for room in rooms}
    for outlines in obstacles.values():
        ground.solid += [Box(outline) for outline in outlines]
    diagonals = {room.index: _diagonal_ends(room, window) for room in rooms}
    for ends in diagonals.values():
        ground.lines += ends
    own = {room.index: [remark for remark in remarks if remark.room == room.index] for room in rooms}
    pictures = {}
    for room in rooms:
        paper = on_paper[room.index]
        alone = ground_of([paper])
        alone.solid += [Box(outline) for outline in obstacles[room.index]]
        words, is_numbered = _name(ground, alone, paper, room)
        discs = tuple(_discs(ground, alone, paper, own[room.index][:MAX_DISCS]))
        openings = tuple((opening, _line(opening, window)) for opening in room.openings)
        faults = tuple(remark.number for remark in own[room.index])
        path = tuple(window.on_paper(point) for point in room.path_m)
        pictures[room.index] = (path, openings, words, discs, faults, is_numbered, alone)
    room_pictures = []
    for room in rooms:
        path, openings, words, discs, faults, is_numbered, alone = pictures[room.index]
        paper, taped = on_paper[room.index], diagonals[room.index]
        words = (*words, *_diagonal_words(ground, alone, paper, room, taped), *_walls(ground, alone, paper))
        room_pictures.append(
            RoomPicture(room, path, openings, obstacles[room.index], words, discs, faults, is_numbered, taped)
        )
    edges = 2.0 * EDGE_MM
    return LevelPicture(
        level_m, wide * 1000.0 / scale + edges, high * 1000.0 / scale + edges, scale, tuple(room_pictures)
    )  # fmt: skip


def _on_paper(room: DraftRoom, window: PlanWindow) -> RoomOnPaper:
    """The room as the search for places takes it; the end of the last wall is a corner where the room is open."""
    points = tuple(window.on_paper(point) for point in room.path_m)
    walls = []
    for index, (start, end) in enumerate(pairwise(points)):
        length = math.dist(start, end) or 1.0
        along = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
        taped_mm = round(room.walls[index].length_m * 1000.0)
        walls.append(WallOnPaper(index + 1, start, end, taped_mm, along, (along[1], -along[0])))
    return RoomOnPaper(room.name, points if not room.closes else points[:-1], tuple(walls), (), ())


def _line(item: DrawnWallItem, window: PlanWindow) -> tuple[Point, Point]:
    a, b = (window.on_paper(point) for point in item.points_m)
    return a, b


def _obstacle(item: DrawnWallItem, window: PlanWindow) -> tuple[Point, ...]:
    """An obstacle as a rectangle into the room."""
    a, b = _line(item, window)
    length = math.dist(a, b) or 1.0
    inward = ((b[1] - a[1]) / length * DEEP_MM, (a[0] - b[0]) / length * DEEP_MM)
    return a, b, (b[0] + inward[0], b[1] + inward[1]), (a[0] + inward[0], a[1] + inward[1])


def _diagonal_ends(room: DraftRoom, window: PlanWindow) -> tuple[tuple[Point, Point], ...]:
    """Both ends of every taped diagonal."""
    corners = [window.on_paper(point) for point in room.path_m]
    return tuple((corners[taped.from_corner - 1], corners[taped.to_corner - 1]) for taped in room.diagonals)


def _diagonal_words(
    ground: Ground, alone: Ground, paper: RoomOnPaper, room: DraftRoom, ends: Sequence[tuple[Point, Point]]
) -> list[Words]:
    """Corners and taped length of every diagonal that has a place for them beside it."""
    written = []
    for taped, (start, end) in zip(room.diagonals, ends, strict=True):
        text = f"{taped.from_corner}\u2013{taped.to_corner}: {round(taped.length_m * 1000.0)}"
        best = best_place(ground, clear_places(alone, _diagonal_places(start, end, text), paper))
        if best is not None:
            ground.add(best[1])
            written += [primitive for primitive in best[1].primitives if isinstance(primitive, Words)]
    return written


def _diagonal_places(start: Point, end: Point, text: str) -> Iterator[tuple[float, Placed]]:
    """Places for the text of a diagonal along it on either side, near an end of it first: the middle is the name's."""
    length = math.dist(start, end) or 1.0
    along = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
    tries = product((0.25, 0.75, 0.3, 0.7, 0.2, 0.8, 0.4, 0.6, 0.5), (2.0, -2.0))
    for rank, (share, off) in enumerate(tries):
        wall = WallOnPaper(0, start, end, 0, along, (along[1], -along[0]))
        words = Words("HL-WALL-TEXT", _beside(wall, share, off), text, angle=_upright_deg(along), anchor="centre")
        yield 1.0 * rank, Placed((words,), (words.box.grown(CLEAR_MM),))


def _upright_deg(along: Point) -> float:
    """The angle of a text along a line, never upside down."""
    return (math.degrees(math.atan2(along[1], along[0])) + 89.9) % 180.0 - 89.9


def _name(ground: Ground, alone: Ground, paper: RoomOnPaper, room: DraftRoom) -> tuple[tuple[Words, ...], bool]:
    """Name, area and closing of a room where they fit, else less of it; whether the name is left to its number."""
    name = fitting(escape_control_characters(room.name) or f"room {room.index + 1}", LONGEST_NAME_MM, NAME_MM, True)
    detail = _detail(room)
    mark = f"[{room.index + 1}]"
    variants: list[tuple[tuple[str, float], ...]] = [
        ((name, NAME_MM), *((text, DETAIL_MM) for text in detail)), ((name, NAME_MM), (detail[0], DETAIL_MM)),
        ((name, NAME_MM),), ((name, DETAIL_MM),), ((mark, NAME_MM),),
    ]  # fmt: skip
    best = best_place(ground, clear_places(alone, _block_places(paper, variants), paper))
    if best is None:
        return (), True
    ground.add(best[1])
    words = tuple(primitive for primitive in best[1].primitives if isinstance(primitive, Words))
    return words, words[0].text == mark


def _detail(room: DraftRoom) -> tuple[str, str]:
    if room.closes:
        return f"{number(room.floor_area_m2, 1)} m²", f"closes within tolerance ({round(room.gap_m * 1000.0)} mm)"
    return f"{round(room.gap_m * 1000.0)} mm open", f"allowed {round(room.tolerance_m * 1000.0)} mm"


def _block_places(room: RoomOnPaper, variants: Sequence[Sequence[tuple[str, float]]]) -> Iterator[tuple[float, Placed]]:
    """Places for lines of text one below another, the middle of the room first, whole blocks before short ones."""
    xs, ys = zip(*room.outline, strict=True)
    west, south, wide, high = min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys)
    spots = sorted(product(range(1, 16), range(1, 16)), key=lambda spot: math.hypot(spot[0] - 8, spot[1] - 8))
    for rank, lines in enumerate(variants):
        rows = [index * 4.2 for index in range(len(lines))]
        for a, b in spots:
            x, y = west + a * wide / 16.0, south + b * high / 16.0 + rows[-1] / 2.0
            words = tuple(
                Words("HL-ROOM", (x, y - row), text, height_mm, anchor="centre", bold=not index)
                for index, (row, (text, height_mm)) in enumerate(zip(rows, lines, strict=True))
            )
            cost = 100.0 * rank + math.hypot(a - 8, b - 8)
            yield cost, Placed(words, tuple(words_line.box.grown(CLEAR_MM) for words_line in words))


def _discs(ground: Ground, alone: Ground, room: RoomOnPaper, remarks: Sequence[Remark]) -> Iterator[Disc]:
    """The numbers of the faults of a room, each beside its wall or, of the whole room, near its middle."""
    for remark in remarks:
        wall = next((candidate for candidate in room.walls if candidate.number == remark.wall), None)
        best = best_place(ground, clear_places(alone, _disc_places(room, wall), room))
        if best is None:
            continue
        ground.add(best[1])
        west, south, east, north = best[1].boxes[0].bounds
        yield Disc(((west + east) / 2.0, (south + north) / 2.0), remark.number)


def _disc_places(room: RoomOnPaper, wall: WallOnPaper | None) -> Iterator[tuple[float, Placed]]:
    """Places for the number of a fault, nearest to its wall or to the middle of its room first."""
    xs, ys = zip(*room.outline, strict=True)
    middle = ((min(xs) + max(xs)) / 2.0, (min(ys) + max(ys)) / 2.0)
    spots = [(a / 20.0, b / 20.0) for a, b in product(range(1, 20), range(1, 20))]
    places = [(min(xs) + a * (max(xs) - min(xs)), min(ys) + b * (max(ys) - min(ys))) for a, b in spots]
    candidates = [(40.0 + math.dist(at, middle), at) for at in places]
    if wall is not None:
        tries = product((4.0, 7.0, 10.0, 14.0, 19.0), SHARES)
        candidates += [(off + 4.0 * abs(share - 0.5), _beside(wall, share, off)) for off, share in tries]
    half = DISC_MM + 0.3
    for cost, at in sorted(candidates):
        yield cost, Placed((), (centred_box(at, (1.0, 0.0), (0.0, 1.0), half, half),))


def _beside(wall: WallOnPaper, share: float, off: float) -> Point:
    """A point in the room, at a share of the length of a wall and so far off it, mm."""
    length = share * math.dist(wall.start, wall.end)
    return (
        wall.start[0] + length * wall.along[0] + off * wall.inward[0],
        wall.start[1] + length * wall.along[1] + off * wall.inward[1],
    )


def _wall_places(wall: WallOnPaper) -> Iterator[tuple[float, Placed]]:
    """Places for number and taped length of a wall along it, for its number alone at a greater cost; cheapest first."""
    tries = [
        (60.0 * short + 8.0 * abs(share - 0.5) + 0.5 * off, short, share, off)
        for short, share, off in product((False, True), SHARES, (4.6, 7.0, 9.5, 12.0, 16.0))
    ]
    angle = _upright_deg(wall.along)
    for cost, short, share, off in sorted(tries):
        text = f"{wall.number}" if short else f"{wall.number}: {wall.taped_mm}"
        words = Words("HL-WALL-TEXT", _beside(wall, share, off), text, angle=angle, anchor="centre")
        yield cost, Placed((words,), (words.box.grown(CLEAR_MM),))


def _walls(ground: Ground, alone: Ground, room: RoomOnPaper) -> list[Words]:
    """Number and taped length of every wall that has a place for them."""
    written = []
    for wall in room.walls:
        best = best_place(ground, clear_places(alone, _wall_places(wall), room))
        if best is not None:
            ground.add(best[1])
            written += [primitive for primitive in best[1].primitives if isinstance(primitive, Words)]
    return written
