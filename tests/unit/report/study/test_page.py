"""The page of a study: which cases have no failed check and what the others lack, in words as well as in colour."""

from __future__ import annotations

import os
import re
import shutil
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.report.study import page as study_page_module
from heatloop.results.many_dwellings.outcomes import NOT_MADE
from tests.helpers.browser import Browser
from tests.helpers.html_page import HtmlPage
from tests.helpers.paths import DATA
from tests.helpers.studies import small_houses

AXE = "HEATLOOP_AXE"


@pytest.fixture(scope="module")
def sweep(tmp_path_factory: pytest.TempPathFactory) -> hl.Study:
    """Three houses, and a file that is no survey, at three flow temperatures."""
    houses = small_houses(tmp_path_factory.mktemp("houses"), 3)
    (houses / "<b>broken.toml").write_text("[project", encoding="utf-8")
    return hl.study(houses, tmp_path_factory.mktemp("results"), flow_temps_c=[45.0, 60.0, 70.0], executor=1)


@pytest.fixture(scope="module")
def own_temps(tmp_path_factory: pytest.TempPathFactory) -> hl.Study:
    """Two houses at their own flow temperature."""
    houses = small_houses(tmp_path_factory.mktemp("houses"), 2)
    return hl.study(houses, tmp_path_factory.mktemp("results"), executor=1)


def page_of(study: hl.Study) -> HtmlPage:
    return HtmlPage((Path(study.folder) / "index.html").read_text(encoding="utf-8"))


def test_the_page_answers_and_lists_what_dwellings_lack(sweep: hl.Study) -> None:
    page = page_of(sweep)
    assert "Study of 12 cases: 4 surveys, 3 flow temperatures" in page.text
    assert "Water of 45.0 °C: 0 of 4 cases with no failed check (0 %)." in page.text
    assert "Water of 70.0 °C: 3 of 4 cases with no failed check (75 %)." in page.text
    for words in (
        "✗ with failed checks",
        "▲ no failed check, with cautions",
        "– not sized",
        "heat to the room",
        "Annexe",
        "Surveys by flow",
    ):
        assert words in page.text
    assert "<b>broken at 45 °C" in page.text  # the name as text, not as markup
    assert not any(tag == "b" for tag, _ in page.tags)
    row = sweep.failed_or_not_sized.iloc[0]
    assert f"{row['shortage_w']:.0f}" in page.text
    assert "3 of the cases cannot be sized" in page.text


def test_a_page_of_one_temperature_has_the_outcomes_as_picture(own_temps: hl.Study) -> None:
    page = page_of(own_temps)
    assert "Water of 70.0 °C: 2 of 2 cases with no failed check (100 %)." in page.text
    (picture,) = (attrs for tag, attrs in page.tags if tag == "img")
    assert picture["alt"] == (
        "Cases by outcome. no failed check, no cautions: 0; no failed check, with cautions: 2; with failed checks: 0; "
        "not sized: 0."
    )
    assert own_temps.plot().axes.get_title(loc="left") == "2 of 2 cases have no failed check"


def test_a_house_whose_skirting_cannot_move_has_no_failed_check_and_is_never_called_ready(tmp_path: Path) -> None:
    """Movement is not checked in a study, so that neither its page nor its tables state more than failed checks."""
    lodge = tmp_path / "lodge"
    shutil.copytree(DATA / "alder-lodge", lodge, ignore=shutil.ignore_patterns("draft.toml"))
    catalogue = lodge / "catalogue.toml"
    text = re.sub(r"(?m)^slide_mm.*\n", "", catalogue.read_text(encoding="utf-8"))
    catalogue.write_text(re.sub(r'(?m)^free_end = "\w+"', 'free_end = "none"', text), encoding="utf-8")
    assert hl.size(lodge / "survey.toml").verdict.state == "not ready"
    study = hl.study(lodge, tmp_path / "results", executor=1)
    assert study.summary == {"dwellings": 1, "no_failed_check": 1, "caution": 0, "failed": 0, "not_sized": 0}
    page, printed = page_of(study), " ".join(str(study).split())
    assert "Water of 50.0 °C: 1 of 1 case with no failed check (100 %)." in page.text
    assert "Cases with no failed check: 1, of these with cautions: 0; with failed checks: 0; not sized: 0." in printed
    lot = next(hl.size_many([lodge / "survey.toml"]))
    lines = [page.text, printed, " ".join(str(lot).split()), study.plot().alt_text]
    words = [*lines, *study.tables, *study.summary, *(name for frame in study.tables.values() for name in frame)]
    assert not any(re.search(r"\bready|_ready", text, re.IGNORECASE) for text in words)
    for text in lines[:3]:
        assert all(kind in text for kind in NOT_MADE)
        assert "heatloop size of one dwelling makes all checks" in text


