"""The design report: page one holds the whole answer, every limit has its sign, pages are few."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from heatloop.report.documents.design_report import front_css, front_page
from heatloop.report.documents.document import Numbering
from heatloop.report.notebook.notebook_page import FrontPage, numbered_captions, page_html
from heatloop.report.notebook.run_notebook import find_notebook, run_notebook
from heatloop.workflows.publishing.publish import PublishedReport
from tests.helpers.browser import Browser
from tests.helpers.handed import Handed
from tests.helpers.html_page import HtmlPage
from tests.helpers.printed import printed_pages, within_a_fifth

TARGETS = {"one room": 7, "nine rooms": 18, "twenty rooms": 28}


def front(one: Handed) -> tuple[str, Numbering]:
    numbers = Numbering()
    return front_page(one.design, one.commissioning, one.control, numbers).markup, numbers


def report(one: Handed) -> str:
    """The report as it is published."""
    control, numbers = one.control, Numbering()
    first = front_page(one.design, one.commissioning, control, numbers)
    values = {"survey_path": str(one.design.survey.path), "export_folder": ""}
    notebook = run_notebook(find_notebook("design_report.ipynb"), values)
    page = FrontPage(first, front_css(control, len(one.design.rooms)), "foot")
    return page_html(notebook, control.project, control.version, control.made_on, page, numbers)


def test_findings_have_figure_sign_and_limit(draft: Handed) -> None:
    text = HtmlPage(front(draft)[0]).text
    assert draft.design.verdict.headline in text
    assert "✗ Kitchen-diner: heat to the room: 84 %, limit ≥ 100 %." in text
    assert "▲ Nursery: touch temperature, vulnerable room: 48.7 °C, limit ≤ 43 °C." in text
    assert text.count("▲ ") == 4, "the first four cautions; the rest are counted"
    assert re.search(r"\d+ more cautions under Checks", text)


def test_rooms_loops_and_plant_are_those_of_the_design(nine_rooms: Handed) -> None:
    markup, numbers = front(nine_rooms)
    text = HtmlPage(markup).text
    for row in nine_rooms.design.rooms.to_dict("records"):
        assert f"{row['room']} {row['indoor_c']:.1f} {row['heat_loss_w']:.0f} {row['heat_to_rooms_w']:.0f}" in text
    for row in nine_rooms.design.loops.to_dict("records"):
        star = " *" if row["is_index_loop"] else ""
        assert f"{row['loop']}{star} {row['flow_l_h']:.0f} {row['flow_temp_c']:.1f}" in text
    assert numbers.numbers == {
        "figure-level-1": "Figure 1", "figure-level-2": "Figure 2",
        "table-rooms": "Table 1", "table-loops": "Table 2", "table-plant": "Table 3",
    }  # fmt: skip
    assert "-" not in re.sub(r"[A-Za-z]-[A-Za-z]", "", text[text.index("Table 1") : text.index("Table 2")])


def test_many_rooms_stand_in_two_blocks_and_many_loops_are_cut_short(twenty_rooms: Handed) -> None:
    markup, _ = front(twenty_rooms)
    text = HtmlPage(markup).text
    assert "continued" in text
    assert "10 more loops under Loops" in text
    assert "Indoor, °C" not in text


def test_captions_are_numbered_in_order_and_a_key_is_used_once() -> None:
    figure = '<figure><div class="scroll" tabindex="0"><img alt="Flow. More." src="data:x"></div></figure>'
    numbers = Numbering()
    numbers.table("rooms", "Rooms")
    body = numbered_captions(f"<caption>A &amp; b</caption>{figure}<caption>A &amp; b</caption>", numbers)
    assert re.findall(r'class="number">([^<]+)<', body) == ["Table 2", "Figure 1", "Table 3"]
    assert len(set(re.findall(r'id="([^"]+)"', body))) == 3
    assert "Flow</figcaption>" in body
    with pytest.raises(ValueError, match="have the key"):
        numbers.table("rooms", "Rooms again")


def test_a_reference_is_resolved_and_a_missing_key_is_an_error() -> None:
    numbers = Numbering()
    text = str(numbers.ref("table-later"))
    numbers.table("later", "Later")
    assert numbers.resolved(text) == '<a href="#table-later">Table 1</a>'
    with pytest.raises(KeyError):
        numbers.resolved(str(numbers.ref("table-none")))


@pytest.mark.parametrize("size", list(TARGETS))
def test_pages(
    size: str, published: PublishedReport, sizes: dict[str, Handed], tmp_path: Path, browser: Browser
) -> None:
    """The report of nine rooms as it was published, with long names."""
    markup = published.page.read_text(encoding="utf-8") if size == "nine rooms" else report(sizes[size])
    pages = printed_pages(markup, tmp_path, browser)
    assert within_a_fifth(len(pages), TARGETS[size])
    assert "Table 3" in pages[0]
    assert "Basis" in pages[0]
