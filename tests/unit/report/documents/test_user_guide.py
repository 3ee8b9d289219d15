"""The user guide: what the household reads, and what is recorded with the house, on two pages."""

from __future__ import annotations

from pathlib import Path

import pytest

from heatloop.report.documents.user_guide import user_guide
from heatloop.text.formatting import with_minus_signs
from tests.helpers.browser import Browser
from tests.helpers.handed import Handed
from tests.helpers.html_page import HtmlPage
from tests.helpers.printed import printed_pages


def guide(one: Handed) -> str:
    return user_guide(one.commissioning, one.control)


def test_everything_that_stays_with_the_house_is_in_it(nine_rooms: Handed) -> None:
    page = HtmlPage(guide(nine_rooms))
    pack = nine_rooms.commissioning
    for text in pack.user_guide["text"]:
        assert with_minus_signs(" ".join(text.split())) in page.text
    for name in ("water_record", "annual_checks"):
        for row in pack.tables[name].iloc[:, 0]:
            assert row in page.text
    assert "Switch off the heat source and the pump, let the water cool" in page.text
    settings, water, annual = (len(pack.tables[n]) for n in ("settings_as_left", "water_record", "annual_checks"))
    assert page.count("td", "fill") == settings + settings % 2 + 3 * water + annual


@pytest.mark.parametrize("size", ["one room", "nine rooms", "twenty rooms"])
def test_two_pages(sizes: dict[str, Handed], size: str, tmp_path: Path, browser: Browser) -> None:
    assert len(printed_pages(guide(sizes[size]), tmp_path, browser)) == 2


def test_plans_show_walls_by_number_and_every_place_of_pipes(nine_rooms: Handed, twenty_rooms: Handed) -> None:
    markup = guide(nine_rooms)
    assert markup.count('class="level"') == 2
    positions = nine_rooms.first_fix.positions
    assert markup.count('fill="#174f72" stroke="#fff"') == len(positions)
    assert "wall numbers: <a" in markup
    assert 'class="level"' not in guide(twenty_rooms), "too small to read"
    assert "wall numbers: first-fix drawing" in guide(twenty_rooms)
