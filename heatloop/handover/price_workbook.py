"""A price file as a workbook: one sheet with the columns of the CSV file."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import InputIssue
from heatloop.survey.toml.input_text import file_error
from heatloop.survey.workbook.read_workbook import (
    ERROR_KIND,
    FORMULA,
    FORMULA_KIND,
    OPEN_AND_SAVE,
    cell_address,
    workbook_pages,
)

TITLE = "Prices"
LINE = re.compile(r"line (?P<line>\d+)(?P<rest>.*)")
WIDTHS = (36, 12, 10, 18, 14, 12)


def prices_as_csv(path: Path) -> str:
    """The sheet of prices of a workbook as the text of a CSV file, line for row.

    Raises InputError where the file cannot be read, has no such sheet or a formula without a result.
    """
    page = next((page for page in workbook_pages(path, (TITLE,)) if page.is_known), None)
    if page is None:
        raise file_error(path, "", f"no sheet {TITLE}", f"a workbook with a sheet {TITLE}, or a CSV file")
    rows: dict[int, dict[int, str]] = {}
    for row, column, value, kind in page.cells:
        if kind in (FORMULA_KIND, ERROR_KIND):
            found = FORMULA if kind == FORMULA_KIND else f"the error value {value}"
            raise file_error(path, cell_address(TITLE, row, column), found, OPEN_AND_SAVE)
        rows.setdefault(row, {})[column] = _text(value)
    width = max((column for cells in rows.values() for column in cells), default=1)
    text = io.StringIO()
    lines = csv.writer(text, lineterminator="\n")
    for row in range(1, max(rows, default=0) + 1):
        cells = rows.get(row, {})
        lines.writerow([cells.get(column, "") for column in range(1, width + 1)] if cells else [])
    return text.getvalue()


def _text(value: Any) -> str:
    """A cell as a field of one line; a whole number without a point."""
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return " ".join(str(value).split())


def in_cells(issue: InputIssue, columns: Sequence[str]) -> InputIssue:
    """An error of the CSV text, with the cell of the workbook."""
    match = LINE.fullmatch(issue.place)
    if match is None:
        return issue
    words = match["rest"].removeprefix(", ")
    key = words.rpartition(", ")[2]
    column = list(columns).index(key) + 1 if key in columns else 1
    cell = cell_address(TITLE, int(match["line"]), column)
    return InputIssue(issue.file, f"{cell} ({words})" if words else cell, issue.found, issue.required)


def price_workbook_bytes(headings: Sequence[str], rows: Iterable[Sequence[str | float | None]]) -> bytes:
    """Prices as a workbook."""
    from openpyxl import Workbook
    from openpyxl.styles import Font

    book = Workbook()
    page = book.active
    page.title = TITLE
    for number, (heading, width) in enumerate(zip(headings, WIDTHS, strict=True), start=1):
        page.cell(1, number, heading).font = Font(bold=True)
        page.column_dimensions["ABCDEF"[number - 1]].width = width
    for number, row in enumerate(rows, start=2):
        for place, value in enumerate(row, start=1):
            if value is not None and value != "":
                cell = page.cell(number, place, value)
                if isinstance(value, str):
                    cell.data_type, cell.number_format, cell.quotePrefix = "s", "@", value[:1] in "=+-@"
    page.freeze_panes = "B2"
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()
