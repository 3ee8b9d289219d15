"""Tables of a file as a workbook to complete: units, meanings, ranges and lists of choices beside every key."""

from __future__ import annotations

import datetime as dt
import io
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter, quote_sheetname
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.files.fields import BooleanField, ChoiceField, DateField, IntegerField, NumberField, TextField
from heatloop.survey.workbook.choices import SPARE_ROWS, NameList, name_lists, names_for
from heatloop.survey.workbook.how_to import HOW_TO
from heatloop.survey.workbook.read_workbook import FIRST_ROW, cell_address
from heatloop.survey.workbook.rows import Grid, grids_of
from heatloop.survey.workbook.sheets import FORM, NOTE, Column, Sheet, SheetSet
from heatloop.text.quoting import found_text

HEADING = PatternFill("solid", fgColor="E7EBEE")
REQUIRED = PatternFill("solid", fgColor="FFF3D6")
UNIT = Font(italic=True, color="5C6670")
WIDTHS = (9, 26)
LISTS = "Lists"
LONGEST_CELL, LARGEST, FIRST_YEAR = 32_000, 10**15, 1901
"""Characters of a text, and size of a whole number, that a cell holds."""

LONGEST_TEXT, LONGEST_RULE = 255, 255
"""Characters that a spreadsheet program takes in a message, and in a list that is written into the rule of a cell."""


def workbook_bytes(
    path: Path, sheets: SheetSet, tables: Mapping[str, Any], catalogue: Catalogue | None = None
) -> bytes:
    """Tables as a workbook; `path` is the file name in messages.

    `catalogue` gives the names to choose from. Raises InputError for a value that a cell cannot contain.
    """
    grids = {grid.title: grid for grid in grids_of(sheets, tables, FIRST_ROW)}
    _check_values(path, grids)
    book = Workbook()
    _how_to(book.active, sheets)
    lists = name_lists(catalogue)
    titles = {sheet.title for sheet in sheets.sheets}
    known = {name: names for name, names in lists.items() if names.names or titles.intersection(names.sheets)}
    if FORM in grids:
        _form(book.create_sheet(FORM), sheets, grids[FORM], known)
    for sheet in sheets.sheets:
        _sheet(book.create_sheet(sheet.title), sheet, grids[sheet.title], known)
    _names(book, known, titles)
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def _check_values(path: Path, grids: Mapping[str, Grid]) -> None:
    """Raise InputError for values that a cell cannot contain."""
    issues = []
    for grid in grids.values():
        for number, row in grid.rows:
            for column, value in enumerate(row, start=1):
                at = cell_address(grid.title, number, column)
                if not _can_be_held(value):
                    required = (
                        "a text of one line, TRUE or FALSE, a number of at most 15 digits, or a date from 1901 on"
                    )
                    issues.append(InputIssue(str(path), at, found_text(value), required))
    if issues:
        raise InputError(issues)


def _can_be_held(value: Any) -> bool:
    match value:
        case str():
            return len(value) < LONGEST_CELL and not ILLEGAL_CHARACTERS_RE.search(value)
        case int():
            return abs(value) < LARGEST
        case float():
            return math.isfinite(value)
        case dt.date():
            return value.year >= FIRST_YEAR
        case _:
            return value is None


def _how_to(page: Worksheet, sheets: SheetSet) -> None:
    page.title = "How to"
    page.column_dimensions["A"].width = 110
    for number, line in enumerate(HOW_TO[sheets.what], start=1):
        cell = page.cell(number, 1, line)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        if number == 1:
            cell.font = Font(bold=True, size=14)
    for fill, line in ((REQUIRED, "This colour: to be filled in."), (HEADING, "This colour: may be left blank.")):
        cell = page.cell(page.max_row + 1, 1, line)
        cell.fill = fill


def _form(page: Worksheet, sheets: SheetSet, grid: Grid, known: Mapping[str, NameList]) -> None:
    """The single tables: a row for each key."""
    for number, (heading, width) in enumerate(
        (("Table", 10), ("Key", 30), ("Value", 24), ("Unit", 16), ("Meaning", 70), ("Blank means", 16)), start=1
    ):
        cell = page.cell(1, number, heading)
        cell.font, cell.fill = Font(bold=True), HEADING
        page.column_dimensions[get_column_letter(number)].width = width
    columns = [column for _, columns in sheets.form for column in columns]
    for (number, row), column in zip(grid.rows, columns, strict=True):
        texts = (*row, column.unit, f"{column.meaning}: {_required_text(column)}", _default(column))
        for place, value in enumerate(texts, start=1):
            _put(page, number, place, value)
        if column.is_required:
            page.cell(number, 3).fill = REQUIRED
        _allow(page, column.heading, column, f"C{number}", known)
    page.freeze_panes = "C2"


