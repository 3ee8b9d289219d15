"""Lengths for workshop and fitter: cuts in whole millimetres, gaps in half millimetres."""

from __future__ import annotations

import math
from collections.abc import Sequence

from heatloop.layout.model import PlacedJoint
from heatloop.layout.piece_ends import PlacedPiece

NEGLIGIBLE_MM = 1e-6


def half_down_mm(length_mm: float) -> int:
    """A length in whole millimetres, halves downwards.

    >>> half_down_mm(1234.5), half_down_mm(1234.51), half_down_mm(1234.49)
    (1234, 1235, 1234)
    """
    return math.ceil(length_mm - 0.5 - NEGLIGIBLE_MM)


def nearest_half_mm(gap_mm: float) -> float:
    """A gap to the nearest half millimetre; NaN stays NaN.

    >>> nearest_half_mm(3.74), nearest_half_mm(3.76)
    (3.5, 4.0)
    """
    return gap_mm if math.isnan(gap_mm) else round(2.0 * gap_mm) / 2.0


def cut_lengths_mm(pieces: Sequence[PlacedPiece]) -> tuple[int, ...]:
    """Cut lengths in whole millimetres, in the order of the pieces.

    In one straight, the running sum of the lengths is rounded half down piece by piece. Together the pieces are
    therefore never longer than the straight by more than the half millimetre of one cut.
    """
    cuts: list[int] = []
    metal_mm, sawn_mm = 0.0, 0
    before: PlacedPiece | None = None
    for placed in pieces:
        meets = placed.start
        joined = before is not None and before.end is meets and isinstance(meets, PlacedJoint)
        if not (joined and isinstance(meets, PlacedJoint) and meets.kind == "straight"):
            metal_mm, sawn_mm = 0.0, 0
        metal_mm += placed.piece.cut_m * 1000.0
        cuts.append(half_down_mm(metal_mm) - sawn_mm)
        sawn_mm += cuts[-1]
        before = placed
    return tuple(cuts)
