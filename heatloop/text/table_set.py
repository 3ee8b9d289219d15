"""Tables of a result as plain records."""

from __future__ import annotations

from typing import Any

import pandas as pd

SCHEMA_VERSION = 1


def table_records(frames: dict[str, pd.DataFrame], facts: dict[str, Any]) -> dict[str, Any]:
    """The summary as an object and every table as a list of row objects, nothing for what is missing."""
    summary = {key: None if _missing(value) else value for key, value in facts.items()}
    return {"summary": summary, **{name: _rows(frame) for name, frame in frames.items()}}


def _rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    records = frame.astype(object).where(frame.notna(), None).to_dict(orient="records")
    return [{str(key): _plain(value) for key, value in record.items()} for record in records]


def _plain(value: Any) -> Any:
    return value.item() if hasattr(value, "item") else value


def _missing(value: Any) -> bool:
    return isinstance(value, float) and value != value
