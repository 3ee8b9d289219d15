"""Chromium driven through its remote debugging protocol: what a page loads, says and measures, and how it looks."""

from __future__ import annotations

import base64
import json
import subprocess
import tempfile
import time
from pathlib import Path
from types import TracebackType
from typing import Any

import websocket

from heatloop.report.files.pdf import browser_options, find_chromium

START_S, ANSWER_S = 120.0, 180.0
WATCHED = ("Page", "Runtime", "Log", "Network")


class Browser:
    """One page in a Chromium of its own; everything that the page does stands in `events`."""

    def __init__(self) -> None:
        self._profile = tempfile.TemporaryDirectory(prefix="heatloop-browser-", ignore_cleanup_errors=True)
        command = [
            str(find_chromium()),
            *browser_options(self._profile.name),
            "--remote-debugging-port=0",
            "about:blank",
        ]
        self._process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        self._sent = 0
        self._session: str | None = None
        self.events: list[dict[str, Any]] = []

    def __enter__(self) -> Browser:
        try:
            port, path = self._address()
            url = f"ws://127.0.0.1:{port}{path}"
            # pictures stand in the messages, and the check of their letters is many times slower than reading them
            self._socket = websocket.create_connection(
                url, timeout=ANSWER_S, suppress_origin=True, skip_utf8_validation=True
            )
            target = self.call("Target.createTarget", url="about:blank")["targetId"]
            self._session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
            for domain in WATCHED:
                self.call(f"{domain}.enable")
        except BaseException:
            self._stop()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._socket.close()
        self._stop()

    def _stop(self) -> None:
        self._process.terminate()
        self._process.wait(timeout=START_S)
        self._profile.cleanup()

    def _address(self) -> tuple[str, str]:
        """Port and path that Chromium says it listens at."""
        port_file = Path(self._profile.name) / "DevToolsActivePort"
        deadline = time.monotonic() + START_S
        while time.monotonic() < deadline:
            lines = port_file.read_text(encoding="utf-8").splitlines() if port_file.exists() else []
            if len(lines) == 2:
                return lines[0], lines[1]
            time.sleep(0.05)
        raise TimeoutError("Chromium did not open its debugging port")

    def clear(self) -> None:
        """Show an empty page and forget all events."""
        self._load("about:blank")
        self.events.clear()

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        """Send one command and wait for its answer; what happens meanwhile is kept as events."""
        own = self._send(method, params)
        while True:
            answer = self._next()
            if answer.get("id") == own:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']['message']}")
                return dict(answer["result"])

    def _send(self, method: str, params: dict[str, Any]) -> int:
        """Send one command; its number, which its answer has too."""
        self._sent += 1
        message: dict[str, Any] = {"id": self._sent, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        self._socket.send(json.dumps(message))
        return self._sent

    def _next(self) -> dict[str, Any]:
        """The next message; a page that asks whether it may be left is answered, since it would wait for ever."""
        message: dict[str, Any] = json.loads(self._socket.recv())
        if "method" in message:
            self.events.append(message)
        if message.get("method") == "Page.javascriptDialogOpening":
            self._send("Page.handleJavaScriptDialog", {"accept": True})
        return message

    def open(
        self,
        page: Path,
        width_px: int,
        height_px: int = 900,
        *,
        media: str = "",
        dark: bool = False,
        script: bool = True,
        fragment: str = "",
    ) -> None:
        """Show a file, or the place of a fragment in it, at that width and wait until it is loaded, pictures too; in
        dark colours or with its scripts switched off where asked for."""
        self.call(
            "Emulation.setDeviceMetricsOverride", width=width_px, height=height_px, deviceScaleFactor=1, mobile=False
        )
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call("Emulation.setEmulatedMedia", media=media, features=[scheme])
        self.call("Emulation.setScriptExecutionDisabled", value=not script)
        if fragment:
            self._load("about:blank")  # another fragment of the same page would load nothing
        self._load(page.resolve().as_uri() + fragment)

    def _load(self, url: str) -> None:
        """Go to an address and wait until it is loaded."""
        seen = len(self.events)
        self.call("Page.navigate", url=url)
        while not any(event["method"] == "Page.loadEventFired" for event in self.events[seen:]):
            self._next()

    def run(self, script: str) -> Any:
        """The value of an expression in the page, awaited if it is a promise."""
        answer = self.call("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in answer:
            raise RuntimeError(answer["exceptionDetails"].get("exception", {}).get("description", "the script failed"))
        return answer["result"].get("value")

    def press(self, key: str, code: int, text: str = "") -> None:
        """Press and release a key where the focus is; `code` is its number in Windows, `text` what it types."""
        named = {"key": key, "code": key, "windowsVirtualKeyCode": code}
        self.call("Input.dispatchKeyEvent", type="keyDown" if text else "rawKeyDown", text=text, **named)
        self.call("Input.dispatchKeyEvent", type="keyUp", **named)

    def picture(self, path: Path) -> Path:
        """The whole page as a PNG."""
        size = self.call("Page.getLayoutMetrics")["cssContentSize"]
        clip = {"x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1}
        shot = self.call("Page.captureScreenshot", format="png", captureBeyondViewport=True, clip=clip)
        path.write_bytes(base64.b64decode(shot["data"]))
        return path

    def pdf(self, path: Path) -> Path:
        """The page as it is printed by its own rules for paper, as `heatloop.report.files.pdf.print_pdf` does it."""
        printed = self.call("Page.printToPDF", preferCSSPageSize=True, printBackground=True)
        path.write_bytes(base64.b64decode(printed["data"]))
        return path

    def events_of(self, method: str) -> list[dict[str, Any]]:
        """The parameters of every event of that kind."""
        return [event["params"] for event in self.events if event["method"] == method]
