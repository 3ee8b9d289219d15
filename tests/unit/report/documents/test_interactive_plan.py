"""The interactive plan in a browser: every state is the solver's, keys alone are enough, and everyone can read it."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import heatloop as hl
from tests.helpers.browser import Browser
from tests.helpers.plan_pages import PlanPage

AXE = "HEATLOOP_AXE"
"""Names the file axe.min.js of the npm package axe-core."""

KEYS = {"Tab": (9, ""), "Enter": (13, "\r"), "End": (35, ""), "Home": (36, ""),
        "ArrowLeft": (37, ""), "ArrowUp": (38, ""), "ArrowRight": (39, ""), "ArrowDown": (40, "")}  # fmt: skip

SHOWN = """(() => {
  const cells = (kind) => [...document.querySelectorAll(`[id^="row-${kind}-"]`)].map(
    (row) => [...row.querySelectorAll(".v")].map((cell) => cell.textContent));
  const drawn = [...document.querySelectorAll(".plan a.room")].map((one) => [
    Number(one.id.split("-")[1]), one.getAttribute("class").split(" ")[1], one.querySelector("title").textContent]);
  const figures = [...document.querySelectorAll("[data-room]")].map(
    (one) => [Number(one.dataset.room), one.textContent]);
  return { say: document.getElementById("say").textContent, drawn, figures, room: cells("room"), loop: cells("loop"),
    piece: cells("piece"), pipe: cells("pipe"), valve: cells("valve") };
})()"""

EVERY_STATE = f"""(() => {{
  const sliders = ["flow", "outdoor"].map((id) => document.getElementById(id));
  const found = [];
  for (let flow = 0; flow <= Number(sliders[0].max); flow += 1) {{
    for (let outdoor = 0; outdoor <= Number(sliders[1].max); outdoor += 1) {{
      sliders[0].value = flow;
      sliders[1].value = outdoor;
      sliders[0].dispatchEvent(new Event("input"));
      found.push({SHOWN});
    }}
  }}
  return found;
}})()"""

FOCUS = "document.activeElement.id"
STATE = "[document.getElementById('flow-text').textContent, document.getElementById('outdoor-text').textContent]"
DETAIL = "document.getElementById('detail-text').textContent"


@pytest.fixture(params=["to nine rooms", pytest.param("twenty rooms", marks=pytest.mark.long)])
def pages(plan_of: Callable[[str], PlanPage], short: PlanPage, request: pytest.FixtureRequest) -> list[PlanPage]:
    """Pages of one and nine rooms, or of twenty."""
    return [plan_of("twenty_rooms")] if request.param == "twenty rooms" else [plan_of("one_room"), short]


def press(browser: Browser, *keys: str) -> None:
    for key in keys:
        code, text = KEYS[key]
        browser.press(key, code, text)


def _text(value: float, decimals: int = 0, sign: str = "-") -> str:
    if round(value, decimals) == 0.0:
        return f"{0.0:.{decimals}f}"
    return f"{value:{sign}.{decimals}f}".replace("-", "−")


def _solved(design: hl.Design, flow_temp_c: float, outdoor_c: float) -> hl.OperatingPoint:
    return design.simulate(flow_temp_c=flow_temp_c, outdoor_c=outdoor_c, settings="calculated", thermostats=False,
                           pump_head_kpa=design.summary["pump_head_kpa"])  # fmt: skip


def test_every_state_on_the_page_is_the_solvers(browser: Browser, short: PlanPage) -> None:
    """Heat from simulations at every flow temperature, loss from simulations in every weather; that they do not depend
    on each other is tested with the states themselves."""
    design, states = short.design, short.contents.states
    browser.open(short.file, 1280)
    shown = iter(browser.run(EVERY_STATE))
    mildest = states.outdoor_c[-1]
    warm = [_solved(design, flow_c, mildest) for flow_c in states.flow_temps_c]
    lost = [_solved(design, states.flow_temps_c[0], outdoor_c).rooms["heat_loss_w"] for outdoor_c in states.outdoor_c]
    for point in warm:
        rooms, loops, valves = (one.to_dict("records") for one in (point.rooms, point.loops, point.valves))
        for losses_w in lost:
            found = next(shown)
            assert [row[0] for row in found["room"]] == [_text(loss_w) for loss_w in losses_w]
            assert [row[1] for row in found["room"]] == [_text(row["heat_to_rooms_w"]) for row in rooms]
            needs = [loss_w + row["back_loss_w"] for loss_w, row in zip(losses_w, rooms, strict=True)]
            margins = [row["heat_to_rooms_w"] - need_w for row, need_w in zip(rooms, needs, strict=True)]
            shares = [100 * row["heat_to_rooms_w"] / need_w for row, need_w in zip(rooms, needs, strict=True)]
            assert [row[2] for row in found["room"]] == [_text(one, sign="+") for one in margins]
            assert [row[3] for row in found["room"]] == [_text(one) for one in shares]
            for place, css, title in found["drawn"]:
                share = shares[place - 1]
                assert css == ("short" if share < 100 else "tight" if share < 105 else "warm")
                assert f"reserve of heat {_text(margins[place - 1], sign='+')} W, {_text(share)} % of the heat" in title
            assert all(text == f"{_text(shares[place - 1])} %" for place, text in found["figures"])
            short_w = sorted((one, room) for one, room in zip(margins, design.rooms["room"], strict=True) if one < 0)
            named = [f"{room} {f'{-w:.0f}' if f'{-w:.0f}' != '0' else 'less than 1'} W" for w, room in short_w[:6]]
            assert all(words in found["say"] for words in named)
            assert ("more room" in found["say"]) == (len(short_w) > 6)
            assert ("Every room reaches its temperature." in found["say"]) == (not short_w)
            assert f"{point.summary['source_heat_w']:.0f} W" in found["say"]
            assert [row[4] for row in found["loop"]] == [_text(row["heat_to_rooms_w"]) for row in loops]
            assert [row[2] for row in found["loop"]] == [_text(row["return_temp_c"], 1) for row in loops]
            assert found["valve"] == [[_text(r["flow_l_h"]), _text(r["pressure_drop_kpa"], 2)] for r in valves]
        _water_is_right(found, short, point)
    assert next(shown, None) is None


def _water_is_right(found: dict[str, Any], page: PlanPage, point: hl.OperatingPoint) -> None:
    """Temperatures in the rows of pieces and positions at a flow temperature."""
    elements = point.elements
    for step, cells in zip(page.contents.steps, found["piece"], strict=True):
        for way, cell in zip(("flow", "return"), cells, strict=True):
            own = elements[(elements["label"] == step.label) & (elements["direction"] == way)]
            rows = [f"{row.inlet_temp_c:.1f} → {row.outlet_temp_c:.1f}" for row in own.itertuples()]
            assert cell == (rows[0] if rows else "–")
    crossings = elements[elements["kind"].isin(["crossing", "tail"])]
    temps = {f"{row.inlet_temp_c:.1f} → {row.outlet_temp_c:.1f}" for row in crossings.itertuples()}
    assert {cell for cells in found["pipe"] for cell in cells} <= temps | {"–"}


def test_nothing_is_fetched_or_reported(browser: Browser, pages: list[PlanPage]) -> None:
    for page in pages:
        browser.events.clear()
        browser.open(page.file, 1280)
        browser.run(EVERY_STATE)
        asked = {params["request"]["url"] for params in browser.events_of("Network.requestWillBeSent")}
        assert asked == {page.file.resolve().as_uri()}
        for event in ("Log.entryAdded", "Runtime.consoleAPICalled", "Runtime.exceptionThrown"):
            assert browser.events_of(event) == []


def test_without_script_plan_and_tables_are_there_and_links_join_them(browser: Browser, short: PlanPage) -> None:
    browser.open(short.file, 1280, script=False)
    shown = [
        browser.run(f"getComputedStyle(document.getElementById('{one}')).display !== 'none'")
        for one in ("controls", "detail", "keys", "still")
    ]
    assert shown == [False, False, False, True]
    assert browser.run("document.querySelector('#row-room-1 .v:last-child').innerText") == "✗ short"
    browser.open(short.file, 1280, script=False, fragment="#row-piece-3")
    marked = "getComputedStyle(document.querySelector('#row-piece-{} td')).backgroundColor"
    assert browser.run(marked.format(3)) != browser.run(marked.format(4))
    browser.open(short.file, 1280, script=False, fragment="#piece-3")
    width = "parseFloat(getComputedStyle(document.querySelector('#piece-{} .bar')).strokeWidth)"
    assert browser.run(width.format(3)) == 2 * browser.run(width.format(4))


def test_the_plan_is_one_stop_of_the_tab_key_and_arrows_reach_everything(browser: Browser, short: PlanPage) -> None:
    browser.open(short.file, 1280)
    browser.run("document.getElementById('reset').focus()")
    press(browser, "Tab")
    things = browser.run("[...document.querySelector('.plan').querySelectorAll('a')].map(one => one.id)")
    assert browser.run(FOCUS) == things[0] == "room-1"
    assert browser.run(
        "[...document.querySelectorAll('.plan')].map(p => p.querySelectorAll('[tabindex=\"0\"]').length)"
    ) == [1, 1]
    reached = set()
    for kind in ("room", "piece", "pipe", "valve", "loop"):
        own = [one for one in things if one.startswith(f"{kind}-")]
        assert browser.run(FOCUS) == own[0], "arrow down goes from kind to kind"
        for one in own:
            assert browser.run(FOCUS) == one
            assert browser.run(f"{DETAIL} === document.activeElement.querySelector('title').textContent")
            reached.add(one)
            press(browser, "ArrowRight")
        assert browser.run(FOCUS) == own[0], "after the last comes the first"
        press(browser, "End", "ArrowLeft", "Home")
        press(browser, "ArrowDown")
    assert reached == set(things)
    assert browser.run(FOCUS) == things[0]
    press(browser, "ArrowUp")
    assert browser.run(FOCUS).startswith("loop-")
    press(browser, "Tab")
    assert browser.run("document.activeElement.closest('.plan') !== document.querySelector('.plan')")


def test_what_has_the_focus_is_seen_and_a_loop_lights_its_parts(browser: Browser, short: PlanPage) -> None:
    browser.open(short.file, 1280)
    browser.run("document.getElementById('piece-1').focus()")
    width = "parseFloat(getComputedStyle(document.querySelector('#piece-{} .bar')).strokeWidth)"
    assert browser.run(width.format(1)) == 10
    assert browser.run(width.format(2)) == 5
    browser.run("document.getElementById('loop-1').focus()")
    loop = short.design.loops["loop"].iloc[0]
    own = {
        f"{kind}-{place}"
        for kind in ("piece", "pipe", "valve")
        for place, one in enumerate(short.data.kind(kind).items, start=1)
        if one.loop == loop
    }
    assert set(browser.run("[...document.querySelectorAll('a.lit')].map(one => one.id)")) == own
    press(browser, "Enter")
    assert browser.run("location.hash") == "#row-loop-1"


def test_a_tap_shows_what_is_tapped_and_the_plan_stays(browser: Browser, short: PlanPage) -> None:
    browser.open(short.file, 390)
    browser.run("document.querySelector('.plan').scrollIntoView({block: 'center'})")
    box = "(r => [r.left + r.width / 2, r.top + r.height / 2])(document.querySelector('#loop-1 .narrow .box')"
    x, y = browser.run(f"{box}.getBoundingClientRect())")
    for kind in ("mousePressed", "mouseReleased"):
        browser.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)
    assert browser.run(FOCUS) == "loop-1"
    assert browser.run(DETAIL).startswith("Loop 1, ")
    assert browser.run("location.hash") == ""
    assert browser.run("document.getElementById('detail-row').getAttribute('href')") == "#row-loop-1"


def test_sliders_go_by_keys_and_the_button_goes_back(browser: Browser, short: PlanPage) -> None:
    states = short.contents.states
    browser.open(short.file, 1280)
    assert browser.run(STATE) == ["50 °C", "−3 °C"]
    browser.run("document.querySelector('nav a[href=\"#valves\"]').focus()")
    press(browser, "Tab")
    assert browser.run(FOCUS) == "flow"
    press(browser, "ArrowRight")
    assert browser.run(STATE) == ["52.5 °C", "−3 °C"]
    assert browser.run("document.activeElement.getAttribute('aria-valuetext')") == "52.5 °C"
    press(browser, "Home", "Tab", "End")
    first, last = f"{states.flow_temps_c[0]:g} °C", f"{states.outdoor_c[-1]:g} °C"
    assert browser.run(STATE) == [first, last]
    assert "Missing heat: " in browser.run("document.querySelector('[role=status]').textContent")
    press(browser, "Tab", "Enter")
    assert browser.run(STATE) == ["50 °C", "−3 °C"]


def test_a_link_opens_a_state_and_paper_shows_the_design(browser: Browser, short: PlanPage) -> None:
    browser.open(short.file, 1280, fragment="#flow=45&out=0")
    assert browser.run(STATE) == ["45 °C", "0 °C"]
    browser.run("dispatchEvent(new Event('beforeprint'))")
    assert browser.run(STATE) == ["50 °C", "−3 °C"]
    browser.run("dispatchEvent(new Event('afterprint'))")
    assert browser.run(STATE) == ["45 °C", "0 °C"]
    browser.open(short.file, 1280, fragment="#flow=46.1")
    assert browser.run(STATE) == ["50 °C", "−3 °C"], "a state that there is not"
    browser.open(short.file, 700, media="print")
    hidden = "['controls', 'detail', 'keys'].map(id => getComputedStyle(document.getElementById(id)).display)"
    assert browser.run(hidden) == ["none"] * 3


@pytest.mark.parametrize("width_px", [320, 1280])
def test_no_label_covers_another_and_nothing_is_wider_than_the_window(
    browser: Browser, pages: list[PlanPage], width_px: int
) -> None:
    for page in pages:
        browser.open(page.file, width_px)
        assert browser.run("document.documentElement.scrollWidth") <= width_px
        outside = browser.run(
            "[...document.querySelectorAll('main *')].filter(e => !e.closest('.scroll') && "
            "e.getBoundingClientRect().right > innerWidth + 1).map(e => e.outerHTML.slice(0, 80))"
        )
        assert outside == []
        boxes = browser.run(
            "[...document.querySelectorAll('.plan')].map(plan => "
            "[...plan.querySelectorAll('.name, .figure, .box, .body')].map(e => [e.getBoundingClientRect(), e])"
            ".filter(([r]) => r.width > 0).map(([r, e]) => "
            "[r.left, r.top, r.right, r.bottom, e.textContent || e.parentNode.parentNode.id]))"
        )
        for shown in boxes:
            assert len(shown) > 1
            for i, (left, top, right, bottom, one) in enumerate(shown):
                for west, north, east, south, other in shown[:i]:
                    # a line of text is a little higher than its letters
                    apart = right <= west + 1 or east <= left + 1 or bottom <= north + 4 or south <= top + 4
                    assert apart, (page.file, one, other)
        sizes = browser.run(
            "[...document.querySelectorAll('.plan text')].filter(e => e.getBoundingClientRect().width > 0)"
            ".map(e => parseFloat(e.getAttribute('font-size')) * e.ownerSVGElement.getScreenCTM().a)"
        )
        assert min(sizes) > 10.5, "px"


GREY = """(() => {
  const root = document.documentElement;
  const names = [...document.styleSheets[0].cssRules[0].style].filter((name) => name.startsWith("--"));
  for (const name of names) {
    const digits = getComputedStyle(root).getPropertyValue(name).trim().slice(1);
    const whole = digits.length === 6 ? digits : [...digits].map((one) => one + one).join("");
    const [r, g, b] = [0, 2, 4].map((at) => parseInt(whole.slice(at, at + 2), 16));
    const grey = Math.round(0.2126 * r + 0.7152 * g + 0.0722 * b).toString(16).padStart(2, "0");
    root.style.setProperty(name, "#" + grey.repeat(3));
  }
  return names.length;
})()"""
"""Makes every colour of the page a grey of the same lightness."""


@pytest.mark.parametrize(
    "colours", ["light", *(pytest.param(words, marks=pytest.mark.long) for words in ("dark", "grey"))]
)
def test_an_accessibility_scan_finds_nothing(browser: Browser, pages: list[PlanPage], colours: str) -> None:
    axe = os.environ.get(AXE)
    if not axe:
        pytest.skip(f"set {AXE} to axe.min.js of the npm package axe-core for the accessibility scan")
    script = Path(axe).read_text(encoding="utf-8") + "; true"
    for page, width_px in ((page, width_px) for page in pages for width_px in (320, 1280)):
        browser.open(page.file, width_px, dark=colours == "dark")
        if colours == "grey":
            assert browser.run(GREY) > 10
        browser.run("document.getElementById('piece-1').focus()")
        browser.run(script)
        found = browser.run(
            "axe.run(document).then(r => ({passes: r.passes.length, violations: r.violations.map("
            "v => [v.impact, v.id, v.nodes.length, v.nodes[0].html.slice(0, 120)])}))"
        )
        assert found["passes"] > 20
        assert found["violations"] == [], (page.file, width_px)


def test_state_and_direction_are_shown_by_shape_too(browser: Browser, short: PlanPage) -> None:
    browser.open(short.file, 1280)
    fills = browser.run(
        "[...document.querySelectorAll('.plan .room')].map(one => [one.getAttribute('class').split(' ')[1], "
        "getComputedStyle(one.querySelector('.pattern')).fill])"
    )
    patterns = {"warm": "none", "tight": 'url("#dots")', "short": 'url("#hatch")'}
    assert {css for css, _ in fills} >= {"warm", "short"}
    assert all(fill == patterns[css] for css, fill in fills)
    holes = browser.run(
        "[...document.querySelectorAll('.plan .pipe')].map(one => [Number(one.id.split('-')[1]), "
        "(one.querySelector('.wide .hole')?.getAttribute('d') ?? '').split('M').length - 1])"
    )
    returns = {
        mark.number: sum(pipe.direction == "return" for pipe in mark.pipes)
        for mark in short.contents.first_fix.positions
    }
    assert dict(holes) == returns
