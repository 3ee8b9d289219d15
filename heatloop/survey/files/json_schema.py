"""JSON Schema of survey, catalogue and year files, from the tables that read them.

An editor with JSON Schema completes keys and marks errors while a survey is typed. The schema contains keys with
meanings, types, ranges, choices and defaults. Relations between values (walls that close, names that exist) are
checked only when the file is read.

`python -m heatloop.survey.files.json_schema FOLDER` writes the schemas.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from heatloop.survey.files.catalogue_tables import CatalogueTable
from heatloop.survey.files.fields import (
    BooleanField,
    ChoiceField,
    DateField,
    FileTable,
    IntegerField,
    ListField,
    NumberField,
    TextField,
)
from heatloop.survey.files.survey_tables import SurveyTable
from heatloop.survey.files.year_tables import YearTable

Marker = NumberField | IntegerField | TextField | ChoiceField | BooleanField | DateField | ListField

REQUIREMENT = "requirement"
"""Keyword of the requirement of a key, beside its meaning, while a schema is made."""

MANY = 10_000
"""Maximum length of a list for which the table states none; not shown."""


def survey_schema() -> dict[str, Any]:
    """The schema of a survey file (JSON Schema 2020-12).

    In a room that is a `copy_of` another, only the name is required.
    """
    return _described_keys(_survey())


def catalogue_schema() -> dict[str, Any]:
    """The schema of a catalogue file (JSON Schema 2020-12)."""
    return _described_keys(_schema(CatalogueTable))


def year_schema() -> dict[str, Any]:
    """The schema of a year file (JSON Schema 2020-12)."""
    return _described_keys(_schema(YearTable))


def key_tables() -> dict[str, dict[str, Any]]:
    """Every table of survey, catalogue and year file by name, for documentation pages.

    Each key has `description` (its meaning) and `requirement` (its permitted values) separately; the rest is as in the
    schemas.
    """
    year = _schema(YearTable)
    return {**_schema(CatalogueTable)["$defs"], **_survey()["$defs"], **year["$defs"], "YearTable": year}


SCHEMAS: dict[str, Callable[[], dict[str, Any]]] = {
    "survey.schema.json": survey_schema,
    "catalogue.schema.json": catalogue_schema,
    "year.schema.json": year_schema,
}


def write_schemas(folder: Path) -> None:
    """Write every schema of `SCHEMAS` under its name into an existing folder."""
    for name, schema in SCHEMAS.items():
        text = json.dumps(schema(), indent=1, ensure_ascii=False)
        (folder / name).write_text(text + "\n", encoding="utf-8")


def _survey() -> dict[str, Any]:
    schema = _schema(SurveyTable)
    room = schema["$defs"]["RoomTable"]
    needed = [key for key in room["required"] if key != "name"]
    room["required"] = ["name"]
    room["anyOf"] = [{"required": needed}, {"required": ["copy_of"]}]
    return schema


def _described_keys(schema: dict[str, Any]) -> dict[str, Any]:
    """The same schema with meaning and requirement in one description, for display in an editor."""
    words = [schema[key] for key in ("description", REQUIREMENT) if isinstance(schema.get(key), str)]
    described = {
        key: _within(child) for key, child in schema.items() if key != REQUIREMENT or not isinstance(child, str)
    }
    return {**described, "description": ": ".join(words)} if words else described


def _within(node: Any) -> Any:
    if isinstance(node, list):
        return [_within(child) for child in node]
    return _described_keys(node) if isinstance(node, dict) else node


def _schema(table: type[FileTable]) -> dict[str, Any]:
    schema = table.model_json_schema(by_alias=True, mode="validation", schema_generator=_Generator)
    schema["$defs"] = dict(sorted(schema["$defs"].items()))
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


class _Generator(GenerateJsonSchema):
    """The generator of pydantic, with the words and ranges of the field types; keys keep their order."""

    def function_wrap_schema(self, schema: core_schema.WrapValidatorFunctionSchema) -> JsonSchemaValue:
        inner = super().function_wrap_schema(schema)
        marker = getattr(schema["function"]["function"], "__self__", None)
        if not isinstance(marker, Marker):
            return inner
        return {**inner, **_limits(marker), REQUIREMENT: marker.requirement(None)}

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        if schema.get("default", None) is None:
            return self.generate_inner(schema["schema"])
        return super().default_schema(schema)

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False

    def sort(self, value: JsonSchemaValue, parent_key: str | None = None) -> JsonSchemaValue:
        return value


def _limits(marker: Marker) -> dict[str, Any]:
    """The range of a marker as keywords of JSON Schema."""
    match marker:
        case NumberField():
            limits = {
                "exclusiveMinimum": marker.above,
                "minimum": marker.minimum,
                "maximum": marker.maximum,
                "exclusiveMaximum": marker.below,
            }
            return {keyword: limit for keyword, limit in limits.items() if limit is not None}
        case IntegerField():
            lengths = {"minimum": marker.minimum, "maximum": marker.maximum}
            return {keyword: limit for keyword, limit in lengths.items() if limit < MANY}
        case TextField():
            return {"maxLength": marker.maximum, **({} if marker.empty else {"pattern": r"\S"})}
        case ListField():
            lengths = {"minItems": marker.minimum, "maxItems": marker.maximum}
            return {keyword: limit for keyword, limit in lengths.items() if 0 < limit < MANY}
        case _:
            return {}


if __name__ == "__main__":
    write_schemas(Path(sys.argv[1]))
