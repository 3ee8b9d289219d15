"""Notes of a first-fix sheet: datum, finishes, pipes, floors, and the checks of first fix that are not met."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from heatloop.handover.first_fix.checks import (
    CAN_BE_BORED,
    DROP_WITHIN_FLOOR,
    LAGGING_OFF_WALL,
    ROOM_FOR_LAGGING,
    first_fix_checks,
)
from heatloop.handover.first_fix.floors import floor_at_pipes
from heatloop.handover.first_fix.model import PipePosition
from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.report.drawings.blocks import Block
from heatloop.report.drawings.geometry import MIDDLE_MM, Words, moved, wrapped
from heatloop.report.drawings.sheet_frame import LINE_MM, text_lines
from heatloop.text.formatting import escape_control_characters, in_ranges, listing

SLOT_WEB_MM = 10.0
"""Openings of one position with less than this between them may be one slot (common practice)."""


TITLE_MM = 6.0

HANGING = "   "
"""Before a line that goes on with the note of the line above it."""


@dataclass(frozen=True)
class PlanRemarks:
    """Texts without a place on a plan: rooms with a number in place of their name, and rooms whose figures are in so
    many `strips` of detail."""

    unnamed: Mapping[str, int]
    crowded: tuple[str, ...]
    strips: int


@dataclass(frozen=True)
class SheetNotes:
    """Notes as lines, in as many parts as there is room for."""

    lines: tuple[str, ...]
    width_mm: float

    def part(self, start: int, height_mm: float) -> tuple[Block, int]:
        """As many lines from `start` as a height takes below a title, and the first line that is not among them.

        An empty block where fewer than three lines have room and more are left.
        """
        end = min(start + max(int((height_mm - TITLE_MM - 1.5) / LINE_MM), 0), len(self.lines))
        while start < end < len(self.lines) and self.lines[end].startswith(HANGING):
            end -= 1
        if end - start < min(3, len(self.lines) - start) or end == start:
            return Block(0.0, 0.0, ()), start
        body = text_lines([(line, False) for line in self.lines[start:end]])
        title = Words("HL-NOTE", (0.0, -2.5), "Notes, continued" if start else "Notes", MIDDLE_MM, bold=True)
        primitives = (title, *moved(body.primitives, 0.0, -TITLE_MM))
        return Block(self.width_mm, body.height_mm + TITLE_MM, primitives), end


def sheet_notes(
    first_fix: FirstFixResult, positions: Sequence[PipePosition], remarks: PlanRemarks, width_mm: float
) -> SheetNotes:
    """The notes of the positions on a sheet and of what has no place on its plan."""
    lines = [line for note in _notes(first_fix, positions, remarks) for line in _hanging(note, width_mm)]
    return SheetNotes(tuple(lines), width_mm)


def _hanging(note: str, width_mm: float) -> list[str]:
    first, *others = wrapped(note, width_mm - 3.0)
    return [first, *(HANGING + line for line in others)]


def _notes(first_fix: FirstFixResult, positions: Sequence[PipePosition], remarks: PlanRemarks) -> Iterator[str]:
    yield (
        "Datum (ring): left-hand corner of the wall line, facing the wall from inside the room. Millimetres to the "
        "centre of the pipe, on FINISHED walls and above the FINISHED floor. In brackets: distance to the "
        "right-hand corner, as a check: left + right = wall line. Depth: to the centre; –: not stated."
    )
    yield _finishes(first_fix)
    yield "Filled dot, F: flow; open, R: return. Letters: pipes from left to right. Tail: pipe to the distribution."
    yield from _pipes(first_fix, positions)
    yield from _floors(first_fix, positions)
    for allowance_m in dict.fromkeys(position.allowance_m for position in positions):
        own = [position.number for position in positions if position.allowance_m == allowance_m]
        which = "" if len(own) == len(positions) else f" at {_listed(own)}"
        yield (f"Leave {allowance_m * 1000.0:.4g} mm of pipe above the Height of end{which}; cut it at second fix.")
    yield from _cautions(first_fix, positions)
    slots = [position.number for position in positions if _is_slot(position)]
    if slots:
        where = _which(slots, len(positions))
        yield f"{where}: less than {SLOT_WEB_MM:g} mm between openings; one slot may replace them."
    yield (
        "Locate cables, water and gas first. Notch or bore joists only as the structural rules allow. Do the "
        "strength test before the floor is closed; record it on the commissioning sheet."
    )
    if remarks.crowded:
        rooms = listing(map(escape_control_characters, remarks.crowded))
        several = remarks.strips > 1
        details = f"details R1 to R{remarks.strips}, one for each wall line" if several else "detail R1"
        yield f"Figures of {rooms}: {details}."
    if remarks.unnamed:
        by_number = sorted(remarks.unnamed.items(), key=lambda named: named[1])
        named = ", ".join(f"[{number}] {escape_control_characters(room)}" for room, number in by_number)
        yield f"Rooms: {named}."


def _finishes(first_fix: FirstFixResult) -> str:
    basis = first_fix.survey.first_fix
    words = []
    for surface, finish_mm in (("walls", basis.wall_finish_mm), ("floors", basis.floor_finish_mm)):
        words.append(f"{surface} {'_____' if finish_mm is None else f'{finish_mm:g}'} mm")
    on_bare_walls = "; the table has figures on bare walls" if basis.wall_finish_mm is not None else ""
    return f"Finish to be added after first fix: {', '.join(words)}{on_bare_walls}."


def _pipes(first_fix: FirstFixResult, positions: Sequence[PipePosition]) -> Iterator[str]:
    clearance = first_fix.options.hole_clearance_mm
    for name in dict.fromkeys(position.pipe for position in positions):
        first = next(position for position in positions if position.pipe == name)
        lagged = f", insulated {first.lagged_m * 1000.0:.4g}" if first.lagged_m > first.outside_m else ""
        measured = (
            "the insulated pipe" if first_fix.survey.first_fix.opening == "lagged" and lagged else "the bare pipe"
        )
        yield (
            f"Pipe {escape_control_characters(name)}: diameter {first.outside_m * 1000.0:.4g}{lagged}; openings "
            f"{clearance:g} mm wider than {measured}."
        )


def _floors(first_fix: FirstFixResult, positions: Sequence[PipePosition]) -> Iterator[str]:
    floors: dict[tuple[str, str], list[str]] = {}
    for room in dict.fromkeys(position.room for position in positions):
        floor = floor_at_pipes(first_fix.survey, first_fix.survey.room(room))
        floors.setdefault((floor.word, floor.made_of), []).append(escape_control_characters(room))
    for (word, made_of), rooms in floors.items():
        where = "Floor" if len(floors) == 1 else ", ".join(rooms)
        yield f"{where}: {escape_control_characters(made_of)}; {_WORDS[word]}."


_WORDS = {
    "hole": "the openings are holes",
    "sleeve": "sleeves are set before the screed, not bored",
    "opening": "examine it on site before you make the openings",
}


def _cautions(first_fix: FirstFixResult, positions: Sequence[PipePosition]) -> Iterator[str]:
    """Each limit that is not met, once, with the positions it concerns."""
    by_limit: dict[tuple[str, float], list[int]] = {}
    for result in first_fix_checks(first_fix.survey, positions):
        if result.verdict != "pass":
            number = int(result.location.removeprefix("position ").split(",")[0])
            by_limit.setdefault((result.check, result.limit), []).append(number)
    for lagged_m in dict.fromkeys(position.lagged_m for position in positions):
        apart, off = (ROOM_FOR_LAGGING.check, lagged_m * 1000.0), (LAGGING_OFF_WALL.check, lagged_m * 500.0)
        without = sorted({*_near(by_limit, *apart), *_near(by_limit, *off)})
        if without:
            yield (
                f"{_which(without, len(positions))}: insulation ({apart[1]:.4g}) does not fit; leave the pipes bare "
                f"through the floor. More than 50 below the finished floor: insulate the pipes, {apart[1]:.4g} between "
                f"centres, {off[1]:.4g} from the wall."
            )
    for (check, limit), numbers in by_limit.items():
        if check == DROP_WITHIN_FLOOR.check:
            words = (
                f"the depth of the pipes reaches the slab; possible is at most {limit:.4g}: {DROP_WITHIN_FLOOR.remedy}"
            )
            yield f"{_which(numbers, len(positions))}: {words}."
        elif check == CAN_BE_BORED.check:
            words = (
                f"centre less than {limit:.4g} from a wall or corner, too close to bore from the room: "
                f"{CAN_BE_BORED.remedy}"
            )
            yield f"{_which(numbers, len(positions))}: {words}."


def _near(by_limit: Mapping[tuple[str, float], Sequence[int]], check: str, limit_mm: float) -> list[int]:
    """Positions of a check whose limit is that, to a thousandth of a mm."""
    return [
        number
        for (name, limit), numbers in by_limit.items()
        if name == check and abs(limit - limit_mm) < 1e-3
        for number in numbers
    ]


def _is_slot(position: PipePosition) -> bool:
    places = [pipe.from_left_corner_m for pipe in position.pipes]
    return any((b - a - position.opening_m) * 1000.0 < SLOT_WEB_MM for a, b in pairwise(places))


def _which(numbers: Sequence[int], of: int) -> str:
    listed = _listed(numbers)
    return "All positions" if len(numbers) == of else f"{listed[:1].upper()}{listed[1:]}"


def _listed(numbers: Sequence[int]) -> str:
    return f"{'position' if len(numbers) == 1 else 'positions'} {in_ranges(numbers)}"
