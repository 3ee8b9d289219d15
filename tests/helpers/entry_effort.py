"""Characters and clicks that it takes to enter a house, by way: `python -m tests.helpers.entry_effort`."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import heatloop as hl
from heatloop.report.drawings.survey_form.sheets import form_room
from heatloop.survey.to_tables.survey_to_tables import survey_to_tables
from heatloop.survey.toml.toml_writer import toml_text
from heatloop.survey.workbook.choices import names_for
from heatloop.survey.workbook.rows import grids_of
from heatloop.survey.workbook.sheets import FORM, SURVEY_SHEETS
from tests.helpers.python_script import python_script
from tests.helpers.traced_house import LODGE, steps

DRAWN = {
    "room": ("name", "level_m", "walls"), "walls": ("length_m", "turn_deg", "beyond", "openings"),
    "openings": ("kind", "start_m", "width_m", "name"),
}  # fmt: skip
"""What a plan contains: rooms, walls with what is behind them, openings."""
CLICKS_A_CHOICE = 2
"""To open the list of a cell and to choose from it."""


@dataclass(frozen=True)
class Effort:
    """Characters typed and clicks for the rooms as drawn, and for the whole survey; None where a way has no such part.

    `written`: characters written on paper before.
    """

    way: str
    drawn: tuple[int, int] | None
    whole: tuple[int, int] | None
    written: int = 0

    @property
    def row(self) -> str:
        """The row of the table in the documentation."""
        figures = [f"{count:,}" for part in (self.drawn, self.whole) for count in part or ()]
        drawn = figures[:2] if self.drawn else ["–", "–"]
        whole = figures[-2:] if self.whole else ["–", "–"]
        return f"| {' | '.join([self.way, *drawn, *whole])} |"


def entry_efforts(survey: hl.Survey) -> tuple[Effort, ...]:
    """The effort for a house in each way of entry."""
    tables = survey_to_tables(survey)
    rooms = {"room": [_drawn(room, "room") for room in tables["room"]]}
    text, drawn_text = _letters(toml_text(tables, "")), _letters(toml_text(rooms, ""))
    rest = text - drawn_text
    typed, chosen = _workbook(tables)
    typed_rooms, chosen_rooms = _workbook(rooms)
    clicks, traced = _traced(survey)
    start = _letters("heatloop start my-house --drawing plan.dxf --layer ROOMS --units mm")
    return (
        Effort("survey file (TOML)", (drawn_text, 0), (text, 0)),
        Effort("workbook", (typed_rooms, CLICKS_A_CHOICE * chosen_rooms), (typed, CLICKS_A_CHOICE * chosen)),
        Effort("form, then workbook", (typed_rooms + _form(survey), CLICKS_A_CHOICE * chosen_rooms),
               (typed + _form(survey), CLICKS_A_CHOICE * chosen)),
        Effort("drawing (DXF), then TOML", (start, 0), (start + rest, 0)),
        Effort("traced plan, then TOML", (traced, clicks), (traced + rest, clicks)),
        Effort("Python", None, (_letters(python_script(survey, "catalogue.toml")), 0)),
        Effort("list of rooms (estimate only)", (_schedule(survey), 0), None),
    )  # fmt: skip


def _letters(text: str) -> int:
    """Characters without blanks and comments."""
    return len(re.sub(r"\s", "", re.sub(r"(?m)^\s*#.*$", "", text)))


def _drawn(table: dict[str, Any], kind: str) -> dict[str, Any]:
    found = {key: table[key] for key in DRAWN[kind] if key in table}
    return {
        key: [_drawn(item, key) for item in value] if key in ("walls", "openings") else value
        for key, value in found.items()
    }


def _workbook(tables: dict[str, Any]) -> tuple[int, int]:
    """Characters of every cell that no list offers, and cells with a list; a name above counts for the rows below."""
    groups = [(FORM, columns) for _, columns in SURVEY_SHEETS.form]
    groups += [(sheet.title, sheet.columns) for sheet in SURVEY_SHEETS.sheets]
    offered = {
        (title, column.heading): bool(names_for(column.heading, column) or hasattr(column.field, "options"))
        for title, columns in groups
        for column in columns
    }
    for sheet in SURVEY_SHEETS.sheets:
        offered |= {(sheet.title, heading): bool(names_for(heading, None)) for heading in sheet.parents}
    typed, chosen = 0, 0
    for title, heading, cell in _entered(tables):
        if offered[title, heading] or isinstance(cell, bool):
            chosen += 1
        else:
            typed += len(f"{cell:g}") if isinstance(cell, float) else len(str(cell))
    return typed, chosen


def _entered(tables: dict[str, Any]) -> Iterator[tuple[str, str, Any]]:
    """The cells of a workbook that are filled in: the place of a row only where it is not that of the row above."""
    parents = {sheet.title: sheet.parents for sheet in SURVEY_SHEETS.sheets}
    for grid in grids_of(SURVEY_SHEETS, tables):
        above: tuple[Any, ...] = ()
        for _, row in grid.rows:
            if grid.title == FORM:
                yield from [(FORM, row[1], row[2])] if row[2] is not None else []
                continue
            count = len(parents[grid.title])
            same = above[:count] == row[:count] if count else False
            numbered = grid.title == "Walls" and above[:1] == row[:1]
            skipped = count if same else 2 if numbered else 0
            yield from (
                (grid.title, heading, cell)
                for number, (heading, cell) in enumerate(zip(grid.headings, row, strict=True))
                if cell is not None and number >= skipped
            )
            above = row


def _form(survey: hl.Survey) -> int:
    """Characters written by hand on the forms of all rooms."""
    rows: list[dict[str, str]] = []
    for room in survey.rooms:
        form = form_room("", room, None)
        rows += [dict(form.fields), *map(dict, (*form.walls, *form.openings, *form.obstacles))]
    return sum(len(text.replace(" ", "")) for row in rows for text in row.values())


def _traced(survey: hl.Survey) -> tuple[int, int]:
    """Clicks on the picture and the tools, a page in two; characters typed."""
    counted: Counter[str] = Counter()
    typed = 0
    for event, values in steps(survey, lambda point: point, 1.0):
        counted[event] += 1
        typed += len(values.get("text", ""))
    return counted["click"] + counted["tool"] + 2 * counted["page"], typed


def _schedule(survey: hl.Survey) -> int:
    """Characters of a list of rooms with temperature, loss and length of wall."""
    lines = ["name,indoor_c,heat_loss_w,estimated_wall_m"]
    losses = hl.size(survey).rooms.set_index("room")["heat_loss_w"]
    for room in survey.rooms:
        around_m = sum(wall.length_m for wall in room.walls)
        lines.append(f"{room.name},{room.indoor_c:g},{losses[room.name]:.0f},{around_m:.1f}")
    return _letters("\n".join(lines))


if __name__ == "__main__":
    print(*(effort.row for effort in entry_efforts(hl.read_survey(LODGE))), sep="\n")
