"""A workbook as the tables of a file, each place with its cell."""

from __future__ import annotations

import io
import warnings
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import InputIssue
from heatloop.survey.toml.input_text import file_error
from heatloop.survey.workbook.rows import FoundRows, Grid, tables_of
from heatloop.survey.workbook.sheets import FORM, FORM_HEADINGS, SheetSet
from heatloop.survey.workbook.sound_rows import sound_tables
from heatloop.text.files import UnusableFile, file_bytes

SUFFIX = ".xlsx"
FIRST_ROW = 3
"""Rows of a sheet begin here: headings and units are above them."""

UNPACKED_BYTES = 200_000_000
"""Maximum size of an unpacked workbook."""

MAX_ROWS, MAX_COLUMNS = 20_000, 300
"""Cells beyond these are not read; no survey requires as many."""
DAMAGED = (
    zipfile.BadZipFile, zlib.error, EOFError, KeyError, ValueError, TypeError, IndexError, AttributeError, SyntaxError,
    RuntimeError, OSError,
)  # fmt: skip
"""Exceptions of openpyxl and its libraries for a file that is not a workbook, or a damaged workbook."""

FORMULA_KIND, ERROR_KIND = "f", "e"
"""Codes of openpyxl for cells of these kinds."""

FORMULA = "a formula whose result is not saved"
OPEN_AND_SAVE = "a value: open the file in a spreadsheet program and save it, or type the value"


def is_workbook(path: Path) -> bool:
    """Whether a path is that of a workbook, by its name."""
    return path.suffix.lower() == SUFFIX


def workbook_tables(path: Path, sheets: SheetSet) -> tuple[dict[str, Any], dict[str, str]]:
    """Tables of a workbook, and its cells by the places in words that messages use.

    Raises InputError where the file cannot be read; or, cell by cell, for errors of its headings and rows.
    """
    contents = workbook_rows(path, sheets)
    return sound_tables(sheets, contents, str(path))


def workbook_rows(path: Path, sheets: SheetSet) -> FoundRows:
    """Contents of the sheets of a workbook; their errors are recorded and not raised."""
    known = (FORM, *(sheet.title for sheet in sheets.sheets))
    pages = workbook_pages(path, known)
    if not any(page.is_known for page in pages):
        raise file_error(path, "", "none of its sheets", f"a workbook with the sheets {', '.join(known[:5])} ...")
    issues: list[InputIssue] = []
    grids = [_grid(page, path, issues) for page in pages]
    contents = tables_of(sheets, grids, cell_address, str(path))
    contents.issues.extend(issues)
    return contents


def sheet_titles(path: Path) -> tuple[str, ...]:
    """The titles of the sheets of a workbook; InputError where it cannot be read."""
    return tuple(page.title for page in workbook_pages(path, ()))


def cell_address(title: str, row: int, column: int) -> str:
    """A cell as a spreadsheet program names it.

    >>> cell_address("Walls", 14, 3)
    'Walls!C14'
    """
    letters = ""
    while column:
        column, digit = divmod(column - 1, 26)
        letters = chr(65 + digit) + letters
    return f"{title}!{letters}{row}"


@dataclass(frozen=True)
class Page:
    """Filled cells of a sheet: row, column, value, and openpyxl's letter for the kind; empty for no sheet."""

    title: str
    is_known: bool
    cells: tuple[tuple[int, int, Any, str], ...] = ()


def workbook_pages(path: Path, known: Sequence[str]) -> list[Page]:
    """The sheets of a workbook, with the results of formulas."""
    try:
        data = file_bytes(path)
    except FileNotFoundError:
        raise file_error(path, "", "no such file", "the path of a workbook") from None
    except IsADirectoryError:
        raise file_error(path, "", "a folder", "the path of a workbook") from None
    except UnusableFile as error:
        raise file_error(path, "", error.found, error.required) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise file_error(path, "", f"a file that cannot be opened ({reason})", "one that can be read") from None
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as parts:
            size = sum(part.file_size for part in parts.infolist())
        if size > UNPACKED_BYTES:
            raise file_error(path, "", f"{size // 1_000_000} MB once unpacked", "a workbook of ordinary size")
        return _filled_pages(data, known)
    except DAMAGED:
        raise file_error(path, "", "a file that is no workbook, or a damaged one", "a workbook (.xlsx)") from None


def _filled_pages(data: bytes, known: Sequence[str]) -> list[Page]:
    pages = _read_pages(data, known, results=False)
    if not any(kind == FORMULA_KIND for page in pages for *_, kind in page.cells):
        return pages
    filled = []
    for page, results in zip(pages, _read_pages(data, known, results=True), strict=True):
        held = {(row, column): (value, kind) for row, column, value, kind in results.cells}
        cells = ((row, column, *held.get((row, column), (None, FORMULA_KIND))) for row, column, _, _ in page.cells)
        filled.append(Page(page.title, page.is_known, tuple(cells)))
    return filled


def _read_pages(data: bytes, known: Sequence[str], results: bool) -> list[Page]:
    from openpyxl import load_workbook

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # warnings about content that openpyxl ignores, such as pictures
        book = load_workbook(io.BytesIO(data), data_only=results, read_only=True)
        return [
            Page(title, True, tuple(_filled_cells(book[title]))) if title in known else Page(title, False)
            for title in book.sheetnames
        ]


def _filled_cells(sheet: Any) -> Iterator[tuple[int, int, Any, str]]:
    sheet.reset_dimensions()
    for row in sheet.iter_rows(max_row=MAX_ROWS, max_col=MAX_COLUMNS):
        for cell in row:
            if cell.value is not None:
                yield cell.row, cell.column, cell.value, cell.data_type


def _grid(page: Page, path: Path, issues: list[InputIssue]) -> Grid:
    """A sheet with its rows that are not blank; a formula without a result and an error value are recorded."""
    is_form = page.title == FORM
    lines: dict[int, list[Any]] = {}
    for row, column, value, kind in page.cells:
        if not (is_form or row == 1 or row >= FIRST_ROW):
            continue
        at = cell_address(page.title, row, column)
        if kind == FORMULA_KIND:
            issues.append(InputIssue(str(path), at, FORMULA, OPEN_AND_SAVE))
        elif kind == ERROR_KIND:
            issues.append(InputIssue(str(path), at, f"the error value {value}", "a value"))
        line = lines.setdefault(row, [])
        line.extend([None] * (column - len(line)))
        line[column - 1] = None if kind in (FORMULA_KIND, ERROR_KIND) else value
    headings = FORM_HEADINGS if is_form else tuple(lines.get(1, ()))
    rows = tuple((row, tuple(lines[row])) for row in sorted(lines) if row > 1)
    return Grid(page.title, headings, rows)