def test_homes_at_many_temperatures_of_their_own_are_no_sweep(tmp_path: Path) -> None:
    houses = small_houses(tmp_path / "houses", 13)
    for number, survey in enumerate(sorted(houses.glob("*/survey.toml"))):
        text = survey.read_text(encoding="utf-8")
        survey.write_text(text.replace("flow_temp_c = 70.0", f"flow_temp_c = {70.0 + 0.1 * number:.1f}"), "utf-8")
    study = hl.study(houses, tmp_path / "results", executor=1)
    assert len(study.by_flow_temp) == 13
    unfailed = int(study.by_flow_temp["no_failed_check"].sum())
    page = page_of(study)
    assert f"Each at its flow temperature: {unfailed} of 13 cases with no failed check." in page.text
    assert "By flow temperature" not in page.text
    assert "By flow temperature" not in str(study)
    assert study.plot().alt_text.startswith("Cases by outcome.")


def test_the_picture_of_a_sweep_has_the_share_at_each_temperature(sweep: hl.Study) -> None:
    figure = sweep.plot()
    assert figure.alt_text.endswith("45.0 °C: 0 %; 60.0 °C: 0 %; 70.0 °C: 75 %.")
    assert figure.axes.get_title(loc="left") == "0 % of the cases have no failed check at 45.0 °C, 75 % at 70.0 °C"
    assert [text.get_text() for text in figure.axes.texts] == ["0 %", "0 %", "75 %"]


def test_long_tables_are_cut_and_say_so(sweep: hl.Study, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(study_page_module, "MAX_ROWS", 2)
    text = HtmlPage(sweep.html()).text
    assert "Cases with failed checks or errors: the first 2 of 9" in text


@pytest.mark.parametrize("width_px", [1280, 390])
def test_the_page_fits_its_window_and_fetches_nothing(browser: Browser, sweep: hl.Study, width_px: int) -> None:
    page = Path(sweep.folder) / "index.html"
    browser.events.clear()
    browser.open(page, width_px)
    assert browser.run("document.documentElement.scrollWidth") <= width_px
    asked = {params["request"]["url"] for params in browser.events_of("Network.requestWillBeSent")}
    assert {url for url in asked if not url.startswith("data:")} == {page.resolve().as_uri()}
    assert browser.run("[...document.images].every(i => i.complete && i.naturalWidth > 0)")


def test_everyone_can_read_the_page(browser: Browser, sweep: hl.Study) -> None:
    axe = os.environ.get(AXE)
    if not axe:
        pytest.skip(f"set {AXE} to axe.min.js of the npm package axe-core for the accessibility scan")
    for width_px in (1280, 390):
        browser.open(Path(sweep.folder) / "index.html", width_px)
        browser.run(Path(axe).read_text(encoding="utf-8") + "; true")
        found = browser.run(
            "axe.run(document).then(r => ({passes: r.passes.length, violations: r.violations.map("
            "v => [v.impact, v.id, v.nodes.length, v.nodes[0].html.slice(0, 120)])}))"
        )
        assert found["passes"] > 5
        assert found["violations"] == []
