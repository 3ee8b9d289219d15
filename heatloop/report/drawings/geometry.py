"""Elements of a drawing: lines, rings, texts and holes on layers. Writers draw it without further decisions.

Lengths on paper are in millimetres from the lower left-hand corner of the sheet; line widths follow ISO 128, lettering
ISO 3098 (both from memory): capitals 2.5, 3.5 and 5 mm high.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from heatloop.report.drawings.letters import MEASURED_SIZE, Ink, ink_of

Point = tuple[float, float]

Anchor = Literal["left", "centre", "right"]

Dash = Literal["solid", "dashed", "dotted", "chain"]

SMALL_MM, MIDDLE_MM, LARGE_MM = 2.5, 3.5, 5.0
"""Heights of capitals."""

CAPITAL_SHARE = 0.729
"""Height of a capital in the size of the font (font's own tables)."""

POINT_MM = 25.4 / 72.0


@dataclass(frozen=True)
class Line:
    """A line through points; `grey` 0 is black. `of` is the label of the piece, or the loop of the crossing, that it
    stands for."""

    layer: str
    points: tuple[Point, ...]
    width_mm: float
    dash: Dash = "solid"
    grey: float = 0.0
    of: str = ""


@dataclass(frozen=True)
class Ring:
    """A circle, filled black or with the paper showing."""

    layer: str
    centre: Point
    radius_mm: float
    width_mm: float = 0.25
    filled: bool = False


@dataclass(frozen=True)
class Words:
    """Text on one line. `at` is at half the height of its capitals; `angle` in degrees, `bold` or not."""

    layer: str
    at: Point
    text: str
    height_mm: float = SMALL_MM
    angle: float = 0.0
    anchor: Anchor = "left"
    bold: bool = False

    @property
    def size_pt(self) -> float:
        """Size of the font, points."""
        return self.height_mm / CAPITAL_SHARE / POINT_MM

    @property
    def start(self) -> Point:
        """Where the first letter is on the base line."""
        ink = self.ink
        back = {"left": -ink.left, "centre": -(ink.left + ink.right) / 2.0, "right": -ink.right}[self.anchor]
        return _turned(self.at, (back, -self.height_mm / 2.0), self.angle)

    @property
    def ink(self) -> Ink:
        """Extent of its letters from the start on the base line, mm on paper."""
        return ink_of(self.text, self.bold).scaled(self.height_mm / CAPITAL_SHARE / MEASURED_SIZE)

    @cached_property
    def box(self) -> Box:
        """Area of its letters, as four corners."""
        ink, start = self.ink, self.start
        corners = ((ink.left, ink.low), (ink.right, ink.low), (ink.right, ink.top), (ink.left, ink.top))
        return Box(tuple(_turned(start, corner, self.angle) for corner in corners))


Primitive = Line | Ring | Words


TOUCH_MM = 1e-9
"""What overlaps by less than this has an edge in common and no more."""


@dataclass(frozen=True)
class Box:
    """A rectangle that may be turned: its corners in order."""

    corners: tuple[Point, ...]

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """West, south, east and north edge."""
        xs, ys = zip(*self.corners, strict=True)
        return min(xs), min(ys), max(xs), max(ys)

    def grown(self, by_mm: float) -> Box:
        """The rectangle with so much more on every side."""
        cx, cy = (sum(values) / len(self.corners) for values in zip(*self.corners, strict=True))
        (ax, ay), (bx, by), (dx, dy) = self.corners[0], self.corners[1], self.corners[3]
        wide, high = math.hypot(bx - ax, by - ay) or 1.0, math.hypot(dx - ax, dy - ay) or 1.0
        u, v = ((bx - ax) / wide, (by - ay) / wide), ((dx - ax) / high, (dy - ay) / high)
        half = (wide / 2.0 + by_mm, high / 2.0 + by_mm)
        return centred_box((cx, cy), u, v, *half)

    def touches(self, other: Box) -> bool:
        """Whether two rectangles have more than an edge in common, by separating axes."""
        (aw, as_, ae, an), (bw, bs, be, bn) = self.bounds, other.bounds
        if ae <= bw + TOUCH_MM or be <= aw + TOUCH_MM or an <= bs + TOUCH_MM or bn <= as_ + TOUCH_MM:
            return False
        if self.upright and other.upright:
            return True
        return not any(_apart(self.corners, other.corners, axis) for box in (self, other) for axis in box.axes)

    @cached_property
    def axes(self) -> tuple[Point, Point]:
        """Directions of its sides."""
        (ax, ay), (bx, by), _, (dx, dy) = self.corners
        return (bx - ax, by - ay), (dx - ax, dy - ay)

    @cached_property
    def upright(self) -> bool:
        """Whether its sides lie along both axes, so that its bounds are the rectangle itself."""
        return all(min(abs(x), abs(y)) < TOUCH_MM for x, y in self.axes)

    def is_cut_by(self, a: Point, b: Point) -> bool:
        """Whether the line between two points comes into it."""
        west, south, east, north = self.bounds
        (ax, ay), (bx, by) = a, b
        if max(ax, bx) <= west + TOUCH_MM or min(ax, bx) >= east - TOUCH_MM:
            return False
        if max(ay, by) <= south + TOUCH_MM or min(ay, by) >= north - TOUCH_MM:
            return False
        across = (ay - by, bx - ax)
        return not any(
            _apart(self.corners, (a, b), axis) for axis in ((across,) if self.upright else (*self.axes, across))
        )


@dataclass(frozen=True)
class Hole:
    """An opening in the floor at its true place: level coordinates and diameter in metres."""

    mark: str
    centre_m: Point
    diameter_m: float


@dataclass(frozen=True)
class PlanWindow:
    """Position of a plan on paper: scale as 1 to `scale`, and the point of the level, m, at `origin_mm` on paper."""

    scale: int
    origin_m: Point
    origin_mm: Point

    def on_paper(self, point: Point) -> Point:
        """A point of the level on paper, mm."""
        k = 1000.0 / self.scale
        return (
            self.origin_mm[0] + (point[0] - self.origin_m[0]) * k,
            self.origin_mm[1] + (point[1] - self.origin_m[1]) * k,
        )

    def in_level(self, point: Point) -> Point:
        """A point on paper in the level, m."""
        k = self.scale / 1000.0
        return (
            self.origin_m[0] + (point[0] - self.origin_mm[0]) * k,
            self.origin_m[1] + (point[1] - self.origin_mm[1]) * k,
        )


@dataclass(frozen=True)
class DrawingSheet:
    """One sheet: its number of all sheets, level and template, the plan on it and everything else on paper.

    `window` is None on a sheet without a plan. `holes` are those of its plan. `alt_text` is its text alternative,
    `paper_mm` the width and height of the paper, A3 where not given.
    """

    number: int
    of: int
    level_m: float
    template: str
    title: str
    window: PlanWindow | None
    field: tuple[float, float, float, float]
    plan: tuple[Primitive, ...]
    paper: tuple[Primitive, ...]
    holes: tuple[Hole, ...] = ()
    rooms: tuple[str, ...] = ()
    alt_text: str = ""
    paper_mm: tuple[float, float] = (420.0, 297.0)

    @property
    def primitives(self) -> tuple[Primitive, ...]:
        """Everything that is drawn, the plan first."""
        return (*self.plan, *self.paper)

    @property
    def words(self) -> tuple[Words, ...]:
        """Every text on the sheet."""
        return tuple(primitive for primitive in self.primitives if isinstance(primitive, Words))


def moved(primitives: Iterable[Primitive], dx: float, dy: float) -> tuple[Primitive, ...]:
    """The same somewhere else on paper."""
    shifted: list[Primitive] = []
    for primitive in primitives:
        if isinstance(primitive, Line):
            shifted.append(replace(primitive, points=tuple((x + dx, y + dy) for x, y in primitive.points)))
        elif isinstance(primitive, Ring):
            shifted.append(replace(primitive, centre=(primitive.centre[0] + dx, primitive.centre[1] + dy)))
        else:
            shifted.append(replace(primitive, at=(primitive.at[0] + dx, primitive.at[1] + dy)))
    return tuple(shifted)


def rectangle(layer: str, corner: Point, size: Point, width_mm: float) -> Line:
    """The four sides of a rectangle."""
    (west, south), (wide, high) = corner, size
    east, north = west + wide, south + high
    return Line(layer, ((west, south), (east, south), (east, north), (west, north), (west, south)), width_mm)


def centred_box(centre: Point, u: Point, v: Point, half_u: float, half_v: float) -> Box:
    """A rectangle by its middle, the unit directions of its sides and half their lengths."""
    return Box(
        tuple(
            (centre[0] + a * half_u * u[0] + b * half_v * v[0], centre[1] + a * half_u * u[1] + b * half_v * v[1])
            for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        )
    )


def text_width_mm(text: str, height_mm: float = SMALL_MM, bold: bool = False) -> float:
    """Width of a text on paper, mm: from the font, not estimated."""
    return Words("", (0.0, 0.0), text, height_mm, bold=bold).ink.right if text.strip() else 0.0


def fitting(text: str, width_mm: float, height_mm: float = SMALL_MM, bold: bool = False) -> str:
    """A text shortened, with an ellipsis, to a width on paper; whole where it fits."""
    if text_width_mm(text, height_mm, bold) <= width_mm:
        return text
    for size in range(len(text) - 1, 0, -1):
        shorter = text[:size].rstrip() + "…"
        if text_width_mm(shorter, height_mm, bold) <= width_mm:
            return shorter
    return "…"


def wrapped(text: str, width_mm: float, height_mm: float = SMALL_MM, bold: bool = False) -> list[str]:
    """A text on as many lines as its width on paper takes; a word that is too long is shortened."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width_mm(longer, height_mm, bold) <= width_mm:
            lines[-1] = longer
        else:
            lines.append(fitting(word, width_mm, height_mm, bold))
    return lines


def _turned(origin: Point, by: Point, angle: float) -> Point:
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return origin[0] + by[0] * c - by[1] * s, origin[1] + by[0] * s + by[1] * c


def _apart(shape: Sequence[Point], other: Sequence[Point], axis: Point) -> bool:
    """Whether the shadows of two shapes on an axis have nothing but an end in common."""
    mine = [x * axis[0] + y * axis[1] for x, y in shape]
    theirs = [x * axis[0] + y * axis[1] for x, y in other]
    slack = TOUCH_MM * (abs(axis[0]) + abs(axis[1]))
    return max(mine) <= min(theirs) + slack or max(theirs) <= min(mine) + slack
