"""What a terminal is told while work goes on: nothing at all where the stream is a pipe or a file."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

from heatloop.text.quoting import single_line

QUIET_S = 2.0
"""Work that takes longer says on a terminal that it goes on."""

Say = Callable[[str], None]
"""Called with what is being done now; the line on the terminal shows it from then on."""


@contextmanager
def spinner(what: str, stream: TextIO | None = None) -> Iterator[Say]:
    """On a terminal, say after two seconds that the work goes on, and wipe it away at the end.

    `what` is told until the caller says something else.
    """
    stream = sys.stderr if stream is None else stream
    words = [what]

    def say(now: str) -> None:
        words[0] = now

    if not stream.isatty():
        yield say
        return
    done = threading.Event()
    began = time.monotonic()

    def tell() -> None:
        wait_s = QUIET_S
        while not done.wait(wait_s):
            stream.write(f"\r\x1b[K{single_line(words[0])[:60]}, {time.monotonic() - began:.0f} s")
            stream.flush()
            wait_s = 1.0

    teller = threading.Thread(target=tell, daemon=True)
    teller.start()
    try:
        yield say
    finally:
        done.set()
        teller.join()
        if time.monotonic() - began > QUIET_S:
            stream.write("\r\x1b[K")
            stream.flush()


def cutting(say: Say) -> Callable[[str, float, float], None]:
    """Progress of a cut list in words: the least stock so far and how far above the proved bound it is."""

    def tell(what: str, goal: float, bound: float) -> None:
        above = f", at most {100.0 * (goal - bound) / goal:.1f} % above the least" if 0.0 < bound <= goal else ""
        say(f"cutting: {goal / 1000.0:.1f} m of stock{above}")

    return tell


def progress_bar(stream: TextIO) -> Callable[[int, int, str], None] | None:
    """Steps on one line of a terminal; nothing at all where the stream is a pipe or a file."""
    if not stream.isatty():
        return None

    def show(done: int, total: int, what: str) -> None:
        end = "\n" if done == total else ""
        stream.write(f"\r\x1b[K[{done:>2} of {total}] {single_line(what)[:60]}{end}")
        stream.flush()

    return show
