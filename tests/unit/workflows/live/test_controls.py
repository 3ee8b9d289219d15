"""The controls of a live design in JupyterLab: a slider that is dragged ends on its last value and makes no queue."""

import json
import time

import pytest

import heatloop as hl
from tests.helpers.paths import DATA

pytest.importorskip("websocket")
pytest.importorskip("jupyterlab")
pytest.importorskip("ipywidgets")

from tests.helpers.notebook_server import KERNEL, execute, run_notebook

CELL = 'import heatloop as hl\nlive = hl.InteractiveDesign("survey.toml")\nlive'
STEPS, DOWN, DRAG_S = 41, 20, 2.0
"""Steps of the slider in a drag and the time that it takes: 20 down, the others up again and one farther."""

HANDLE = "document.querySelector('.widget-slider .noUi-handle')"
PLACE = (
    f"(() => {{ const box = {HANDLE}.getBoundingClientRect(), bar = {HANDLE}.closest('.noUi-base')"
    ".getBoundingClientRect(); return [box.x + box.width / 2, box.y + box.height / 2, bar.width]; })()"
)
WATCH = """(() => {
window.changes = [];
window.released = NaN;
const page = document.querySelector('.heatloop-live').closest('.widget-html, .jupyter-widgets');
new MutationObserver(() => window.changes.push(performance.now())).observe(page, { childList: true, subtree: true });
document.addEventListener('pointerup', () => { window.released = performance.now(); }, true);
return 1; })()"""
QUIET = (
    f"{KERNEL}.status === 'idle' && !document.querySelector('.heatloop-live').textContent.includes('checks follow') "
    "&& performance.now() - Math.max(window.released, ...window.changes) > 1000.0"
)
MOST_STEPS_AFTER = 4.0
"""Time after the release until all is shown, in changes with all checks: the present one, the last one, the page."""
WRITE = """
import json
import pathlib
import time
shown = live.design.rooms[["heat_to_rooms_w", "margin_w"]].to_numpy().tolist()
page = live.widget.children[-1].value == live.markup()
values = {"flow_temp_c": live.values.flow_temp_c, "solves": live.solves, "rooms": shown, "page": page}
values["checked"] = live.is_checked
values["steps_s"] = []
for flow_temp_c in (50.0, 51.0, 50.5):
    began = time.perf_counter()
    live.change(flow_temp_c=flow_temp_c)
    values["steps_s"].append(time.perf_counter() - began)
pathlib.Path("shown.json").write_text(json.dumps(values))
"""


@pytest.fixture
def notebook(notebooks):
    """The address of a notebook in JupyterLab beside the survey of nine rooms, and its folder."""
    lodge = DATA / "alder-lodge"
    return notebooks.notebook("live", CELL, lodge / "survey.toml", lodge / "catalogue.toml")


def test_a_drag_in_a_notebook_ends_on_its_last_value(browser, notebook):
    """41 steps in two seconds: the page follows, is sized fewer times than there are steps, and shows the last one."""
    address, job = notebook
    hand = run_notebook(browser, address, f"document.querySelector('.heatloop-live') && {HANDLE}")
    browser.run(WATCH)
    x, y, width = browser.run(PLACE)
    step_px = width / 100.0  # 25 to 75 °C by half degrees
    hand.mouse("mousePressed", (x, y), "left", clickCount=1, buttons=1)
    began = time.monotonic()
    for step in range(1, STEPS + 1):
        up = -step if step <= DOWN else step - 2 * DOWN
        time.sleep(max(0.0, began + DRAG_S * step / STEPS - time.monotonic()))
        hand.mouse("mouseMoved", (x + step_px * up, y), "left", buttons=1)
    hand.mouse("mouseReleased", (x + step_px, y), "left", clickCount=1)
    hand.wait(QUIET)  # the newest value waits in the page until the kernel is free
    execute(browser, WRITE)
    changes, released = browser.run("[window.changes, window.released]")
    held = json.loads((job / "shown.json").read_text(encoding="utf-8"))
    after = [change - released for change in changes]
    rooms_s, checks_s = (when / 1000.0 for when in sorted(after)[-2:])
    step_s = max(held["steps_s"])
    print(f"{held['solves']} sizings; after the release rooms settled in {rooms_s:.2f} s, checks in {checks_s:.2f} s")
    print(f"a change with all checks takes {step_s:.2f} s")
    assert held["flow_temp_c"] == 50.5
    assert held["page"]
    assert held["checked"]
    assert 2 <= held["solves"] < STEPS
    assert min(after) < 0.0, "the page followed while the slider moved"
    assert checks_s < MOST_STEPS_AFTER * step_s, "values wait in a queue"
    design = hl.size(hl.read_survey(job / "survey.toml").with_flow_temp(50.5))
    for shown, sized in zip(held["rooms"], design.rooms[["heat_to_rooms_w", "margin_w"]].to_numpy(), strict=True):
        assert shown == pytest.approx(sized.tolist(), rel=1e-6, abs=1e-6)
    text = browser.run("document.querySelector('.heatloop-live').textContent")
    assert all(f"{row['margin_w']:+.0f}" in text for row in design.rooms.to_dict("records"))
