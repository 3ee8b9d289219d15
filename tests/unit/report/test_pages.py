"""The published page in a browser: nothing said, nothing fetched, nothing cut off, everyone can read it."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from heatloop.workflows.publishing.publish import PublishedReport
from tests.helpers.browser import Browser

PRINT_PX = round((210 - 32) / 25.4 * 96)  # A4 between the margins of page.css

SHORT_BYTES = 250_000
"""Above these, a document is scanned in a long run: the fitter pack, which repeats others, and the design report."""

AXE = "HEATLOOP_AXE"
"""Names the file axe.min.js of the npm package axe-core; .ci/run installs it."""


DOCUMENTS = {"CL", "QU", "UG", "SF", "LB", "CS", "OL", "OP", "DR", "PL", "FP"}
"""Every document that has a page."""


def test_nothing_is_fetched_said_or_run(browser: Browser, pages: list[Path]) -> None:
    for page in pages:
        browser.events.clear()
        browser.open(page, 1280)
        asked = {params["request"]["url"] for params in browser.events_of("Network.requestWillBeSent")}
        assert {url for url in asked if not url.startswith("data:")} == {page.resolve().as_uri()}
        assert browser.events_of("Log.entryAdded") == []
        assert browser.events_of("Runtime.consoleAPICalled") == []
        assert browser.events_of("Runtime.exceptionThrown") == []
        assert browser.events_of("Page.javascriptDialogOpening") == []
        own = ["application/json", ""] if "_interactive-plan." in page.name else []
        assert browser.run("[...document.scripts].map(one => one.type)") == own


def test_every_anchor_leads_somewhere_and_every_picture_is_whole(browser: Browser, published: PublishedReport) -> None:
    browser.open(published.page, 1280)
    lost = browser.run("[...document.links].filter(a => !document.querySelector(a.getAttribute('href'))).map(String)")
    assert lost == []
    assert browser.run("document.links.length") > 10
    twice = browser.run(
        "(ids => ids.filter((id, i) => ids.indexOf(id) < i))([...document.querySelectorAll('[id]')].map(e => e.id))"
    )
    assert twice == []
    pictures = browser.run("[...document.images].map(i => [i.complete && i.naturalWidth > 0, i.alt.length > 20])")
    assert len(pictures) > 15
    assert all(whole and described for whole, described in pictures)


@pytest.mark.parametrize("width_px", [1280, 390])
def test_no_page_is_wider_than_its_window(browser: Browser, published: PublishedReport, width_px: int) -> None:
    browser.open(published.page, width_px)
    assert browser.run("document.documentElement.scrollWidth") <= width_px
    outside = browser.run(
        "[...document.querySelectorAll('main *')].filter(e => !e.closest('.scroll') && "
        "e.getBoundingClientRect().right > innerWidth + 1).map(e => e.outerHTML.slice(0, 80))"
    )
    assert outside == []


def test_a_narrow_window_shows_pictures_whole_and_enlarges_the_one_that_is_tapped(
    browser: Browser, published: PublishedReport
) -> None:
    browser.open(published.page, 390)
    widths = browser.run("[...document.images].map(i => i.getBoundingClientRect().right)")
    assert max(widths) <= 391
    before, after = browser.run("(i => [i.clientWidth, (i.parentElement.focus(), i.clientWidth)])(document.images[0])")
    assert before < 390 < 700 < after


def test_no_line_ends_between_a_figure_and_its_unit(pages: list[Path]) -> None:
    """Labels have lines of their own and the interactive plan has a limit of its size: both are left out."""
    for page in pages:
        if not {"LB", "PL"} & set(page.name.split("-")):
            body = re.sub(r"<style.*?</style>|<[^>]*>", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
            assert re.findall(r"\d (?:°C|kPa|bar|W|l/h|mm|m)\b", body) == [], page.name


def test_no_table_slides_in_a_wide_window(browser: Browser, published: PublishedReport) -> None:
    browser.open(published.page, 1280)
    sliding = browser.run(
        "[...document.querySelectorAll('.scroll')].filter(e => e.scrollWidth > e.clientWidth + 1)"
        ".map(e => e.getAttribute('aria-label'))"
    )
    assert sliding == []


def test_no_table_is_cut_off_on_paper(browser: Browser, published: PublishedReport) -> None:
    browser.open(published.page, PRINT_PX, media="print")
    cut = browser.run(
        "[...document.querySelectorAll('main table, main img')].filter(e => "
        "e.getBoundingClientRect().right > document.querySelector('main').getBoundingClientRect().right + 1)"
        ".map(e => e.tagName + ' ' + (e.caption ? e.caption.innerText : e.alt.slice(0, 60)))"
    )
    assert cut == []


@pytest.mark.parametrize("of", ["short documents", pytest.param("all documents", marks=pytest.mark.long)])
def test_everyone_can_read_it(browser: Browser, pages: list[Path], of: str) -> None:
    axe = os.environ.get(AXE)
    if not axe:
        pytest.skip(f"set {AXE} to axe.min.js of the npm package axe-core for the accessibility scan")
    assert {page.name.split("_")[0][-5:-3] for page in pages} >= DOCUMENTS
    widths_px = (390,) if of == "short documents" else (390, 1280)
    chosen = [page for page in pages if of == "all documents" or page.stat().st_size < SHORT_BYTES]
    assert len(chosen) >= 8
    for page, width_px in ((page, width_px) for page in chosen for width_px in widths_px):
        browser.open(page, width_px)
        browser.run(Path(axe).read_text(encoding="utf-8") + "; true")
        found = browser.run(
            "axe.run(document).then(r => ({passes: r.passes.length, violations: r.violations.map("
            "v => [v.impact, v.id, v.nodes.length, v.nodes[0].html.slice(0, 120)])}))"
        )
        assert found["passes"] > 5
        assert found["violations"] == [], (page.name, width_px)
