"""A design as a workbook: a sheet for each table, headings with units that stay in view, no formulas."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from heatloop.findings.safety import CAUTIONS, DEFERENCE
from heatloop.report.columns.registry import SUMMARY, table_description
from heatloop.text.column import Column
from heatloop.text.formatting import cell_text, escape_control_characters, spreadsheet_format

_HEAD_FILL = PatternFill("solid", fgColor="E7EBEE")
_HEAD_LINE = Border(bottom=Side(style="thin", color="5C6670"))
_TOP, _WRAPPED = Alignment(vertical="top"), Alignment(wrap_text=True, vertical="top")
_WIDEST = 60
_NARROWEST = 8


def write_workbook(path: Path, tables: Mapping[str, pd.DataFrame], summary: Mapping[str, object]) -> Path:
    """Write the workbook: summary, a sheet for each table, the meaning of columns, the safety notices.

    OSError where the file cannot be written.
    """
    book = Workbook()
    front = book.active
    assert isinstance(front, Worksheet)
    front.title = "Summary"
    known = {column.name: column for column in SUMMARY}
    rows = [(known[n], value) for n, value in summary.items() if n in known]
    _fill(front, ("What", "Value", "Unit"), [(c.heading, _worded(c, value), c.unit) for c, value in rows])
    for row, (column, _) in enumerate(rows, start=2):
        front.cell(row, 2).number_format = spreadsheet_format(column, front.cell(row, 2).value)
    for name, frame in tables.items():
        _table_sheet(book.create_sheet(_sheet_name(name)), frame, name)
    meanings = [
        (table_description(name).title, column.full_heading, column.meaning, column.source)
        for name, frame in tables.items()
        for column in map(table_description(name).column, frame.columns)
    ]
    _fill(book.create_sheet("Columns"), ("Table", "Column", "Meaning", "Source"), meanings)
    notices = [("Before all", DEFERENCE), *((c.title, c.text) for c in CAUTIONS)]
    _fill(book.create_sheet("Safety notices"), ("Subject", "Safety notice"), notices)
    book.save(path)
    return path


def _table_sheet(sheet: Worksheet, frame: pd.DataFrame, name: str) -> None:
    columns = [table_description(name).column(c) for c in frame.columns]
    rows = [
        [_worded(column, value) for column, value in zip(columns, values, strict=True)]
        for values in frame.itertuples(index=False)
    ]
    _fill(sheet, [c.full_heading for c in columns], rows)
    for place, column in enumerate(columns, start=1):
        for row, values in enumerate(rows, start=2):
            form = spreadsheet_format(column, values[place - 1])
            if form != "General":
                sheet.cell(row, place).number_format = form
    sheet.page_setup.orientation = "landscape"


def _fill(sheet: Worksheet, headings: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    """Headings and rows, frozen and filtered, with widths that fit the text, ready to print on A4."""
    for place, heading in enumerate(headings, start=1):
        cell = _put(sheet, 1, place, heading)
        cell.font, cell.fill, cell.border = Font(bold=True), _HEAD_FILL, _HEAD_LINE
        cell.alignment = _WRAPPED
    for row, values in enumerate(rows, start=2):
        for place, value in enumerate(values, start=1):
            cell = _put(sheet, row, place, value)
            if isinstance(value, str):
                cell.alignment = _WRAPPED if len(value) > _WIDEST else _TOP
    for place, heading in enumerate(headings, start=1):
        longest = max([len(heading) // 2 + 2, *(len(_shown(row[place - 1])) for row in rows)])
        sheet.column_dimensions[get_column_letter(place)].width = min(max(longest + 2, _NARROWEST), _WIDEST)
    sheet.freeze_panes = "B2"
    sheet.auto_filter.ref = f"A1:{get_column_letter(len(headings))}{len(rows) + 1}"
    sheet.print_title_rows = "1:1"
    sheet.page_setup.paperSize = sheet.PAPERSIZE_A4
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def _put(sheet: Worksheet, row: int, place: int, value: Any) -> Cell:
    """Write one value; text is stored as text even where it looks like a formula."""
    cell = sheet.cell(row, place)
    assert isinstance(cell, Cell)
    if isinstance(value, str):
        cell.value = escape_control_characters(value)
        cell.data_type = "s"
        cell.quotePrefix = value[:1] in ("=", "+", "-", "@")
    else:
        cell.value = value
    return cell


def _worded(column: Column, value: object) -> object:
    """A value as the workbook keeps it: numbers in full, the rest as it is read, blank where none."""
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or value is pd.NA or (isinstance(value, float) and not math.isfinite(value)):
        return None
    if isinstance(value, bool) or column.kind in ("flag", "verdict", "unit"):
        return cell_text(column, value)
    return value if isinstance(value, int | float) else str(value)


def _shown(value: object) -> str:
    return f"{value:.3g}" if isinstance(value, float) else str("" if value is None else value)


def _sheet_name(name: str) -> str:
    return table_description(name).title[:31]
