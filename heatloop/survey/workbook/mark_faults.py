"""A copy of a workbook in which every cell with an error is red, and a sheet that lists the errors."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterable
from pathlib import Path

from openpyxl import load_workbook
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from openpyxl.utils import quote_sheetname

from heatloop.findings.input_errors import InputIssue
from heatloop.survey.toml.input_text import file_error

TITLE = "Faults"
MARK = "heatloop: faults marked"
"""Keywords in the properties of such a copy, by which it is known and may be written again."""

CELL = re.compile(r"(?P<title>[^!]+)!(?P<cell>[A-Z]{1,3}\d+)(?: \((?P<place>.*)\))?")
RED = PatternFill("solid", fgColor="F6C9C0")
COLUMNS = (("Cell", 18), ("Place", 50), ("Found", 50), ("Required", 80))


def mark_faults(path: Path, issues: Iterable[InputIssue]) -> Path:
    """Write the copy beside the workbook, as NAME.faults.xlsx; return its path.

    The workbook itself is not changed, because openpyxl does not keep pictures and charts. An earlier copy is replaced.
    Raises InputError where another file has its name, or it cannot be written.
    """
    target = _copy_of(path)
    if target.exists() and not _is_copy(target):
        raise file_error(target, "", "a file that is not heatloop's", "another name: nothing is overwritten")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = load_workbook(path)
    if TITLE in book.sheetnames:
        del book[TITLE]
    page = book.create_sheet(TITLE, 0)
    for number, (heading, width) in enumerate(COLUMNS, start=1):
        page.cell(1, number, heading).font = Font(bold=True)
        page.column_dimensions["ABCD"[number - 1]].width = width
    for row, issue in enumerate(issues, start=2):
        match = CELL.fullmatch(issue.place) if issue.file == str(path) else None
        place = issue.place if match is None else match["place"] or ""
        if match is not None and match["title"] in book.sheetnames:
            cell = book[match["title"]][match["cell"]]
            cell.fill = RED
            earlier = f"{cell.comment.text}\n" if cell.comment is not None and cell.row > 2 else ""
            cell.comment = Comment(f"{earlier}found {issue.found}; required: {issue.required}", "heatloop", 130, 320)
            link = page.cell(row, 1, f"{match['title']}!{match['cell']}")
            link.hyperlink = f"#{quote_sheetname(match['title'])}!{match['cell']}"
            link.style = "Hyperlink"
        elif issue.file != str(path):
            place = f"{issue.file}: {place}"
        for number, text in enumerate((place, issue.found, issue.required), start=2):
            cell = page.cell(row, number, text)
            cell.data_type = "s"
    book.active = 0
    book.properties.keywords = MARK
    buffer = io.BytesIO()
    book.save(buffer)
    try:
        target.write_bytes(buffer.getvalue())
    except OSError as error:
        found_words = f"a place that cannot be written to ({error.strerror or error})"
        raise file_error(target, "", found_words, "another folder") from None
    return target


def remove_marked(path: Path) -> Path | None:
    """Remove an earlier copy of a workbook that no longer has errors; return its path, None where there is none."""
    target = _copy_of(path)
    if not target.exists() or not _is_copy(target):
        return None
    try:
        target.unlink()
    except OSError as error:
        found = f"a file that cannot be removed ({error.strerror or error})"
        raise file_error(target, "", found, "a file that no other program has open") from None
    return target


def _copy_of(path: Path) -> Path:
    return path.with_name(f"{path.stem}.faults{path.suffix}")


def _is_copy(path: Path) -> bool:
    """Whether a file is an earlier copy."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return bool(load_workbook(path, read_only=True).properties.keywords == MARK)
    except (OSError, KeyError, ValueError, TypeError):
        return False
