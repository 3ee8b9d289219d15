"""Progress of long work on a terminal; none of short work."""

from __future__ import annotations

import io
import threading

import pytest

from heatloop.report.files import progress
from tests.helpers.patience import SURELY_S


class Terminal(io.StringIO):
    """A screen that says when something has been written on it."""

    def __init__(self) -> None:
        super().__init__()
        self.written = threading.Event()

    def isatty(self) -> bool:
        return True

    def write(self, text: str) -> int:
        count = super().write(text)
        self.written.set()
        return count


def test_long_work_says_on_a_terminal_that_it_goes_on_and_wipes_it_away(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(progress, "QUIET_S", 0.01)
    screen, pipe = Terminal(), io.StringIO()
    with progress.spinner("sizing survey.toml", screen), progress.spinner("sizing survey.toml", pipe):
        assert screen.written.wait(SURELY_S)
    assert "sizing survey.toml, 0 s" in screen.getvalue()
    assert screen.getvalue().endswith("\r\x1b[K")
    assert pipe.getvalue() == ""


def test_a_long_search_for_cuts_tells_how_near_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(progress, "QUIET_S", 0.01)
    screen = Terminal()
    with progress.spinner("counting survey.toml", screen) as say:
        progress.cutting(say)("bound", 390000.0, 389000.0)
        assert screen.written.wait(SURELY_S)
    assert "cutting: 390.0 m of stock, at most 0.3 % above the mi" in screen.getvalue()


def test_short_work_says_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(progress, "QUIET_S", 60.0)
    screen = Terminal()
    with progress.spinner("sizing survey.toml", screen):
        pass
    assert screen.getvalue() == ""
