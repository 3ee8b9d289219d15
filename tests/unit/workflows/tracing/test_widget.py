"""The script of the widget in a browser: mouse, keys, zoom, texts that stay texts; and a house traced in a notebook."""

import json
import math
import os
import re
from pathlib import Path

import pytest

import heatloop as hl
from tests.helpers.paths import ROOT
from tests.helpers.traced_house import LODGE, PLAN, steps, surveyed_lengths

pytest.importorskip("pypdfium2")
pytest.importorskip("anywidget")
pytest.importorskip("websocket")

from tests.helpers.notebook_server import NOTEBOOK_7, notebook_server, run_notebook
from tests.helpers.tracing_page import TracingPage

AXE = "HEATLOOP_AXE"
BAR = ((265.75, 1110.24), (1446.85, 1110.24))
ROOM = [(300.0, 800.0), (300.0, 500.0), (700.0, 500.0), (700.0, 800.0)]
SHIFT, CTRL = 8, 2


@pytest.fixture
def page(browser, tmp_path):
    trace = hl.trace_plan(PLAN, [1, 2], level_m=[0.0, 2.65], state=tmp_path / "lodge.json")
    return TracingPage(browser, tmp_path, trace._kept)


@pytest.fixture
def scaled(page):
    for end in BAR:
        page.click(end)
    page.type("10.00")
    page.answer()
    return page


def test_clicks_fall_where_they_are_meant_and_texts_are_taken(scaled):
    scale = scaled.kept.session.page.scale
    assert math.dist(scale.ends_px[0], BAR[0]) < 1.0
    assert scale.length_m == 10.0
    for corner in ROOM:
        scaled.click(corner)
    scaled.click(ROOM[0])
    scaled.type("Hall")
    scaled.answer()
    (room,) = scaled.kept.session.page.rooms
    assert room.name == "Hall"
    zoom = float(scaled.browser.run("document.querySelector('.hlt-canvas image').getAttribute('width')")) / 1754
    assert room.click_px == pytest.approx(1.0 / zoom, rel=1e-6)
    assert all(math.dist(a, b) <= 1.0 / zoom for a, b in zip(room.corners_px, ROOM, strict=True))
    assert "1 room, 0 openings" in scaled.text(".hlt-figures")
    assert scaled.text(".hlt-name") == "Hall8.6 m²"


def test_a_text_is_never_html(scaled):
    name = "<img src=x onerror='window.harm=1'><b>Den</b>"
    for corner in (*ROOM, ROOM[0]):
        scaled.click(corner)
    scaled.type(name)
    scaled.answer()
    assert scaled.kept.session.tracing.room_names == (name,)
    assert scaled.text(".hlt-name").startswith(name)
    assert name in scaled.text(".hlt-status")
    assert scaled.browser.run("document.querySelectorAll('.hlt img, .hlt b').length + (window.harm || 0)") == 0


def test_a_name_is_taken_where_the_field_is_left_and_dropped_by_escape(scaled):
    for name, key in (("Hall", ""), ("Den", "Escape")):
        shift = 0.0 if name == "Hall" else 500.0
        for x, y in (*ROOM, ROOM[0]):
            scaled.click((x + shift, y))
        scaled.browser.call("Input.insertText", text=name)
        if key:
            scaled.key(key, 27)
        else:
            scaled.click((850.0, 300.0))
            scaled.key("Backspace", 8)
    assert scaled.kept.session.tracing.room_names == ("Hall", "Room 2")
    assert [one["text"] for one in scaled.messages if one["event"] == "text"] == ["10.00", "Hall"]


def test_a_name_that_is_refused_is_asked_for_again(scaled):
    for shift, name in ((0.0, "Hall"), (500.0, "Hall")):
        for x, y in (*ROOM, ROOM[0]):
            scaled.click((x + shift, y))
        scaled.type(name)
        scaled.answer()
    assert scaled.text(".hlt-status").startswith("Not done: There is a Hall already")
    scaled.type("Den")
    scaled.answer()
    assert scaled.kept.session.tracing.room_names == ("Hall", "Den")


def test_a_label_runs_along_with_length_and_what_it_is_held_to(scaled):
    scaled.click(ROOM[0])
    scaled.hover((303.0, 502.0))
    assert scaled.text(".hlt-words") == "2.52 m, square"
    scaled.hover((303.0, 502.0), modifiers=SHIFT)
    assert scaled.text(".hlt-words") == "2.52 m, as clicked"
    assert scaled.browser.run("document.querySelectorAll('.hlt-snap, .hlt-next').length") == 2


