"""Files that a command writes repeatedly under one name; each has a marker of the writer.

A file without the marker is never replaced.
"""

from __future__ import annotations

import mmap
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path

from heatloop.report.files.export import ReportError
from heatloop.text.files import write_whole
from heatloop.text.quoting import single_line


def require_own(folder: Path, names: Iterable[str], marker: str, writer: str = "") -> None:
    """Raise ReportError where a folder cannot be written to, or one of these files is there without the marker.

    The folder is made where it does not exist. `writer` is named in the message, the marker where not given.
    """
    place = single_line(str(folder))
    if folder.exists() and not folder.is_dir():
        raise ReportError(f"{place}: found a file; required: a folder")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise ReportError(f"{place}: cannot write the files ({error.strerror or error})") from error
    foreign = [name for name in names if not _is_own(folder / name, marker)]
    if foreign:
        required = "another folder or a new name; nothing is overwritten"
        raise ReportError(
            f"{place}: found {', '.join(foreign)}, which {writer or marker} did not write; required: {required}"
        )


def _is_own(path: Path, marker: str) -> bool:
    """Whether there is nothing, or a plain file that holds the marker."""
    try:
        if path.is_symlink() or (path.exists() and not path.is_file()):
            return False
        with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as content:
            return content.find(marker.encode()) >= 0
    except FileNotFoundError:
        return True
    except (OSError, ValueError):  # a file without content cannot be mapped, and holds no marker
        return False


def write_own(folder: Path, contents: Mapping[str, str | bytes], marker: str, writer: str = "") -> tuple[Path, ...]:
    """Write files that hold the marker, each whole or not at all. ReportError as :func:`require_own`, or where one
    cannot be written."""
    require_own(folder, contents, marker, writer)
    written = []
    for name, content in contents.items():
        try:
            write_whole(folder / name, content)
        except OSError as error:
            place = single_line(str(folder / name))
            raise ReportError(f"{place}: cannot write the file ({error.strerror or error})") from error
        written.append(folder / name)
    return tuple(written)