def _sheet(page: Worksheet, sheet: Sheet, grid: Grid, known: Mapping[str, NameList]) -> None:
    """A list of tables: headings, units, and its rows."""
    columns = (*(None for _ in sheet.parents), *sheet.columns)
    for number, (heading, column) in enumerate(zip(sheet.headings, columns, strict=True), start=1):
        letter = get_column_letter(number)
        cell = page.cell(1, number, heading)
        needed = (column is None and number == 1) or (column is not None and column.is_required)
        cell.font, cell.fill = Font(bold=True), REQUIRED if needed else HEADING
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        cell.comment = Comment(
            _parent_meaning(sheet, heading) if column is None else _meaning(column), "heatloop", 110, 320
        )
        page.column_dimensions[letter].width = max(WIDTHS[0], min(WIDTHS[1], len(heading) + 2))
        if column is not None and column.unit:
            page.cell(2, number, column.unit).font = UNIT
        _allow(page, heading, column, f"{letter}{FIRST_ROW}:{letter}{SPARE_ROWS}", known)
    note = page.cell(1, len(columns) + 1, NOTE)
    note.font, note.fill = Font(bold=True), HEADING
    note.comment = Comment("For yourself: kept in this workbook and not read.", "heatloop")
    page.freeze_panes = page.cell(FIRST_ROW, max(1, len(sheet.parents)) + 1)
    for number, row in grid.rows:
        for place, value in enumerate(row, start=1):
            _put(page, number, place, value)


def _put(page: Worksheet, row: int, column: int, value: Any) -> None:
    """Write a value into a cell; a text stays a text, whatever it looks like."""
    if value is None or value == "":
        return
    cell = page.cell(row, column, value)
    if isinstance(value, str):
        cell.data_type, cell.number_format, cell.quotePrefix = "s", "@", value[:1] in "=+-@"


def _required_text(column: Column) -> str:
    words = column.field.requirement(None, in_cell=True)
    return f"{words}; several are parted by semicolons" if column.is_list else words


def _default(column: Column) -> str:
    if column.default is None:
        return ""
    return str(column.default).upper() if isinstance(column.default, bool) else f"{column.default}"


def _meaning(column: Column) -> str:
    blank = (
        "required" if column.is_required else f"blank means {_default(column)}" if _default(column) else "may be blank"
    )
    return f"{column.heading}\n{column.meaning}\n{_required_text(column)}\n{blank}"


def _parent_meaning(sheet: Sheet, heading: str) -> str:
    if heading == "Arm":
        return "Arm\n1 or 2 for a loop with two arms; blank for a loop with one route"
    if sheet.is_numbered and heading == sheet.parents[-1]:
        return f"{heading}\nits number, from 1 in the order of the walk; one more than in the row above where blank"
    return f"{heading}\nwhat the row belongs to; as in the row above where blank"


def _allow(page: Worksheet, heading: str, column: Column | None, span: str, known: Mapping[str, NameList]) -> None:
    """Validation rule of cells: a list of choices or a range, and the words for what is required."""
    rule = _rule(heading, column, known)
    if rule is None:
        return
    if column is not None:
        words = _required_text(column)[:LONGEST_TEXT]
        rule.errorTitle, rule.error = heading[:30], words
        rule.showErrorMessage, rule.allow_blank = True, True
    page.add_data_validation(rule)
    rule.add(span)


def _rule(heading: str, column: Column | None, known: Mapping[str, NameList]) -> DataValidation | None:
    names = names_for(heading, column)
    if names is not None:
        # a name may be written before its room: a list of names warns and does not refuse
        return DataValidation("list", formula1=f"={names}", errorStyle="warning") if names in known else None
    if column is None or column.is_list:
        return None
    match column.field:
        case ChoiceField() as field:
            listed = ",".join(field.options)
            return DataValidation("list", formula1=f'"{listed}"') if len(listed) < LONGEST_RULE else None
        case BooleanField():
            return DataValidation("list", formula1='"TRUE,FALSE"')
        case IntegerField() as field:
            return DataValidation("whole", operator="between", formula1=str(field.minimum), formula2=str(field.maximum))
        case NumberField() as field:
            low = field.minimum if field.above is None else field.above
            high = field.maximum if field.below is None else field.below
            if low is None or high is None:
                return None
            return DataValidation("decimal", operator="between", formula1=f"{low:g}", formula2=f"{high:g}")
        case TextField() | DateField():
            return None


def _names(book: Workbook, known: Mapping[str, NameList], titles: set[str]) -> None:
    """The lists of names: the column of names of a sheet, or a column of the last sheet."""
    page = book.create_sheet(LISTS)
    place = 0
    for name, names in known.items():
        sheets = [title for title in names.sheets if title in titles]
        if len(sheets) == 1 and not names.names:
            reference = f"{quote_sheetname(sheets[0])}!$A${FIRST_ROW}:$A${SPARE_ROWS}"
        else:
            place += 1
            letter = get_column_letter(place)
            page.cell(1, place, name)
            cells = [*names.names]
            for title in sheets:
                cells += [f'={quote_sheetname(title)}!A{row}&""' for row in range(FIRST_ROW, FIRST_ROW + 60)]
            for row, cell in enumerate(cells, start=2):
                page.cell(row, place, cell)
            reference = f"{LISTS}!${letter}$2:${letter}${max(2, len(cells) + 1)}"
        book.defined_names[name] = DefinedName(name, attr_text=reference)