def test_the_wheel_enlarges_about_the_pointer_and_the_right_button_moves(scaled):
    before, other = (scaled.at(ROOM[k], scaled.size) for k in (2, 0))
    scaled.mouse("mouseWheel", before, deltaX=0, deltaY=-100)
    scaled.answer()
    after, farther = (scaled.at(ROOM[k], scaled.size) for k in (2, 0))
    assert after == pytest.approx(before, abs=0.5)
    assert math.dist(after, farther) == pytest.approx(1.25 * math.dist(before, other), rel=0.001)
    scaled.mouse("mousePressed", after, "right", clickCount=1)
    scaled.mouse("mouseMoved", (after[0] - 40.0, after[1] + 25.0), "right", buttons=2)
    scaled.mouse("mouseReleased", (after[0] - 40.0, after[1] + 25.0), "right", clickCount=1)
    scaled.answer()
    assert scaled.at(ROOM[2], scaled.size) == pytest.approx((after[0] - 40.0, after[1] + 25.0), abs=0.5)
    assert scaled.kept.session.points == ()
    scaled.click(ROOM[2])
    assert math.dist(scaled.kept.session.points[0].point, ROOM[2]) < 1.0


def test_a_room_is_traced_by_keys_alone(scaled):
    scaled.browser.run("document.querySelector('.hlt-canvas').focus(), 1")
    scaled.key("s", 83, "s")
    assert scaled.kept.session.tool == "scale"
    scaled.key("r", 82, "r")

    def walk(key, code, times):
        for _ in range(times):
            scaled.key(key, code, modifiers=SHIFT)
        scaled.key("n", 78, "n")

    walk("ArrowLeft", 37, 3)
    walk("ArrowUp", 38, 12)
    walk("ArrowRight", 39, 15)
    walk("ArrowDown", 40, 12)
    scaled.key("Enter", 13, "\r")
    scaled.type("Den")
    scaled.answer()
    (room,) = scaled.kept.session.page.rooms
    xs, ys = zip(*room.corners_px, strict=True)
    assert (max(xs) - min(xs)) / (max(ys) - min(ys)) == pytest.approx(15.0 / 12.0, rel=0.02)
    scaled.key("z", 90, modifiers=CTRL)
    assert scaled.kept.session.page.rooms[0].name == "Room 1"
    scaled.key("z", 90, modifiers=CTRL)
    assert scaled.kept.session.page.rooms == ()
    scaled.key("y", 89, modifiers=CTRL)
    scaled.key("y", 89, modifiers=CTRL)
    assert scaled.kept.session.tracing.room_names == ("Den",)


def test_buttons_pages_and_levels(scaled):
    for corner in (*ROOM, ROOM[0]):
        scaled.click(corner)
    scaled.press_on("[data-do=undo]")
    scaled.answer()
    assert scaled.kept.session.page.rooms == ()
    scaled.press_on("[data-tool=window]")
    scaled.answer()
    assert scaled.browser.run("document.querySelector('[data-tool=window]').getAttribute('aria-pressed')") == "true"
    scaled.browser.run(
        "(() => { const page = document.querySelector('.hlt select'); page.value = '1'; "
        "page.dispatchEvent(new Event('change')); return 1; })()"
    )
    scaled.answer()
    assert scaled.kept.session.page.number == 2
    assert scaled.browser.run("document.querySelector('input[name=level]').value") == "2.65"
    scaled.browser.run("document.querySelector('input[name=level]').select(), 1")
    scaled.browser.call("Input.insertText", text="2,7")
    scaled.browser.press("Enter", 13, "\r")
    scaled.answer()
    assert scaled.kept.session.level_m == 2.7


def test_moves_wait_for_their_answer(scaled):
    """A kernel that is busy is asked once, and again for the newest place."""
    scaled.click(ROOM[0])
    seen = len(scaled.messages)
    x, y = scaled.at(ROOM[1], scaled.size)
    for k in range(30):
        scaled.mouse("mouseMoved", (x + k, y))
    scaled.answer()
    moves = [one for one in scaled.messages[seen:] if one["event"] == "move"]
    assert len(moves) <= 3
    assert moves[-1]["x"] == pytest.approx(ROOM[1][0] + 29 * moves[-1]["screen_px"], abs=1.0)


@pytest.mark.skipif(not os.environ.get(AXE), reason=f"{AXE} is not the path of axe.min.js (npm package axe-core)")
def test_an_accessibility_scan_finds_nothing(scaled):
    """Of the tools and fields, with a room that is asked for its name."""
    for corner in (*ROOM, ROOM[0]):
        scaled.click(corner)
    scaled.browser.run(Path(os.environ[AXE]).read_text(encoding="utf-8"))
    found = scaled.browser.run(
        "axe.run(document.querySelector('.hlt')).then(r => ({passes: r.passes.length, violations: r.violations.map("
        "v => v.id + ': ' + v.nodes.map(n => n.target).join(', '))}))"
    )
    assert found["passes"] > 5
    assert found["violations"] == []


# --- in a notebook -------------------------------------------------------------------------------------

CELL = 'import heatloop as hl\ntrace = hl.trace_plan("plan.pdf", page=[1, 2], level_m=[0.0, 2.65])\ntrace'


