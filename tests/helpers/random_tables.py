"""Tables of survey and catalogue files drawn from a seed: every key of them, within its own range, by its own marker.

What they mean together is left to chance: names need not exist and walls need not close.
"""

from __future__ import annotations

import datetime as dt
import random
from typing import Any

from heatloop.survey.files.fields import BooleanField, ChoiceField, DateField, IntegerField, NumberField, TextField
from heatloop.survey.workbook.sheets import CATALOGUE_SHEETS, SURVEY_SHEETS, Column, Sheet, SheetSet

LETTERS = "aZ09 ;\"'\\=+-@#[]{},.:%&<>éßŁ中€−"
"""Characters that a cell, a list in a cell or a TOML file may misread, among plain ones."""

SHARE = 0.7
"""How many of the keys that may be left out are there."""


def random_survey_tables(seed: int) -> dict[str, Any]:
    """The tables of a survey file with every kind of table in them."""
    rng = random.Random(seed)
    tables = _tables(SURVEY_SHEETS, rng)
    for room in tables["room"]:
        room.pop("copy_of", None)  # it takes keys from another room: a test of its own
    for loop in tables["loop"]:
        _own_forms(loop, rng)
    return tables


def random_catalogue_tables(seed: int) -> dict[str, Any]:
    """The tables of a catalogue file with every kind of table in them."""
    return _tables(CATALOGUE_SHEETS, random.Random(seed))


def _tables(sheets: SheetSet, rng: random.Random) -> dict[str, Any]:
    tables: dict[str, Any] = {}
    for key, columns in sheets.form:
        tables[key] = _table(columns, rng)
    for sheet in sheets.sheets:
        for holder in _holders(tables, sheet):
            size = rng.randint(*_sizes(sheet))
            holder[sheet.steps[-1][-1]] = [_table(sheet.columns, rng, number) for number in range(size)]
    return {key: table for key, table in tables.items() if table != {}}


def _sizes(sheet: Sheet) -> tuple[int, int]:
    """How many rows a list has; its own limits where it has any."""
    limits = {"Walls": (3, 5), "Arm valves": (2, 2), "Channels": (1, 4), "Test points": (2, 3)}
    return limits.get(sheet.title, (1, 3))


def _holders(tables: dict[str, Any], sheet: Sheet) -> list[dict[str, Any]]:
    """The tables that the lists of a sheet stand in."""
    holders = [tables]
    for number, keys in enumerate(sheet.steps):
        outer, last = keys[:-1], keys[-1]
        for key in outer:
            holders = [holder.setdefault(key, {}) for holder in holders]
        if number < len(sheet.steps) - 1:
            holders = [item for holder in holders for item in holder[last]]
    return holders


def _table(columns: tuple[Column, ...], rng: random.Random, number: int = 0) -> dict[str, Any]:
    """A table with its required keys and most of the others; a table within it wholly or not at all."""
    table: dict[str, Any] = {}
    needed = {column.keys[:-1] for column in columns if column.is_required}
    outers = sorted({column.keys[:-1] for column in columns if column.keys[:-1]})
    absent = {outer for outer in outers if rng.random() > SHARE}
    for column in columns:
        outer = column.keys[:-1]
        dropped = any(outer[: len(gone)] == gone for gone in absent if gone not in needed)
        inside = bool(outer) and not dropped  # all of a table within: it may require some of its keys
        if dropped or not (column.is_required or inside or rng.random() < SHARE):
            continue
        node = table
        for key in outer:
            node = node.setdefault(key, {})
        value = [_value(column, rng) for _ in range(2)] if column.is_list else _value(column, rng)
        node[column.keys[-1]] = f"{value} {number}" if column.keys == ("name",) else value
    return table


def _value(column: Column, rng: random.Random) -> Any:
    match column.field:
        case NumberField() as field:
            low = field.minimum if field.minimum is not None else field.above if field.above is not None else -50.0
            high = field.maximum if field.maximum is not None else field.below if field.below is not None else 100.0
            value = low + (high - low) * rng.uniform(0.01, 0.99)
            rounded = round(value, rng.randint(0, 3))
            return value if field.refuses(rounded) else rounded
        case IntegerField() as field:
            return rng.randint(field.minimum, field.maximum)
        case ChoiceField() as field:
            return rng.choice(field.options)
        case DateField():
            return dt.date(2000, 1, 1) + dt.timedelta(days=rng.randrange(20_000))
        case BooleanField():
            return rng.random() < 0.5
        case TextField() as field:
            text = "".join(rng.choice(LETTERS) for _ in range(rng.randint(1, min(12, field.maximum))))
            return text if text.strip() else "x"


def _own_forms(loop: dict[str, Any], rng: random.Random) -> None:
    """Keys of a loop that exclude each other: one length of tails or two, one route or two arms, items of routes."""
    tails = loop["tails"]
    for key in ("flow_m", "return_m") if rng.random() < 0.5 else ("length_m",):
        tails.pop(key, None)
    if "length_m" not in tails:
        tails |= {"flow_m": 2.5, "return_m": 3.5}
    loop["route"] = [_route_item(item, rng) for item in loop["route"]]
    loop |= {"profile": loop.get("profile", "a profile"), "arrangement": loop.get("arrangement", "one-way")}
    if rng.random() < 0.5:
        loop["arms"] = [loop.pop("route"), [{"room": "another", "walls": [1, 2]}]]
    else:
        del loop["arm_valves"]


def _route_item(item: dict[str, Any], rng: random.Random) -> dict[str, Any]:
    if rng.random() < 0.3:
        return {"pipe": "a pipe", "length_m": 1.25, "heats": item.get("heats", "a room")}
    return {"room": "a room", "walls": [3, 1]} | {
        key: value for key, value in item.items() if key in ("from_m", "to_m", "direction", "floor_sections")
    }
