"""Letters of the font of drawings, measured from the tables of its TrueType file.

The file comes with matplotlib, which is not imported, because it is slow to import. Lengths are at a size of 1000.
Outlines are measured as matplotlib draws them, in steps of 1/64 at a size of 100.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.util import find_spec
from pathlib import Path

FAMILY = "DejaVu Sans"

MEASURED_SIZE = 1000.0

STEPS = 6400
"""Steps of an outline in the size of the font: 64 at a size of 100."""

FILES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}

SPACE, NO_BREAK_SPACE = 0x20, 0xA0

WORDS, OFFSETS, MORE = 0x1, 0x2, 0x20
"""Flags of a component: its numbers have two bytes; they are offsets; another component follows."""
SCALE, TWO_SCALES, MATRIX = 0x8, 0x40, 0x80
"""Flags of a component that is scaled, in one way for both directions, in one for each, or by a matrix."""

Steps = tuple[int, int, int, int]
"""West, south, east and north of an outline, in steps."""


@dataclass(frozen=True)
class Ink:
    """Extent of letters: left, right, low and top from the start on the base line."""

    left: float
    right: float
    low: float
    top: float

    def scaled(self, scale: float) -> Ink:
        """The extent in another unit."""
        return Ink(self.left * scale, self.right * scale, self.low * scale, self.top * scale)


class FontFile:
    """A TrueType font file: glyphs of letters, their advances and the extents of their outlines."""

    def __init__(self, path: Path) -> None:
        self._bytes = path.read_bytes()
        count = self._read(">H", 4)[0]
        tables = (struct.unpack_from(">4sLLL", self._bytes, 12 + 16 * i) for i in range(count))
        self._at: dict[str, int] = {name.decode("ascii"): offset for name, _, offset, _ in tables}
        self._units = self._read(">H", self._at["head"] + 18)[0]
        self._long = self._read(">h", self._at["head"] + 50)[0] == 1
        self._metrics = self._read(">H", self._at["hhea"] + 34)[0]
        self.ascent, self.descent = (self._scaled(units) for units in self._read(">hh", self._at["OS/2"] + 68))
        self._ranges = self._letter_ranges()

    def glyph(self, letter: str) -> int | None:
        """Number of the glyph of a letter; None for one that the font lacks."""
        code = SPACE if ord(letter) == NO_BREAK_SPACE else ord(letter)
        return next((glyph + code - first for first, last, glyph in self._ranges if first <= code <= last), None)

    def advance(self, glyph: int) -> float:
        """Distance from the start of a glyph to that of the next."""
        at = self._at["hmtx"] + 4 * min(glyph, self._metrics - 1)
        return self._scaled(self._read(">H", at)[0])

    def ink(self, glyph: int) -> Ink | None:
        """Extent of the outline of a glyph; None for one without an outline."""
        steps = self._steps(glyph)
        if steps is None:
            return None
        west, south, east, north = (step * (MEASURED_SIZE / STEPS) for step in steps)
        return Ink(west, east, south, north)

    def _steps(self, glyph: int) -> Steps | None:
        """Extent of an outline: of a letter with an accent, that of its components where they stand."""
        at = self._outline(glyph)
        if at is None:
            return None
        contours, *edges = self._read(">5h", at)
        west, south, east, north = map(self._in_steps, edges)
        if contours >= 0:
            return west, south, east, north
        boxes = []
        at, more = at + 10, True
        while more:
            flags, component = self._read(">HH", at)
            if not flags & OFFSETS or flags & (SCALE | TWO_SCALES | MATRIX):
                return west, south, east, north
            dx, dy = map(self._in_steps, self._read(">hh" if flags & WORDS else ">bb", at + 4))
            if (box := self._steps(component)) is not None:
                boxes.append((box[0] + dx, box[1] + dy, box[2] + dx, box[3] + dy))
            at, more = at + (8 if flags & WORDS else 6), bool(flags & MORE)
        wests, souths, easts, norths = zip(*boxes, strict=True)
        return min(wests), min(souths), max(easts), max(norths)

    def _outline(self, glyph: int) -> int | None:
        """Place of the outline of a glyph in the file; None where it has none."""
        layout, size, unit = (">LL", 4, 1) if self._long else (">HH", 2, 2)
        start, end = self._read(layout, self._at["loca"] + size * glyph)
        return None if start == end else self._at["glyf"] + unit * start

    def _letter_ranges(self) -> list[tuple[int, int, int]]:
        """Ranges of letters with successive glyphs: first and last letter, and the glyph of the first."""
        start = self._at["cmap"]
        count = self._read(">H", start + 2)[0]
        tables = {(platform, kind): offset for platform, kind, offset in (
            self._read(">HHL", start + 4 + 8 * i) for i in range(count)
        )}  # fmt: skip
        at = start + tables[3, 10]  # all of Unicode
        return [self._read(">LLL", at + 16 + 12 * i) for i in range(self._read(">L", at + 12)[0])]  # type: ignore[misc]

    def _read(self, layout: str, at: int) -> tuple[int, ...]:
        return struct.unpack_from(layout, self._bytes, at)

    def _scaled(self, units: int) -> float:
        return units * (MEASURED_SIZE / self._units)

    def _in_steps(self, units: int) -> int:
        """Units of the font in whole steps, halves away from zero."""
        whole = (abs(units) * STEPS * 2 + self._units) // (2 * self._units)
        return whole if units >= 0 else -whole


def font_path(bold: bool) -> Path:
    """The file of the font, in the folder of matplotlib."""
    package = find_spec("matplotlib")
    assert package is not None
    assert package.origin is not None
    return Path(package.origin).parent / "mpl-data" / "fonts" / "ttf" / FILES[bold]


@lru_cache(maxsize=4096)
def ink_of(text: str, bold: bool) -> Ink:
    """Extent of a text at a size of 1000, by the outlines of its letters without kerning; a blank has none."""
    pen, marks = 0.0, []
    for letter in text:
        if (ink := letter_ink(letter, bold)) is not None:
            marks.append((pen + ink.left, pen + ink.right, ink.low, ink.top))
        pen += letter_advance(letter, bold)
    if not marks:
        return Ink(0.0, 0.0, 0.0, 0.0)
    lefts, rights, lows, tops = zip(*marks, strict=True)
    return Ink(min(lefts), max(rights), min(lows), max(tops))


@cache
def font_file(bold: bool) -> FontFile:
    """The font in which sheets are measured and printed."""
    return FontFile(font_path(bold))


@cache
def letter_advance(letter: str, bold: bool) -> float:
    """Distance from one letter to the next; for a letter that the font lacks, that of the frame printed for it."""
    font = font_file(bold)
    return font.advance(font.glyph(letter) or 0)


@cache
def letter_ink(letter: str, bold: bool) -> Ink | None:
    """Extent of one letter from where the pen begins; None for a blank."""
    font = font_file(bold)
    glyph = font.glyph(letter)
    if glyph is None:  # printed as the frame that the font has for what it lacks
        return Ink(0.0, font.advance(0), font.descent, font.ascent)
    return font.ink(glyph)