@pytest.fixture
def notebook(notebooks):
    """The address of a notebook in JupyterLab beside the plan, and its folder."""
    return notebooks.notebook("tracing", CELL, PLAN)


@pytest.mark.long
def test_a_house_of_nine_rooms_is_traced_in_a_notebook(browser, notebook):
    """Counted by the mouse: the clicks that the how-to states; the file beside the plan has the rooms at once."""
    address, job = notebook
    hand = run_notebook(browser, address, "Number(document.querySelector('.hlt-canvas image')?.getAttribute('width'))")
    browser.run("document.querySelector('.hlt').scrollIntoView({ block: 'start' }), 1")
    seen = len(browser.events)
    survey = hl.read_survey(LODGE)
    for event, values in steps(survey, lambda point: point, 1.0):
        if event == "click":
            hand.press(hand.at((values["x"], values["y"]), (1754, 1241)))
        elif event == "tool":
            hand.press_on(f"[data-tool='{values['tool']}']")
            hand.wait(f"document.querySelector(\"[data-tool='{values['tool']}'][aria-pressed=true]\")")
        elif event == "text":
            hand.type(values["text"])
            hand.wait("!document.querySelector('input[name=asked]')")
        else:
            hand.wait("document.querySelectorAll('.hlt-opening').length === 14")
            hand.clicks += 2
            browser.run(
                "(() => { const page = document.querySelector('.hlt select'); page.value = '1'; "
                "page.dispatchEvent(new Event('change')); return 1; })()"
            )
            hand.wait("document.querySelector('input[name=level]').value === '2.65'")
            hand.wait("document.querySelectorAll('.hlt-room').length === 0")
    hand.wait("document.querySelector('.hlt-figures').textContent.startsWith('9 rooms, 25 openings')")
    page = (ROOT / "docs" / "how-to" / "trace-a-plan.md").read_text(encoding="utf-8")
    assert re.search(rf"takes\s+{hand.clicks}\s+clicks", page), hand.clicks
    trace = hl.trace_plan(job / "plan.pdf", [1, 2])
    assert trace.issues == ()
    table = trace.lengths
    for room in survey.rooms:
        rows = table[table["room"] == room.name]
        for length_m, row in zip(surveyed_lengths(room), rows.itertuples(), strict=True):
            assert abs(row.length_m - length_m) <= row.error_m
    assert not thrown_by_the_script(browser.events[seen:])


def thrown_by_the_script(events):
    """Exceptions of the script of the picture; the page around it has exceptions of its own."""
    thrown = [one for one in events if one["method"] == "Runtime.exceptionThrown"]
    return [one for one in thrown if "blob:" in json.dumps(one)]


@pytest.mark.long
def test_a_room_is_traced_in_notebook_7(browser, tmp_path):
    """By mouse and keys, with a kernel: scale, a room, a door; all of it is in the file beside the plan at once."""
    pytest.importorskip("notebook")
    with notebook_server(tmp_path, NOTEBOOK_7) as served:
        address, job = served.notebook("tracing", CELL, PLAN)
        hand = run_notebook(
            browser, address, "Number(document.querySelector('.hlt-canvas image')?.getAttribute('width'))"
        )
        assert browser.run("jupyterapp.name") == "Jupyter Notebook"
        browser.run("document.querySelector('.hlt').scrollIntoView({ block: 'start' }), 1")
        seen = len(browser.events)

        def press(*points):
            for point in points:
                hand.press(hand.at(point, (1754, 1241)))

        press(*BAR)
        hand.type("10.00")
        hand.wait("document.querySelector('.hlt-status').textContent.startsWith('Scale set')")
        press(*ROOM)
        browser.press("Enter", 13, "\r")
        hand.type("Hall")
        hand.wait("document.querySelector('.hlt-name')?.textContent.startsWith('Hall')")
        hand.press_on("[data-tool=door]")
        hand.wait("document.querySelector('[data-tool=door][aria-pressed=true]')")
        press((400.0, 500.0), (500.0, 500.0))
        hand.wait("document.querySelector('.hlt-figures').textContent.startsWith('1 room, 1 opening')")
        assert not thrown_by_the_script(browser.events[seen:])
    trace = hl.trace_plan(job / "plan.pdf", [1, 2])
    assert trace.issues == ()
    error_m = trace.lengths["error_m"].to_numpy()
    m_per_px = 10.0 / math.dist(*BAR)
    true_m = [side_px * m_per_px for side_px in (300.0, 400.0, 300.0, 400.0)]
    assert (abs(trace.lengths["length_m"].to_numpy() - true_m) <= error_m).all()
    (room,) = trace.rooms
    (door,) = room.walls[1].openings
    assert (room.name, door.kind) == ("Hall", "door")
    assert door.width_m == pytest.approx(100.0 * m_per_px, abs=error_m[1])
