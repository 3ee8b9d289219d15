"""Blocks of a sheet: what is drawn in one piece, by its size, and how blocks fill a zone of the paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from heatloop.report.drawings.geometry import Primitive, moved

GAP_MM = 3.0


@dataclass(frozen=True)
class Block:
    """Primitives with their size; the upper left-hand corner is at 0, 0 and everything below it has negative y.

    One that `keeps_next` has a row to itself and is never the last of a zone while others follow.
    """

    width_mm: float
    height_mm: float
    primitives: tuple[Primitive, ...]
    keeps_next: bool = False

    def at(self, west: float, top: float) -> tuple[Primitive, ...]:
        """The block with its upper left-hand corner at a point on paper."""
        return moved(self.primitives, west, top)


@dataclass(frozen=True)
class Zone:
    """A part of the paper: west, south, east and north edge, mm."""

    west: float
    south: float
    east: float
    north: float

    @property
    def width_mm(self) -> float:
        """From west to east."""
        return self.east - self.west

    @property
    def height_mm(self) -> float:
        """From south to north."""
        return self.north - self.south

    def below(self, used_mm: float) -> Zone:
        """The part below a given height from the top."""
        return Zone(self.west, self.south, self.east, self.north - used_mm)


def filled(zone: Zone, blocks: Sequence[Block]) -> tuple[tuple[Primitive, ...], tuple[Block, ...], Zone]:
    """Blocks set in rows from the upper left-hand corner of a zone; those without room, and what is left below.

    Order is kept: after the first block that has no room none is set.
    """
    placed: list[Primitive] = []
    x, top, row_mm = zone.west, zone.north, 0.0
    for index, block in enumerate(blocks):
        if x > zone.west and (block.keeps_next or x + block.width_mm > zone.east):
            x, top, row_mm = zone.west, top - row_mm - GAP_MM, 0.0
        below = blocks[index + 1].height_mm + GAP_MM if block.keeps_next and index + 1 < len(blocks) else 0.0
        if block.width_mm > zone.width_mm or top - block.height_mm - below < zone.south:
            return tuple(placed), tuple(blocks[index:]), Zone(zone.west, zone.south, zone.east, top - row_mm)
        placed += block.at(x, top)
        x += zone.width_mm if block.keeps_next else block.width_mm + GAP_MM
        row_mm = max(row_mm, block.height_mm)
    return tuple(placed), (), Zone(zone.west, zone.south, zone.east, top - row_mm)
