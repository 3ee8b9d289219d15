"""Rules of diagonals: corners that exist, and lengths that agree with the walls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from heatloop.survey.building import Diagonal, Room
from heatloop.survey.files.key_path import Loc
from heatloop.survey.files.validation import IssueCollector
from heatloop.survey.traverse.squared_room import traverse_of
from heatloop.survey.traverse.wrong_length import Comparison, Suspect, compare_lengths
from heatloop.text.formatting import listing

SHOWN_SUSPECTS = 5


def check_diagonals(loc: Loc, room: Room, findings: IssueCollector) -> Room:
    """Report every diagonal of the room at `loc` that does not connect two corners; return the room with the others."""
    sound = []
    for index, diagonal in enumerate(room.diagonals):
        place = (*loc, "diagonals", index)
        if any(findings.is_unread((*place, key)) for key in ("from_corner", "to_corner", "length_m")):
            continue
        if _joins_corners(place, diagonal, len(room.walls), findings):
            sound.append(diagonal)
    return replace(room, diagonals=tuple(sound))


def _joins_corners(place: Loc, diagonal: Diagonal, count: int, findings: IssueCollector) -> bool:
    outside = [key for key in ("from_corner", "to_corner") if not 1 <= getattr(diagonal, key) <= count]
    for key in outside:
        required = f"a corner of the room, 1 to {count}: corner n is the left-hand end of wall n"
        findings.add((*place, key), f"{getattr(diagonal, key)}", required)
    if outside:
        return False
    if (diagonal.to_corner - diagonal.from_corner) % count in (0, 1, count - 1):
        found = f"corners {diagonal.from_corner} and {diagonal.to_corner}"
        findings.add(place, found, "two corners that no wall joins")
        return False
    return True


def check_lengths(loc: Loc, room: Room, findings: IssueCollector) -> bool:
    """Report which length is wrong where walls and diagonals of the room at `loc` disagree; return whether they agree.

    All lengths and turns of the room are numbers, and its diagonals connect corners.
    """
    compared = compare_lengths(traverse_of(room))
    if compared.outcome == "agrees":
        return True
    if compared.outcome == "wrong length":
        _wrong_length(loc, room, compared.suspects, findings)
    elif compared.outcome == "other turns":
        turns = ", ".join(f"{turn:.1f}" for turn in compared.room.turns_deg)
        required = f"turn_deg = {turns} at the ends of walls 1 to {len(room.walls)}, as walls and diagonals give"
        findings.add((*loc, "walls"), "turns that the diagonals do not give", required)
    else:
        findings.add(
            (*loc, "walls"), f"walls and diagonals that differ by {_misclosure_mm(room, compared):.0f} mm", _AGAIN
        )
    return False


_AGAIN = "lengths that agree; more than one is wrong, or a turn: tape walls and diagonals again"


def _misclosure_mm(room: Room, compared: Comparison) -> float:
    """Largest difference in mm of a length from the common adjustment of all lengths."""
    pairs = zip(traverse_of(room).taped_m, compared.room.lengths_m, strict=True)
    return 1000.0 * max(abs(taped - adjusted) for taped, adjusted in pairs)


def _wrong_length(loc: Loc, room: Room, suspects: Sequence[Suspect], findings: IssueCollector) -> None:
    count = len(room.walls)
    if len(suspects) == 1:
        (suspect,) = suspects
        found_m = traverse_of(room).taped_m[suspect.index]
        place = ("walls", suspect.index) if suspect.index < count else ("diagonals", suspect.index - count)
        required = f"about {suspect.length_m:.2f}, as the other walls and the diagonals give: tape it again"
        findings.add((*loc, *place, "length_m"), f"{found_m:g}", required + _more_diagonals(room))
        return
    named = [f"{_label(room, suspect.index)} about {suspect.length_m:.2f} m" for suspect in suspects[:SHOWN_SUSPECTS]]
    required = f"one other length: {listing(named, 'or')}; tape these again in that order"
    findings.add((*loc, "walls"), "walls and diagonals that do not agree", required + _more_diagonals(room))


def _label(room: Room, index: int) -> str:
    if index < len(room.walls):
        return f"wall {index + 1}"
    diagonal = room.diagonals[index - len(room.walls)]
    return f"the diagonal from corner {diagonal.from_corner} to {diagonal.to_corner}"


def _more_diagonals(room: Room) -> str:
    """Advice where there are too few diagonals to detect a corner that is not square."""
    pairs = {frozenset((diagonal.from_corner, diagonal.to_corner)) for diagonal in room.diagonals}
    needed = len(room.walls) - 2
    return "" if len(pairs) >= needed else "; or the corners are out of square: tape another diagonal too"
