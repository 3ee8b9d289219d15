"""The documents of a building of forty rooms and thirty loops: they are made, their pages are few, nothing touches."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.report.documents.client_summary import client_summary
from heatloop.report.documents.commissioning_sheet import commissioning_sheet
from heatloop.report.documents.labels import label_sheet
from heatloop.report.documents.order import order_and_cut_list
from heatloop.report.documents.second_fix import second_fix
from heatloop.report.documents.user_guide import user_guide
from tests.helpers.browser import Browser
from tests.helpers.handed import Handed, handed
from tests.helpers.printed import printed_pages, within_a_fifth
from tests.helpers.sheet_faults import sheet_faults, straight_faults

pytestmark = pytest.mark.long

PAGES = {"client summary": 3, "second fix": 9, "commissioning": 6, "order": 10, "user guide": 3, "labels": 5}


@pytest.fixture(scope="module")
def forty(guest_house_design: hl.Design) -> Handed:
    return handed(guest_house_design)


def test_the_building_is_what_it_says(forty: Handed) -> None:
    assert (len(forty.design.rooms), len(forty.design.loops), len(forty.design.survey.trunks)) == (40, 30, 3)


def test_nothing_touches_on_the_sheets_of_first_fix(forty: Handed) -> None:
    sheets = forty.first_fix.sheets()
    assert sheet_faults(forty.first_fix, sheets) == []
    assert straight_faults(forty.design.survey, forty.first_fix) == []
    assert len(sheets) <= 6
    corridors = [words.text for sheet in sheets for words in sheet.words if re.match(r"R\d", words.text)]
    assert len(corridors) == 3
    assert all(title.endswith("24000 long, 1:200") for title in corridors)


@pytest.mark.parametrize("name", list(PAGES))
def test_pages(name: str, forty: Handed, tmp_path: Path, browser: Browser) -> None:
    made = {
        "client summary": lambda: client_summary(forty.design, forty.commissioning, forty.control),
        "second fix": lambda: second_fix(forty.design, forty.parts, forty.control),
        "commissioning": lambda: commissioning_sheet(forty.commissioning, forty.control),
        "order": lambda: order_and_cut_list(forty.parts, forty.control),
        "user guide": lambda: user_guide(forty.commissioning, forty.control),
        "labels": lambda: label_sheet(forty.parts, forty.control),
    }
    pages = printed_pages(made[name](), tmp_path, browser)
    assert within_a_fifth(len(pages), PAGES[name])
    for page in pages:
        last = [line.strip() for line in page.splitlines() if line.strip()][-2:]
        assert not any(line.startswith("Table ") for line in last), "a caption alone at the foot of a page"
