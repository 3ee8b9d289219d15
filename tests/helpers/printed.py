"""A document as it is printed: its pages as text, and measures of it in a browser as on paper."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.helpers.browser import Browser

PX_PER_MM = 96.0 / 25.4
WINDOW_PX = 800


def printed_pages(markup: str, folder: Path, browser: Browser) -> list[str]:
    """The text of every page of a document as a browser prints it, for which no new one is started."""
    page = folder / "page.html"
    page.write_text(markup, encoding="utf-8")
    browser.open(page, WINDOW_PX)
    return pages_of(browser.pdf(folder / "page.pdf"))


def pages_of(pdf: Path) -> list[str]:
    """The text of every page of a PDF; skips the test where there is no program that reads it."""
    if shutil.which("pdftotext") is None:
        pytest.skip("needs pdftotext of poppler")
    text = subprocess.run(["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True).stdout
    return text.split("\f")[:-1]


def within_a_fifth(pages: int, target: int) -> bool:
    """Whether a number of pages is within 20 % of its target."""
    return abs(pages - target) <= 0.2 * target
