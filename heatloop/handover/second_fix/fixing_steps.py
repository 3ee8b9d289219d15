"""Pieces in the order of fixing: place, end to fix first, and gap by the temperature of the day."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.layout.model import Piece

SHOWN_TEMPS_C = (5, 15, 25)
"""Temperatures of the fitting day that documents print a gap for, °C."""

FIRST = {
    "left": "Fix the right-hand end first. Leave the gap at the left.",
    "right": "Fix the left-hand end first. Leave the gap at the right.",
    "both": "Fix its middle first. Leave a gap at both ends.",
}

NO_GAP = "Fix either end first. No gap at this piece."


@dataclass(frozen=True)
class FixingStep:
    """One piece of second fix: its number on the plan, its description, and its gaps in mm at `SHOWN_TEMPS_C`.

    `walls`: the walls that it covers, from left to right. A gap is NaN where the profile cannot have that temperature;
    there is none where no end of the piece is free.
    """

    number: int
    label: str
    room: str
    wall: int
    mounting: str
    loop: str
    profile: str
    cut_length_mm: float
    left_end: str
    right_end: str
    free_end: str
    bracket_positions_mm: str
    gaps_mm: tuple[float, ...]
    walls: tuple[int, ...] = ()

    @property
    def name(self) -> str:
        """Its number and label together."""
        return f"{self.number} · {self.label}"

    @property
    def wall_words(self) -> str:
        """Its wall, or the walls that it covers from left to right, in words."""
        return f"wall{'s' if len(self.walls) > 1 else ''} {self.wall_numbers}"

    @property
    def wall_numbers(self) -> str:
        """The number of its wall, or of the walls that it covers from left to right."""
        return " + ".join(map(str, self.walls or (self.wall,)))

    @property
    def first(self) -> str:
        """The end that is fixed first."""
        return fixing_order(self.free_end)

    @property
    def gap_words(self) -> str:
        """The gap to leave, in words, at each of `SHOWN_TEMPS_C`."""
        if not self.gaps_mm:
            return "No gap at this piece."
        cold, usual, warm = map(_millimetres, self.gaps_mm)
        side = "both ends" if self.free_end == "both" else f"the {self.free_end}"
        return f"Gap at {side}, mm: {cold} at 5 °C, {usual} at 15 °C, {warm} at 25 °C"


def fixing_order(free_end: str) -> str:
    """Which end of a piece is fixed first, by the end that is left free to slide.

    >>> fixing_order("right")
    'Fix the left-hand end first. Leave the gap at the right.'
    """
    return FIRST.get(free_end, NO_GAP)


def fixing_steps(parts: PartsListResult) -> tuple[FixingStep, ...]:
    """The pieces room by room, in each room in the order of the water."""
    gaps = {row["straight_length"]: row for row in parts.frames["expansion_gaps"].to_dict("records")}
    straights = {
        placed.piece.label: move.straight.label for move in parts.movement_plan.moves for placed in move.straight.pieces
    }
    walls = {placed.piece.label: _walls(placed.piece) for placed in parts.standings}
    rows = parts.frames["pieces"].to_dict("records")
    rooms = list(dict.fromkeys(row["room"] for row in rows))
    ordered = sorted(rows, key=lambda row: rooms.index(row["room"]))
    return tuple(
        _step(number, row, gaps.get(straights.get(row["label"], "")), walls[row["label"]])
        for number, row in enumerate(ordered, start=1)
    )


def _walls(piece: Piece) -> tuple[int, ...]:
    """The walls that a piece covers, from left to right."""
    passed = dict.fromkeys(segment.wall for segment in piece.segments if segment.wall)
    return tuple(passed) if piece.rightward else tuple(reversed(passed))


def _step(number: int, row: dict[Any, Any], gaps: dict[Any, Any] | None, walls: tuple[int, ...]) -> FixingStep:
    free = str(row["free_end"])
    gaps_mm = tuple(float(gaps[f"gap_at_{temp_c}_c_mm"]) for temp_c in SHOWN_TEMPS_C) if free and gaps else ()
    return FixingStep(
        number=number,
        label=row["label"],
        room=row["room"],
        wall=int(row["wall"]),
        mounting=row["mounting"],
        loop=row["loop"],
        profile=row["profile"],
        cut_length_mm=float(row["cut_length_mm"]),
        left_end=row["left_end"],
        right_end=row["right_end"],
        free_end=free,
        bracket_positions_mm=row["bracket_positions_mm"],
        gaps_mm=gaps_mm,
        walls=walls,
    )


def _millimetres(gap_mm: float) -> str:
    return "–" if math.isnan(gap_mm) else f"{gap_mm:.1f}"
