"""The design report: page one holds the whole answer, every limit has its sign, pages are few."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.report.documents.design_report import FEW_ROOMS, front_css, front_page
from heatloop.report.documents.document import Numbering
from heatloop.report.notebook.notebook_page import FrontPage, numbered_captions, page_html
from heatloop.report.notebook.run_notebook import find_notebook, run_notebook, usual_runner
from heatloop.results.summaries import heat_loss_basis, transition_statement
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
    known = {"design": one.design, "commissioning": one.commissioning, "parts": one.parts}
    notebook = run_notebook(find_notebook("design_report.ipynb"), values, runner=usual_runner(known))
    rooms = len(one.design.rooms)
    page = FrontPage(first, front_css(control, rooms), "foot", with_list=rooms > FEW_ROOMS)
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


def test_the_margin_at_the_lower_end_of_the_output_range(nine_rooms: Handed) -> None:
    text = HtmlPage(front(nine_rooms)[0]).text
    for row in nine_rooms.design.rooms.to_dict("records"):
        least_w = row["output_min_w"] - row["heat_loss_w"] - row["back_loss_w"]
        assert f"{row['margin_w']:+.0f} {least_w:+.0f} {100.0 * row['coverage']:.0f} %" in text
    assert "+103 +75 112 %" in text


def test_the_basis_is_that_of_survey_catalogue_and_flow(nine_rooms: Handed, mill_annexe: hl.Design) -> None:
    text = HtmlPage(front(nine_rooms)[0]).text
    assert "calculated to EN 12831-1; for Study it is a figure given in the survey, not calculated here." in text
    assert "(two-channel 140: invented for the demonstration; no test report exists)" in text
    elements = nine_rooms.design.elements
    lowest = elements.loc[elements["loop"] != "", "reynolds"].min()
    assert 4000.0 < lowest < elements["reynolds"].max()
    words = f"No loop lies between Reynolds numbers 2000 and 4000; lowest {lowest:.0f} (Hall and study, return tail)."
    assert words not in text, "page one does not repeat the caption of the pressure drops"
    assert words in nine_rooms.design.show.loop_pressures().markup
    between = elements.assign(reynolds=3000.0)
    assert transition_statement(between).startswith("Between Reynolds numbers 2000 and 4000 (in Living room, ")
    assert transition_statement(between).endswith("both for laminar and for turbulent flow.")
    assert heat_loss_basis(mill_annexe.survey) == "The heat loss of each room is calculated to EN 12831-1."


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


def test_the_last_section_lists_every_table_and_figure_once(published: PublishedReport) -> None:
    markup = published.page.read_text(encoding="utf-8")
    listed = re.findall(r'<li><a href="#([^"]+)">((?:Table|Figure) \d+)</a>', markup)
    captions = re.findall(r'<span id="([^"]+)" class="number">((?:Table|Figure) \d+)</span>', markup)
    assert sorted(listed) == sorted(captions)
    assert len(listed) > 40
    assert markup.index('id="tables-and-figures"') > markup.rindex('class="number"')


def test_no_heading_is_repeated_under_itself(published: PublishedReport) -> None:
    headings = re.findall(r"<h([23])[^>]*>([^<]+)</h", published.page.read_text(encoding="utf-8"))
    words = [text.strip() for _, text in headings]
    assert "Other weather" in words
    assert len(words) == len(set(words))


def test_a_caption_that_lists_every_loop_ends_before_the_list() -> None:
    words = "Pressure at the tails of each loop: " + "; ".join(f"Loop {place} 4.5 kPa" for place in range(30))
    figure = f'<figure><div class="scroll"><img alt="{words}." src="data:x" style="--high: 40mm"></div></figure>'
    body = numbered_captions(figure, Numbering())
    assert "tails of each loop</figcaption>" in body


@pytest.mark.parametrize("size", ["one room", "nine rooms", pytest.param("twenty rooms", marks=pytest.mark.long)])
def test_pages(
    size: str, published: PublishedReport, sizes: dict[str, Handed], tmp_path: Path, browser: Browser
) -> None:
    """The report of nine rooms as it was published, with long names."""
    markup = published.page.read_text(encoding="utf-8") if size == "nine rooms" else report(sizes[size])
    pages = printed_pages(markup, tmp_path, browser)
    assert within_a_fifth(len(pages), TARGETS[size])
    assert "Table 3" in pages[0]
    assert "Basis" in pages[0]
