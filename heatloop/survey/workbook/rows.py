"""Tables of a file as rows of sheets, and rows as tables, with the cell of every key.

Nothing here depends on the kind of file: the same code reads a workbook and data frames.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from heatloop.findings.input_errors import InputIssue
from heatloop.survey.files.key_path import Loc
from heatloop.survey.workbook.cell_values import cell_of_name, cell_of_value, is_blank, name_of_cell, value_of_cell
from heatloop.survey.workbook.sheets import FORM, FORM_HEADINGS, NOTE, Column, Sheet, SheetSet
from heatloop.text.quoting import brief, closest_name, found_text

Address = Callable[[str, int, int], str]
"""The words for a cell by title, number of the row and number of the column, both from 1."""


@dataclass(frozen=True)
class Grid:
    """A sheet as read: its headings, and its rows with their numbers."""

    title: str
    headings: tuple[Any, ...]
    rows: tuple[tuple[int, tuple[Any, ...]], ...]


@dataclass(frozen=True)
class FoundRows:
    """Tables read from rows.

    The cell of every place, which of them are filled, the errors of the sheets, and the notes beside the rows.
    `broken`: the path to each sheet in which rows are missing.
    """

    tables: dict[str, Any] = field(default_factory=dict)
    cells: dict[Loc, str] = field(default_factory=dict)
    filled: set[str] = field(default_factory=set)
    issues: list[InputIssue] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    broken: set[tuple[tuple[str, ...], ...]] = field(default_factory=set)


def grids_of(sheets: SheetSet, tables: Mapping[str, Any], first_row: int = 2) -> tuple[Grid, ...]:
    """The tables of a file as sheets, every column of each; the rows of lists are numbered from `first_row`."""
    grids = []
    if sheets.form:
        rows = [
            (key, column.heading, _cell(tables.get(key), column)) for key, columns in sheets.form for column in columns
        ]
        grids.append(Grid(FORM, FORM_HEADINGS, tuple(enumerate(rows, start=2))))
    for sheet in sheets.sheets:
        lines = [
            (*map(cell_of_name, where), *(_cell(table, column) for column in sheet.columns))
            for where, table in _rows(sheet, tables, sheet.steps, ())
        ]
        grids.append(Grid(sheet.title, sheet.headings, tuple(enumerate(lines, start=first_row))))
    return tuple(grids)


def _cell(table: Any, column: Column) -> Any:
    value = _at(table, column.keys)
    return None if value is None else cell_of_value(value, column)


def _at(node: Any, keys: Sequence[str]) -> Any:
    for key in keys:
        node = node.get(key) if isinstance(node, dict) else None
    return node


def _rows(
    sheet: Sheet, node: Any, steps: tuple[tuple[str, ...], ...], where: tuple[Any, ...]
) -> Iterator[tuple[tuple[Any, ...], dict[str, Any]]]:
    """The tables of a sheet, each with its parent."""
    (*outer, last), *inner = steps
    holder = _at(node, outer)
    items = _at(holder, (last,))
    for number, item in enumerate(items if isinstance(items, list) else [], start=1):
        own = item.get("name", number) if isinstance(item, dict) else number
        if inner:
            yield from _rows(sheet, item, tuple(inner), (*where, own))
        elif isinstance(item, dict):
            yield (*where, *((number,) if sheet.is_numbered else (None,) if sheet.arms else ())), item
    arms = _at(holder, (sheet.arms,)) if sheet.arms and not inner else None
    for number, arm in enumerate(arms if isinstance(arms, list) else [], start=1):
        yield from (((*where, number), item) for item in arm if isinstance(item, dict))


def tables_of(sheets: SheetSet, grids: Sequence[Grid], address: Address, file: str) -> FoundRows:
    """The tables of a file in its sheets.

    A sheet with an unknown heading is reported and ignored, and so is a row without a parent.
    """
    contents = FoundRows()
    by_title = {grid.title: grid for grid in grids}
    _check_titles(sheets, by_title, contents, file)
    if FORM in by_title and sheets.form:
        _read_form(sheets, by_title[FORM], contents, address, file)
    for sheet in sheets.sheets:
        grid = by_title.get(sheet.title)
        if grid is not None and (reader := _SheetReader.of(sheet, grid, contents, address, file)):
            reader.read()
    return contents


def _check_titles(sheets: SheetSet, by_title: Mapping[str, Grid], contents: FoundRows, file: str) -> None:
    """Report a sheet whose title resembles that of a missing sheet."""
    lacking = [sheet.title for sheet in sheets.sheets if sheet.title not in by_title]
    for title in by_title:
        if title not in (*TITLES_OF_OWN, *(sheet.title for sheet in sheets.sheets)):
            required = closest_name("a sheet", title, lacking)
            if "the nearest is" in required:
                contents.issues.append(InputIssue(file, f'sheet "{brief(title)}"', "an unknown sheet", required))


TITLES_OF_OWN = (FORM, "How to", "Lists", "Faults")
"""Titles of the sheets that hold no list of tables."""


def _read_form(sheets: SheetSet, grid: Grid, contents: FoundRows, address: Address, file: str) -> None:
    columns = {(key, column.heading): column for key, columns in sheets.form for column in columns}
    known = list(dict.fromkeys(key for key, _ in columns))
    table: Any = None
    for number, row in grid.rows:
        named, key, cell = (*row, None, None, None)[:3]
        if is_blank(named) and is_blank(key) and is_blank(cell):
            continue
        table = table if is_blank(named) else str(named).strip()
        heading = "" if is_blank(key) else str(key).strip()
        column = columns.get((table, heading))
        if column is None:
            place, kind, names = address(FORM, number, 2), "a key", [key for name, key in columns if name == table]
            if table not in known:
                place, kind, names, heading = address(FORM, number, 1), "a table", known, str(table)
            contents.issues.append(InputIssue(file, place, f'"{brief(heading)}"', closest_name(kind, heading, names)))
            continue
        loc: Loc = (str(table), *column.keys)
        if loc in contents.cells:
            required = f"it once; it is already at {contents.cells[loc]}"
            contents.issues.append(InputIssue(file, address(FORM, number, 2), f'"{heading}" a second time', required))
            continue
        _note_cells(contents, (str(table),), column, address(FORM, number, 3), address(FORM, number, 1))
        if not is_blank(cell):
            _put(contents, (str(table),), contents.tables.setdefault(str(table), {}), column, cell)


def _note_cells(contents: FoundRows, loc: Loc, column: Column, cell: str, row: str) -> None:
    """Record the cell of a key, and of each table that contains it if none is recorded yet."""
    contents.cells.setdefault(loc, row)
    for size in range(1, len(column.keys)):
        contents.cells.setdefault((*loc, *column.keys[:size]), cell)
    contents.cells[(*loc, *column.keys)] = cell


def _put(contents: FoundRows, loc: Loc, table: dict[str, Any], column: Column, cell: Any) -> None:
    node = table
    for key in column.keys[:-1]:
        node = node.setdefault(key, {})
    node[column.keys[-1]] = value_of_cell(cell, column)
    contents.filled.add(contents.cells[(*loc, *column.keys)])


@dataclass(frozen=True)
class _SheetReader:
    """One sheet of lists of tables, its columns found by their headings."""

    sheet: Sheet
    grid: Grid
    contents: FoundRows
    address: Address
    file: str
    place: Mapping[str, int]
    strangers: set[tuple[Any, ...]] = field(default_factory=set)

    @classmethod
    def of(cls, sheet: Sheet, grid: Grid, contents: FoundRows, address: Address, file: str) -> _SheetReader | None:
        """The reader of a sheet; None, with an error recorded, where its headings are not those required."""
        place: dict[str, int] = {}
        issues = []
        width = max((len(grid.headings), *(len(row) for _, row in grid.rows)))
        for number, held in enumerate((*grid.headings, *(None for _ in range(width - len(grid.headings))))):
            heading = "" if is_blank(held) else str(held).strip()
            at = address(sheet.title, 1, number + 1)
            if heading in place:
                issues.append(InputIssue(file, at, f'the heading "{heading}" twice', "it once"))
            elif heading in sheet.headings:
                place[heading] = number
            elif heading == NOTE:
                texts = (row[number] for _, row in grid.rows if number < len(row))
                contents.notes.extend(str(text) for text in texts if not is_blank(text))
            elif heading:
                lacking = [name for name in sheet.headings if name not in grid.headings]
                issues.append(
                    InputIssue(file, at, f'the heading "{brief(heading)}"', closest_name("a heading", heading, lacking))
                )
            elif any(number < len(row) and not is_blank(row[number]) for _, row in grid.rows):
                issues.append(InputIssue(file, at, "nothing above a column that is filled", "a heading"))
        needed = [*sheet.parents[:1], *(column.heading for column in sheet.columns if column.is_required)]
        lacking = [heading for heading in needed if heading not in place]
        if lacking and grid.rows and not issues:
            listed = ", ".join(f'"{heading}"' for heading in lacking)
            issues.append(InputIssue(file, address(sheet.title, 1, 1), f"no heading {listed}", "it above its column"))
        if issues:
            contents.issues.extend(issues)
            contents.broken.add(sheet.steps)
        return None if issues else cls(sheet, grid, contents, address, file, place)

    def read(self) -> None:
        """Add the rows to the tables in their order; numbered rows in the order of their numbers."""
        rows = [row for row in self.grid.rows if self._is_filled(row[1])]
        placed = []
        last: tuple[Any, ...] = ()
        for number, row in rows:
            where, last = self._where(row, last)
            placed.append((number, row, where))
        placed = [entry for entry in placed if self._holder(entry[0], entry[2]) is not None]
        if self.sheet.is_numbered:
            placed = self._in_order(placed)
        for number, row, where in placed:
            holder = self._holder(number, where)
            if holder is not None:
                self._add(number, row, *holder)

    def _is_filled(self, row: tuple[Any, ...]) -> bool:
        return any(not is_blank(self._cell(row, heading)) for heading in self.place)

    def _cell(self, row: tuple[Any, ...], heading: str) -> Any:
        index = self.place.get(heading)
        return row[index] if index is not None and index < len(row) else None

    def _at(self, number: int, heading: str) -> str:
        return self.address(self.sheet.title, number, self.place.get(heading, 0) + 1)

    def _where(self, row: tuple[Any, ...], last: tuple[Any, ...]) -> tuple[tuple[Any, ...], tuple[Any, ...]]:
        """Parent of a row: blank cells are as in the row above; its own number is one more than there."""
        heads = zip(self.sheet.parents, self.sheet.by_number, strict=True)
        cells = [name_of_cell(self._cell(row, heading), number) for heading, number in heads]
        own = len(cells) - 1 if self.sheet.is_numbered or self.sheet.arms else len(cells)
        above: list[Any] = list(last) if last else [None] * len(cells)
        continued = all(cell is None for cell in cells[:own])
        for index, cell in enumerate(cells[:own]):
            if cell is not None:
                break
            cells[index] = above[index]
        if self.sheet.is_numbered and cells[own] is None:
            same = above[:own] == cells[:own] and type(above[own]) is int
            cells[own] = above[own] + 1 if same else 1
        elif self.sheet.arms and cells[own] is None and continued:
            cells[own] = above[own]
        return tuple(cells), tuple(cells)

    def _in_order(self, placed: list[tuple[int, tuple[Any, ...], tuple[Any, ...]]]) -> list[Any]:
        """Rows with their own number, in the order of these numbers; gaps and duplicates are recorded."""
        groups: dict[tuple[Any, ...], list[Any]] = {}
        for entry in placed:
            groups.setdefault(entry[2][:-1], []).append(entry)
        ordered = []
        for entries in groups.values():
            sound = [entry for entry in entries if type(entry[2][-1]) is int]
            for entry in entries:
                if entry not in sound:
                    self._note(entry[0], self.sheet.parents[-1], entry[2][-1], "a whole number")
            sound.sort(key=lambda row_entry: row_entry[2][-1])
            ordered += sound
            for expected, entry in enumerate(sound, start=1):
                if entry[2][-1] != expected and self.sheet.steps not in self.contents.broken:
                    label = self.sheet.parents[-1].lower()
                    required = f"{label} {expected}: rows are numbered from 1 without gaps, each number once"
                    self._note(entry[0], self.sheet.parents[-1], entry[2][-1], required)
                    break
        return ordered

    def _note(self, number: int, heading: str, held: Any, required: str) -> None:
        self.contents.broken.add(self.sheet.steps)
        shown = "nothing" if held is None else f'"{brief(held)}"' if isinstance(held, str) else found_text(held)
        self.contents.issues.append(InputIssue(self.file, self._at(number, heading), shown, required))

    def _holder(self, number: int, where: tuple[Any, ...]) -> tuple[list[Any], Loc] | None:
        """The list to which a row belongs, and its place; None, with an error recorded, where there is none."""
        node: Any = self.contents.tables
        loc: Loc = ()
        for index, (*outer, last) in enumerate(self.sheet.steps):
            for key in outer:
                node, loc = node.setdefault(key, {}), (*loc, key)
            if index == len(self.sheet.steps) - 1:
                return self._list(number, node, loc, last, where)
            items: list[Any] = node.get(last, [])
            position = _position(items, where[index], self.sheet.by_number[index])
            if position is None:
                self._note_stranger(number, index, where, items)
                return None
            node, loc = items[position], (*loc, last, position)
        return None

    def _note_stranger(self, number: int, index: int, where: tuple[Any, ...], items: list[Any]) -> None:
        """Record that a row has no parent, once for all such rows; no consequences are recorded."""
        stranger = where[: index + 1]
        if self.sheet.steps[: index + 1] in self.contents.broken or stranger in self.strangers:
            self.contents.broken.add(self.sheet.steps)
            return
        self.strangers.add(stranger)
        heading, held = self.sheet.parents[index], where[index]
        if self.sheet.by_number[index]:
            required = f"a {heading.lower()} of {where[index - 1]}, 1 to {len(items)}"
        else:
            required = closest_name(
                f"the name of a {heading.lower()}", str(held or ""), [str(i.get("name")) for i in items]
            )
        self._note(number, heading, held, required)

    def _list(self, number: int, node: Any, loc: Loc, key: str, where: tuple[Any, ...]) -> tuple[list[Any], Loc] | None:
        arm = where[-1] if self.sheet.arms else None
        if self.sheet.arms is None or arm is None:
            return node.setdefault(key, []), (*loc, key)
        if arm not in (1, 2):
            self._note(number, self.sheet.parents[-1], arm, "1 or 2, or nothing for a loop with one route")
            return None
        arms = node.setdefault(self.sheet.arms, [])
        while len(arms) < arm:
            arms.append([])
        return arms[arm - 1], (*loc, self.sheet.arms, arm - 1)

    def _add(self, number: int, row: tuple[Any, ...], items: list[Any], loc: Loc) -> None:
        table: dict[str, Any] = {}
        loc = (*loc, len(items))
        items.append(table)
        first = self.address(self.sheet.title, number, 1)
        for column in self.sheet.columns:
            if column.heading in self.place:
                _note_cells(self.contents, loc, column, self._at(number, column.heading), first)
                cell = self._cell(row, column.heading)
                if not is_blank(cell):
                    _put(self.contents, loc, table, column, cell)


def _position(items: list[Any], held: Any, by_number: bool) -> int | None:
    """The item of that name or number; None where there is none."""
    if by_number:
        return held - 1 if type(held) is int and 1 <= held <= len(items) else None
    return next((n for n, item in enumerate(items) if item.get("name") == held), None)
