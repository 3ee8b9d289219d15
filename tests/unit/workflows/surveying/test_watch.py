"""The page of a watched plan in a browser: it follows the file, and stands alone when the watch has ended."""

from __future__ import annotations

import shutil
import time
from pathlib import Path

from heatloop.workflows.surveying.watch import watch_plan
from tests.helpers.browser import Browser
from tests.helpers.paths import DATA

ANSWER_S = 20.0


def _standing(browser: Browser, words: str) -> float:
    """Seconds until the page says so."""
    begun = time.monotonic()
    while time.monotonic() - begun < ANSWER_S:
        if words in browser.run("document.querySelector('.standing').textContent"):
            return time.monotonic() - begun
        time.sleep(0.02)
    raise AssertionError(f"the page never said {words!r}")


def test_the_page_follows_the_file(browser: Browser, tmp_path: Path) -> None:
    folder = shutil.copytree(DATA / "alder-lodge", tmp_path / "lodge")
    survey, out = folder / "survey.toml", tmp_path / "out"
    text = survey.read_text(encoding="utf-8")
    plans = watch_plan(survey, out)
    next(plans)
    browser.open(out / "plan.html", 1280)
    _standing(browser, "no input errors")
    assert browser.run("document.querySelectorAll('svg').length") == 2
    survey.write_text(text.replace("length_m = 2.81", "length_m = 3.32"), encoding="utf-8")
    next(plans)
    _standing(browser, "1 input error")
    assert "520 mm open" in browser.run("document.querySelector('main').textContent")
    assert browser.run("document.querySelectorAll('ol li').length") == 1
    survey.write_text(text, encoding="utf-8")
    next(plans)
    _standing(browser, "no input errors")
    plans.close()
    time.sleep(0.5)
    asked = browser.run("performance.getEntriesByType('resource').length")
    time.sleep(0.5)
    assert browser.run("performance.getEntriesByType('resource').length") == asked
    assert not [e for e in browser.events_of("Log.entryAdded") if e["entry"]["level"] == "error"]
    browser.open(out / "plan.html", 390)
    assert browser.run("document.documentElement.scrollWidth") <= 390
    assert browser.run("document.querySelectorAll('script').length") == 0
