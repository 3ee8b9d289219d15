"""Errors while a report is made, and the JSON and CSV files of a design."""

from __future__ import annotations

import json
import os
import stat
import sys
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, TextIO

import pandas as pd

from heatloop.text.files import UnusableFile, file_bytes, write_whole
from heatloop.text.quoting import brief, single_line
from heatloop.text.table_set import SCHEMA_VERSION


class ReportError(Exception):
    """The report cannot be made, for a reason outside the program; `str()` has one line for each cause."""


class NotebookError(Exception):
    """A cell of a notebook raised an error; `str()` is one line with the place and the cause."""


PAGE = "report.html"

PDF = "report.pdf"

LABELS = "labels.html"

SHEET = "commissioning.html"

USER_GUIDE = "user-guide.html"

WORKBOOK = "design.xlsx"

JSON = "design.json"

MANIFEST = "files.txt"

READINGS = "readings.csv"


def write_json(path: Path, answers: Mapping[str, Any]) -> Path:
    """Write `Design.to_dict` as JSON in UTF-8; a missing number is null.

    An earlier file of that name is replaced only when the new one is whole. OSError where it cannot be
    written.
    """
    return _replaced(path, json_text(answers))


def json_text(answers: Mapping[str, Any]) -> str:
    """`Design.to_dict` as JSON with a newline at its end; numbers to seven significant digits."""
    return json.dumps(_rounded(answers), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


SIGNIFICANT_DIGITS = 7
"""Precision of written numbers: the calculation is not valid beyond it."""


def _rounded(value: Any) -> Any:
    """A value with every number in it to seven significant digits."""
    if isinstance(value, Mapping):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(item) for item in value]
    return float(f"{value:.{SIGNIFICANT_DIGITS}g}") if type(value) is float else value


def read_json(path: Path) -> tuple[dict[str, Any], dict[str, pd.DataFrame]]:
    """Summary and tables of a design as :func:`write_json` wrote it.

    OSError where it cannot be read, ReportError where it holds something else.
    """
    place = single_line(str(path))
    required = "an object with a summary and the tables rooms, loops and checks, as heatloop writes it"
    try:
        held = json.loads(file_bytes(path).decode("utf-8"), parse_int=_whole_number)
    except UnusableFile as error:
        raise ReportError(f"{place}: {error}") from error
    except RecursionError:
        raise ReportError(f"{place}: found lists nested too deeply to read; required: {required}") from None
    except ValueError as error:
        raise ReportError(
            f"{place}: found a file that is not JSON in UTF-8 ({brief(str(error), 120)}); required: {required}"
        ) from error
    if not isinstance(held, dict) or not isinstance(held.get("summary"), dict) or not _has_keys(held):
        raise ReportError(f"{place}: found other JSON; required: {required}")
    if held.get("schema_version") != SCHEMA_VERSION:
        raise ReportError(f"{place}, schema_version: found {held.get('schema_version')}; required: {SCHEMA_VERSION}")
    if not all(_is_plain(row) for name, rows in held.items() if _rows(rows) for row in (held["summary"], *rows)):
        raise ReportError(f"{place}: found lists or objects inside the rows of its tables; required: {required}")
    return held["summary"], {name: pd.DataFrame(rows) for name, rows in held.items() if _rows(rows)}


def _whole_number(digits: str) -> int | float:
    """A whole number, as a floating-point number where it has too many digits."""
    return int(digits) if len(digits) < 19 else float(digits)


def _is_plain(row: Mapping[str, Any]) -> bool:
    """Whether an object holds no list and no other object."""
    return not any(isinstance(value, list | dict) for value in row.values())


_KEYS = {"rooms": {"room"}, "loops": {"loop"}, "checks": {"check", "location", "verdict"}}


def _has_keys(held: Mapping[str, Any]) -> bool:
    tables = all(_rows(held.get(name)) and all(keys <= set(row) for row in held[name]) for name, keys in _KEYS.items())
    return tables and "checks_failed" in held["summary"]


def _rows(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(row, dict) for row in value)


def write_csv(folder: Path, tables: Mapping[str, pd.DataFrame]) -> tuple[Path, ...]:
    """Write `<table>.csv` for each table, UTF-8, a header row, an empty field where there is no value.

    A CSV has no types: a name that looks like a formula is stored unchanged. For spreadsheets use
    the workbook.
    """
    return tuple(write_table(folder / f"{name}.csv", frame) for name, frame in tables.items())


def write_table(path: Path, frame: pd.DataFrame) -> Path:
    """Write one table as such a CSV; an earlier file of that name is replaced only when the new one is whole."""
    return _replaced(path, frame.to_csv(index=False, lineterminator="\n", float_format=f"%.{SIGNIFICANT_DIGITS}g"))


def require_writable(path: Path, header: Sequence[str] = (), inputs: Iterable[Path] = ()) -> None:
    """Raise ReportError if a file cannot be written, or would replace one that heatloop did not write.

    An earlier result may be replaced: JSON as :func:`write_json` writes it or, where `header` is given, CSV that
    begins with those columns; so may an empty file. One of the `inputs` never is.
    """
    place = single_line(str(path))
    try:
        if _own_stream(path) or _is_device(path):
            return
        if path.is_dir():
            raise ReportError(f"{place}: found a folder; required: the name of a file")
        target = _beyond_links(path)
        if target.exists():
            if any(input_file.exists() and input_file.samefile(target) for input_file in inputs):
                raise ReportError(f"{place}: found a file that is read; required: another name for the one to write")
            if not (_is_table(target, header) if header else _is_answer(target)):
                raise ReportError(
                    f"{place}: found a file that heatloop did not write; required: a new name or an earlier result; "
                    "nothing is overwritten"
                )
        with tempfile.TemporaryFile(dir=target.parent):
            pass
    except OSError as error:
        raise ReportError(
            f"{place}: cannot write the file ({error.strerror or error}); no calculation was started"
        ) from error


def _is_answer(path: Path) -> bool:
    """Whether a file is empty, or JSON as :func:`write_json` writes it."""
    try:
        text = file_bytes(path).decode("utf-8")
        held = json.loads(text) if text else {"schema_version": SCHEMA_VERSION, "summary": {}}
    except (ValueError, RecursionError):
        return False
    return isinstance(held, dict) and "schema_version" in held and isinstance(held.get("summary"), dict)


def _is_table(path: Path, header: Sequence[str]) -> bool:
    """Whether a file is empty, or a CSV that begins with those columns as :func:`write_table` writes them."""
    first = (",".join(header) + "\n").encode()
    with path.open("rb") as file:
        return file.read(len(first)) in (b"", first)


def _replaced(path: Path, text: str) -> Path:
    """Write the text to `path`: a device or pipe receives it; a link is kept and its target is replaced."""
    stream = _own_stream(path)
    if stream is not None:
        stream.write(text)
        stream.flush()
    elif _is_device(path):
        with path.open("w", encoding="utf-8", newline="\n") as device:
            device.write(text)
    else:
        write_whole(_beyond_links(path), text)
    return path


def _own_stream(path: Path) -> TextIO | None:
    """Standard output or error of this process if `path` is another name of it, even when redirected to a file."""
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
