"""A temporary folder that only this user can open, removed at the end or, after a kill, by the next run."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from heatloop.text.files import own, runs

LONGEST_SOCKET_PATH = 100
"""Bytes that a path of a socket may have on every system (Linux takes 107, macOS 103)."""


@contextmanager
def private_folder(prefix: str) -> Iterator[Path]:
    """Make a private folder whose name begins with `prefix` and the process's number; remove it afterwards.

    It is in the system's temporary folder, or in /tmp where that path is too long for sockets in it. Folders of
    processes that have ended are removed first.
    """
    base = Path(tempfile.gettempdir())
    if os.name == "posix" and len(os.fsencode(base)) + len(prefix) + 40 > LONGEST_SOCKET_PATH:
        base = Path("/tmp")
    _remove_left_behind(base, prefix)
    folder = Path(tempfile.mkdtemp(prefix=f"{prefix}{os.getpid()}-", dir=base))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _remove_left_behind(base: Path, prefix: str) -> None:
    """Remove this user's folders of that prefix whose process has ended."""
    for folder in base.glob(f"{prefix}*"):
        number = folder.name.removeprefix(prefix).partition("-")[0]
        if number.isdigit() and own(folder) and folder.is_dir() and not folder.is_symlink() and not runs(int(number)):
            shutil.rmtree(folder, ignore_errors=True)
