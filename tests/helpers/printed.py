"""A document as it is printed: its pages as text, and measures of it in a browser as on paper."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from heatloop.report.files.export import ReportError
from heatloop.report.files.pdf import find_chromium, print_pdf

PX_PER_MM = 96.0 / 25.4


def printed_pages(markup: str, folder: Path) -> list[str]:
    """The text of every page of a document printed by Chromium; skips the test where there is no Chromium."""
    try:
        find_chromium()
    except ReportError as error:
        pytest.skip(str(error))
    if shutil.which("pdftotext") is None:
        pytest.skip("needs pdftotext of poppler")
    page = folder / "page.html"
    page.write_text(markup, encoding="utf-8")
    pdf = print_pdf(page, folder / "page.pdf")
    text = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True).stdout
    return text.split("\f")[:-1]


def within_a_fifth(pages: int, target: int) -> bool:
    """Whether a number of pages is within 20 % of its target."""
    return abs(pages - target) <= 0.2 * target
