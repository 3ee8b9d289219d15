"""The tables of a survey file from the frozen values: the reverse of :mod:`heatloop.survey.read`.

Keys are those of the tables that read the file; values equal to the default are left out. Nothing is checked here: a
value of the wrong type is passed on unchanged, so that the reader reports it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, Field, fields
from functools import cache
from typing import Any

import numpy as np

from heatloop.survey.building import Room
from heatloop.survey.files.fields import FileTable, table_at
from heatloop.survey.files.survey_tables import ProjectTable, RoomTable, SurveyTable
from heatloop.survey.loops import Loop, RouteEstimate, Tails
from heatloop.survey.survey import Project, SurveyData

PARTS: Mapping[str, str] = {
    "project": "project", "building": "building", "build_up": "build_ups", "space": "spaces", "room": "rooms",
    "source": "source", "trunk": "trunks", "loop": "loops", "bypass": "bypasses", "system": "system",
    "first_fix": "first_fix", "document": "document", "quotation": "quotation",
}  # fmt: skip
"""Keys of a survey file with the attribute of a survey that holds them."""

LIST_KEYS: Mapping[str, str] = {"revisions": "revision"}
"""Attributes that hold several tables, with the key of a file, which names one."""


PLAIN = frozenset((str, float, int, bool, type(None)))
"""Types of the values of a file, which need no conversion."""


def survey_to_tables(survey: SurveyData) -> dict[str, Any]:
    """Tables of a file that reads as this survey; the catalogue is given only by its path.

    A room that is a copy of another is written with all its keys. It is no longer a copy if it lacks a key of the other
    room.
    """
    tables = {key: _part(key, getattr(survey, name)) for key, name in PARTS.items()}
    lists = SurveyTable.list_names()
    blank: dict[str, Any] = {
        key: [] if key in lists else {} for key, required in SurveyTable.key_names().items() if not required
    }
    return {key: table for key, table in tables.items() if key not in blank or table != blank[key]}


def _part(key: str, held: Any) -> Any:
    """One part of a survey."""
    if key == "room" and isinstance(held, tuple | list):
        return [_room(room, held) for room in held]
    if key == "loop" and isinstance(held, tuple | list):
        return [_loop(loop) for loop in held]
    return _plain(held, table_at(SurveyTable, (key,)))


def room_to_table(room: Room) -> dict[str, Any]:
    """The table of one room, without values equal to the default."""
    table: dict[str, Any] = _plain(room, RoomTable)
    return table


def project_to_table(project: Project) -> dict[str, Any]:
    """The table of the project, without values equal to the default."""
    table: dict[str, Any] = _plain(project, ProjectTable)
    return table


def plain_values(value: Any) -> Any:
    """Tuples and numpy numbers in mappings and lists, converted to the values of a file."""
    if isinstance(value, Mapping):
        return {key: plain_values(item) for key, item in value.items()}
    return [plain_values(item) for item in value] if isinstance(value, tuple | list) else _plain(value, None)


def _plain(value: Any, kind: type[FileTable] | None) -> Any:
    """A value converted for a file: a frozen value to a table, a tuple to a list, a numpy number to a Python number."""
    if type(value) in PLAIN:
        return value
    if isinstance(value, Tails):
        return _tails(value)
    if isinstance(value, tuple | list):
        return [_plain(item, kind) for item in value]
    if isinstance(value, np.generic):
        return value.item()
    if kind is None or not hasattr(value, "__dataclass_fields__"):
        return value
    table: dict[str, Any] = {}
    for field, key, inner in _keys(value.__class__, kind):
        held = getattr(value, field.name)
        if held is not None and held is not field.default and not _is_default(field, held):
            table[key] = _plain(held, inner)
    return table


@cache
def _keys(held: type[Any], kind: type[FileTable]) -> tuple[tuple[Field[Any], str, type[FileTable] | None], ...]:
    """The fields of a frozen value, each with its key in a file and the table there."""
    keys = [(field, _key(kind, field.name)) for field in fields(held)]
    return tuple((field, key, table_at(kind, (key,))) for field, key in keys)


@cache
def _key(kind: type[FileTable], name: str) -> str:
    """The key of a file for the field of that name."""
    name = LIST_KEYS.get(name, name)
    field = kind.model_fields.get(name)
    return name if field is None else str(field.validation_alias or name)


def _is_default(field: Field[Any], held: Any) -> bool:
    default = field.default
    if default is MISSING and field.default_factory is not MISSING:
        default = field.default_factory()
    return type(held) is type(default) and bool(held == default)


def _tails(tails: Tails) -> dict[str, Any]:
    """One length where flow and return have the same."""
    table = {"pipe": tails.pipe, "zeta": tails.zeta, "useful_share": tails.useful_share}
    flow_m, return_m = _plain(tails.flow_m, None), _plain(tails.return_m, None)
    lengths = {"length_m": flow_m} if flow_m == return_m else {"flow_m": flow_m, "return_m": return_m}
    defaults = {"zeta": Tails.zeta, "useful_share": Tails.useful_share}
    kept = {key: _plain(held, None) for key, held in table.items() if key == "pipe" or held != defaults[key]}
    return {key: held for key, held in {**kept, **lengths}.items() if held is not None}


def _loop(loop: Any) -> Any:
    if not isinstance(loop, Loop):
        return loop
    table: dict[str, Any] = _plain(loop, table_at(SurveyTable, ("loop",)))
    del table["arms"]
    if loop.arrangement == "one-way" and loop.arms and isinstance(loop.tails, Tails) and "length_m" in table["tails"]:
        length_m = table["tails"].pop("length_m")  # its ends lie apart: a file gives a length for each
        table["tails"] |= {"flow_m": length_m, "return_m": length_m}
    if not loop.profile:
        del table["profile"]
    arms = loop.arms if isinstance(loop.arms, tuple | list) else [loop.arms]
    if not arms and not loop.profile:
        del table["arrangement"]
    elif len(arms) == 1:
        table["route"] = _route(arms[0])
    elif arms:
        table["arms"] = [_route(arm) for arm in arms]
    return table


def _route(items: Any) -> Any:
    kind = table_at(SurveyTable, ("loop", 0, "route"))
    if not isinstance(items, tuple | list):
        return items
    return [{"room": item.room} if isinstance(item, RouteEstimate) else _plain(item, kind) for item in items]


def _room(room: Any, rooms: Any) -> Any:
    """A room, with the keys that it would copy from another room where they are not its own."""
    if not isinstance(room, Room):
        return room
    table = room_to_table(room)
    other = next(
        (candidate for candidate in rooms if isinstance(candidate, Room) and candidate.name == room.copy_of), None
    )
    if room.copy_of is None or other is None:
        return table
    whole = {field.name for field in fields(Room)} - {"copy_of", "name"}
    lacking = [name for name in whole if getattr(room, name) is None and getattr(other, name) is not None]
    if lacking or (not room.walls and other.walls):
        del table["copy_of"]
        return table
    own = {name: getattr(room, name) for name in sorted(whole) if getattr(room, name) is not None}
    return {**{name: _plain(held, table_at(RoomTable, (name,))) for name, held in own.items()}, **table}
