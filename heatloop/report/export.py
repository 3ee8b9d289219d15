"""A design for programs: one JSON and a CSV for each table, names exactly as surveyed, full precision."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd

from heatloop.report.errors import ReportError
from heatloop.result import SCHEMA_VERSION


def write_json(path: Path, answers: Mapping[str, Any]) -> Path:
    """Write what `Design.to_dict` gives as UTF-8; a number that does not exist is null there.

    An earlier file of that name is replaced only when the new one is whole. OSError where it cannot be
    written.
    """
    text = json.dumps(answers, ensure_ascii=False, indent=1, allow_nan=False)
    return _replaced(path, text + "\n")


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


def _replaced(path: Path, text: str) -> Path:
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_text(text, encoding="utf-8", newline="\n")
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    return path
