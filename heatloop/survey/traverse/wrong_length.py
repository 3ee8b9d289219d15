"""Whether walls and diagonals of a room agree and, if not, which length is wrong.

A single wrong length is searched for by leaving out each in turn (data snooping: Ghilani, Adjustment Computations, 6th
ed., chapter 21, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from heatloop.survey.traverse.adjustment import Adjustment, Traverse, adjust, adjust_by_tape, usual_turn_sd_deg

MAX_DEVIATION = 3.29
"""Largest residual that is taken as scatter, in standard deviations: exceeded once in a thousand."""

CLEARLY_BETTER = 9.0
"""Difference of misfit from which a suspect stands alone: three standard deviations."""

MAX_SUSPECTS = 12
"""Lengths that are left out in turn, those with the largest deviations first."""

Outcome = Literal["agrees", "wrong length", "other turns", "disagrees"]


@dataclass(frozen=True)
class Suspect:
    """A length that may be wrong: its index in `Traverse.taped_m`, and its length in m calculated from all others."""

    index: int
    length_m: float


@dataclass(frozen=True)
class Comparison:
    """Result of comparing walls and diagonals.

    `suspects`: lengths that may be wrong, most probable first, if the outcome is "wrong length". `room`: the adjusted
    room, with stated turns if it "agrees", by lengths alone for "other turns".
    """

    outcome: Outcome
    room: Adjustment
    suspects: tuple[Suspect, ...] = ()


def compare_lengths(traverse: Traverse) -> Comparison:
    """Check whether the lengths of a room agree with each other and with its turns; otherwise find the error.

    Raises ValueError as :func:`heatloop.survey.traverse.adjustment.adjust` does.
    """
    turn_sd_deg = usual_turn_sd_deg(traverse)
    whole = adjust(traverse, turn_sd_deg=turn_sd_deg)
    by_tape = adjust_by_tape(traverse)
    lengths_agree = max(map(abs, by_tape.deviations[: len(traverse.taped_m)])) <= MAX_DEVIATION
    if whole.largest_deviation <= MAX_DEVIATION and lengths_agree:
        return Comparison("agrees", whole)
    if suspects := _suspects(traverse, whole, turn_sd_deg):
        return Comparison("wrong length", whole, suspects)
    if by_tape.fixed_by_tape and lengths_agree:
        return Comparison("other turns", by_tape)
    return Comparison("disagrees", whole)


def _suspects(traverse: Traverse, whole: Adjustment, turn_sd_deg: float) -> tuple[Suspect, ...]:
    """Lengths without which all others agree; only one if it explains everything clearly better."""
    order = sorted(range(len(traverse.taped_m)), key=lambda index: -abs(whole.deviations[index]))
    suspects: list[tuple[float, Suspect]] = []
    for index in order[:MAX_SUSPECTS]:
        without = adjust(traverse, index, turn_sd_deg)
        if without.largest_deviation <= MAX_DEVIATION:
            suspects.append((without.misfit, Suspect(index, without.lengths_m[index])))
    suspects.sort(key=lambda pair: pair[0])
    return tuple(suspect for misfit, suspect in suspects if misfit < suspects[0][0] + CLEARLY_BETTER)
