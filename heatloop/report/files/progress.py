"""Progress shown on a terminal; nothing if the stream is a pipe or a file."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

from heatloop.text.quoting import single_line

QUIET_S = 2.0
"""Time after which progress is shown."""

Say = Callable[[str], None]
"""Called with the current step, which the terminal then shows."""


@contextmanager
def spinner(label: str, stream: TextIO | None = None) -> Iterator[Say]:
    """Show progress on a terminal after two seconds, and erase it at the end.

    `label` is shown until the caller reports another step.
    """
    stream = sys.stderr if stream is None else stream
    words = [label]

    def say(new_label: str) -> None:
        words[0] = new_label

    if not stream.isatty():
        yield say
        return
    done = threading.Event()
    began = time.monotonic()

    def show() -> None:
        wait_s = QUIET_S
        while not done.wait(wait_s):
            stream.write(f"\r\x1b[K{single_line(words[0])[:60]}, {time.monotonic() - began:.0f} s")
            stream.flush()
            wait_s = 1.0

    thread = threading.Thread(target=show, daemon=True)
    thread.start()
    try:
        yield say
    finally:
        done.set()
        thread.join()
        if time.monotonic() - began > QUIET_S:
            stream.write("\r\x1b[K")
            stream.flush()


def cutting(say: Say) -> Callable[[str, float, float], None]:
    """Progress of a cutting plan: the least stock so far and its distance from the proved bound."""

    def report(label: str, goal: float, bound: float) -> None:
        above = f", at most {100.0 * (goal - bound) / goal:.1f} % above the minimum" if 0.0 < bound <= goal else ""
        say(f"cutting: {goal / 1000.0:.1f} m of stock{above}")

    return report


def progress_bar(stream: TextIO) -> Callable[[int, int, str], None] | None:
    """Show steps on one line of a terminal; nothing if the stream is a pipe or a file."""
    if not stream.isatty():
        return None

    def show(done: int, total: int, label: str) -> None:
        end = "\n" if done == total else ""
        stream.write(f"\r\x1b[K[{done:>2} of {total}] {single_line(label)[:60]}{end}")
        stream.flush()

    return show
