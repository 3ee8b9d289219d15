"""What can go wrong in making a report: the world's fault, or the notebook's own."""

from __future__ import annotations

import json
import os
import stat
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TextIO

import pandas as pd

from heatloop.text.table_set import SCHEMA_VERSION


class ReportError(Exception):
    """The report cannot be made for a reason outside the program; `str()` says why, a line for each."""


class NotebookFailed(Exception):
    """A notebook stopped on a fault of its own; `str()` is one line that says where and why."""


PAGE = "report.html"

PDF = "report.pdf"

LABELS = "labels.html"

SHEET = "commissioning.html"

WORKBOOK = "design.xlsx"

JSON = "design.json"

MANIFEST = "files.txt"

READINGS = "readings.csv"


def write_json(path: Path, answers: Mapping[str, Any]) -> Path:
    """Write what `Design.to_dict` gives as UTF-8; a number that does not exist is null there.

    An earlier file of that name is replaced only when the new one is whole. OSError where it cannot be
    written.
    """
    return _replaced(path, json_text(answers))


def json_text(answers: Mapping[str, Any]) -> str:
    """What `Design.to_dict` gives as JSON with a newline at its end."""
    return json.dumps(answers, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def read_json(path: Path) -> tuple[dict[str, Any], dict[str, pd.DataFrame]]:
    """Summary and tables of a design as :func:`write_json` wrote it.

    OSError where it cannot be read, ReportError where it holds something else.
    """
    wanted = "an object with a summary and the tables rooms, loops and checks, as heatloop writes it"
    try:
        held = json.loads(path.read_text(encoding="utf-8"))
    except ValueError as error:
        raise ReportError(f"{path}: found no JSON in UTF-8 ({error}), wanted {wanted}") from error
    if not isinstance(held, dict) or not isinstance(held.get("summary"), dict) or not _has_keys(held):
        raise ReportError(f"{path}: found something else, wanted {wanted}")
    if held.get("schema_version") != SCHEMA_VERSION:
        raise ReportError(f"{path}, schema_version: found {held.get('schema_version')}, wanted {SCHEMA_VERSION}")
    return held["summary"], {name: pd.DataFrame(rows) for name, rows in held.items() if _rows(rows)}


_KEYS = {"rooms": {"room"}, "loops": {"loop"}, "checks": {"check", "subject", "verdict"}}


def _has_keys(held: Mapping[str, Any]) -> bool:
    tables = all(_rows(held.get(name)) and all(keys <= set(row) for row in held[name]) for name, keys in _KEYS.items())
    return tables and "checks_failed" in held["summary"]


def _rows(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(row, dict) for row in value)


def write_csv(folder: Path, tables: Mapping[str, pd.DataFrame]) -> tuple[Path, ...]:
    """Write `<table>.csv` for each table, UTF-8, a header row, an empty field where there is no value.

    A CSV has no types: a name that looks like a formula is kept letter for letter, and the workbook is
    the file to open in a spreadsheet.
    """
    return tuple(write_table(folder / f"{name}.csv", frame) for name, frame in tables.items())


def write_table(path: Path, frame: pd.DataFrame) -> Path:
    """Write one table as such a CSV; an earlier file of that name is replaced only when the new one is whole."""
    return _replaced(path, frame.to_csv(index=False, lineterminator="\n"))


def check_place(path: Path) -> None:
    """ReportError, one line, where a file cannot be written: its folder is missing or shut, or it is a folder."""
    try:
        if _own_stream(path) or _is_device(path):
            return
        if path.is_dir():
            raise ReportError(f"{path}: found a folder, wanted the name of a file")
        with tempfile.TemporaryFile(dir=_beyond_links(path).parent):
            pass
    except OSError as error:
        raise ReportError(f"{path}: cannot be written ({error.strerror or error}); nothing was worked out") from error


def _replaced(path: Path, text: str) -> Path:
    """Put the text where `path` leads: a device or pipe is written to, a link stays and what it names is replaced."""
    stream = _own_stream(path)
    if stream is not None:
        stream.write(text)
        stream.flush()
    elif _is_device(path):
        with path.open("w", encoding="utf-8", newline="\n") as device:
            device.write(text)
    else:
        target = _beyond_links(path)
        part = target.with_name(f".{target.name}.part")
        try:
            part.write_text(text, encoding="utf-8", newline="\n")
            part.replace(target)
        finally:
            part.unlink(missing_ok=True)
    return path


def _own_stream(path: Path) -> TextIO | None:
    """Standard output or error of this process where `path` is another name of it, even one sent into a file."""
    for stream in (sys.__stdout__, sys.__stderr__):
        try:
            if stream is not None and os.path.samestat(os.stat(path), os.fstat(stream.fileno())):
                return stream
        except (OSError, ValueError):
            continue
    return None


def _is_device(path: Path) -> bool:
    """Whether it is there and neither a plain file nor a folder."""
    try:
        mode = os.stat(path).st_mode
    except FileNotFoundError:
        return False
    return not (stat.S_ISREG(mode) or stat.S_ISDIR(mode))


def _beyond_links(path: Path) -> Path:
    return Path(os.path.realpath(path))
