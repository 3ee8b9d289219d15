"""A level on a page that is looked at on a screen: the plan of the drawings, with a symbol for all that can be chosen.

The plan is that of the sheets at 1:50; symbols and labels have a size on the screen, so their places are found for the
width at which the plan is shown. Nothing covers anything else: a name without a place is replaced by a number.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise, product

from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.report.drawings.geometry import CAPITAL_SHARE, Box, Line, PlanWindow, Point, centred_box, text_width_mm
from heatloop.report.drawings.plan.level_plan import (
    LevelOnPaper,
    MarkOnPaper,
    RoomOnPaper,
    StraightOnPaper,
    level_bounds_m,
    level_on_paper,
)
from heatloop.report.drawings.plan.text_places import Ground, Placed, best_place, clear_places

SCALE, EDGE_MM = 50, 3.0

NAME_PX, FIGURE_PX, LINE_PX, CLEAR_PX = 14.0, 13.0, 17.0, 2.0
"""Size of names and figures, distance of the two lines of a label, and clear space about everything."""

DOT_PX, DOT_STEP_PX = 4.0, 11.0
"""Radius of the dot of a pipe, and from one to the next."""

TAG_PX, VALVE_PX = (24.0, 20.0), (20.0, 16.0)
"""Width and height of the tag of a loop and of the symbol of a valve."""

OFF_PX = (15.0, 20.0, 26.0, 33.0, 41.0, 50.0, 60.0, 72.0, 86.0, 102.0, 120.0)
ASIDE_PX = (0.0, 5.0, 10.0, 15.0, 21.0, 28.0, 36.0, 45.0, 56.0, 70.0, 86.0, 104.0, 124.0)
"""Distances of a symbol off its wall and, either way, along it, that are tried."""

SKIRTING_PX = 4.0

ROOMY_PX_M, MIN_SHARE, MIN_TAG_SHARE = 50.0, 0.66, 0.85
"""Where a metre has fewer pixels, symbols of pipes and valves are smaller, down to this share, and tags of loops, down
to theirs."""


@dataclass(frozen=True)
class PlacedPosition:
    """A pipe position: where its pipes leave the skirting, and a dot for each, from left to right, filled for flow."""

    number: int
    foot: Point
    dots: tuple[tuple[Point, bool], ...]


@dataclass(frozen=True)
class PlacedStart:
    """The start of a loop: its leader, middle of its tag, and of the symbols of its valves."""

    loop: str
    leader: tuple[Point, Point]
    tag: Point
    valves: tuple[Point, ...]


@dataclass(frozen=True)
class PlacedLabel:
    """The label of a room: the middle of its first line, its name or number, and whether its coverage is below."""

    room: str
    at: Point
    text: str
    is_name: bool
    has_figure: bool


@dataclass(frozen=True)
class Symbols:
    """Symbols and labels of a level for one width on the screen.

    `mm_per_px`: size of a pixel on paper. `valve_mm_per_px` and `tag_mm_per_px`: the same for the symbols of valves and
    the tags of loops. `touching`: symbols and labels without a free place.
    """

    mm_per_px: float
    valve_mm_per_px: float
    tag_mm_per_px: float
    positions: tuple[PlacedPosition, ...]
    starts: tuple[PlacedStart, ...]
    labels: tuple[PlacedLabel, ...]
    touching: tuple[str, ...]


@dataclass(frozen=True)
class PagePlan:
    """A level on the page: its size on paper in mm, rooms, lines, and its symbols for each requested width."""

    level_m: float
    size_mm: tuple[float, float]
    rooms: tuple[RoomOnPaper, ...]
    lines: tuple[Line, ...]
    symbols: tuple[Symbols, ...]

    def lines_of(self, *layers: str) -> tuple[Line, ...]:
        """The lines on some layers."""
        return tuple(line for line in self.lines if line.layer in layers)


@dataclass(frozen=True)
class LabelTexts:
    """Texts in rooms: numbers that replace names, and the longest figure of each."""

    numbers: Mapping[str, int]
    figures: Mapping[str, str]


def plan_width_m(first_fix: FirstFixResult, rooms: Mapping[str, Point]) -> float:
    """Width of a level, m."""
    west, _, east, _ = level_bounds_m(first_fix, rooms)
    return east - west


def page_plan(
    first_fix: FirstFixResult,
    level_m: float,
    rooms: Mapping[str, Point],
    valves: Mapping[str, int],
    widths: Sequence[tuple[float, LabelTexts]],
) -> PagePlan:
    """A level for every width in pixels at which it is shown, each with its labels; `valves` counts those of a loop."""
    west, south, east, north = level_bounds_m(first_fix, rooms)
    level = level_on_paper(first_fix, rooms, PlanWindow(SCALE, (west, south), (EDGE_MM, EDGE_MM)))
    wide, high = (2.0 * EDGE_MM + 1000.0 * side / SCALE for side in (east - west, north - south))
    lines = tuple(primitive for primitive in level.drawn if isinstance(primitive, Line))
    starts = _starts(first_fix, level)
    symbols = tuple(_symbols(level, starts, valves, wide / px, texts) for px, texts in widths)
    return PagePlan(level_m, (wide, high), level.rooms, lines, symbols)


def _starts(first_fix: FirstFixResult, level: LevelOnPaper) -> dict[str, int]:
    """Loops that start on this level: the first position where their tails rise."""
    numbers = {mark.number for room in level.rooms for straight in room.straights for mark in straight.marks}
    starts: dict[str, int] = {}
    for mark in first_fix.positions:
        if mark.use == "tail":
            starts.setdefault(mark.loop, mark.number)
    return {loop: number for loop, number in starts.items() if number in numbers}


def _symbols(
    level: LevelOnPaper, starts: Mapping[str, int], valves: Mapping[str, int], k: float, texts: LabelTexts
) -> Symbols:
    ground, touching = _ground(level.rooms, k), list[str]()
    share = min(1.0, 1000.0 / SCALE / k / ROOMY_PX_M)
    small, tag = k * max(MIN_SHARE, share), k * max(MIN_TAG_SHARE, share)

    def take(label: str, room: RoomOnPaper, tries: Iterable[tuple[float, Placed]]) -> Placed:
        first: list[Placed] = []

        def noted() -> Iterator[tuple[float, Placed]]:
            for cost, placed in tries:
                first.append(placed)
                yield cost, placed

        placed_starts = best_place(ground, clear_places(ground, noted(), room))
        if placed_starts is None:
            touching.append(label)
        placed = first[0] if placed_starts is None else placed_starts[1]
        ground.add(placed)
        return placed

    every = [(room, straight, mark) for room in level.rooms for straight in room.straights for mark in straight.marks]
    positions: dict[int, PlacedPosition] = {}
    for room, straight, mark in every:
        placed = take(f"position {mark.number}", room, _position_places(straight, mark, small))
        dots = _row(_middle(placed.boxes[0]), straight.along, len(mark.pipes), DOT_STEP_PX * small)
        flows = [pipe.is_flow for pipe in mark.pipes]
        positions[mark.number] = PlacedPosition(mark.number, placed.leaders[0][0], tuple(zip(dots, flows, strict=True)))
    placed_starts = []
    for loop, number in starts.items():
        room, straight, mark = next(entry for entry in every if entry[2].number == number)
        block = _Block(valves.get(loop, 0), small, tag)
        placed = take(f"loop {loop}", room, _start_places(straight, mark, positions[number], block))
        leader = _from_dot(positions[number], placed.leaders[0][1], DOT_PX * small)
        placed_starts.append(PlacedStart(loop, leader, *block.middles(_middle(placed.boxes[0]))))
    labels = []
    for room in level.rooms:
        made: dict[Box, PlacedLabel] = {}
        placed = take(f"label of {room.name}", room, _label_places(room, k, texts, made))
        labels.append(made[placed.boxes[0]])
    return Symbols(k, small, tag, tuple(positions.values()), tuple(placed_starts), tuple(labels), tuple(touching))


@dataclass(frozen=True)
class _Block:
    """The tag of a loop with the symbols of its valves to the right of it: `valve_k` and `tag_k` mm a pixel."""

    valves: int
    valve_k: float
    tag_k: float

    @property
    def half(self) -> Point:
        """Half its width and half its height, mm."""
        wide = (TAG_PX[0] + 2.0 * CLEAR_PX) * self.tag_k + VALVE_PX[0] * self.valves * self.valve_k
        return wide / 2.0, (TAG_PX[1] / 2.0 + CLEAR_PX) * self.tag_k

    def middles(self, at: Point) -> tuple[Point, tuple[Point, ...]]:
        """Middle of the tag, and of every valve, of a block with its middle there."""
        step = VALVE_PX[0] * self.valve_k
        tag = (at[0] - step * self.valves / 2.0, at[1])
        first = tag[0] + TAG_PX[0] / 2.0 * self.tag_k + step / 2.0
        return tag, tuple((first + i * step, at[1]) for i in range(self.valves))


def _ground(rooms: Iterable[RoomOnPaper], k: float) -> Ground:
    """Walls and skirting: what is there before a symbol is placed."""
    ground = Ground()
    for room in rooms:
        ground.walls += list(pairwise((*room.outline, room.outline[0])))
        for a, b in room.skirting:
            length = math.dist(a, b)
            if length > 0.0:
                u = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
                middle = ((a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0)
                ground.solid.append(centred_box(middle, u, (u[1], -u[0]), length / 2.0, SKIRTING_PX * k))
    return ground


def _middle(box: Box) -> Point:
    west, south, east, north = box.bounds
    return (west + east) / 2.0, (south + north) / 2.0


def _row(middle: Point, along: Point, count: int, step: float) -> list[Point]:
    """Points in a row about a middle."""
    return [
        (middle[0] + (i - (count - 1) / 2.0) * step * along[0], middle[1] + (i - (count - 1) / 2.0) * step * along[1])
        for i in range(count)
    ]


def _offsets() -> list[tuple[float, float, float]]:
    """Cost, distance along the wall and distance off it, px, the nearest first."""
    asides = [side * aside for aside in ASIDE_PX for side in ((1.0, -1.0) if aside else (1.0,))]
    every = ((abs(aside) + 1.5 * off, aside, off) for aside, off in product(asides, OFF_PX))
    return sorted(every, key=lambda offset: offset[0])


def _position_places(straight: StraightOnPaper, mark: MarkOnPaper, k: float) -> Iterator[tuple[float, Placed]]:
    """Places for the dots of a position, side by side along its wall."""
    foot = straight.at(mark.middle_mm, 0.0)
    half = (DOT_STEP_PX * (len(mark.pipes) - 1) / 2.0 + DOT_PX + CLEAR_PX) * k
    for cost, aside, off in _offsets():
        at = straight.at(mark.middle_mm + aside * k, off * k)
        box = centred_box(at, straight.along, straight.inward, half, (DOT_PX + CLEAR_PX) * k)
        yield cost * k, Placed((), (box,), ((foot, at),))


def _start_places(
    straight: StraightOnPaper, mark: MarkOnPaper, dots: PlacedPosition, block: _Block
) -> Iterator[tuple[float, Placed]]:
    """Places for a block, level with the page; its leader goes from the edge of the dots to its own."""
    (x0, y0), (x1, y1) = dots.dots[0][0], dots.dots[-1][0]
    middle = ((x0 + x1) / 2.0, (y0 + y1) / 2.0)
    beyond = math.dist((x0, y0), (x1, y1)) / 2.0 + (DOT_PX + CLEAR_PX) * 1.5 * block.valve_k
    half = block.half
    reach = half[0] * abs(straight.inward[0]) + half[1] * abs(straight.inward[1])
    for cost, aside, off in _offsets():
        at = straight.at(mark.middle_mm + aside * block.valve_k, off * block.valve_k + reach)
        way = (at[0] - middle[0], at[1] - middle[1])
        length = math.hypot(*way) or 1.0
        inside = min(side / abs(step) if step else 1.0 for side, step in zip(half, way, strict=True))
        ends = [(middle[0] + share * way[0], middle[1] + share * way[1]) for share in _leader(beyond / length, inside)]
        box = centred_box(at, (1.0, 0.0), (0.0, 1.0), *half)
        yield cost * block.valve_k, Placed((), (box,), ((ends[0], ends[1]),))


def _from_dot(position: PlacedPosition, end: Point, radius: float) -> tuple[Point, Point]:
    """The line to a point from the edge of the dot nearest to it."""
    x, y = min((at for at, _ in position.dots), key=lambda at: math.dist(at, end))
    share = min(radius / (math.dist((x, y), end) or 1.0), 1.0)
    return (x + share * (end[0] - x), y + share * (end[1] - y)), end


def _leader(start: float, inside: float) -> tuple[float, float]:
    """Where a leader starts and ends as shares of the way between two middles, by what of it is inside the block."""
    end = max(1.0 - inside, 0.0)
    return min(start, end), end


def _label_places(
    room: RoomOnPaper, k: float, texts: LabelTexts, made: dict[Box, PlacedLabel]
) -> Iterator[tuple[float, Placed]]:
    """Places for the label of a room, the cheapest first: its name, else its number; the figure goes last. `made`
    gets the label of every place."""
    xs, ys = zip(*room.outline, strict=True)
    west, south, wide, high = min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys)
    figure, short = texts.figures[room.name], str(texts.numbers[room.name])
    ways = ((room.name, True, True), (short, False, True), (short, False, False))
    spots = sorted(product(range(1, 24), range(1, 24)), key=lambda spot: math.hypot(spot[0] - 12, spot[1] - 12))
    for rank, (text, is_name, has_figure) in enumerate(ways):
        lines = [text_width_mm(text, NAME_PX * CAPITAL_SHARE * k, True)]
        if has_figure:
            lines.append(text_width_mm(figure, FIGURE_PX * CAPITAL_SHARE * k))
        half = max(*lines, NAME_PX * k) / 2.0 + CLEAR_PX * k
        tall = (LINE_PX * len(lines) / 2.0 + CLEAR_PX / 2.0) * k
        for a, b in spots:
            at = (west + a * wide / 24.0, south + b * high / 24.0)
            first = (at[0], at[1] + LINE_PX * (len(lines) - 1) / 2.0 * k)
            box = centred_box(at, (1.0, 0.0), (0.0, 1.0), half, tall)
            made[box] = PlacedLabel(room.name, first, text, is_name, has_figure)
            yield 100.0 * rank + math.hypot(a - 12, b - 12), Placed((), (box,))
