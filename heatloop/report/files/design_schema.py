"""JSON Schema of the JSON form of a design, from the descriptions of its tables and key figures."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from heatloop.handover.commissioning.pack import CommissioningResult
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.report.columns.registry import CHECKS_MET, TABLES
from heatloop.results.design import DesignResult
from heatloop.text.column import Column, Kind, TableDescription
from heatloop.text.formatting import VERDICT_WORDS
from heatloop.text.table_set import SCHEMA_VERSION

DESIGN_SCHEMA = "design.schema.json"

TYPES: Mapping[Kind, list[str]] = {
    "text": ["string"],
    "unit": ["string"],
    "verdict": ["string"],
    "flag": ["boolean"],
    "count": ["integer", "null"],
    "number": ["number", "null"],
    "percent": ["number", "null"],
    "residual": ["number", "null"],
    "figure": ["number", "null"],
}
"""JSON types of the kinds of columns: null is a number that does not exist."""

SUMMARIES = (("parts_summary", PartsListResult), ("commissioning_summary", CommissioningResult))
"""Summaries that are beside the design's own where parts and commissioning are written too."""


ISSUED: Mapping[str, tuple[str, ...]] = {
    "verdict": ("state", "headline"),
    "control": ("identification", "revision", "status", "issued_on"),
    "hashes": ("input", "design"),
}
"""Objects of texts that the JSON of a published report has besides, by their keys."""


def _texts(keys: Sequence[str]) -> dict[str, Any]:
    """An object of texts."""
    return {
        "type": "object",
        "properties": {key: {"type": "string"} for key in keys},
        "required": list(keys),
        "additionalProperties": False,
    }


def design_schema() -> dict[str, Any]:
    """The schema (JSON Schema 2020-12) of what `Design.to_dict` gives and `heatloop report` writes as JSON.

    Tables of what is handed over, and their summaries, may be left out.
    """
    tables = {name: _table(description) for name, description in TABLES.items() if name != CHECKS_MET.name}
    summaries = {name: _object(result.summary_columns, required=False) for name, result in SUMMARIES}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "heatloop design",
        "type": "object",
        "properties": {
            "schema_version": {"const": SCHEMA_VERSION},
            "summary": _object(DesignResult.summary_columns),
            **tables,
            **summaries,
            **{name: _texts(keys) for name, keys in ISSUED.items()},
        },
        "required": ["schema_version", "summary", *DesignResult.descriptions()],
        "additionalProperties": False,
    }


def write_design_schema(folder: Path) -> Path:
    """Write the schema into an existing folder; OSError where it cannot be written."""
    path = folder / DESIGN_SCHEMA
    path.write_text(json.dumps(design_schema(), indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return path


def _table(description: TableDescription) -> dict[str, Any]:
    return {
        "title": description.title,
        "description": description.about,
        "type": "array",
        "items": _object(description.columns),
    }


def _object(columns: Iterable[Column], required: bool = True) -> dict[str, Any]:
    held = {column.name: _value(column) for column in columns}
    schema = {"type": "object", "properties": held, "additionalProperties": False}
    return {**schema, "required": list(held)} if required else schema


def _value(column: Column) -> dict[str, Any]:
    types = TYPES[column.kind]
    schema: dict[str, Any] = {"title": column.full_heading, "type": types if len(types) > 1 else types[0]}
    if column.kind == "verdict":
        schema["enum"] = [*VERDICT_WORDS, ""]
    meaning = column.explanation
    if column.kind == "percent":
        meaning = f"{meaning}; a ratio, 1 is 100 %" if meaning else "a ratio, 1 is 100 %"
        schema["title"] = column.heading
    if meaning:
        schema["description"] = meaning
    return schema
