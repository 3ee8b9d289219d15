"""Read files within limits; write files completely or not at all.

Reading never waits without limit: a plain file is read up to a size, a pipe from the shell while data arrive;
any other pipe, a device, a socket and an endless file are refused at once.
"""

from __future__ import annotations

import os
import re
import select
import stat
import tempfile
from pathlib import Path

MAX_BYTES = 20_000_000
"""Maximum size of a text file."""

WAIT_S = 10.0
"""Time without data after which a pipe is given up."""

HANDED_OVER = re.compile(r"/dev/stdin|/(dev|proc/self|proc/\d+)/fd/[^/]+")

PART = re.compile(r"\.heatloop-(\d+)-[a-z0-9_]+\.part")
"""Name of a file that is being written, with the number of the process that writes it."""

CHUNK = 1 << 16


class UnusableFile(ValueError):
    """A file that is not read: `found` and `required` state the reason in a few words each."""

    def __init__(self, found: str, required: str) -> None:
        super().__init__(f"found {found}; required: {required}")
        self.found, self.required = found, required


def file_bytes(path: Path, max_bytes: int = MAX_BYTES) -> bytes:
    """All bytes of a file of at most `max_bytes`.

    Raises UnusableFile for a device, a pipe that is not from a shell, a pipe without data and a file that is larger,
    OSError (IsADirectoryError for a folder) or ValueError where it cannot be opened.
    """
    handle = _opened(path)
    try:
        kind = stat.S_IFMT(os.fstat(handle).st_mode)
        size = max_bytes + 1
        chunks: list[bytes] = []
        while size > 0:
            if kind == stat.S_IFIFO and not select.select([handle], [], [], WAIT_S)[0]:
                raise UnusableFile(f"a pipe that stayed silent for {WAIT_S:g} s", "a file that can be read to its end")
            chunk = os.read(handle, min(size, CHUNK))
            if not chunk:
                return b"".join(chunks)
            chunks.append(chunk)
            size -= len(chunk)
    finally:
        os.close(handle)
    raise _too_large(max_bytes)


def check_readable(path: Path, max_bytes: int) -> None:
    """Raise what :func:`file_bytes` raises where `path` is no plain file of at most `max_bytes`."""
    handle = _opened(path)
    try:
        state = os.fstat(handle)
    finally:
        os.close(handle)
    if not stat.S_ISREG(state.st_mode):
        raise UnusableFile("a pipe", "the path of a plain file")
    if state.st_size > max_bytes:
        raise _too_large(max_bytes)


def _opened(path: Path) -> int:
    """A handle of a plain file, or of a pipe that a shell handed over; never waits for a writer."""
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    try:
        mode = os.fstat(handle).st_mode
        if stat.S_ISDIR(mode):
            raise IsADirectoryError(f"{path} is a folder")
        piped = stat.S_ISFIFO(mode) and HANDED_OVER.fullmatch(str(path)) is not None
        if not stat.S_ISREG(mode) and not piped:
            raise UnusableFile("a device, a pipe or a socket", "the path of a plain file")
    except BaseException:
        os.close(handle)
        raise
    return handle


def _too_large(max_bytes: int) -> UnusableFile:
    return UnusableFile(f"a file of more than {max_bytes // 1_000_000} MB", "a file of ordinary size")


def write_whole(path: Path, content: str | bytes, over: bool = True) -> None:
    """Write bytes, or a text as UTF-8, completely or not at all, even if the process is stopped.

    The file is written under a temporary name in the folder of `path`, and renamed. Temporary files of stopped
    processes are removed first. A link at `path` is replaced, never followed; permissions of the replaced file are
    kept. `over`: False for FileExistsError where something is at `path` already. OSError where it cannot be written.
    """
    _remove_left_parts(path.parent)
    handle, name = tempfile.mkstemp(prefix=f".heatloop-{os.getpid()}-", suffix=".part", dir=path.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content if isinstance(content, bytes) else content.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        part.chmod(_permissions(path))
        if over:
            part.replace(path)
        else:
            with path.open("x"):
                pass
            part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def _permissions(path: Path) -> int:
    try:
        state = path.lstat()
    except FileNotFoundError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask
    return stat.S_IMODE(state.st_mode) if stat.S_ISREG(state.st_mode) else 0o600


def _remove_left_parts(folder: Path) -> None:
    """Remove temporary files of stopped processes from a folder; only plain files of this user."""
    for entry in list(os.scandir(folder)):
        match = PART.fullmatch(entry.name)
        if match and entry.is_file(follow_symlinks=False) and own(Path(entry.path)) and not runs(int(match[1])):
            Path(entry.path).unlink(missing_ok=True)


def own(path: Path) -> bool:
    """Whether a file or folder, a link itself, belongs to this user; True where files have no owners."""
    try:
        return os.name != "posix" or path.lstat().st_uid == os.getuid()
    except OSError:
        return False


def runs(process: int) -> bool:
    """Whether a process of that number is running; True where this cannot be determined."""
    if os.name != "posix":
        return True
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True
