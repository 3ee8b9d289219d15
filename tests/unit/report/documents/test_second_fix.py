"""Second fix and fitter pack: every piece on the plan and in the table, safety notices once, pages in their number."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from heatloop.findings.safety import SAFETY_NOTICES
from heatloop.report.documents.fitter_pack import fitter_pack
from heatloop.report.documents.second_fix import second_fix
from heatloop.report.pages.html_tables import HtmlFragment
from heatloop.report.plans.level_svg import RING_MM, fitted_scale, level_plans
from tests.helpers.browser import Browser
from tests.helpers.handed import Handed
from tests.helpers.html_page import HtmlPage
from tests.helpers.printed import printed_pages, within_a_fifth

TARGETS = {"one room": 1, "nine rooms": 3, "twenty rooms": 6}


def rings(markup: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r'<ellipse cx="([\d.]+)" cy="([\d.]+)" rx="2.[16]"', markup)]


@pytest.mark.parametrize("size", list(TARGETS))
def test_every_piece_has_one_ring_on_the_plans_and_no_two_rings_touch(sizes: dict[str, Handed], size: str) -> None:
    one = sizes[size]
    numbers = {label: number for number, label in enumerate(one.parts.pieces["label"], start=1)}
    plans = level_plans(one.design, (273.0, 150.0), numbers)
    found = [rings(plan.svg.markup) for plan in plans]
    assert sum(map(len, found)) == len(numbers)
    for points in found:
        for place, (x, y) in enumerate(points):
            for other_x, other_y in points[:place]:
                assert max(abs(x - other_x), abs(y - other_y)) >= 2 * RING_MM - 0.02


def test_coverage_is_a_figure_and_a_pattern(draft: Handed) -> None:
    plans = level_plans(draft.design, (86.0, 47.0), None, fitted_scale(draft.design, (86.0, 47.0)))
    ground = plans[0].svg.markup
    assert "84 %" in ground
    assert ground.count("url(#hatch") == 1
    assert "1 room short of heat" in ground
    for plan in plans:
        width, height = map(float, re.findall(r'(?:width|height)="([\d.]+)mm"', plan.svg.markup))
        assert width <= 86.0
        assert height <= 47.0


def test_gaps_and_first_ends_are_in_the_table(nine_rooms: Handed) -> None:
    text = HtmlPage(second_fix(nine_rooms.design, nine_rooms.parts, nine_rooms.control)).text
    for row in nine_rooms.parts.expansion_gaps.to_dict("records"):
        gaps = " ".join(f"{row[f'gap_at_{t}_c_mm']:.1f}" for t in (5, 15, 25))
        side = {"left": "right", "right": "left"}[row["free_end"].partition(":")[0]]
        words = f"{side}; gap {row['free_end'].partition(':')[0]} {gaps}"
        assert re.search(rf"{re.escape(row['straight_length'])} .{{0,80}} {words}", text), row["straight_length"]
    assert "None" not in text
    assert "nan" not in text


def test_walls_arms_vents_and_emitters_have_their_place(nine_rooms: Handed, one_room: Handed) -> None:
    text = HtmlPage(second_fix(nine_rooms.design, nine_rooms.parts, nine_rooms.control)).text
    assert "6 Living room 2 2 + 3 3003" in text
    assert "Living room: arm 1: pieces 1, 2, 3, 4, 5, 6; arm 2: pieces 7, 8, 9." in text
    assert "Other emitters, whose place in the room is not in the survey: plinth emitter 450, Kitchen-diner." in text
    assert "Living room, 2 1.30 turn end, vent and drain valve 6 / –" in text
    ends = nine_rooms.parts.joints["kind"] == "turn end"
    assert text.count("turn end, vent and drain valve") == ends.sum() == 7
    assert "Arms (" not in HtmlPage(second_fix(one_room.design, one_room.parts, one_room.control)).text


@pytest.mark.parametrize("size", list(TARGETS))
def test_pages(sizes: dict[str, Handed], size: str, tmp_path: Path, browser: Browser) -> None:
    one = sizes[size]
    pages = printed_pages(second_fix(one.design, one.parts, one.control), tmp_path, browser)
    assert within_a_fifth(len(pages), TARGETS[size])
    rows = [len(re.findall(r"(?m)^ *\d+ .*(?:no gap|\d\.\d +\d\.\d)", page)) for page in pages]
    assert sum(rows) == len(one.parts.pieces)
    assert 1 not in rows, "a single row on a page"
    headed = [page for page in pages if "Joints and ends" in page]
    assert all("Table 2" in page for page in headed), "a heading without its table"


def test_the_pack_holds_all_parts_and_each_safety_notice_once(
    nine_rooms: Handed, tmp_path: Path, browser: Browser
) -> None:
    drawing = HtmlFragment("<p>first fix drawing</p>")
    markup = fitter_pack(
        nine_rooms.design, nine_rooms.parts, nine_rooms.commissioning, [drawing, drawing], nine_rooms.control
    )
    page = HtmlPage(markup)
    for notice in SAFETY_NOTICES:
        assert page.text.count(notice.text) == 1
    for title in ("Alder Lodge: fitter pack", "Alder Lodge: second fix", "Alder Lodge: commissioning sheet"):
        assert title in page.text
    ids = [attrs["id"] for _, attrs in page.tags if attrs.get("id")]
    assert len(ids) == len(set(ids))
    assert within_a_fifth(len(printed_pages(markup, tmp_path, browser)), 11)


def test_crossings_through_a_wall_have_a_place_and_positions_the_number_of_screws(nine_rooms: Handed) -> None:
    text = HtmlPage(second_fix(nine_rooms.design, nine_rooms.parts, nine_rooms.control)).text
    for place in ("Hall, 4; Study, 4 1.15; 2.81 crossing", "Landing, 4; Box room, 4 0.00; 2.80 crossing"):
        assert place in text
    assert "bracket, 2 × screw and plug: 100, 515" in text
