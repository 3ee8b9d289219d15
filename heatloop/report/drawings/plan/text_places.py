"""Positions of texts on a plan without overlaps with other texts, walls or skirting: a deterministic search.

A text, a ring or a leader is tried at places in order of their cost, and the first is taken that touches nothing.
Positions with least free room come first; those that find no place come earlier in the next round.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise, product

from heatloop.report.drawings.geometry import Box, Line, Point, Primitive, Ring, Words, centred_box
from heatloop.report.drawings.plan.level_plan import SKIRTING_MM, MarkOnPaper, RoomOnPaper, StraightOnPaper

DIMENSION_MM, FIGURE_MM, ROW_MM, RING_MM, ORIGIN_MM, DOT_MM = 4.5, 6.5, 4.2, 3.2, 0.9, 0.7
"""Off the wall: dimension line, first figures. Rows of figures; radii of ring, origin and dot."""

CLEAR_MM = 0.45
"""Between a text and anything else."""

SIDEWAYS_MM = (0.0, 2.0, -2.0, 4.0, -4.0, 6.0, -6.0, 8.0, -8.0, 10.0, -10.0, 13.0, -13.0, 17.0, -17.0, 22.0, -22.0)
OUTWARDS_MM = (0.0, 4.0, 8.0, 12.0, 16.0, 20.0, 26.0, 32.0)
CROSSED = 6.0
"""Cost of a dimension line or leader that is crossed, in mm of distance."""

WALL_CROSSED = 4
"""How many of those a wall counts for that a leader crosses."""

FLAT = 2.0
"""Leaders that run further along their wall than this for each mm off it cost more: they look like dimension lines."""

WALL_SHARES = (0.5, 0.45, 0.55, 0.4, 0.6, 0.35, 0.65, 0.3, 0.7, 0.25, 0.75, 0.2, 0.8, 0.12, 0.88)
"""Places of the text of a wall along it."""

ROUNDS = 6


@dataclass(frozen=True)
class Placed:
    """Elements written at one place: primitives, the boxes they take, and their leaders."""

    primitives: tuple[Primitive, ...]
    boxes: tuple[Box, ...]
    leaders: tuple[tuple[Point, Point], ...] = ()


@dataclass
class Ground:
    """Occupied areas on the paper of a plan.

    Nothing may touch `boxes`, no text `solid` ones; no text may cross `walls` and `leaders`, and should not cross
    `lines` (of dimensions and obstacles)."""

    boxes: list[Box] = field(default_factory=list)
    solid: list[Box] = field(default_factory=list)
    leaders: list[tuple[Point, Point]] = field(default_factory=list)
    lines: list[tuple[Point, Point]] = field(default_factory=list)
    walls: list[tuple[Point, Point]] = field(default_factory=list)

    def copy(self) -> Ground:
        """Another ground with the same on it."""
        return Ground(list(self.boxes), list(self.solid), list(self.leaders), list(self.lines), list(self.walls))

    def add(self, placed: Placed) -> None:
        """Take a place."""
        self.boxes += placed.boxes
        self.leaders += placed.leaders

    def stands_clear(self, placed: Placed) -> bool:
        """Whether boxes touch no wall and nothing solid: what is there before anything is written."""
        return not any(_is_cut(box, self.walls) or _touches(box, self.solid) for box in placed.boxes)

    def is_free(self, placed: Placed) -> bool:
        """Whether boxes touch nothing that is written, no leader cuts them, and their leaders cut nothing written."""
        return stand_apart(self, placed)

    def crossings(self, placed: Placed) -> int:
        """Dimension lines under the boxes, and leaders, dimension lines and walls that its leaders cross."""
        under = sum(box.is_cut_by(a, b) for box in placed.boxes for a, b in self.lines)
        across = sum(_cross(leader, other) for leader in placed.leaders for other in (*self.leaders, *self.lines))
        through = sum(_cross(leader, other) for leader in placed.leaders for other in self.walls)
        return under + across + WALL_CROSSED * through


def stand_apart(one: Ground | Placed, other: Placed) -> bool:
    """Whether the boxes of two places, or of what is written and a place, do not touch, and no leader of one cuts a box
    of the other."""
    if any(_touches(box, one.boxes) or _is_cut(box, one.leaders) for box in other.boxes):
        return False
    return not any(_is_cut(box, other.leaders) for box in one.boxes)


def leaders_crossed(one: Placed, other: Placed) -> int:
    """How many leaders of two places cross."""
    return sum(_cross(leader, another) for leader in one.leaders for another in other.leaders)


def _touches(box: Box, others: Iterable[Box]) -> bool:
    """Whether a box touches any of others; those beyond its edges are passed over first, because most are."""
    west, south, east, north = box.bounds
    for other in others:
        left, low, right, top = other.bounds
        if left < east and right > west and low < north and top > south and box.touches(other):
            return True
    return False


def _is_cut(box: Box, lines: Iterable[tuple[Point, Point]]) -> bool:
    """Whether any of some lines comes into a box; those beyond its edges are passed over first, because most are."""
    west, south, east, north = box.bounds
    for a, b in lines:
        (ax, ay), (bx, by) = a, b
        beside = (ax <= west and bx <= west) or (ax >= east and bx >= east)
        if (
            not beside
            and not (ay <= south and by <= south)
            and not (ay >= north and by >= north)
            and box.is_cut_by(a, b)
        ):
            return True
    return False


def ground_of(rooms: Iterable[RoomOnPaper]) -> Ground:
    """The ground of some rooms before anything is written: walls, skirting, dimension lines."""
    ground = Ground()
    for room in rooms:
        ground.walls += list(pairwise((*room.outline, room.outline[0])))
        ground.solid += [_strip(a, b) for a, b in room.skirting]
        for straight in room.straights:
            ground.lines.append((straight.at(0.0, DIMENSION_MM), straight.at(_last_mm(straight), DIMENSION_MM)))
            for mark in straight.marks:
                for pipe in mark.pipes:
                    ground.lines.append((straight.at(pipe.along_mm, 0.0), straight.at(pipe.along_mm, DIMENSION_MM)))
            corner = straight.at(0.0, DIMENSION_MM)
            ground.solid.append(centred_box(corner, straight.along, straight.inward, ORIGIN_MM, ORIGIN_MM))
    return ground


def obstacle_lines(rooms: Iterable[RoomOnPaper]) -> Iterator[tuple[Point, Point]]:
    """Lines of the crossed strips of obstacles."""
    for room in rooms:
        for outline in room.obstacles:
            yield from pairwise(outline)
            yield outline[0], outline[2]


def _strip(a: Point, b: Point) -> Box:
    """Area of a line of skirting."""
    length = math.dist(a, b) or 1.0
    u = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
    return centred_box(((a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0), u, (u[1], -u[0]), length / 2.0, 0.9)


def dimension_lines(straight: StraightOnPaper) -> Iterator[Primitive]:
    """The origin ring, the running dimension line and the extension line of every pipe of a straight."""
    yield Line("HL-DIM", (straight.at(0.0, 0.0), straight.at(0.0, DIMENSION_MM - ORIGIN_MM)), 0.18)
    yield Ring("HL-DIM", straight.at(0.0, DIMENSION_MM), ORIGIN_MM, 0.25)
    yield Line("HL-DIM", (straight.at(ORIGIN_MM, DIMENSION_MM), straight.at(_last_mm(straight), DIMENSION_MM)), 0.18)
    for mark in straight.marks:
        for pipe in mark.pipes:
            s = pipe.along_mm
            yield Line("HL-DIM", (straight.at(s, 0.4), straight.at(s, DIMENSION_MM + 0.5)), 0.18)
            yield Line(
                "HL-DIM", (straight.at(s - 0.5, DIMENSION_MM - 0.5), straight.at(s + 0.5, DIMENSION_MM + 0.5)), 0.35
            )


def _last_mm(straight: StraightOnPaper) -> float:
    return max(pipe.along_mm for mark in straight.marks for pipe in mark.pipes)


def mark_places(straight: StraightOnPaper, mark: MarkOnPaper) -> Iterator[tuple[float, Placed]]:
    """Places for the figures and the ring of a position with their costs, cheapest first."""
    for cost, aside, out, turned, side in MARK_TRIES:
        make = _beside if turned else _outwards
        yield cost, make(straight, mark, aside, out, side)


def _mark_tries() -> Iterator[tuple[float, float, float, bool, float]]:
    """Places of figures: cost, distance sideways and outwards, whether along the wall, and to which side then."""
    for aside, out in product(SIDEWAYS_MM, OUTWARDS_MM):
        for turned in (False, True):
            for side in (1.0, -1.0) if turned else (1.0,):
                across = abs(aside + 2.0 * side * turned)
                flat = max(0.0, across - FLAT * (FIGURE_MM + 1.3 * turned + out - DIMENSION_MM))
                yield 0.6 * abs(aside) + 0.5 * out + 2.0 * turned + 0.4 * flat, aside, out, turned, side


MARK_TRIES = tuple(sorted(_mark_tries(), key=lambda attempt: attempt[0]))
"""Places of the figures of a position that are tried, cheapest first."""


def _outwards(straight: StraightOnPaper, mark: MarkOnPaper, aside: float, out: float, side: float) -> Placed:
    """Figures square to the wall, side by side, the ring beyond them."""
    count = len(mark.pipes)
    primitives: list[Primitive] = []
    boxes, leaders = [], []
    centre, top = mark.middle_mm + aside, FIGURE_MM + out
    longest = 0.0
    for i, pipe in enumerate(mark.pipes):
        at = centre + (i - (count - 1) / 2.0) * ROW_MM
        width = Words("", (0.0, 0.0), pipe.figure).ink
        wide = width.right - width.left
        longest = max(longest, wide)
        words = _reading("HL-DIM", straight.at(at, top + 2.2 + wide / 2.0), pipe.figure, straight.inward)
        dot = straight.at(at, top + DOT_MM)
        primitives += [words, _dot(dot, pipe.is_flow)]
        boxes += [words.box.grown(CLEAR_MM), centred_box(dot, straight.along, straight.inward, DOT_MM, DOT_MM)]
        leaders.append((straight.at(pipe.along_mm, DIMENSION_MM + 0.5), straight.at(at, top)))
    ring = straight.at(centre, top + 2.2 + longest + 0.8 + RING_MM)
    return _with_ring(mark, primitives, boxes, leaders, ring, straight)


def _beside(straight: StraightOnPaper, mark: MarkOnPaper, aside: float, out: float, side: float) -> Placed:
    """Figures along the wall, one above another, to the right (`side` 1) or left (-1) of the pipes."""
    primitives: list[Primitive] = []
    boxes, leaders = [], []
    start, longest = mark.middle_mm + aside + side * 2.0, 0.0
    way = math.copysign(1.0, aside + side * 2.0)  # from the pipes to the figures: their leaders do not cross
    ordered = sorted(mark.pipes, key=lambda pipe: -way * pipe.along_mm)  # nearest pipe in the row nearest the wall
    for i, pipe in enumerate(ordered):
        off = FIGURE_MM + 1.3 + out + i * ROW_MM
        ink = Words("", (0.0, 0.0), pipe.figure).ink
        wide = ink.right - ink.left
        longest = max(longest, wide)
        words = _reading("HL-DIM", straight.at(start + side * (2.2 + wide / 2.0), off), pipe.figure, straight.along)
        dot = straight.at(start + side * DOT_MM, off)
        primitives += [words, _dot(dot, pipe.is_flow)]
        boxes += [words.box.grown(CLEAR_MM), centred_box(dot, straight.along, straight.inward, DOT_MM, DOT_MM)]
        leaders.append((straight.at(pipe.along_mm, DIMENSION_MM + 0.5), straight.at(start, off)))
    middle = FIGURE_MM + 1.3 + out + (len(ordered) - 1) / 2.0 * ROW_MM
    ring = straight.at(start + side * (2.2 + longest + 0.8 + RING_MM), middle)
    return _with_ring(mark, primitives, boxes, leaders, ring, straight)


def _with_ring(
    mark: MarkOnPaper,
    primitives: list[Primitive],
    boxes: list[Box],
    leaders: list[tuple[Point, Point]],
    ring: Point,
    straight: StraightOnPaper,
) -> Placed:
    lines = [Line("HL-DIM", leader, 0.18) for leader in leaders]
    return Placed(
        (*lines, *primitives, *ring_of(mark.number, ring)),
        (*boxes, centred_box(ring, straight.along, straight.inward, RING_MM + 0.3, RING_MM + 0.3)),
        tuple(leaders),
    )


def ring_of(number: int, at: Point) -> tuple[Primitive, ...]:
    """The number of a position in its ring."""
    return (
        Ring("HL-MARK", at, RING_MM, 0.35),
        Words("HL-MARK", at, str(number), anchor="centre", bold=True),
    )


def balloon_places(straight: StraightOnPaper, mark: MarkOnPaper) -> Iterator[tuple[float, Placed]]:
    """Places for the ring alone of a position whose figures are in a detail, nearest first; a leader to the pipes."""
    foot = straight.at(mark.middle_mm, SKIRTING_MM)
    for reach in (7.0, 9.0, 11.0, 14.0, 17.0, 21.0, 26.0, 32.0, 40.0, 50.0):
        for turn in (0, 15, -15, 30, -30, 45, -45, 60, -60, 75, -75, 90, -90, 120, -120, 150, -150, 180):
            c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
            way = (c * straight.inward[0] - s * straight.inward[1], s * straight.inward[0] + c * straight.inward[1])
            at = (foot[0] + reach * way[0], foot[1] + reach * way[1])
            edge = (at[0] - RING_MM * way[0], at[1] - RING_MM * way[1])
            box = centred_box(at, (1.0, 0.0), (0.0, 1.0), RING_MM + 0.3, RING_MM + 0.3)
            yield (
                reach + 0.03 * abs(turn),
                Placed((Line("HL-MARK", (foot, edge), 0.18), *ring_of(mark.number, at)), (box,), ((foot, edge),)),
            )


def wall_places(room: RoomOnPaper, number: int) -> Iterator[tuple[float, Placed]]:
    """Places for number and taped length of a wall along it, cheapest first; for its number alone at a greater cost."""
    wall = room.walls[number - 1]
    length = math.dist(wall.start, wall.end)
    tries = [
        (60.0 * short + 8.0 * abs(share - 0.5) + 0.5 * off, short, share, off)
        for short, share, off in product((False, True), WALL_SHARES, (4.6, 7.0, 9.5, 12.0, 16.0))
    ]
    for cost, short, share, off in sorted(tries, key=lambda one: one[0]):
        text = f"wall {number}" if short else f"{number}: {wall.taped_mm}"
        at = (
            wall.start[0] + share * length * wall.along[0] + off * wall.inward[0],
            wall.start[1] + share * length * wall.along[1] + off * wall.inward[1],
        )
        words = _reading("HL-WALL-TEXT", at, text, wall.along)
        yield cost, Placed((words,), (words.box.grown(CLEAR_MM),))


def name_places(room: RoomOnPaper, texts: Sequence[tuple[str, float]]) -> Iterator[tuple[float, Placed]]:
    """Places for a room's name by texts and heights, the preferred first."""
    xs, ys = zip(*room.outline, strict=True)
    west, south, wide, high = min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys)
    for rank, (text, height_mm) in enumerate(texts):
        spots = sorted(product(range(1, 24), range(1, 24)), key=lambda spot: math.hypot(spot[0] - 12, spot[1] - 12))
        for a, b in spots:
            at = (west + a * wide / 24.0, south + b * high / 24.0)
            words = Words("HL-ROOM", at, text, height_mm, anchor="centre", bold=True)
            yield 100.0 * rank + math.hypot(a - 12, b - 12), Placed((words,), (words.box.grown(CLEAR_MM),))


