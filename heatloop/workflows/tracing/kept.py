"""A tracing with its pictures and its state file, which is written after every change and read at the start."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.survey.tracing.model import TracedPage, Tracing
from heatloop.survey.tracing.saved import tracing_of, tracing_values
from heatloop.survey.tracing.session import TracingSession, begin
from heatloop.text.files import UnusableFile, file_bytes, write_whole
from heatloop.workflows.tracing.events import after
from heatloop.workflows.tracing.picture import PagePicture
from heatloop.workflows.tracing.scene import scene


class KeptTracing:
    """A tracing that is changed step by step; `session` is its present value.

    Raises InputError if the file at `path` cannot be used.
    """

    def __init__(self, path: Path, pictures: Sequence[PagePicture], levels_m: Sequence[float]) -> None:
        self.path, self._pictures, self._not_saved = path, tuple(pictures), ""
        blank = Tracing(tuple(TracedPage(one.number, one.width_px, one.height_px) for one in pictures))
        self.session: TracingSession = begin(*_restored(path, blank, tuple(levels_m)))

    def act(self, event: str, values: Mapping[str, Any]) -> None:
        """Take one step, and save the tracing if it changed. Raises ValueError for an unknown event."""
        before, self.session = self.session, after(self.session, event, values)
        if (before.tracing, before.levels_m) != (self.session.tracing, self.session.levels_m):
            self._save()

    @property
    def picture(self) -> PagePicture:
        """The picture of the page that is shown."""
        return self._pictures[self.session.page_index]

    @property
    def scene(self) -> dict[str, Any]:
        """What is shown over the picture, as plain values."""
        saved = f"Saved in {self.path.name}" if self.path.exists() else "Nothing to save yet"
        return scene(self.session, f"Not saved: {self._not_saved}" if self._not_saved else saved)

    def _save(self) -> None:
        values = tracing_values(self.session.tracing, self.session.levels_m)
        try:
            write_whole(self.path, json.dumps(values, indent=1, ensure_ascii=False) + "\n")
            self._not_saved = ""
        except (OSError, ValueError) as error:
            self._not_saved = getattr(error, "strerror", None) or str(error)


def _restored(path: Path, blank: Tracing, levels_m: tuple[float, ...]) -> tuple[Tracing, tuple[float, ...]]:
    """The tracing in a state file; the blank one if there is no such file."""
    try:
        values = json.loads(file_bytes(path).decode("utf-8"))
    except FileNotFoundError:
        return blank, levels_m
    except UnusableFile as error:
        found, required = error.found, error.required
    except (OSError, ValueError, RecursionError):
        found, required = "a file that cannot be read as JSON", "the file that keeps a tracing"
    else:
        return tracing_of(values, blank, levels_m, str(path))
    raise InputError([InputIssue(str(path), "", found, required)])
