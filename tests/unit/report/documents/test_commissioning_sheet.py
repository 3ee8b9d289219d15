"""The commissioning sheet: bands round the flow as tested, order of work, boxes large enough to write in."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest

from heatloop.findings.safety import DEFERENCE, notices_for
from heatloop.handover.commissioning.site_record import isolated_for_test, unrated_for_test
from heatloop.report.documents.commissioning_sheet import (
    HAZARDS,
    NOT_READY,
    _own_pump,
    commissioning_body,
    commissioning_sheet,
)
from tests.helpers.browser import Browser
from tests.helpers.handed import Handed
from tests.helpers.html_page import HtmlPage
from tests.helpers.printed import PX_PER_MM, printed_pages, within_a_fifth

TARGETS = {"one room": 2, "nine rooms": 3, "twenty rooms": 5}
LEAST_MM = (20.0, 10.0)


def sheet(one: Handed) -> str:
    return commissioning_sheet(one.commissioning, one.control)


def test_the_band_stands_round_the_flow_as_tested(nine_rooms: Handed) -> None:
    text = HtmlPage(sheet(nine_rooms)).text
    for row in nine_rooms.commissioning.commissioning.to_dict("records"):
        tested = row["flow_heads_removed_l_h"]
        assert f"{0.9 * tested:.0f} to {1.1 * tested:.0f} expected {tested:.0f}" in text
        assert abs(tested - row["target_flow_l_h"]) > 5.0, "a band round the design flow would be another"


def test_loops_are_balanced_from_the_least_valve_drop(nine_rooms: Handed) -> None:
    text = HtmlPage(sheet(nine_rooms)).text
    text = text[text.index("D Balancing") :]
    table = nine_rooms.commissioning.commissioning.sort_values("valve_pressure_drop_kpa")
    places = [text.index(f"{row.loop}, arm {row.arm}" if row.arm else row.loop) for row in table.itertuples()]
    assert places == sorted(places)
    assert table["loop"].iloc[0] == nine_rooms.design.summary["index_loop"]


def test_pressures_are_in_kpa_and_bar(nine_rooms: Handed) -> None:
    text = HtmlPage(sheet(nine_rooms)).text
    assert "58 kPa 0.58 bar 0.58 to 0.67 bar" in text
    for name in ("fill_kpa", "test_kpa", "running_kpa"):
        found = nine_rooms.commissioning.summary[name]
        assert f"{found:.0f} kPa {found / 100:.2f} bar" in text


def test_parts_that_open_below_the_test_pressure_are_named_before_the_record(nine_rooms: Handed) -> None:
    pack = nine_rooms.commissioning
    text = HtmlPage(sheet(nine_rooms)).text
    assert text.index(isolated_for_test(pack)) < text.index("Strength test before floors are closed")
    words = "The test pressure is 1.3 times the setting of the relief valve (common practice; EN 14336, as quoted"
    assert words in text
    assert text.count("take precedence") == 2, "with the source of the test pressure, and in the safety notices"


def test_parts_without_a_pressure_rating_are_named_before_the_record(nine_rooms: Handed) -> None:
    pack = nine_rooms.commissioning
    words = unrated_for_test(pack)
    text = HtmlPage(sheet(nine_rooms)).text
    assert text.index(words) < text.index("Strength test before floors are closed")
    named = {part.name for part in pack.pressures.unrated if part.kind in ("profile", "pipe", "valve", "emitter")}
    assert named
    assert all(name in words for name in named)
    assert "all joints" in words
    assert "heat pump" not in words, "it is isolated for the test"
    parts = tuple(dataclasses.replace(part, max_pressure_kpa=1000.0) for part in pack.pressures.parts)
    rated = dataclasses.replace(pack, pressures=dataclasses.replace(pack.pressures, parts=parts))
    assert unrated_for_test(rated) == ""
    some = tuple(
        part if part.name == "crossing" else whole for part, whole in zip(pack.pressures.parts, parts, strict=True)
    )
    assert unrated_for_test(dataclasses.replace(pack, pressures=dataclasses.replace(pack.pressures, parts=some))) == (
        "No pressure rating is stated for crossing: obtain it before the test."
    )


def test_temperatures_for_the_annual_checks_are_printed(nine_rooms: Handed, one_room: Handed) -> None:
    text = HtmlPage(sheet(nine_rooms)).text
    for row in nine_rooms.commissioning.part_load.to_dict("records"):
        assert f"{row['flow_temp_c']:.1f}, {row['return_temp_c']:.1f}" in text
    first = one_room.commissioning.part_load.iloc[0]
    words = f"{first['flow_temp_c']:.1f} and {first['return_temp_c']:.1f} at {first['outdoor_c']:.0f} °C"
    assert words.replace("-", "−") in HtmlPage(sheet(one_room)).text


def test_every_document_has_the_same_precharge(nine_rooms: Handed) -> None:
    pack = nine_rooms.commissioning
    pressures = pack.pressures_table.set_index("quantity")["value"]
    checks = pack.commissioning_checks.set_index("check")["calculated"]
    assert pack.summary["precharge_kpa"] == 58.0 == pressures["precharge to set at the vessel"]
    assert checks["precharge of the vessel"] == 58.0 > pressures["precharge for the calculation"]


def test_a_mixed_loop_has_its_flow_temperature_its_valve_and_its_pump(nine_rooms: Handed, one_room: Handed) -> None:
    text = HtmlPage(sheet(nine_rooms)).text
    pump = nine_rooms.design.pumps.set_index("pump").loc["nursery"]
    assert (
        'Mixing valve of trunk "nursery": set to 43.0 °C. Its own pump: constant head of at least 6.7 kPa '
        f"({pump['head_kpa'] / 9.80665:.1f} m of water) at {pump['flow_l_h']:.0f} l/h; this head has no reserve."
        in text
    )
    for row in nine_rooms.commissioning.commissioning.to_dict("records"):
        assert f"{row['expected_flow_temp_c']:.1f}, {row['return_temp_heads_removed_c']:.1f}" in text
    assert "43.0, 38.6" in text
    assert "Mixing valve" not in HtmlPage(sheet(one_room)).text


def test_a_pump_with_a_setting_of_its_own_keeps_it() -> None:
    assert _own_pump("at 80 % of full speed", 6.68, 112.3) == (
        "Its own pump, at 80 % of full speed: required head 6.7 kPa (0.7 m of water) at 112 l/h."
    )
    assert "at least 6.7 kPa" in _own_pump("", 6.68, 112.3)


def test_water_is_treated_and_pumps_are_set_before_flows_are_read(nine_rooms: Handed) -> None:
    text = HtmlPage(sheet(nine_rooms)).text
    said = (
        "Remove thermostatic heads and skirting covers", "Fit an in-line filter",
        "Strength test of the whole system: fill",
        "flush each loop in turn", "Fit the filter element again", "Bring the cold system", "Add inhibitor",
        "Warm up slowly",
        "Clean the filter", "Set the pump at the heat source", "Mixing valve of trunk",
        "Set every valve to its setting", "D Balancing", "then read each loop: flow rate before and after setting",
        "Fit the skirting covers", "E Result",
    )  # fmt: skip
    places = [text.index(words) for words in said]
    assert places == sorted(places)
    total_l_h = nine_rooms.design.loops["flow_l_h"].sum()
    assert f"Flow rates of all loops: {total_l_h:.0f} l/h. The pump at the heat source circulates only 711 l/h" in text


def test_a_design_that_is_not_ready_says_so_first(draft: Handed, nine_rooms: Handed) -> None:
    text = HtmlPage(sheet(draft)).text
    said = f"✗ {draft.design.verdict.headline} {NOT_READY}"
    assert said in text
    assert text.index(said) < text.index("A Pressure record")
    assert NOT_READY not in HtmlPage(sheet(nine_rooms)).text


def test_the_sheet_stands_alone_and_draining_is_not_on_it(nine_rooms: Handed) -> None:
    markup = sheet(nine_rooms)
    page = HtmlPage(markup)
    assert not {tag for tag, _ in page.tags} & {"script", "link", "img", "iframe", "form"}
    assert not re.search(r"https?://|@import|url\(", markup)
    assert ("html", {"lang": "en-GB"}) in page.tags
    assert all(attrs.get("scope") in ("col", "row") for tag, attrs in page.tags if tag == "th")
    assert "Lead a hose" not in page.text


def test_safety_notices_are_on_the_sheet_and_left_out_in_a_pack(nine_rooms: Handed) -> None:
    control = nine_rooms.control
    alone = HtmlPage(sheet(nine_rooms)).text
    packed = HtmlPage(commissioning_body(nine_rooms.commissioning, control, alone=False).markup).text
    for notice in notices_for(HAZARDS):
        assert notice.text in alone
        assert notice.text not in packed
    assert alone.count(DEFERENCE) == 1


def test_hostile_names_are_words(nine_rooms: Handed) -> None:
    name = '<script>alert(1)</script>\x1b[31m"; } * { display: none'
    pack = nine_rooms.commissioning
    frames = {key: frame.replace("Kitchen", name) for key, frame in pack.tables.items()}
    control = dataclasses.replace(nine_rooms.control, project=f"</style>{name}\x02table-x\x03")
    markup = commissioning_sheet(dataclasses.replace(pack, frames=frames), control)
    assert "<script>" not in markup
    assert "\x1b" not in markup
    assert markup.count("</style>") == 1
    assert "&lt;script&gt;alert(1)" in markup


@pytest.mark.parametrize("size", list(TARGETS))
def test_pages(sizes: dict[str, Handed], size: str, tmp_path: Path, browser: Browser) -> None:
    pages = printed_pages(sheet(sizes[size]), tmp_path, browser)
    assert within_a_fifth(len(pages), TARGETS[size])
    heads = [page for page in pages if "before, l/h" in page]
    rows = len(sizes[size].commissioning.commissioning)
    assert len(heads) == 1 + (rows > 9) or len(heads) == 2, "the heading of the balancing table is on each of its pages"
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in page
        assert "CS-01" in page


def test_boxes_are_large_enough_to_write_in(nine_rooms: Handed, tmp_path: Path, browser: Browser) -> None:
    page = tmp_path / "sheet.html"
    page.write_text(sheet(nine_rooms), encoding="utf-8")
    browser.open(page, round(273 * PX_PER_MM), media="print")
    sizes = browser.run(
        "[...document.querySelectorAll('.box')].map(b => b.getBoundingClientRect()).map(r => [r.width, r.height])"
    )
    outside = browser.run(
        "[...document.querySelectorAll('.scroll')].filter(t => t.scrollWidth > t.clientWidth + 1).length"
    )
    assert len(sizes) == 5 * 6 + 7 * 3 + 7 * 6 + 2 + 3 + 6 * 3
    assert min(width for width, _ in sizes) / PX_PER_MM >= LEAST_MM[0]
    assert min(height for _, height in sizes) / PX_PER_MM >= LEAST_MM[1]
    assert outside == 0


def test_no_row_is_split_over_two_pages(twenty_rooms: Handed, tmp_path: Path, browser: Browser) -> None:
    pages = printed_pages(sheet(twenty_rooms), tmp_path, browser)
    for row in twenty_rooms.commissioning.commissioning.to_dict("records"):
        band = f"{row['min_flow_l_h']:.0f} to {row['max_flow_l_h']:.0f}"
        tested = f"expected {row['flow_heads_removed_l_h']:.0f}"
        assert any(band in page and tested in page for page in pages)
