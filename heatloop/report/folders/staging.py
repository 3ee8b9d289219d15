"""Write the files of a report into a temporary folder, then move them into the target folder together or not at all.

A process can be stopped at any moment. Until the journal of the temporary folder is written, nothing in the target has
changed, and the next run removes the temporary folder. After that, the next run into the same folder completes the
change.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import signal
import threading
from collections.abc import Container, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from heatloop.report.files.export import ReportError
from heatloop.report.folders.manifest import file_hash, of_earlier_report
from heatloop.text.files import own, runs, write_whole
from heatloop.text.quoting import single_line

STAGE = re.compile(r"\.heatloop-(\d+)-[a-z0-9_]{8}")
"""Name of a temporary folder, with the number of the process that made it."""
JOURNAL, KEPT = ".journal", ".kept"


@contextmanager
def atomic_write(target: Path, known: Container[str] = ()) -> Iterator[Path]:
    """A temporary folder whose files are moved into `target` only when the block ends without error.

    `known`: the names that reports use. Files of an earlier report with these names are removed if they are unchanged
    and this report has no such file. Incomplete changes of stopped runs are completed or removed first. Disk errors are
    raised as ReportError; after any error `target` is unchanged.
    """
    with disk_faults(target):
        tidy(target)
        made_target = not target.exists()
        parent = target.parent if made_target else target
        parent.mkdir(parents=True, exist_ok=True)
        stage = parent / f".heatloop-{os.getpid()}-{secrets.token_hex(4)}"  # known before it is there to be removed
        try:
            stage.mkdir(mode=0o700)
            yield stage
            with _uninterrupted():
                if made_target:
                    stage.chmod(0o777 & ~_umask())
                    stage.rename(target)
                else:
                    _replace_together(stage, target, known)
        finally:
            shutil.rmtree(stage, ignore_errors=True)


@contextmanager
def disk_faults(target: Path) -> Iterator[None]:
    """Raise an OSError as a ReportError that states the folder of the report."""
    try:
        yield
    except OSError as error:
        where, reason = single_line(str(error.filename or target)), error.strerror or error
        message = f"{single_line(str(target))}: cannot write the report ({reason}: {where}); nothing changed"
        raise ReportError(message) from error


def tidy(target: Path) -> None:
    """Complete the interrupted change of `target` by a stopped run; remove temporary folders of stopped runs.

    Raises ReportError where a file that belongs to no report is in the way, OSError for a disk error.
    """
    for folder in (target, target.parent):
        if not folder.is_dir():
            continue
        for entry in sorted(os.scandir(folder), key=lambda entry: entry.name):
            match = STAGE.fullmatch(entry.name)
            stage = Path(entry.path)
            if not match or not entry.is_dir(follow_symlinks=False) or not own(stage) or runs(int(match[1])):
                continue
            if folder == target:
                _finish(stage, target)
            shutil.rmtree(stage, ignore_errors=True)


def _replace_together(stage: Path, target: Path, known: Container[str]) -> None:
    """Move every file of `stage` into `target` and remove the other files of an earlier report.

    If a file cannot be moved, the earlier files are restored.
    """
    new = files_below(stage)
    for folder in sorted({str(Path(name).parent) for name in new}):
        _make_folder(target / folder)
        (stage / KEPT / folder).mkdir(parents=True, exist_ok=True)
    earlier = of_earlier_report(target, known)
    stale = sorted(name for name in earlier if name not in new)
    hashes = {name: file_hash(target / name) for name in new}
    kept = stage / KEPT
    for name in stale:
        (kept / name).parent.mkdir(parents=True, exist_ok=True)
    write_whole(stage / JOURNAL, json.dumps({"new": hashes, "stale": {name: earlier[name] for name in stale}}))
    done: list[str] = []
    try:
        for name in stale:
            (target / name).rename(kept / name)
            done.append(name)
        for name in new:
            if os.path.lexists(target / name):
                if (target / name).is_dir() and not (target / name).is_symlink():
                    raise IsADirectoryError(0, "a folder of that name is there", str(target / name))
                (target / name).rename(kept / name)
            done.append(name)
            (stage / name).rename(target / name)
    except OSError:
        for name in done:
            if name in new and not os.path.lexists(stage / name):
                (target / name).rename(stage / name)
            if os.path.lexists(kept / name):
                (kept / name).rename(target / name)
        (stage / JOURNAL).unlink()
        _drop_empty(target, [*new, *stale])
        raise
    _drop_empty(target, stale)


def files_below(stage: Path) -> list[str]:
    """Files of a folder and its subfolders, by name with "/" between, without those of a temporary folder itself."""
    paths = (path.relative_to(stage) for path in stage.rglob("*") if path.is_file())
    return sorted(path.as_posix() for path in paths if not path.parts[0].startswith("."))


def _make_folder(folder: Path) -> None:
    """Create a folder of the report; OSError where a link or a file has its name."""
    if folder.is_symlink() or (os.path.lexists(folder) and not folder.is_dir()):
        raise NotADirectoryError(0, "a file or a link of that name is there", str(folder))
    folder.mkdir(exist_ok=True)


def _drop_empty(target: Path, names: list[str]) -> None:
    """Remove the folders of these files that are empty."""
    for folder in {target / Path(name).parent for name in names} - {target}:
        with suppress(OSError):
            folder.rmdir()


def _finish(stage: Path, target: Path) -> None:
    """Move into `target` the files that the journal lists and that are still in the stage; remove the listed old files.

    Does nothing without a journal. Steps already done are skipped, so this function can itself be interrupted.
    """
    journal = _journal(stage)
    if journal is None:
        return
    for name, before in journal["new"].items():
        waiting = (stage / name).is_file()
        if waiting and os.path.lexists(target / name) and (before is None or file_hash(target / name) != before):
            raise ReportError(
                f"{single_line(str(target))}: found {single_line(name)}, which was put there while a report was being "
                "written; required: the file in another place, so that the report can be completed"
            )
    for name, before in journal["stale"].items():
        if file_hash(target / name) == before:
            (target / name).unlink()
    for name in journal["new"]:
        if (stage / name).is_file():
            _make_folder((target / name).parent)
            (stage / name).replace(target / name)
    _drop_empty(target, list(journal["stale"]))


def _journal(stage: Path) -> dict[str, dict[str, Any]] | None:
    """The journal of a stage; None where there is none, it is incomplete, or it states a file outside the folder."""
    try:
        journal = json.loads((stage / JOURNAL).read_text(encoding="utf-8"))
        names = [*journal["new"], *journal["stale"]]
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return None
    return journal if all(map(_stays_inside, names)) else None


def _stays_inside(name: str) -> bool:
    """Whether a name is that of a file in a folder or a direct subfolder, and refers to nothing outside it."""
    parts = Path(name).parts
    return len(parts) in (1, 2) and ".." not in parts and not Path(name).is_absolute() and "/".join(parts) == name


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Ignore stop signals while files are moved, so that all of them are moved."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    numbers = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGALRM") if hasattr(signal, name)]
    before = [(number, signal.signal(number, signal.SIG_IGN)) for number in numbers]
    try:
        yield
    finally:
        for number, handler in before:
            signal.signal(number, handler)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
