"""The program `heatloop`: Ctrl-C answered from the first moment, then the command that is requested."""

from __future__ import annotations

import gc
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import NoReturn

INTERRUPTED = 130
STOPPED = "no file was changed"
"""What an interruption means where the error has no note of its own."""


class Interrupted(BaseException):
    """Ctrl-C. Not KeyboardInterrupt: after one that passed through a string being run, as in the making of a
    dataclass, Python ends by the signal whatever status is returned."""


AGAIN: int | None = getattr(signal, "SIGALRM", None)
AGAIN_S = 0.25
"""Some code catches every exception, that of Ctrl-C too: where the work goes on it is stopped again after this time."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status; see `heatloop.cli`."""
    pressed: list[int] = []

    def stop(number: int, frame: object) -> None:
        if not isinstance(sys.exc_info()[1], Interrupted):  # else it is on its way already, through code that cleans up
            pressed.append(number)
            if AGAIN is not None:
                signal.setitimer(signal.ITIMER_REAL, AGAIN_S)
            raise Interrupted

    with _answering(stop):
        try:
            from heatloop.cli import main as commands  # here, so that Ctrl-C is answered while it is imported

            return commands.run(arguments)
        except (Interrupted, KeyboardInterrupt) as error:
            notes = getattr(error, "__notes__", [])
        except Exception as error:
            if not pressed:  # some code makes another error of being stopped
                return commands.error_message(error)
            notes = getattr(error, "__notes__", [])
    print(f"heatloop: interrupted; {notes[-1] if notes else STOPPED}", file=sys.stderr)
    return INTERRUPTED


@contextmanager
def _answering(stop: Callable[[int, object], None]) -> Iterator[None]:
    """Ctrl-C calls `stop`, and so does the alarm that follows it, where signals can be had at all: in the main
    thread."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    numbers = [signal.SIGINT, *([] if AGAIN is None else [AGAIN])]
    before = [(number, signal.signal(number, stop)) for number in numbers]
    unraisable, sys.unraisablehook = sys.unraisablehook, _report_unraisable
    try:
        yield
    finally:
        sys.unraisablehook = unraisable
        if AGAIN is not None:
            signal.setitimer(signal.ITIMER_REAL, 0.0)
        for number, handler in before:
            signal.signal(number, handler)


def _report_unraisable(unraisable: sys.UnraisableHookArgs) -> None:
    """Report an exception that Python cannot pass on, as from a finaliser, unless it is that of Ctrl-C."""
    if unraisable.exc_type is not Interrupted:
        sys.__unraisablehook__(unraisable)


def program() -> NoReturn:
    """The whole life of the program. It is short and keeps nearly all it makes: memory is swept seldom, and not at the
    end, which saves a tenth of the time of sizing."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: its matrices here are small
    gc.set_threshold(50_000, 20, 50)
    status = main()
    gc.freeze()
    sys.exit(status)


if __name__ == "__main__":
    program()
