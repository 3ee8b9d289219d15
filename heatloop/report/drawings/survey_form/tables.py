"""The tables of a survey form: ruled rows to write in, columns in the order of the survey's own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from heatloop.report.drawings.blocks import Block
from heatloop.report.drawings.geometry import Line, Primitive, Words, fitting, rectangle, text_width_mm

ROW_MM, HEAD_MM, TITLE_MM = 7.1, 8.4, 5.5
"""Heights: a row to write in, the heads of columns on two lines, the title above."""

INDENT_MM = 1.0

LINE_MM, ABOVE_MM = 3.5, 2.0
"""From line to line of a text that takes two lines in a row; its first line above the middle."""

Row = Mapping[str, str]
"""Texts of a row by the keys of its columns; missing values stay blank."""


@dataclass(frozen=True)
class FormColumn:
    """A column: its key in the survey, its head on one or two lines, and its width."""

    key: str
    head: tuple[str, ...]
    width_mm: float


@dataclass(frozen=True)
class FormTable:
    """A table: its title, its columns, and how many rows a sheet has."""

    title: str
    columns: tuple[FormColumn, ...]
    rows: int

    @property
    def height_mm(self) -> float:
        """Height with its title."""
        return TITLE_MM + HEAD_MM + ROW_MM * self.rows


READ = "read"
"""Key of the column for what is read on site, which the survey does not have."""

WALLS = FormTable("Walls, clockwise", (
    FormColumn("wall", ("Wall",), 10.0), FormColumn("length_m", ("Length,", "m"), 17.0),
    FormColumn("turn_deg", ("Turn at", "its end, °"), 17.4), FormColumn("beyond", ("Beyond it",), 19.6),
    FormColumn("build_up", ("Built of",), 18.0),
), 10)  # fmt: skip

CHECKED_WALLS = FormTable("Walls, clockwise", (
    FormColumn("wall", ("Wall",), 9.2), FormColumn("length_m", ("Length,", "m"), 13.4),
    FormColumn(READ, ("Read,", "m"), 11.4), FormColumn("turn_deg", ("Turn,", "°"), 10.4),
    FormColumn("beyond", ("Beyond it",), 19.6), FormColumn("build_up", ("Built of",), 18.0),
), 10)  # fmt: skip

DIAGONALS = FormTable("Diagonals: straight across the floor", (
    FormColumn("from_corner", ("From", "corner"), 18.0), FormColumn("to_corner", ("To", "corner"), 18.0),
    FormColumn("length_m", ("Length,", "m"), 23.0), FormColumn(READ, ("Again,", "m"), 23.0),
), 4)  # fmt: skip

OPENINGS = FormTable("Openings: doors and windows", (
    FormColumn("wall", ("Wall",), 9.6), FormColumn("kind", ("Kind",), 16.0),
    FormColumn("start_m", ("From", "left, m"), 13.6), FormColumn("width_m", ("Width,", "m"), 12.2),
    FormColumn("height_m", ("Height,", "m"), 13.4), FormColumn("sill_m", ("Sill,", "m"), 10.2),
    FormColumn("name", ("Name",), 21.0),
), 7)  # fmt: skip

OBSTACLES = FormTable("Against the walls: units, bath, furniture", (
    FormColumn("wall", ("Wall",), 9.6), FormColumn("kind", ("What",), 32.0),
    FormColumn("start_m", ("From", "left, m"), 14.4), FormColumn("width_m", ("Width,", "m"), 13.0),
    FormColumn("run", ("Crossing, stop", "or covered"), 27.0),
), 5)  # fmt: skip


def table_block(table: FormTable, rows: Sequence[Row], numbered: Sequence[str] = ()) -> Block:
    """A table with as many ruled rows as it has, the first ones with what is printed in them.

    `numbered` are printed in the first column of the rows that have nothing there.
    """
    width = sum(column.width_mm for column in table.columns)
    height = table.height_mm
    primitives: list[Primitive] = [
        Words("HL-TABLE", (0.0, -TITLE_MM / 2.0), fitting(table.title, width, bold=True), bold=True)
    ]
    top = -TITLE_MM
    primitives.append(rectangle("HL-TABLE", (0.0, -height), (width, height - TITLE_MM), 0.5))
    primitives.append(Line("HL-TABLE", ((0.0, top - HEAD_MM), (width, top - HEAD_MM)), 0.35))
    for row in range(1, table.rows):
        y = top - HEAD_MM - row * ROW_MM
        primitives.append(Line("HL-TABLE", ((0.0, y), (width, y)), 0.13))
    west = 0.0
    for index, column in enumerate(table.columns):
        if index:
            primitives.append(Line("HL-TABLE", ((west, top), (west, -height)), 0.18))
        for line, words in enumerate(column.head):
            primitives.append(Words("HL-TABLE", (west + INDENT_MM, top - 2.3 - 3.7 * line), words))
        for number in range(table.rows):
            entry = rows[number].get(column.key, "") if number < len(rows) else ""
            text = entry or (numbered[number] if index == 0 and number < len(numbered) else "")
            if text:
                y = top - HEAD_MM - (number + 0.5) * ROW_MM
                primitives += _entry(text, west + INDENT_MM, y, column.width_mm - 2.0 * INDENT_MM)
        west += column.width_mm
    return Block(width, height, tuple(primitives))


def _entry(text: str, x: float, y: float, width_mm: float) -> list[Primitive]:
    """A text about the middle of its row, on two lines where it does not fit on one, then shortened."""
    breaks = [at for at in range(1, len(text)) if text[at - 1] in " -"]
    first = [at for at in breaks if text_width_mm(text[:at].rstrip()) <= width_mm]
    if text_width_mm(text) <= width_mm or not first:
        return [Words("HL-TABLE", (x, y), fitting(text, width_mm))]
    above, below = text[: first[-1]].rstrip(), fitting(text[first[-1] :], width_mm)
    return [Words("HL-TABLE", (x, y + ABOVE_MM), above), Words("HL-TABLE", (x, y + ABOVE_MM - LINE_MM), below)]
