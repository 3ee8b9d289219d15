"""Details of first fix: each type of position at 1:5, and straights whose figures have no place on the plan."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from heatloop.handover.first_fix.model import PipePosition
from heatloop.layout.build import piece_letters
from heatloop.report.drawings.blocks import Block
from heatloop.report.drawings.geometry import MIDDLE_MM, Line, Primitive, Ring, Words, fitting, text_width_mm, wrapped
from heatloop.report.drawings.plan.level_plan import figure_of
from heatloop.report.drawings.plan.text_places import DOT_MM, ORIGIN_MM, RING_MM, ROW_MM, ring_of
from heatloop.report.drawings.set_out_table import straight_text
from heatloop.text.formatting import escape_control_characters, in_ranges

DETAIL_SCALE = 5
STRIP_SCALES, PLAN_SCALE = (20, 50, 100, 200, 500), 100
"""Scales of a straight drawn out, largest first, and the smallest usual scale of a plan."""
STRIP_MM, LONG_STRIP_MM = 92.0, 170.0
"""Length of a straight on paper, at most: two are side by side; one that is longer at the scale of a plan has a row to
itself."""
LINE_MM = 4.2
FAN_MM = 4.6
"""Between the letters of pipes in a detail."""


@dataclass(frozen=True)
class DetailKind:
    """Common values of positions of one type, mm: places from the first pipe, heights, opening, off the wall."""

    places_mm: tuple[float, ...]
    heights_mm: tuple[float | None, ...]
    opening_mm: float
    off_mm: float


def kind_of(position: PipePosition) -> DetailKind:
    """The type of a position."""
    first_m = position.pipes[0].from_left_corner_m
    return DetailKind(
        tuple(round((pipe.from_left_corner_m - first_m) * 1000.0, 1) for pipe in position.pipes),
        tuple(None if math.isnan(pipe.height_m) else round(pipe.height_m * 1000.0, 1) for pipe in position.pipes),
        round(position.opening_m * 1000.0, 1),
        round(position.off_wall_m * 1000.0, 1),
    )


def kinds_of(positions: Sequence[PipePosition]) -> dict[DetailKind, list[int]]:
    """The types of some positions in the order of their first one, each with the numbers of its positions."""
    kinds: dict[DetailKind, list[int]] = {}
    for position in positions:
        kinds.setdefault(kind_of(position), []).append(position.number)
    return kinds


def type_letters(kinds: Mapping[DetailKind, Sequence[int]]) -> dict[int, str]:
    """The letter of its type by the number of a position."""
    return {number: piece_letters(index).upper() for index, numbers in enumerate(kinds.values()) for number in numbers}


def details_title(width_mm: float) -> Block:
    """The line above the types, as wide as their zone."""
    title = Words("HL-DETAIL", (0.0, -2.5), "Types of position, 1:5", MIDDLE_MM, bold=True)
    at = title.ink.right + 5.0
    explanation = fitting("a, b: height; a-b: between centres; ⌀: opening; w: to the wall", width_mm - at)
    words = (title, Words("HL-DETAIL", (at, -2.5), explanation))
    return Block(width_mm, 5.0, words, keeps_next=True)


def detail_block(kind: DetailKind, letter: str, numbers: Sequence[int]) -> Block:
    """One type at 1:5: stubs over the finished floor, openings in plan before the hatched wall, and its figures."""
    scale = 1.0 / DETAIL_SCALE
    count = len(kind.places_mm)
    names = [piece_letters(i) if count > 1 else "" for i in range(count)]
    figures = [*_height_lines(kind, names), *_pitch_lines(kind, names), f"⌀{kind.opening_mm:g}", f"w {kind.off_mm:g}"]
    text_mm = max(map(text_width_mm, figures))
    span = kind.places_mm[-1] * scale
    fan = FAN_MM * (count - 1)
    drawn_mm = max(span, fan) + 14.0
    width = drawn_mm + 2.0 + text_mm
    lines = wrapped(in_ranges(numbers), width - 7.0)
    primitives: list[Primitive] = [Words("HL-DETAIL", (0.0, -2.5), letter, MIDDLE_MM, bold=True)]
    primitives += [Words("HL-DETAIL", (7.0, -2.5 - LINE_MM * i), line) for i, line in enumerate(lines)]
    top = -3.0 - LINE_MM * len(lines)
    tallest = max([height for height in kind.heights_mm if height is not None], default=0.0) * scale
    floor = top - tallest - 2.0
    wall = floor - 8.0 - 5.0 - kind.off_mm * scale - kind.opening_mm * scale / 2.0
    middle = drawn_mm / 2.0
    primitives.append(Line("HL-DETAIL", ((0.0, floor), (drawn_mm, floor)), 0.5))
    for i, (place, height, name) in enumerate(zip(kind.places_mm, kind.heights_mm, names, strict=True)):
        x, fanned = middle - span / 2.0 + place * scale, middle + (i - (count - 1) / 2.0) * FAN_MM
        if height is not None:
            y = floor + height * scale
            primitives += [Line("HL-DETAIL", ((x + side, floor - 1.0), (x + side, y)), 0.25) for side in (-1.2, 1.2)]
            primitives.append(Line("HL-DETAIL", ((x - 2.0, y), (x + 2.0, y)), 0.35))
        centre = (x, wall + kind.off_mm * scale)
        primitives.append(Ring("HL-DETAIL", centre, kind.opening_mm * scale / 2.0, 0.25))
        primitives.append(Line("HL-DETAIL", ((x - 0.6, centre[1]), (x + 0.6, centre[1])), 0.13))
        primitives.append(Line("HL-DETAIL", ((x, centre[1] - 0.6), (x, centre[1] + 0.6)), 0.13))
        if name:
            primitives.append(Words("HL-DETAIL", (fanned, floor - 4.5), name, anchor="centre", bold=True))
            primitives.append(Line("HL-DETAIL", ((fanned, floor - 6.6), centre), 0.13))
    primitives.append(Line("HL-DETAIL", ((0.0, wall), (drawn_mm, wall)), 0.5))
    for i in range(int(drawn_mm // 3.0)):
        primitives.append(Line("HL-DETAIL", ((3.0 * i, wall - 2.0), (3.0 * i + 2.0, wall)), 0.13))
    for i, line in enumerate(figures):
        primitives.append(Words("HL-DETAIL", (drawn_mm + 2.0, top - 2.0 - LINE_MM * i), line))
    bottom = min(wall - 2.5, top - 2.0 - LINE_MM * len(figures))
    return Block(width, -bottom, tuple(primitives))


def _height_lines(kind: DetailKind, names: Sequence[str]) -> list[str]:
    """Heights over the finished floor, letter by letter."""
    return [
        f"{name} in floor".strip() if height is None else f"{name} {height:.4g}".strip()
        for name, height in zip(names, kind.heights_mm, strict=True)
    ]


def _pitch_lines(kind: DetailKind, names: Sequence[str]) -> list[str]:
    pairs = zip(pairwise(names), pairwise(kind.places_mm), strict=True)
    return [f"{a}-{b} {q - p:.4g}" for (a, b), (p, q) in pairs]


def strip_blocks(positions: Sequence[PipePosition], room: str, first: int) -> list[Block]:
    """The straights of a crowded room, each drawn out along a line with all its figures; numbered R from `first`."""
    straights: dict[tuple[int, ...], list[PipePosition]] = {}
    for position in positions:
        if position.room == room:
            straights.setdefault(position.straight, []).append(position)
    return [_strip(f"R{first + index}", walls, own) for index, (walls, own) in enumerate(straights.items())]


def _strip_scale(length_m: float) -> int:
    """The scale of a straight drawn out along a line.

    >>> _strip_scale(3.4), _strip_scale(9.0), _strip_scale(12.0), _strip_scale(24.0)
    (50, 100, 100, 200)
    """
    longest_mm = STRIP_MM if length_m * 1000.0 / PLAN_SCALE <= STRIP_MM else LONG_STRIP_MM
    return next((n for n in STRIP_SCALES if length_m * 1000.0 / n <= longest_mm), STRIP_SCALES[-1])


def _strip(name: str, walls: tuple[int, ...], positions: Sequence[PipePosition]) -> Block:
    pipe = positions[0].pipes[0]
    length_m = pipe.from_left_corner_m + pipe.from_right_corner_m
    scale = _strip_scale(length_m)
    k = 1000.0 / scale
    widths = [max(ROW_MM * len(position.pipes), 2.0 * RING_MM + 0.8) + 0.6 for position in positions]
    wished = [
        k * sum(placed_pipe.from_left_corner_m for placed_pipe in position.pipes) / len(position.pipes)
        for position in positions
    ]
    centres = _spread(wished, widths)
    west = min(0.0, centres[0] - widths[0] / 2.0)
    east = max(length_m * k, centres[-1] + widths[-1] / 2.0)
    figures = [[figure_of(position, placed_pipe.mark) for placed_pipe in position.pipes] for position in positions]
    longest = max(text_width_mm(text) for texts in figures for text in texts)
    room = fitting(escape_control_characters(positions[0].room), 40.0, bold=True)
    where = f"{room}, {'wall' if len(walls) == 1 else 'walls'} {straight_text(walls)}, "
    title = f"{name}  {where}{round(length_m * 1000.0)} long, 1:{scale}"
    title_mm = text_width_mm(title, bold=True)
    ring_y = -6.0 - RING_MM - 0.5
    text_top = ring_y - RING_MM - 1.0
    dot_y = text_top - longest - 1.6
    line_y = dot_y - 5.0
    wall_y = line_y - 3.5
    shift = -west + 1.0
    primitives: list[Primitive] = [Words("HL-DETAIL", (0.0, -2.5), title, bold=True)]
    left, right = shift, shift + length_m * k
    primitives += [
        Line("HL-DETAIL", ((left, wall_y), (right, wall_y)), 0.5),
        Line("HL-DETAIL", ((left, wall_y - 2.0), (left, line_y - ORIGIN_MM)), 0.18),
        Line("HL-DETAIL", ((right, wall_y - 2.0), (right, wall_y + 2.0)), 0.18),
        Ring("HL-DETAIL", (left, line_y), ORIGIN_MM, 0.25),
        Line(
            "HL-DETAIL",
            ((left + ORIGIN_MM, line_y), (left + positions[-1].pipes[-1].from_left_corner_m * k, line_y)),
            0.18,
        ),
    ]
    for position, centre, texts in zip(positions, centres, figures, strict=True):
        for i, (placed_pipe, text) in enumerate(zip(position.pipes, texts, strict=True)):
            x = left + placed_pipe.from_left_corner_m * k
            at = shift + centre + (i - (len(texts) - 1) / 2.0) * ROW_MM
            is_flow = placed_pipe.direction == "flow"
            primitives += [
                Line("HL-DETAIL", ((x, wall_y), (x, line_y + 0.5), (at, dot_y - DOT_MM)), 0.18),
                Line("HL-DETAIL", ((x - 0.5, line_y - 0.5), (x + 0.5, line_y + 0.5)), 0.35),
                Ring("HL-DETAIL", (at, dot_y), DOT_MM, 0.25, filled=is_flow),
                Words("HL-DETAIL", (at, dot_y + 1.6), text, angle=90.0),
            ]
        primitives += ring_of(position.number, (shift + centre, ring_y))
    return Block(max(east + shift + 1.0, title_mm), -wall_y + 2.5, tuple(primitives))


def _spread(wished: Sequence[float], widths: Sequence[float]) -> list[float]:
    """Middles of groups as near as can be to where they are wished, none over another (least squares)."""
    from scipy.optimize import isotonic_regression  # here, because it is slow to import and needed for first fix only

    starts = np.concatenate([[0.0], np.cumsum([(a + b) / 2.0 for a, b in pairwise(widths)])])
    return [float(start_mm) for start_mm in isotonic_regression(np.asarray(wished) - starts).x + starts]