def clear_places(
    ground: Ground, places: Iterable[tuple[float, Placed]], room: RoomOnPaper | None
) -> Iterator[tuple[float, Placed]]:
    """The places clear of walls and all that is solid, inside the room where one is given."""
    for cost, placed in places:
        if room is not None and not all(is_inside(room.outline, box) for box in placed.boxes):
            continue
        if ground.stands_clear(placed):
            yield cost, placed


class Places:
    """Places found one by one as they are requested, and kept."""

    def __init__(self, source: Iterator[tuple[float, Placed]]) -> None:
        self._source, self._kept = source, list[tuple[float, Placed]]()

    def __iter__(self) -> Iterator[tuple[float, Placed]]:
        at = 0
        while True:
            if at == len(self._kept):
                following = next(self._source, None)
                if following is None:
                    return
                self._kept.append(following)
            yield self._kept[at]
            at += 1


def best_place(ground: Ground, places: Iterable[tuple[float, Placed]]) -> tuple[float, Placed] | None:
    """The cheapest of some clear places that touches nothing written; None where there is none.

    The places come cheapest first, so that the search ends where no later one can be better.
    """
    best: tuple[float, Placed] | None = None
    for cost, placed in places:
        if best is not None and cost >= best[0]:
            break
        if not ground.is_free(placed):
            continue
        whole = cost + CROSSED * ground.crossings(placed)
        if best is None or whole < best[0]:
            best = whole, placed
    return best


