"""The folder of a study: its manifest, one Parquet file for each table of a task, and what a stopped run left.

A task is done when all its files stand. They are written under temporary names and moved in place, the dwellings last.
"""

from __future__ import annotations

import json
import os
import re
import uuid
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from heatloop.report.files.export import ReportError
from heatloop.results.many_dwellings.sized_dwellings import DTYPES
from heatloop.results.many_dwellings.study_result import STORED, typed
from heatloop.text.column import Kind, TableDescription
from heatloop.text.files import UnusableFile, file_bytes, write_whole
from heatloop.text.quoting import single_line

if TYPE_CHECKING:
    import pyarrow as pa

MANIFEST, LOCK = "study.json", "study.lock"
PART = re.compile(r"part-(\d{6})\.parquet")
LEFT = re.compile(r"part-\d{6}\.parquet\.[0-9a-f]{32}\.writing")
"""Name of a file that a task is writing."""

FORMAT = 1
"""Number of the arrangement of the folder; a folder of another number is not read."""


@dataclass(frozen=True)
class Manifest:
    """What a study is: version of heatloop, hashes of its cases and of their files, sizes of lots and tasks."""

    version: str
    cases: int
    cases_hash: str
    files_hash: str
    lot_size: int
    task_size: int

    @property
    def tasks(self) -> int:
        """Number of tasks."""
        return -(-self.cases // self.task_size)

    def text(self) -> str:
        """The manifest as the text of its file."""
        return json.dumps({"heatloop study": FORMAT, **vars(self)}, indent=1) + "\n"


def read_manifest(folder: Path) -> Manifest | None:
    """The manifest of a folder; None where it has none. ReportError where it cannot be read as one."""
    try:
        held: dict[str, Any] = json.loads(file_bytes(folder / MANIFEST).decode("utf-8"))
        number = held.pop("heatloop study")
        manifest = Manifest(**held) if number == FORMAT else None
    except FileNotFoundError:
        return None
    except (OSError, ValueError, LookupError, TypeError, AttributeError, UnusableFile):
        manifest = None
    if manifest is None or type(manifest.cases) is not int or type(manifest.task_size) is not int:
        raise ReportError(f"{_shown(folder / MANIFEST)}: found no manifest of a study; required: another folder")
    return manifest


@contextmanager
def opened(folder: Path, manifest: Manifest) -> Iterator[list[int]]:
    """The folder prepared for this study and locked against other runs: the numbers of the tasks that are not done.

    Files that stopped runs were writing are removed. ReportError where the folder holds another study or other files,
    or another run is using it.
    """
    held = read_manifest(folder) if folder.is_dir() else None
    if held is None:
        _require_empty(folder)
    elif held != manifest:
        raise ReportError(f"{_shown(folder)}: found {_difference(held, manifest)}; required: another folder")
    folder.mkdir(parents=True, exist_ok=True)
    with _locked(folder):
        if held is None:
            write_whole(folder / MANIFEST, manifest.text())
        for description in STORED:
            (folder / description.name).mkdir(exist_ok=True)
            for entry in list(os.scandir(folder / description.name)):
                if LEFT.fullmatch(entry.name) and entry.is_file(follow_symlinks=False):
                    Path(entry.path).unlink(missing_ok=True)
        done = done_tasks(folder)
        yield [number for number in range(manifest.tasks) if number not in done]


def done_tasks(folder: Path) -> set[int]:
    """Numbers of the tasks of which the files of all tables stand."""
    numbers: list[set[int]] = []
    for description in STORED:
        try:
            names = os.listdir(folder / description.name)
        except FileNotFoundError:
            names = []
        numbers.append({int(match[1]) for name in names if (match := PART.fullmatch(name))})
    return set.intersection(*numbers)


def part_name(number: int) -> str:
    """Name of the file of a task."""
    return f"part-{number:06d}.parquet"


def write_task(folder: Path, number: int, frames: Mapping[str, pd.DataFrame]) -> None:
    """Write the files of a task, each whole or not at all, the dwellings last."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    for description in reversed(STORED):
        target = folder / description.name / part_name(number)
        part = target.with_name(f"{target.name}.{uuid.uuid4().hex}.writing")
        frame = typed(description, frames[description.name])
        table = pa.Table.from_pandas(frame, schema=_schema(description), preserve_index=False)
        try:
            with part.open("wb") as file:
                pq.write_table(table, file)
                file.flush()
                os.fsync(file.fileno())
            part.replace(target)
        finally:
            part.unlink(missing_ok=True)


def read_table(folder: Path, tasks: Sequence[int], name: str) -> pd.DataFrame:
    """The rows of a stored table of these tasks, in the order of the cases."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    description = next(one for one in STORED if one.name == name)
    paths = [folder / name / part_name(number) for number in sorted(tasks)]
    try:
        parts = [pq.read_table(path, partitioning=None) for path in paths]
    except (pa.ArrowException, OSError) as error:
        reason = " ".join(str(error).split())
        raise ReportError(f"{_shown(folder / name)}: cannot read the results of the study ({reason})") from None
    if not parts:
        return typed(description, pd.DataFrame(columns=description.names))
    return typed(description, pa.concat_tables(parts).to_pandas())


def _schema(description: TableDescription) -> pa.Schema:
    import pyarrow as pa

    kinds: Mapping[str, pa.DataType] = {
        "float64": pa.float64(), "Int64": pa.int64(), "bool": pa.bool_(), "object": pa.string()
    }  # fmt: skip

    def of(kind: Kind) -> pa.DataType:
        return kinds[DTYPES[kind]]

    return pa.schema([(column.name, of(column.kind)) for column in description.columns])


def _require_empty(folder: Path) -> None:
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise ReportError(f"{_shown(folder)}: found a file or a link; required: a folder")
    if folder.is_dir():
        others = sorted(name for name in os.listdir(folder) if name != LOCK and not name.startswith(".heatloop-"))
        if others:
            raise ReportError(f"{_shown(folder)}: found {single_line(others[0])}, which is of no study; required: an "
                              "empty folder, a new one, or that of the same study")  # fmt: skip


def _difference(held: Manifest, new: Manifest) -> str:
    """How the study in a folder differs from the new one."""
    if held.version != new.version:
        return f"a study by version {single_line(str(held.version))} of heatloop"
    if (held.cases, held.cases_hash) != (new.cases, new.cases_hash):
        return "a study of other cases"
    if held.files_hash != new.files_hash:
        return "a study of the same cases before their surveys or catalogues were changed"
    return f"a study in tasks of {held.task_size} cases"


@contextmanager
def _locked(folder: Path) -> Iterator[None]:
    """Lock the folder, where the system has locks; the lock ends with the process. ReportError where it is locked."""
    try:
        import fcntl
    except ImportError:
        yield
        return
    with (folder / LOCK).open("w") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise ReportError(f"{_shown(folder)}: found in use by another run; required: wait until it ends") from None
        except OSError:  # a file system without locks
            yield
            return
        try:
            yield
        finally:
            with suppress(OSError):
                fcntl.flock(file, fcntl.LOCK_UN)


def _shown(path: Path) -> str:
    return single_line(str(path))
