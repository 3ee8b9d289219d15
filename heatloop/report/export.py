"""A design as files: a workbook, a CSV for each table, and one JSON.

JSON and CSV hold the names exactly as the survey gives them and full precision, for programs. The
workbook is for people: it shows text as text, whatever it starts with.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

SCHEMA_VERSION = 1


def design_dict(tables: Mapping[str, pd.DataFrame], summary: Mapping[str, object]) -> dict[str, Any]:
    """One object of plain values: `schema_version`, `summary`, and a list of rows for each table.

    A number that does not exist (no pump curve, say) is null.
    """
    rows = {name: [_plain_row(row) for row in frame.to_dict("records")] for name, frame in tables.items()}
    return {"schema_version": SCHEMA_VERSION, "summary": _plain_row(summary), **rows}


def write_json(path: Path, tables: Mapping[str, pd.DataFrame], summary: Mapping[str, object]) -> Path:
    """Write :func:`design_dict` as UTF-8; OSError where the file cannot be written."""
    text = json.dumps(design_dict(tables, summary), ensure_ascii=False, indent=1, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8")
    return path


def write_csv(folder: Path, tables: Mapping[str, pd.DataFrame]) -> tuple[Path, ...]:
    """Write `<table>.csv` for each table, UTF-8, a header row, an empty field where there is no value."""
    paths = []
    for name, frame in tables.items():
        path = folder / f"{name}.csv"
        frame.to_csv(path, index=False, encoding="utf-8", lineterminator="\n")
        paths.append(path)
    return tuple(paths)


def _plain_row(row: Mapping[Any, Any]) -> dict[str, Any]:
    return {str(key): _plain(value) for key, value in row.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return None
    return value if isinstance(value, str | int | float | bool) else str(value)
