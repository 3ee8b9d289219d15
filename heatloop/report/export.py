"""A design for programs: one JSON and a CSV for each table, names exactly as surveyed, full precision."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd


def write_json(path: Path, answers: Mapping[str, Any]) -> Path:
    """Write what `Design.to_dict` gives as UTF-8; a number that does not exist is null there.

    An earlier file of that name is replaced only when the new one is whole. OSError where it cannot be
    written.
    """
    text = json.dumps(answers, ensure_ascii=False, indent=1, allow_nan=False)
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_text(text + "\n", encoding="utf-8")
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    return path


def write_csv(folder: Path, tables: Mapping[str, pd.DataFrame]) -> tuple[Path, ...]:
    """Write `<table>.csv` for each table, UTF-8, a header row, an empty field where there is no value.

    A CSV has no types: a name that looks like a formula is kept letter for letter, and the workbook is
    the file to open in a spreadsheet.
    """
    paths = []
    for name, frame in tables.items():
        path = folder / f"{name}.csv"
        frame.to_csv(path, index=False, encoding="utf-8", lineterminator="\n")
        paths.append(path)
    return tuple(paths)
