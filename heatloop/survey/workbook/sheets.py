"""The sheets of a survey and of a catalogue, derived from the tables that read their files.

A list of tables is a sheet, a key of its tables a column; a table inside a row is flattened with a dot
(`floor.beyond`). A list of tables inside a row has a sheet of its own, whose first columns name the row it belongs to.
Single tables such as `[project]` stand below each other on one sheet, a row for each key.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from heatloop.survey.files.catalogue_tables import CatalogueTable
from heatloop.survey.files.fields import (
    BooleanField,
    ChoiceField,
    DateField,
    FileTable,
    IntegerField,
    NumberField,
    TextField,
)
from heatloop.survey.files.key_path import ITEMS
from heatloop.survey.files.survey_tables import SurveyTable

FORM = "Job"
"""Title of the sheet of single tables."""

FORM_HEADINGS = ("Table", "Key", "Value")

NOTE = "Note"
"""Heading of the last column of a sheet, kept and not read."""

TITLES: Mapping[str, str] = {
    "room": "Rooms",
    "room.walls": "Walls",
    "room.walls.openings": "Openings",
    "room.walls.obstacles": "Obstacles",
    "room.walls.covered": "Covered",
    "room.diagonals": "Diagonals",
    "loop": "Loops",
    "loop.route": "Route",
    "trunk": "Trunks",
    "build_up": "Build-ups",
    "build_up.layers": "Layers",
    "space": "Spaces",
    "loop.emitters": "Emitters on loops",
    "loop.arm_valves": "Arm valves",
    "loop.straight_joints": "Straight joints",
    "bypass": "Bypasses",
    "system.additional_volume": "Other water",
    "document.revision": "Revisions",
    "profile": "Profiles",
    "profile.channels": "Channels",
    "profile.rating.test_points": "Test points",
    "profile.finishes": "Finishes",
    "profile.covers": "Covers",
    "joint": "Joints",
    "end": "Ends",
    "pipe": "Pipes",
    "valve": "Valves",
    "emitter": "Emitters",
    "fitting": "Fittings",
    "fixing": "Fixings",
    "consumable": "Consumables",
    "pack": "Packs",
}
"""Titles of the sheets by the keys that lead to their tables, in the order of the sheets."""

Marker = NumberField | IntegerField | TextField | ChoiceField | BooleanField | DateField


@dataclass(frozen=True)
class Column:
    """A key with a value or a list of values: its keys from the table of the row on."""

    keys: tuple[str, ...]
    field: Marker
    is_list: bool
    is_required: bool
    default: Any
    meaning: str

    @property
    def heading(self) -> str:
        """The keys joined by dots."""
        return ".".join(self.keys)

    @property
    def unit(self) -> str:
        """The unit of its numbers; empty where there is none."""
        return self.field.unit if isinstance(self.field, NumberField) else ""


@dataclass(frozen=True)
class Sheet:
    """A list of tables as rows.

    `steps`: the keys to each list on the way. `parents`: headings of the columns that state where a row belongs;
    `by_number`: those of them that are numbers from 1 and not names. With `is_numbered` the last of them is the number
    of the row. With `arms` it is the number of the arm, blank for the list itself.
    """

    title: str
    steps: tuple[tuple[str, ...], ...]
    parents: tuple[str, ...]
    columns: tuple[Column, ...]
    by_number: tuple[bool, ...]
    is_numbered: bool = False
    arms: str | None = None

    @property
    def headings(self) -> tuple[str, ...]:
        """All headings that are read."""
        return (*self.parents, *(column.heading for column in self.columns))


@dataclass(frozen=True)
class SheetSet:
    """All sheets of a kind of file."""

    kind: type[FileTable]
    what: str

    @cached_property
    def form(self) -> tuple[tuple[str, tuple[Column, ...]], ...]:
        """The single tables with their keys."""
        singles = [(key, kind) for key, kind, many in _tables(self.kind) if not many]
        return tuple((key, tuple(_columns(kind))) for key, kind in singles)

    @cached_property
    def sheets(self) -> tuple[Sheet, ...]:
        """The sheets of lists of tables, in the order of `TITLES`."""
        by_path = {".".join(key for step in sheet.steps for key in step): sheet for sheet in _sheets(self.kind, (), ())}
        return tuple(by_path[path] for path in TITLES if path in by_path)


SURVEY_SHEETS = SheetSet(SurveyTable, "survey")
CATALOGUE_SHEETS = SheetSet(CatalogueTable, "catalogue")


def _unwrapped(annotation: Any) -> tuple[Any, list[Any]]:
    """A type without its optional part, and its markers."""
    markers: list[Any] = []
    while True:
        origin = get_origin(annotation)
        if origin is Annotated:
            annotation, *more = get_args(annotation)
            markers += more
        elif origin in (Union, UnionType):
            annotation = next(part for part in get_args(annotation) if part is not type(None))
        else:
            return annotation, markers


def _keys(kind: type[FileTable]) -> Iterator[tuple[str, Any, list[Any], Any]]:
    """Each key of a table with its type, its markers and its pydantic field."""
    for name, field in kind.model_fields.items():
        annotation, markers = _unwrapped(field.annotation)
        yield str(field.validation_alias or name), annotation, [*field.metadata, *markers], field


def _is_table(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, FileTable)


def _item(annotation: Any) -> tuple[Any, list[Any]]:
    """The type of the items of a list, and its markers; (None, []) where it is not a list."""
    return _unwrapped(get_args(annotation)[0]) if get_origin(annotation) is list else (None, [])


def _tables(kind: type[FileTable]) -> Iterator[tuple[str, type[FileTable], bool]]:
    """Tables in a table: key, kind, and whether there is a list of them."""
    for key, annotation, _, _ in _keys(kind):
        item, _ = _item(annotation)
        if _is_table(annotation) or _is_table(item):
            yield key, annotation if _is_table(annotation) else item, _is_table(item)


def _columns(kind: type[FileTable], at: tuple[str, ...] = (), required: bool = True) -> Iterator[Column]:
    """Values of a table and of the tables inside it; not the lists of tables."""
    for key, annotation, markers, field in _keys(kind):
        needed = required and field.is_required()
        if _is_table(annotation):
            yield from _columns(annotation, (*at, key), needed)
            continue
        item, item_markers = _item(annotation)
        marker = next((candidate for candidate in (*item_markers, *markers) if isinstance(candidate, Marker)), None)
        if marker is not None:
            default = None if field.is_required() or field.default_factory else field.default
            yield Column((*at, key), marker, item is not None, needed, default, str(field.description))


def _lists(kind: type[FileTable], at: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], type[FileTable]]]:
    """Lists of tables in a table, including those in the tables inside it."""
    for key, table, many in _tables(kind):
        if many:
            yield (*at, key), table
        else:
            yield from _lists(table, (*at, key))


def _arms(kind: type[FileTable], table: type[FileTable]) -> str | None:
    """The key of a list of lists of these tables, in addition to the list of them."""
    for key, annotation, _, _ in _keys(kind):
        inner, _ = _item(annotation)
        if inner is not None and _item(inner)[0] is table:
            return key
    return None


def _sheets(
    kind: type[FileTable],
    steps: tuple[tuple[str, ...], ...],
    parents: tuple[str, ...],
    by_number: tuple[bool, ...] = (),
) -> Iterator[Sheet]:
    for keys, table in _lists(kind):
        path = (*steps, keys)
        label = ITEMS.get(keys[-1], keys[-1]).capitalize()
        arms = _arms(kind, table)
        is_numbered = "name" not in table.model_fields and any(True for _ in _lists(table))
        own = (label,) if is_numbered else ("Arm",) if arms else ()
        title = TITLES[".".join(key for step in path for key in step)]
        numbers = (*by_number, *(True for _ in own))
        yield Sheet(title, path, (*parents, *own), tuple(_columns(table)), numbers, is_numbered, arms)
        yield from _sheets(table, path, (*parents, label), (*by_number, "name" not in table.model_fields))
