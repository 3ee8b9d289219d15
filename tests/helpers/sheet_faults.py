"""What is wrong with sheets of first fix: read from their geometry, by other means than it was made with."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise

from matplotlib.path import Path

from heatloop.handover.first_fix.model import PipeEnd, PipePosition
from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.report.drawings.geometry import Box, DrawingSheet, Words
from heatloop.survey.survey import SurveyData

FIGURE = re.compile(r"\d+ [a-z]?[FR]")
FRAME_MM = (20.0, 10.0, 410.0, 287.0)
LEAST_MM = 2.5


def sheet_faults(first_fix: FirstFixResult, sheets: Sequence[DrawingSheet]) -> list[str]:
    """Every fault of all sheets, one line each."""
    return [
        *(f"sheet {sheet.number}: {fault}" for sheet in sheets for fault in _of_one(sheet)),
        *_counts(first_fix, sheets),
    ]


def _of_one(sheet: DrawingSheet) -> Iterator[str]:
    for words in sheet.words:
        if words.text != words.text.strip():
            yield f"{words.text!r} has blanks at an end, which not every reader keeps"
        if words.height_mm < LEAST_MM:
            yield f"{words.text!r} is {words.height_mm} mm high"
        west, south, east, north = words.box.bounds
        if west < FRAME_MM[0] or south < FRAME_MM[1] or east > FRAME_MM[2] or north > FRAME_MM[3]:
            yield f"{words.text!r} is outside the frame"
    for one, other in combinations(sheet.words, 2):
        if _overlap(one.box, other.box):
            yield f"{one.text!r} and {other.text!r} touch"
    walls = [one for one in sheet.plan if getattr(one, "layer", "") == "HL-WALL" and one.dash == "solid"]
    for words in (one for one in sheet.plan if isinstance(one, Words)):
        shape = _path(words.box)
        for wall in walls:
            if any(shape.intersects_path(Path([a, b]), filled=True) for a, b in pairwise(wall.points)):
                yield f"{words.text!r} stands on a wall"


def _counts(first_fix: FirstFixResult, sheets: Sequence[DrawingSheet]) -> Iterator[str]:
    """Each pipe once on a plan or in a detail and once in the table; each position once in a ring of a plan."""
    wanted_figures = Counter(_figure(position, pipe) for position in first_fix.positions for pipe in position.pipes)
    shown = Counter(
        words.text
        for sheet in sheets
        for words in sheet.words
        if words.layer in ("HL-DIM", "HL-DETAIL") and FIGURE.fullmatch(words.text)
    )
    if shown != wanted_figures:
        yield f"figures: {dict(wanted_figures - shown)} are not shown, {dict(shown - wanted_figures)} are too many"
    rows = Counter(words.text for sheet in sheets for words in sheet.words if words.layer == "HL-TABLE" and words.bold)
    for position in first_fix.positions:
        for pipe in position.pipes:
            if rows[f"{pipe.mark} {pipe.direction[0].upper()}"] != 1:
                yield f"pipe {pipe.mark} has {rows[f'{pipe.mark} {pipe.direction[0].upper()}']} rows"
    rings = Counter(
        one.text for sheet in sheets for one in sheet.plan if isinstance(one, Words) and one.layer == "HL-MARK"
    )
    if rings != Counter(str(position.number) for position in first_fix.positions):
        yield f"rings: {dict(rings)}"


def _figure(position: PipePosition, pipe: PipeEnd) -> str:
    letter = pipe.mark.removeprefix(str(position.number))
    return f"{round(pipe.from_left_corner_m * 1000.0)} {letter}{pipe.direction[0].upper()}"


def straight_faults(survey: SurveyData, first_fix: FirstFixResult) -> list[str]:
    """Pipes whose distances from left and right do not make the straight as taped, within 1 mm of printed figures."""
    found = []
    for position in first_fix.positions:
        room = survey.room(position.room)
        taped_mm = sum(room.walls[wall - 1].length_m for wall in position.straight) * 1000.0
        for pipe in position.pipes:
            printed = round(pipe.from_left_corner_m * 1000.0) + round(pipe.from_right_corner_m * 1000.0)
            if abs(printed - taped_mm) > 1.0:
                found.append(f"pipe {pipe.mark}: {printed} of {taped_mm}")
    return found


def _path(box: Box) -> Path:
    return Path([*box.corners, box.corners[0]], closed=True)


def _overlap(one: Box, other: Box) -> bool:
    (aw, as_, ae, an), (bw, bs, be, bn) = one.bounds, other.bounds
    if ae <= bw or be <= aw or an <= bs or bn <= as_:
        return False
    return bool(_path(one).intersects_path(_path(other), filled=True))
