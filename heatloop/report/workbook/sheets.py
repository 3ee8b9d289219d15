"""Sheets of the workbook: named styles, headings that stay in view, values, and live columns with their difference."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from heatloop.text.column import Column
from heatloop.text.formatting import cell_text, escape_control_characters, spreadsheet_format

HEAD_ROW, FIRST_ROW = 3, 4
"""Row of the headings, and the first row of values."""
WIDEST, NARROWEST = 56, 8
PAGE_CHARACTERS = 235
"""Width of a sheet that still has letters of 6.6 pt when it is printed on one page, in characters."""
TOLERANCE = 0.01
"""A live figure may differ by this from the calculated one before the index counts it."""

TITLE, HEAD, TEXT, VALUE, INPUT, LIVE, FAIL = (
    "HL title", "HL head", "HL text", "HL value", "HL input", "HL live", "HL fail",
)  # fmt: skip

_LINE = Border(bottom=Side(style="thin", color="5C6670"))


def new_book() -> Workbook:
    """An empty workbook with the named styles."""
    book = Workbook()
    book.remove(book.worksheets[0])
    top = Alignment(vertical="top")
    for name, given in {
        TITLE: {"font": Font(bold=True, size=14)},
        HEAD: {"font": Font(bold=True), "fill": PatternFill("solid", fgColor="E7EBEE"), "border": _LINE,
               "alignment": Alignment(wrap_text=True, vertical="bottom")},
        TEXT: {"alignment": Alignment(vertical="top", wrap_text=True)},
        VALUE: {"alignment": top},
        INPUT: {"font": Font(color="0B3D91"), "fill": PatternFill("solid", fgColor="FFF8DC"), "alignment": top},
        LIVE: {"font": Font(italic=True), "alignment": top},
        FAIL: {"font": Font(bold=True, color="8A1C0D"), "alignment": top},
    }.items():  # fmt: skip
        style = NamedStyle(name)
        for attribute, value in given.items():
            setattr(style, attribute, value)
        book.add_named_style(style)
    return book


@dataclass(frozen=True)
class Live:
    """A live column: its heading, the formula of a row (None: no formula there), the column of calculated values, and
    whether a difference is beside it.

    The formula is given the letters of the columns by their names and the number of the row.
    """

    heading: str
    calculated: str
    formula: Callable[[Mapping[str, str], int, Mapping[Any, Any]], str | None]
    with_difference: bool = True
    result: Callable[[Mapping[Any, Any]], float | str] | None = None


def put_value(
    sheet: Worksheet, row_number: int, place: int, column: Column, value: object, is_input: bool = False
) -> None:
    """A value of a described column in its cell, with the number format and the style of that column."""
    plain = plain_value(column, value)
    number = isinstance(plain, int | float)
    cell = put(sheet, row_number, place, plain, INPUT if is_input and number else VALUE if number else TEXT)
    form = spreadsheet_format(column, plain)
    if form != "General":
        cell.number_format = form


@dataclass
class Book:
    """A workbook in the making, with the results of its formulas and where differences are."""

    book: Workbook
    foot: str
    results: dict[tuple[str, str], float | str] = field(default_factory=dict)
    differences: list[tuple[str, str, int, int]] = field(default_factory=list)
    sheets: dict[str, str] = field(default_factory=dict)

    def sheet(self, title: str, about: str) -> Worksheet:
        """A new sheet with its title, ready to print on A4."""
        sheet: Worksheet = self.book.create_sheet(title)
        self.sheets[title] = about
        put(sheet, 1, 1, title, TITLE)
        put(sheet, 2, 1, about, TEXT).alignment = Alignment(wrap_text=False)
        sheet.page_setup.orientation = "landscape"
        sheet.page_setup.paperSize = sheet.PAPERSIZE_A4
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.oddFooter.left.text = f"{_amp(self.foot)}  &A"
        sheet.oddFooter.right.text = "page &P of &N"
        return sheet

    def formula(self, sheet: Worksheet, row: int, place: int, formula: str, result: float | str) -> Cell:
        """Write a formula with its result; the result is rounded to what a calculation gives again."""
        cell = sheet.cell(row, place)
        assert isinstance(cell, Cell)
        cell.value = formula
        cell.style = LIVE
        self.results[sheet.title, cell.coordinate] = result
        return cell

    def table(
        self,
        title: str,
        about: str,
        columns: Sequence[Column],
        rows: Sequence[Mapping[Any, Any]],
        live: Sequence[Live] = (),
        inputs: Sequence[str] = (),
    ) -> Worksheet:
        """A sheet with a table: described columns, then live ones with the difference to the calculated figure."""
        sheet = self.sheet(title, about)
        fill_head(sheet, [column.full_heading for column in columns])
        for row_number, row in enumerate(rows, start=FIRST_ROW):
            for place, column in enumerate(columns, start=1):
                put_value(sheet, row_number, place, column, row.get(column.name), column.name in inputs)
        letters = {column.name: get_column_letter(place) for place, column in enumerate(columns, start=1)}
        place = len(columns) + 1
        for live_cell in live:
            place = self._live(sheet, live_cell, letters, rows, place)
        finish(sheet, len(rows), place - 1)
        return sheet

    def _live(
        self, sheet: Worksheet, live: Live, letters: Mapping[str, str], rows: Sequence[Mapping[Any, Any]], place: int
    ) -> int:
        put(sheet, HEAD_ROW, place, live.heading, HEAD)
        letter = get_column_letter(place)
        if live.with_difference:
            put(sheet, HEAD_ROW, place + 1, "Difference", HEAD)
        for row_number, row in enumerate(rows, start=FIRST_ROW):
            formula = live.formula(letters, row_number, row)
            if formula is None:
                continue
            calculated = live.result(row) if live.result is not None else float(row[live.calculated])
            cell = self.formula(sheet, row_number, place, formula, calculated)
            if not isinstance(calculated, str):
                cell.number_format = "0.000"
            if live.with_difference:
                against = f"{letters[live.calculated]}{row_number}"
                difference = f"=ABS({letter}{row_number}-{against})"
                self.formula(sheet, row_number, place + 1, difference, 0.0).number_format = "0.000"
        if live.with_difference and rows:
            self.differences.append((sheet.title, get_column_letter(place + 1), FIRST_ROW, FIRST_ROW + len(rows) - 1))
        return place + (2 if live.with_difference else 1)


def fill_head(sheet: Worksheet, headings: Sequence[str], row: int = HEAD_ROW) -> None:
    """Write the headings."""
    for place, heading in enumerate(headings, start=1):
        put(sheet, row, place, heading, HEAD)


def finish(sheet: Worksheet, rows: int, columns: int) -> None:
    """Widths that fit the text, headings that stay in view and are printed on each page, a filter.

    A table that would be too small on one page is as many pages wide as it requires, each with its first column.
    """
    whole = 0.0
    for place in range(1, columns + 1):
        letter = get_column_letter(place)
        values = [sheet.cell(row, place).value for row in range(HEAD_ROW + 1, HEAD_ROW + 1 + min(rows, 400))]
        longest = max((_shown(value) for value in values), default=0)
        heading = str(sheet.cell(HEAD_ROW, place).value or "")
        longest_word = max(map(len, heading.split()), default=0)
        width = min(max(longest + 2, len(heading) // 2 + 3, longest_word + 1, NARROWEST), WIDEST)
        sheet.column_dimensions[letter].width = width
        whole += width
    sheet.page_setup.fitToWidth = pages = math.ceil(whole / PAGE_CHARACTERS) or 1
    if pages > 1:
        sheet.print_title_cols = "A:A"
    sheet.freeze_panes = f"B{FIRST_ROW}"
    sheet.auto_filter.ref = f"A{HEAD_ROW}:{get_column_letter(max(columns, 1))}{HEAD_ROW + max(rows, 1)}"
    sheet.print_title_rows = f"{HEAD_ROW}:{HEAD_ROW}"


def put(sheet: Worksheet, row: int, place: int, value: Any, style: str = VALUE) -> Cell:
    """Write one value; text is stored as text even where it looks like a formula."""
    cell = sheet.cell(row, place)
    assert isinstance(cell, Cell)
    cell.style = style
    if isinstance(value, str):
        cell.value = escape_control_characters(value)
        cell.data_type = "s"
        cell.quotePrefix = value[:1] in ("=", "+", "-", "@")
    else:
        cell.value = value
    return cell


def plain_value(column: Column, value: object) -> Any:
    """A value as the workbook keeps it: numbers in full, the rest as it is read, blank where none."""
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or value is pd.NA or (isinstance(value, float) and not math.isfinite(value)):
        return None
    if isinstance(value, bool) or column.kind in ("flag", "verdict", "unit"):
        return cell_text(column, value)
    return value if isinstance(value, int | float) else str(value)


def _shown(value: object) -> int:
    if isinstance(value, str) and value.startswith("="):
        return 9
    return len(f"{value:.5g}" if isinstance(value, float) else str("" if value is None else value))


def _amp(text: str) -> str:
    """Text of a footer, in which an ampersand begins a code."""
    return text.replace("&", "&&")[:200]
