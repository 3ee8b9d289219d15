"""The program `heatloop`: Ctrl-C answered from the first moment, then the command that is asked for."""

from __future__ import annotations

import gc
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import NoReturn

INTERRUPTED = 130
STOPPED = "heatloop: interrupted; no file was changed"


class Stopped(BaseException):
    """Ctrl-C. Not KeyboardInterrupt: after one that passed through a string being run, as in the making of a
    dataclass, Python ends by the signal whatever status is returned."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status; see `heatloop.cli`."""
    pressed: list[int] = []

    def stop(number: int, frame: object) -> NoReturn:
        pressed.append(number)
        raise Stopped

    with _answering(stop):
        try:
            from heatloop.cli import main as commands  # here, so that Ctrl-C is answered while it is imported

            return commands.run(arguments)
        except (Stopped, KeyboardInterrupt):
            pass
        except Exception as error:
            if not pressed:  # some code makes another error of being stopped
                return commands.error_message(error)
    print(STOPPED, file=sys.stderr)
    return INTERRUPTED


@contextmanager
def _answering(stop: Callable[[int, object], NoReturn]) -> Iterator[None]:
    """Ctrl-C calls `stop`, where signals can be had at all: in the main thread."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def program() -> NoReturn:
    """The whole life of the program. It is short and keeps nearly all it makes: memory is swept seldom, and not at the
    end, which saves a tenth of the time of sizing."""
    gc.set_threshold(50_000, 20, 50)
    status = main()
    gc.freeze()
    sys.exit(status)


if __name__ == "__main__":
    program()
