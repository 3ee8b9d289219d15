"""Client summary: plain words, and what to decide."""

from __future__ import annotations

from pathlib import Path

import pytest

import heatloop as hl
from heatloop.report.documents.client_summary import MAX_DECISIONS, client_summary
from tests.helpers.browser import Browser
from tests.helpers.handed import Handed, handed
from tests.helpers.html_page import HtmlPage
from tests.helpers.paths import DATA
from tests.helpers.printed import printed_pages

PAGES = {"one room": 1, "nine rooms": 1, "twenty rooms": 2}


def summary(one: Handed) -> str:
    return client_summary(one.design, one.commissioning, one.control)


def test_a_short_room_says_which_temperature_it_would_hold(draft: Handed) -> None:
    text = HtmlPage(summary(draft)).text
    assert draft.design.verdict.headline in text
    assert "Kitchen-diner will not be as warm as agreed when it is −3.0 °C outside; 8 rooms will." in text
    assert "1.3 °C short: about 18.7 °C" in text
    assert "kPa" not in text
    assert "Reynolds" not in text
    assert text.count("Otherwise ") <= MAX_DECISIONS


def test_a_room_that_is_hardly_short_is_not_short_by_nothing() -> None:
    """At 68.3 °C the only room of this job receives its heat loss."""
    cold = handed(hl.size(hl.read_survey(DATA / "mill-annexe" / "survey.toml").with_flow_temp(68.2)))
    assert -5.0 < cold.design.rooms["margin_w"].iloc[0] < 0.0
    assert "less than 0.1 °C short: about 21.0 °C" in HtmlPage(summary(cold)).text


def test_a_design_without_findings_asks_for_nothing(nine_rooms: Handed) -> None:
    text = HtmlPage(summary(nine_rooms)).text
    assert "All 9 rooms are as warm as agreed" in text
    assert "No decision about the design is necessary. Please state whether the items below" in text


def test_what_the_survey_leaves_open_is_to_be_confirmed(nine_rooms: Handed, one_room: Handed) -> None:
    text = HtmlPage(summary(nine_rooms)).text
    assert (
        'To be confirmed on site Data of the heat loss of Bathroom: see "Assumptions and sources" in the design report.'
        in text
    )
    assert "before openings for pipes are made: Study." in text
    assert "Data of the heat loss" not in HtmlPage(summary(one_room)).text


def test_the_reserve_of_each_room_and_where_the_figures_are_from(nine_rooms: Handed, one_room: Handed) -> None:
    text = HtmlPage(summary(nine_rooms)).text
    for row in nine_rooms.design.rooms.to_dict("records"):
        assert f"{row['room']} {row['indoor_c']:.0f} {100.0 * (row['coverage'] - 1.0):.0f} warm" in text
    assert "Study 20 13 warm" in text
    assert "for Study it is a figure given in the survey, not calculated here" in text
    assert "(two-channel 140: invented for the demonstration; no test report exists)" in text
    assert "43 °C: above this temperature children" in text
    for one in (nine_rooms, one_room):
        assert "the test report of its supplier" not in HtmlPage(summary(one)).text
    assert "The heat loss of each room is calculated to EN 12831-1." in HtmlPage(summary(one_room)).text


@pytest.mark.parametrize("size", list(PAGES))
def test_pages_of_the_summary(sizes: dict[str, Handed], size: str, tmp_path: Path, browser: Browser) -> None:
    assert len(printed_pages(summary(sizes[size]), tmp_path, browser)) == PAGES[size]
