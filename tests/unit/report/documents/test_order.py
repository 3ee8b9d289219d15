"""The order and cut list: every part once under its group, every bar drawn, prices in the internal copy only."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from heatloop.handover.second_fix.fixing_steps import fixing_steps
from heatloop.report.documents.order import BAR_MM, order_and_cut_list
from tests.helpers.browser import Browser
from tests.helpers.handed import Handed
from tests.helpers.html_page import HtmlPage
from tests.helpers.paths import DATA
from tests.helpers.printed import printed_pages, within_a_fifth

TARGETS = {"one room": 2, "nine rooms": 3, "twenty rooms": 5}


def test_every_part_and_every_piece_is_in_it(nine_rooms: Handed) -> None:
    page = HtmlPage(order_and_cut_list(nine_rooms.parts, nine_rooms.control))
    for group in ("Skirting, covers and emitters", "Valves and controls", "Pipe and insulation", "Water treatment"):
        assert page.text.count(group) == 1
    for item in nine_rooms.parts.parts["item"]:
        assert item in page.text
    assert page.text.index("Water treatment") < page.text.index("inhibitor")
    for row in nine_rooms.parts.pieces.to_dict("records"):
        assert f"{row['label']}: {row['cut_length_mm']:.0f}" in page.text


def test_bars_are_drawn_to_one_scale(nine_rooms: Handed) -> None:
    markup = order_and_cut_list(nine_rooms.parts, nine_rooms.control)
    drawn = re.findall(r'<div class="drawn".*?</div>', markup, re.DOTALL)
    plan = nine_rooms.parts.cut_plan
    assert plan is not None
    assert len(drawn) == len(plan.bars)
    longest = max(bar.length_mm for bar in plan.bars)
    for bar, shown in zip(plan.bars, drawn, strict=True):
        widths = [float(one) for one in re.findall(r"width: ([\d.]+)mm", shown)]
        saw_mm = bar.kerf_mm + bar.trim_mm
        assert sum(widths) == pytest.approx((bar.length_mm - saw_mm) * BAR_MM / longest, abs=0.05)


def test_prices_are_in_the_internal_copy_alone(nine_rooms: Handed) -> None:
    quotation = nine_rooms.parts.price(DATA / "alder-lodge" / "prices.csv")
    plain = HtmlPage(order_and_cut_list(nine_rooms.parts, nine_rooms.control)).text
    priced = HtmlPage(order_and_cut_list(nine_rooms.parts, nine_rooms.control, quotation)).text
    total = f"{quotation.summary['order_cost']:.2f}"
    assert total in priced
    assert "internal copy" in priced
    for words in (total, "internal copy", "EUR", "46.50"):
        assert words not in plain


def test_each_piece_names_its_bar_and_the_plan_its_remainders(nine_rooms: Handed) -> None:
    text = HtmlPage(order_and_cut_list(nine_rooms.parts, nine_rooms.control)).text
    plan = nine_rooms.parts.cut_plan
    assert plan is not None
    bars = {cut.label: place for place, bar in enumerate(plan.bars, start=1) for cut in bar.cuts}
    for step in fixing_steps(nine_rooms.parts):
        assert f"{step.number} {step.label} {step.cut_length_mm:.0f} {bars[step.label]} {step.left_end}" in text
    assert f"waste {plan.waste_mm / 1000.0:.2f} m, offcuts to keep {plan.offcuts_mm / 1000.0:.2f} m" in text
    assert "those of 500 mm or more" in text


def test_the_priced_copy_has_its_own_identification_and_its_total_first(nine_rooms: Handed, one_room: Handed) -> None:
    quotation = nine_rooms.parts.price(DATA / "alder-lodge" / "prices.csv")
    plain = HtmlPage(order_and_cut_list(nine_rooms.parts, nine_rooms.control)).text
    priced = HtmlPage(order_and_cut_list(nine_rooms.parts, nine_rooms.control, quotation)).text
    assert "Alder-Lodge-OL-01" in plain
    assert "Alder-Lodge-OP-01" in priced
    assert "Alder-Lodge-OL-01" not in priced
    total = f"Total before tax: {quotation.summary['order_cost']:.2f} EUR. Every listed part has a price."
    assert priced.index(total) < priced.index("Table 1")
    assert "46.50 per m, less 12.0 %" in priced
    assert "24.00 per pack, less 10.0 %" in priced
    budget = one_room.parts.price(DATA / "alder-lodge" / "prices.csv")
    text = HtmlPage(order_and_cut_list(one_room.parts, one_room.control, budget)).text
    assert "No price for: three-channel 175" in text
    assert "Every listed part has a price" not in text


def test_what_the_design_requires_and_the_order_does_not_hold(nine_rooms: Handed) -> None:
    missing = (
        "Possibly contained in the heat source: pump at the heat source; expansion vessel; relief valve; "
        'pressure gauge; buffer vessel, 30 l of water. To be bought separately: pump of trunk "nursery"; '
        'mixing valve of trunk "nursery"; filter with magnet; backflow preventer for filling; thermostatic heads; '
        "cleanser."
    )
    text = HtmlPage(order_and_cut_list(nine_rooms.parts, nine_rooms.control)).text
    assert f"not in this order. {missing}" in text


def test_a_design_that_is_not_ready_is_not_ordered(draft: Handed) -> None:
    assert "Do not order before this is resolved." in HtmlPage(order_and_cut_list(draft.parts, draft.control)).text


@pytest.mark.parametrize("size", list(TARGETS))
def test_pages(sizes: dict[str, Handed], size: str, tmp_path: Path, browser: Browser) -> None:
    one = sizes[size]
    assert within_a_fifth(
        len(printed_pages(order_and_cut_list(one.parts, one.control), tmp_path, browser)), TARGETS[size]
    )
