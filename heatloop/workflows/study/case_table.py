"""A table of cases: a row for each, with its survey, its name, and the values that differ from the survey."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import InputError, InputIssue, is_number, quoted_value
from heatloop.survey.files.fields import BooleanField, ChoiceField, DateField, IntegerField, NumberField, TextField
from heatloop.survey.toml.input_text import file_error, input_text
from heatloop.survey.workbook.cell_values import is_blank, value_of_cell
from heatloop.survey.workbook.read_workbook import (
    ERROR_KIND,
    FORMULA,
    FORMULA_KIND,
    OPEN_AND_SAVE,
    cell_address,
    is_workbook,
    sheet_titles,
    workbook_pages,
)
from heatloop.survey.workbook.sheets import SURVEY_SHEETS, Column
from heatloop.text.quoting import brief, closest_name
from heatloop.workflows.study.cases import Case, Keys, short_name, unique

SURVEY, NAME = "survey", "name"

STEP = re.compile(r'\s*(?:"([^"]*)"|([^."]+?))\s*(?:\.|$)')
"""A part of a heading between dots; in double quotes where a name has a dot."""


@dataclass(frozen=True)
class _Grid:
    """Headings and rows of a table; `title` of its sheet, empty for a CSV file; rows with their line or row."""

    file: str
    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[int, tuple[Any, ...]], ...]

    def place(self, row: int, column: int) -> str:
        """The place of a cell in words; columns count from 0."""
        heading = self.headings[column]
        return f"{cell_address(self.title, row, column + 1)} ({heading})" if self.title else f"line {row}, {heading}"


def table_cases(path: Path) -> list[Case]:
    """The cases of a table (CSV or .xlsx). InputError with all its faults, each with its row."""
    grid, issues = _workbook_grid(path) if is_workbook(path) else (_csv_grid(path), [])
    columns = list(_columns(grid, issues))
    if len(grid.headings) == 1 and ";" in grid.headings[0]:
        required = "commas, and a decimal point in numbers"
        raise file_error(path, "headings", "semicolons between the columns", required)
    if SURVEY not in grid.headings:
        required = 'a column "survey" with the path of the survey file of each case, relative to the table'
        issues.append(InputIssue(grid.file, "", 'no column "survey"', required))
        raise InputError(issues)
    if not grid.rows:
        issues.append(InputIssue(grid.file, "", "no row", "a row for each case below the headings"))
    cases = [_case(path, grid, row, cells, columns, issues) for row, cells in grid.rows]
    issues += _repeated(grid)
    if issues:
        raise InputError(issues)
    given = {case.name for case in cases if case.name}
    free = iter(unique([*given, *(_own_name(case) for case in cases if not case.name)])[len(given) :])
    return [Case(case.name or next(free), case.survey, case.origin, case.changes) for case in cases]


def _own_name(case: Case) -> str:
    changes = ", ".join(part.rpartition(".")[2].replace(" = ", " ") for part in case.changes_text.split("; ") if part)
    return f"{short_name(case.origin)}, {changes}" if changes else short_name(case.origin)


def _columns(grid: _Grid, issues: list[InputIssue]) -> Iterator[tuple[int, Keys, Column]]:
    """The columns with values of a survey; faults of the headings are added to `issues`."""
    for place, heading in enumerate(grid.headings):
        if grid.headings.index(heading) != place and heading:
            issues.append(InputIssue(grid.file, "headings", f'"{brief(heading)}" twice', "it once"))
        elif heading in (SURVEY, NAME):
            continue
        elif heading and (found := _survey_key(heading)) is not None:
            yield place, *found
        elif heading or any(len(cells) > place and not is_blank(cells[place]) for _, cells in grid.rows):
            issues.append(InputIssue(grid.file, "headings", f'"{brief(heading)}"', _key_required(heading)))


def _survey_key(heading: str) -> tuple[Keys, Column] | None:
    """The keys of a heading such as `room.Hall.indoor_c`, and the column that describes its values."""
    parts = [quoted or plain for quoted, plain in STEP.findall(heading)]
    for key, columns in SURVEY_SHEETS.form:
        for column in columns:
            if parts == [key, *column.keys]:
                return tuple(parts), column
    for sheet in SURVEY_SHEETS.sheets:
        keys, rest = _keys_of_item(parts, sheet.steps)
        found = next((column for column in sheet.columns if list(column.keys) == rest), None)
        if keys and found is not None:
            return (*keys, *found.keys), found
    return None


def _keys_of_item(parts: Sequence[str], steps: Sequence[tuple[str, ...]]) -> tuple[Keys, list[str]]:
    """The keys that lead to an item of nested lists, and the other parts; no keys where the parts do not fit."""
    keys: list[str | int] = []
    rest = list(parts)
    for number, step in enumerate(steps):
        if tuple(rest[: len(step)]) != step or len(rest) <= len(step):
            return (), []
        item = rest[len(step)]
        keys += [*step, int(item) if number and item.isdecimal() else item]
        rest = rest[len(step) + 1 :]
    return tuple(keys), rest


def _key_required(heading: str) -> str:
    """What a heading may be, with the nearest key of a survey."""
    known = [f"{key}.{column.heading}" for key, columns in SURVEY_SHEETS.form for column in columns]
    words = f'"{SURVEY}", "{NAME}", or a key of a survey such as project.flow_temp_c or room.NAME.indoor_c'
    close = closest_name("", heading, known)
    return words + close if close.startswith("; the nearest") else words


def _case(
    path: Path,
    grid: _Grid,
    row: int,
    cells: tuple[Any, ...],
    columns: Sequence[tuple[int, Keys, Column]],
    issues: list[InputIssue],
) -> Case:
    """The case of a row, its name empty where none is given; faults of its cells are added to `issues`."""
    held = dict(enumerate(cells))
    if len(cells) > len(grid.headings):
        found = f"{len(cells)} cells"
        issues.append(InputIssue(grid.file, f"line {row}", found, f"at most {len(grid.headings)}, as many as headings"))
    at = grid.headings.index(SURVEY)
    origin = "" if is_blank(held.get(at)) else str(held[at]).strip()
    survey = path.parent / origin
    if not origin:
        issues.append(InputIssue(grid.file, grid.place(row, at), "nothing", "the path of a survey file"))
    elif not _is_file(survey):
        required = f"the path of a survey file, relative to {path.parent}"
        issues.append(
            InputIssue(grid.file, grid.place(row, at), f'"{brief(origin)}", where there is no file', required)
        )
    changes = []
    for place, keys, column in columns:
        if is_blank(held.get(place)):
            continue
        value = value_of_cell(held[place], column)
        wrong = _refused(value, column)
        if wrong:
            issues.append(InputIssue(grid.file, grid.place(row, place), quoted_value(held[place]), wrong))
        changes.append((keys, value))
    name = held.get(grid.headings.index(NAME)) if NAME in grid.headings else None
    return Case("" if is_blank(name) else str(name).strip(), survey.absolute(), Path(origin).as_posix(), tuple(changes))


def _refused(value: Any, column: Column) -> str:
    """What is required instead of a value; empty for one that can be used."""
    items = value if column.is_list else [value]
    return next((column.field.requirement(item, in_cell=True) for item in items if not _fits(item, column)), "")


def _fits(value: Any, column: Column) -> bool:
    field = column.field
    match field:
        case NumberField():
            return is_number(value) and not field.refuses(value)
        case IntegerField():
            return type(value) is int and not field.refuses(value)
        case ChoiceField():
            return value in field.options
        case TextField():
            return isinstance(value, str) and not field.refuses(value)
        case BooleanField():
            return isinstance(value, bool)
        case DateField():
            return not isinstance(value, str | float | int)


def _repeated(grid: _Grid) -> Iterator[InputIssue]:
    """Names that are given more than once."""
    if NAME not in grid.headings:
        return
    at = grid.headings.index(NAME)
    first: dict[str, int] = {}
    for row, cells in grid.rows:
        name = str(cells[at]).strip() if len(cells) > at and not is_blank(cells[at]) else ""
        if name in first:
            found = f'"{brief(name)}" again'
            yield InputIssue(grid.file, grid.place(row, at), found, f"another name; row {first[name]} has it")
        elif name:
            first[name] = row


def _csv_grid(path: Path) -> _Grid:
    text = input_text(path, "a folder of surveys, or of a table of cases (CSV or .xlsx)")
    reader = csv.reader(io.StringIO(text, newline=None), strict=True, skipinitialspace=True)
    try:
        lines = [(reader.line_num, tuple(cell.strip() for cell in record)) for record in reader]
    except csv.Error as error:
        required = "fields with commas between, quotes closed"
        found = f"what is not a CSV record ({error})"
        raise file_error(path, f"line {reader.line_num}", found, required) from None
    return _grid(path, "", [(row, cells) for row, cells in lines if any(cells)])


def _workbook_grid(path: Path) -> tuple[_Grid, list[InputIssue]]:
    """The first sheet of a workbook, and the faults of its cells."""
    title = sheet_titles(path)[0]
    page = next(page for page in workbook_pages(path, (title,)) if page.is_known)
    issues, lines = [], dict[int, dict[int, Any]]()
    for row, column, value, kind in page.cells:
        if kind in (FORMULA_KIND, ERROR_KIND):
            found, required = (FORMULA, OPEN_AND_SAVE) if kind == FORMULA_KIND else (f"the error {value}", "a value")
            issues.append(InputIssue(str(path), cell_address(title, row, column), found, required))
            continue
        lines.setdefault(row, {})[column] = value
    rows = [(row, tuple(held.get(i) for i in range(1, max(held) + 1))) for row, held in sorted(lines.items())]
    return _grid(path, title, rows), issues


def _grid(path: Path, title: str, rows: Sequence[tuple[int, tuple[Any, ...]]]) -> _Grid:
    if not rows:
        raise file_error(path, "", "no table", 'headings, among them "survey", and a row for each case')
    headings = tuple("" if is_blank(cell) else str(cell).strip() for cell in rows[0][1])
    return _Grid(str(path), title, headings, tuple(rows[1:]))


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False