def is_inside(outline: Sequence[Point], box: Box) -> bool:
    """Whether the middle of a box is in an outline; the ground checks that no wall cuts it."""
    west, south, east, north = box.bounds
    x, y = (west + east) / 2.0, (south + north) / 2.0
    inside = False
    for (x0, y0), (x1, y1) in pairwise((*outline, outline[0])):
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) * (x1 - x0) / (y1 - y0):
            inside = not inside
    return inside


def _reading(layer: str, at: Point, text: str, along: Point) -> Words:
    """A text along a direction, turned to be read from below or from the right."""
    angle = math.degrees(math.atan2(along[1], along[0]))
    return Words(layer, at, text, angle=(angle + 89.9) % 180.0 - 89.9, anchor="centre")


def _dot(at: Point, is_flow: bool) -> Ring:
    return Ring("HL-PIPE-FLOW" if is_flow else "HL-PIPE-RETURN", at, DOT_MM, 0.25, filled=is_flow)


def _cross(line: tuple[Point, Point], other: tuple[Point, Point]) -> bool:
    """Whether two lines cross between their ends."""

    def side(a: Point, b: Point, p: Point) -> float:
        return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])

    (a, b), (c, d) = line, other
    return side(a, b, c) * side(a, b, d) < 0.0 and side(c, d, a) * side(c, d, b) < 0.0
