"""The picture of a plan in a browser, driven by mouse and keys: with a stand-in for the kernel, or in a notebook."""

from __future__ import annotations

import base64
import json
import time
from pathlib import Path
from typing import Any

import heatloop
from heatloop.workflows.tracing.events import position
from heatloop.workflows.tracing.kept import KeptTracing
from heatloop.workflows.tracing.scene import preview
from tests.helpers.browser import Browser

SCRIPT = Path(heatloop.__file__).parent / "workflows" / "tracing"
WAIT_S = 60.0
STAND_IN = """
const heard = {};
window.sent = [];
const model = {
  values: {},
  get: (name) => model.values[name],
  set: (name, value) => { model.values[name] = value; },
  on: (name, call) => { heard[name] = call; },
  off: (name) => { delete heard[name]; },
  send: (message) => { window.sent.push(message); },
};
window.put = (values, picture) => {
  if (picture) {
    model.values.picture = Uint8Array.from(atob(picture), (letter) => letter.charCodeAt(0));
    model.values.media_type = values.media_type;
  }
  model.values.scene = values.scene;
  if (window.shown) { if (picture) heard["change:picture"](); heard["change:scene"](); }
  else { window.shown = true; render({ model, el: document.getElementById("here") }); }
};
window.answer = (message) => heard["msg:custom"](message);
"""


class Pointer:
    """Mouse and keys over the picture of a plan; `clicks` counts presses of the mouse."""

    def __init__(self, browser: Browser) -> None:
        self.browser, self.clicks = browser, 0

    def wait(self, script: str) -> None:
        """Wait until an expression is true in the page."""
        deadline = time.monotonic() + WAIT_S
        while not self.browser.run(f"Boolean({script})"):
            if time.monotonic() > deadline:
                raise TimeoutError(script)
            time.sleep(0.02)

    def at(self, point: tuple[float, float], size: tuple[int, int]) -> tuple[float, float]:
        """Where a point of the picture is on the screen."""
        script = (
            "(() => { const box = document.querySelector('.hlt-canvas image').getBoundingClientRect(); "
            "return [box.x, box.y, box.width]; })()"
        )
        left, top, width = self.browser.run(script)
        zoom = width / size[0]
        return left + zoom * point[0], top + zoom * point[1]

    def mouse(self, kind: str, at: tuple[float, float], button: str = "none", **more: Any) -> None:
        """One event of the mouse."""
        self.browser.call("Input.dispatchMouseEvent", type=kind, x=at[0], y=at[1], button=button, **more)

    def press(self, at: tuple[float, float], button: str = "left", **more: Any) -> None:
        """A click at a point of the screen."""
        self.clicks += 1
        self.mouse("mouseMoved", at, **more)
        for kind in ("mousePressed", "mouseReleased"):
            self.mouse(kind, at, button, clickCount=1, **more)

    def press_on(self, selector: str) -> None:
        """A click on an element."""
        script = (
            f"(() => {{ const box = document.querySelector({json.dumps(selector)}).getBoundingClientRect(); "
            "return [box.x + box.width / 2, box.y + box.height / 2]; })()"
        )
        x, y = self.browser.run(script)
        self.press((x, y))

    def type(self, text: str) -> None:
        """A text into the field that asks for it, and Enter."""
        self.wait("document.activeElement && document.activeElement.name === 'asked'")
        self.browser.call("Input.insertText", text=text)
        self.browser.press("Enter", 13, "\r")

    def text(self, selector: str) -> str:
        """What an element says."""
        return str(self.browser.run(f"document.querySelector({json.dumps(selector)}).textContent"))


class TracingPage(Pointer):
    """A page of the script alone; the test answers its messages with the tracing that a kernel would have."""

    def __init__(self, browser: Browser, folder: Path, kept: KeptTracing, width_px: int = 1000) -> None:
        super().__init__(browser)
        self.kept, self._page = kept, -1
        self.messages: list[dict[str, Any]] = []
        script = (SCRIPT / "tracing.js").read_text(encoding="utf-8")
        style = (SCRIPT / "tracing.css").read_text(encoding="utf-8")
        page = folder / "tracing.html"
        head = f'<!doctype html><html lang="en"><meta charset="utf-8"><title>Plan</title><style>{style}</style>'
        page.write_text(
            f'{head}<div id="here"></div><script type="module">{script}\n{STAND_IN}</script></html>', encoding="utf-8"
        )
        browser.open(page, width_px)
        self.wait("window.put")
        self._show()

    def _show(self) -> None:
        picture = ""
        if self._page != self.kept.session.page_index:
            self._page = self.kept.session.page_index
            picture = base64.b64encode(self.kept.picture.content).decode()
        values = {"scene": self.kept.scene, "media_type": self.kept.picture.media_type}
        self.browser.run(f"put({json.dumps(values)}, {json.dumps(picture)})")

    def answer(self) -> None:
        """Answer all messages of the page as the widget does."""
        for _ in range(50):
            sent = self.browser.run("window.sent.splice(0)")
            if not sent:
                return
            for message in sent:
                self.messages.append(message)
                values = {key: value for key, value in message.items() if key not in ("event", "turn")}
                if message["event"] == "move":
                    x, y, screen_px, free = position(self.kept.session, values)
                    said = preview(self.kept.session, (x, y), screen_px, free)
                    self.browser.run(f"answer({json.dumps({'turn': message['turn'], **said})})")
                else:
                    self.kept.act(message["event"], values)
                    self._show()
        raise AssertionError("the page does not stop asking")

    @property
    def size(self) -> tuple[int, int]:
        """The picture's size in its own pixels."""
        return self.kept.picture.width_px, self.kept.picture.height_px

    def click(self, point: tuple[float, float], **more: Any) -> None:
        """A click at a point of the picture."""
        self.press(self.at(point, self.size), **more)
        self.answer()

    def hover(self, point: tuple[float, float], **more: Any) -> None:
        """The mouse at a point of the picture."""
        self.mouse("mouseMoved", self.at(point, self.size), **more)
        self.answer()

    def key(self, key: str, code: int, text: str = "", modifiers: int = 0) -> None:
        """A key where the focus is; modifiers: 2 with Ctrl, 8 with Shift."""
        named = {"key": key, "code": key, "windowsVirtualKeyCode": code, "modifiers": modifiers}
        kind = "keyDown" if text else "rawKeyDown"
        self.browser.call("Input.dispatchKeyEvent", type=kind, text=text, **named)
        self.browser.call("Input.dispatchKeyEvent", type="keyUp", **named)
        self.answer()
