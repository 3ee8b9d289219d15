"""The command line run in the test's own process: what it prints on both streams, and its exit status.

A process of its own takes more than a second to import everything again. It stays where the process is what is tested:
closed streams, signals, limits of the system, modules that are not installed.
"""

from __future__ import annotations

import contextlib
import io
import signal
import sys
import warnings
from collections.abc import Iterator
from dataclasses import dataclass

from heatloop.__main__ import main
from tests.helpers.patience import SURELY_S

UNSHOWN = (DeprecationWarning, PendingDeprecationWarning, ImportWarning, ResourceWarning)
"""Warnings that Python does not show by itself."""


@dataclass(frozen=True)
class Answer:
    """What a command printed and its exit status."""

    returncode: int
    stdout: str
    stderr: str


def answer(*arguments: object) -> Answer:
    """Run one command as `heatloop ARGUMENTS` does, into pipes in UTF-8; its warnings end on the standard error.

    A command that takes longer than SURELY_S is interrupted, which its exit status shows."""
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True) for _ in range(2))
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), _shown_warnings(), _in_time():
        try:
            code = main([str(argument) for argument in arguments])
        except SystemExit as end:  # of the parser of arguments
            code = end.code if isinstance(end.code, int) else 1
    out.flush()
    err.flush()
    written = [stream.buffer.getvalue().decode("utf-8") for stream in (out, err)]  # type: ignore[attr-defined]
    return Answer(code, *written)


@contextlib.contextmanager
def _shown_warnings() -> Iterator[None]:
    """Print warnings on the standard error, as a process of its own does."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.resetwarnings()
        for kind in UNSHOWN:
            warnings.simplefilter("ignore", kind)
        yield
        for one in caught:
            print(warnings.formatwarning(one.message, one.category, one.filename, one.lineno), file=sys.stderr)


@contextlib.contextmanager
def _in_time() -> Iterator[None]:
    """Interrupt the command by the alarm that it answers as Ctrl-C, where the system has alarms."""
    if not hasattr(signal, "setitimer"):
        yield
        return
    signal.setitimer(signal.ITIMER_REAL, SURELY_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
