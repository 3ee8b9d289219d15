"""Where the plan of a part of a level goes on: a chain line at the cut, and the sheets that show what is beyond it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Literal

from heatloop.report.drawings.geometry import Line, PlanWindow, Point, Primitive, Words
from heatloop.text.formatting import in_ranges, plural

Bounds = tuple[float, float, float, float]
"""West, south, east and north edge."""

Side = Literal["west", "south", "east", "north"]

BAND_MM = 5.5
"""Kept free about the plan of a part."""

CHAIN_MM, WORDS_MM = 1.2, 3.4
"""Chain line and words, off the plan."""

BESIDE_M = 1.5
"""Parts with no more than this between them are beside each other."""


def side_of(own_m: Bounds, other_m: Bounds) -> Side | None:
    """The side of a part on which another one is beside it; None where it is not beside it, or only at a corner.

    >>> side_of((0, 0, 10, 8), (10.1, 1, 20, 8)), side_of((0, 0, 10, 8), (10.1, 8.1, 20, 16))
    ('east', None)
    """
    (west, south, east, north), (a, b, c, d) = own_m, other_m
    gaps: dict[Side, float] = {"west": west - c, "south": south - d, "east": a - east, "north": b - north}
    side = max(gaps, key=lambda direction: gaps[direction])
    if gaps[side] > BESIDE_M:
        return None
    along = (b, d, south, north) if side in ("west", "east") else (a, c, west, east)
    return side if min(along[1], along[3]) > max(along[0], along[2]) else None


def continuations(window: PlanWindow, own_m: Bounds, others_m: Mapping[int, Bounds]) -> Iterator[Primitive]:
    """The marks of the plan of a part; `others_m` are the edges of the other parts of its level by their sheets."""
    beyond: dict[Side, list[int]] = {}
    for sheet, other_m in others_m.items():
        side = side_of(own_m, other_m)
        if side is not None:
            beyond.setdefault(side, []).append(sheet)
    low, high = window.on_paper(own_m[:2]), window.on_paper(own_m[2:])
    for side, sheets in beyond.items():
        noun = plural(len(sheets), "sheet").partition(" ")[2]
        yield from _mark(side, low, high, f"continues on {noun} {in_ranges(sheets)}")


def _mark(side: Side, low: Point, high: Point, text: str) -> Iterator[Primitive]:
    upright = side in ("west", "east")
    outwards = -1.0 if side in ("west", "south") else 1.0
    edge = (low if outwards < 0.0 else high)[0 if upright else 1]
    ends = (low[1], high[1]) if upright else (low[0], high[0])

    def at(along: float, off: float) -> Point:
        across = edge + outwards * off
        return (across, along) if upright else (along, across)

    yield Line("HL-FRAME", (at(ends[0], CHAIN_MM), at(ends[1], CHAIN_MM)), 0.35, "chain")
    middle = at((ends[0] + ends[1]) / 2.0, WORDS_MM)
    yield Words("HL-NOTE", middle, text, angle=90.0 if upright else 0.0, anchor="centre")
