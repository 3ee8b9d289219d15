"""Pages as PDF, and one line where there is no browser."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from heatloop.report.files.export import ReportError
from heatloop.report.files.pdf import NAMES, print_pdf
from heatloop.workflows.publishing.publish import PublishedReport, publish_report
from tests.helpers.browser import Browser
from tests.helpers.paths import DATA
from tests.helpers.printed import pages_of, printed_pages


@pytest.fixture(scope="module")
def report_pdf(published: PublishedReport, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The design report of nine rooms as the program prints it."""
    assert published.page is not None
    return print_pdf(published.page, tmp_path_factory.mktemp("pdf") / "report.pdf")


def test_the_pdf_has_pages_numbers_and_an_outline(report_pdf: Path) -> None:
    data = report_pdf.read_bytes()
    assert data.startswith(b"%PDF-")
    assert len(re.findall(rb"/Type\s*/Page\b", data)) >= 14
    assert b"/Outlines" in data
    assert b"/StructTreeRoot" in data, "tagged, for readers who listen"


def test_the_pages_of_the_pdf_are_those_that_other_tests_print(
    published: PublishedReport, report_pdf: Path, tmp_path: Path, browser: Browser
) -> None:
    markup, pages = published.page.read_text(encoding="utf-8"), pages_of(report_pdf)
    assert printed_pages(markup, tmp_path, browser) == pages
    assert len(pages) >= 14


@pytest.mark.usefixtures("browser")
def test_every_page_of_a_report_has_its_pdf_where_one_is_asked_for(tmp_path: Path) -> None:
    report = publish_report(DATA / "mill-annexe" / "survey.toml", tmp_path / "out", audience="check", pdf=True)
    assert report.pdf is not None
    assert report.pdf in report.files
    pages = [path for path in report.files if path.suffix == ".html" and path != report.index]
    pages = [path for path in pages if "interactive-plan" not in path.name]  # for the screen alone
    assert pages
    for page in pages:
        assert page.with_suffix(".pdf") in report.files
        assert page.with_suffix(".pdf").read_bytes().startswith(b"%PDF-")


def test_without_chromium_the_reason_is_one_line_and_nothing_is_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(ReportError, match="found no Chromium") as caught:
        publish_report(DATA / "mill-annexe" / "survey.toml", tmp_path / "out", pdf=True)
    assert "\n" not in str(caught.value)
    assert all(name in str(caught.value) for name in NAMES)
    assert not (tmp_path / "out").exists()


def test_a_browser_that_prints_nothing_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    broken = tmp_path / NAMES[0]
    broken.write_text("#!/bin/sh\necho no display >&2\nexit 1\n", encoding="utf-8")
    broken.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.defpath}")
    page = tmp_path / "page.html"
    page.write_text("<p>hello", encoding="utf-8")
    with pytest.raises(ReportError, match=r"printed nothing \(no display\)"):
        print_pdf(page, tmp_path / "page.pdf")
