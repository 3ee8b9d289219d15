"""The picture of a plan with its tools as a widget: the script draws and reports, Python answers.

Imported only when shown: it requires anywidget, of the extra `trace`.
"""

from __future__ import annotations

from importlib.resources import files

import anywidget
import traitlets

from heatloop.workflows.tracing.events import position
from heatloop.workflows.tracing.kept import KeptTracing
from heatloop.workflows.tracing.scene import preview

_HERE = files("heatloop.workflows.tracing")


class TracingWidget(anywidget.AnyWidget):
    """The page's part of a tracing: its picture and scene, and the messages of the script."""

    _esm = _HERE.joinpath("tracing.js").read_text(encoding="utf-8")
    _css = _HERE.joinpath("tracing.css").read_text(encoding="utf-8")

    picture = traitlets.Bytes().tag(sync=True)
    media_type = traitlets.Unicode().tag(sync=True)
    scene = traitlets.Dict().tag(sync=True)

    def __init__(self, kept: KeptTracing) -> None:
        super().__init__(picture=kept.picture.content, media_type=kept.picture.media_type, scene=kept.scene)
        self._kept = kept
        self.on_msg(self._answer)

    def _answer(self, _: object, message: object, __: object) -> None:
        """Answer one message of the script; an invalid message is ignored."""
        if not isinstance(message, dict):
            return
        values = {key: value for key, value in message.items() if key not in ("event", "turn")}
        try:
            if message.get("event") == "move":
                x, y, screen_px, free = position(self._kept.session, values)
                self.send({"turn": message.get("turn"), **preview(self._kept.session, (x, y), screen_px, free)})
                return
            self._kept.act(str(message.get("event")), values)
        except ValueError:
            return
        self.show()

    def show(self) -> None:
        """Show the tracing as it is now."""
        with self.hold_sync():
            self.picture = self._kept.picture.content
            self.media_type = self._kept.picture.media_type
            self.scene = self._kept.scene
