"""The table of first fix as text on paper: one row a pipe, in as many parts as there is room for."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from heatloop.handover.first_fix.model import PipeEnd, PipePosition, PipeRun
from heatloop.handover.first_fix.tables import left_corner_shift_m
from heatloop.report.drawings.blocks import Block
from heatloop.report.drawings.geometry import MIDDLE_MM, Line, Primitive, Words, fitting, text_width_mm
from heatloop.survey.survey import SurveyData
from heatloop.text.formatting import escape_control_characters, in_ranges

ROW_MM, TITLE_MM, HEAD_MM, GAP_MM = 4.25, 6.0, 8.4, 2.6

EMPTY = "\N{EN DASH}"


@dataclass(frozen=True)
class _Column:
    key: str
    head: tuple[str, str]
    figures: bool = False


COLUMNS = (
    _Column("pipe", ("Pipe", "")),
    _Column("room", ("Room, walls of", "the wall line")),
    _Column("left", ("From", "left"), True),
    _Column("right", ("(to", "right)"), True),
    _Column("bare", ("Bare", "left"), True),
    _Column("height", ("Height", "of end"), True),
    _Column("off", ("From", "wall"), True),
    _Column("opening", ("Opening", "⌀")),
    _Column("drop", ("Depth", "in floor"), True),
    _Column("type", ("Type", "")),
    _Column("to", ("Leads", "to")),
)
"""Columns of the table; that of bare walls is left out where the wall finish is not stated."""


@dataclass(frozen=True)
class SetOutRow:
    """A row as printed, by the keys of its columns; `first` of its position or not."""

    cells: Mapping[str, str]
    first: bool


def straight_text(walls: Sequence[int]) -> str:
    """The walls of a straight; three or more in a row by the first and the last.

    >>> straight_text((4, 5)), straight_text((2, 3, 4, 5))
    ('4 + 5', '2 to 5')
    """
    in_a_row = list(walls) == list(range(walls[0], walls[0] + len(walls)))
    return in_ranges(walls) if in_a_row and len(walls) >= 3 else " + ".join(map(str, walls))


def set_out_rows(
    survey: SurveyData, positions: Sequence[PipePosition], runs: Sequence[PipeRun], types: Mapping[int, str]
) -> tuple[SetOutRow, ...]:
    """The rows of some positions; `types` are the letters of their details by their numbers."""
    paired = paired_positions(runs)
    rows = []
    for position in positions:
        shift_m = left_corner_shift_m(survey, position)
        for index, pipe in enumerate(position.pipes):
            walls = straight_text(position.straight)
            left_m = pipe.from_left_corner_m
            cells = {
                "pipe": f"{pipe.mark} {pipe.direction[0].upper()}",
                "room": f"{escape_control_characters(position.room)}, {walls}" if index == 0 else "",
                "left": _mm(left_m),
                "right": f"({_mm(pipe.from_right_corner_m)})",
                "bare": _mm(left_m + shift_m),
                "height": _height(pipe),
                "off": f"{position.off_wall_m * 1000.0:.4g}",
                "opening": opening_words(position),
                "drop": _mm(position.depth_m),
                "type": types[position.number],
                "to": "tail" if position.use == "tail" else paired.get(position.number) or "under floor",
            }
            rows.append(SetOutRow(cells, index == 0))
    return tuple(rows)


def opening_words(position: PipePosition) -> str:
    """Kind and diameter (mm) of the openings of a position; the diameter alone where its kind is not known."""
    kind = "" if position.word == "opening" else f"{position.word} "
    return f"{kind}{position.opening_m * 1000.0:.4g}"


def _height(pipe: PipeEnd) -> str:
    return "in floor" if math.isnan(pipe.height_m) else _mm(pipe.height_m)


def _mm(length_m: float) -> str:
    return EMPTY if math.isnan(length_m) else f"{round(length_m * 1000.0)}"


def paired_positions(runs: Sequence[PipeRun]) -> dict[int, str]:
    """The positions that a crossing joins each position to, as text; empty where it ends under the floor."""
    pairs: dict[int, str] = {}
    for run in runs:
        if run.use == "crossing":
            pairs |= dict.fromkeys(run.from_positions, ", ".join(map(str, run.to_positions)))
            pairs |= dict.fromkeys(run.to_positions, ", ".join(map(str, run.from_positions)))
    return pairs


@dataclass(frozen=True)
class SetOutTable:
    """The table of a sheet: its rows, its title, and the places of its columns in a width."""

    rows: tuple[SetOutRow, ...]
    title: str
    width_mm: float

    def part(self, start: int, height_mm: float) -> tuple[Block, int]:
        """As many rows from `start` as a height takes, with title and heads, and the first row that is not among them.

        A position is not parted. An empty block where not one position has room.
        """
        most = int((height_mm - TITLE_MM - HEAD_MM) / ROW_MM)
        end = min(start + max(most, 0), len(self.rows))
        while end < len(self.rows) and end > start and not self.rows[end].first:
            end -= 1
        if end <= start:
            return Block(0.0, 0.0, ()), start
        title = self.title if start == 0 else f"{self.title}, continued"
        primitives: list[Primitive] = [Words("HL-TABLE", (0.0, -TITLE_MM / 2.0), title, MIDDLE_MM, bold=True)]
        columns = self._columns()
        for column, (west, east) in columns.items():
            for line, words in enumerate(filter(None, column.head)):
                at = (east if column.figures else west, -TITLE_MM - 2.0 - 3.6 * line)
                anchor = "right" if column.figures else "left"
                primitives.append(Words("HL-TABLE", at, words, anchor=anchor, bold=True))  # type: ignore[arg-type]
        top = -TITLE_MM - HEAD_MM
        primitives.append(Line("HL-TABLE", ((0.0, top), (self.width_mm, top)), 0.35))
        for number, row in enumerate(self.rows[start:end]):
            y = top - (number + 0.5) * ROW_MM
            if row.first and number:
                edge = top - number * ROW_MM
                primitives.append(Line("HL-TABLE", ((0.0, edge), (self.width_mm, edge)), 0.13))
            primitives += list(self._row(columns, row, y))
        bottom = top - (end - start) * ROW_MM
        primitives.append(Line("HL-TABLE", ((0.0, bottom), (self.width_mm, bottom)), 0.18))
        return Block(self.width_mm, -bottom, tuple(primitives)), end

    def _row(self, columns: Mapping[_Column, tuple[float, float]], row: SetOutRow, y: float) -> list[Words]:
        texts = []
        for column, (west, east) in columns.items():
            text = row.cells[column.key]
            if column.key == "room":
                text = _fitting_room(text, east - west)
            if text:
                at = (east if column.figures else west, y)
                anchor = "right" if column.figures else "left"
                bold = column.key == "pipe"
                texts.append(Words("HL-TABLE", at, text, anchor=anchor, bold=bold))  # type: ignore[arg-type]
        return texts

    def _columns(self) -> dict[_Column, tuple[float, float]]:
        """West and east edge of every column: as wide as its widest text, the room what is left."""
        shown = [
            heading
            for heading in COLUMNS
            if heading.key != "bare" or any(row.cells["bare"] != EMPTY for row in self.rows)
        ]
        widths = {column: self._natural_mm(column) for column in shown}
        room = next(column for column in shown if column.key == "room")
        others = sum(width for column, width in widths.items() if column is not room)
        spare = self.width_mm - others - GAP_MM * (len(shown) - 1)
        widths[room] = min(widths[room], spare)
        at, edges = 0.0, {}
        for column in shown:
            edges[column] = (at, at + widths[column])
            at += widths[column] + GAP_MM
        return edges

    def _natural_mm(self, column: _Column) -> float:
        heads = max(text_width_mm(words, bold=True) for words in column.head)
        bold = column.key == "pipe"
        return max([heads, *(text_width_mm(row.cells[column.key], bold=bold) for row in self.rows)])


def _fitting_room(text: str, width_mm: float) -> str:
    """A room and its walls, the name of the room shortened where both are too wide."""
    name, comma, walls = text.rpartition(", ")
    return fitting(name, width_mm - text_width_mm(f"{comma}{walls}")) + comma + walls if comma else text
