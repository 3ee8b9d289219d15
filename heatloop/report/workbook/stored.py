"""Results stored behind the formulas of a workbook, so that a viewer that does not calculate shows them."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping
from pathlib import Path
from xml.sax.saxutils import escape

from openpyxl import Workbook

Stored = Mapping[tuple[str, str], float | str]
"""Results by sheet and cell."""

CELL = re.compile(r'<c r="([A-Z]+\d+)"([^>]*)><f>(.*?)</f><v ?/?>(?:</v>)?</c>')
MADE = (1980, 1, 1, 0, 0, 0)
"""Time of every part of the file: two workbooks of one design are the same bytes."""


def save_with_results(book: Workbook, results: Stored, path: Path) -> Path:
    """Write the workbook with the result of every formula stored behind it, and the request to calculate all anew
    when it is opened. KeyError for a formula without a result, OSError where the file cannot be written."""
    plain = io.BytesIO()
    book.calculation.fullCalcOnLoad = True
    book.save(plain)
    titles = {f"xl/worksheets/sheet{n}.xml": sheet.title for n, sheet in enumerate(book.worksheets, start=1)}
    whole = io.BytesIO()
    with zipfile.ZipFile(plain) as source, zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as out:
        for item in source.infolist():
            data = source.read(item)
            if item.filename in titles:
                data = _with_results(data.decode(), titles[item.filename], results).encode()
            if item.filename == "docProps/core.xml":
                data = re.sub(rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>1980-01-01T00:00:00Z", data)
            out.writestr(zipfile.ZipInfo(item.filename, MADE), data, zipfile.ZIP_DEFLATED)
    path.write_bytes(whole.getvalue())
    return path


def _with_results(sheet: str, title: str, results: Stored) -> str:
    """The markup of a sheet with the results of its formulas."""
    return CELL.sub(lambda cell: _with_result(cell, results[title, cell[1]]), sheet)


def _with_result(cell: re.Match[str], result: float | str) -> str:
    place, attributes, formula = cell.groups()
    attributes = re.sub(r' t="\w+"', "", attributes)
    if isinstance(result, str):
        return f'<c r="{place}"{attributes} t="str"><f>{formula}</f><v>{escape(result)}</v></c>'
    return f'<c r="{place}"{attributes}><f>{formula}</f><v>{result!r}</v></c>'
