"""Conversion between a cell and the value of a key."""

from __future__ import annotations

import datetime as dt
import json
import re
from typing import Any

from heatloop.survey.files.fields import BooleanField, ChoiceField, DateField, IntegerField, NumberField, TextField
from heatloop.survey.workbook.sheets import Column, Marker

NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")
DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
WHOLE = re.compile(r"[+-]?\d+")
PART = re.compile(r'\s*("(?:[^"\\]|\\.)*"|[^;]*?)\s*(?:;|$)')
OWN_NAME, OWN_NUMBER = TextField("a name"), IntegerField("a number")
WORDS = {"true": True, "yes": True, "false": False, "no": False}


def cell_of_value(value: Any, column: Column) -> Any:
    """Content of a cell for a value: a list as its items separated by semicolons.

    A text is put in double quotes if a blank at either end, a quote or, in a list, a semicolon would be misread.
    """
    if column.is_list and isinstance(value, list):
        return "; ".join(_quoted(item, in_list=True) if isinstance(item, str) else _plain(item) for item in value)
    return _quoted(value, in_list=False) if isinstance(value, str) else value


def value_of_cell(cell: Any, column: Column) -> Any:
    """Value of a filled cell for its key; an unsuitable value is passed on, so that the reader reports it."""
    if not column.is_list:
        return _value(cell, column.field)
    parts = [part for part in PART.findall(cell) if part] if isinstance(cell, str) else [cell]
    return [_value(part, column.field) for part in parts]


def cell_of_name(name: Any) -> Any:
    """Content of a cell for the name, or the number, of the item to which a row belongs."""
    return _quoted(name, in_list=False) if isinstance(name, str) else name


def name_of_cell(cell: Any, by_number: bool) -> Any:
    """Name or number in a cell; None for a blank one."""
    if is_blank(cell):
        return None
    return _value(cell, OWN_NUMBER if by_number else OWN_NAME)


def is_blank(cell: Any) -> bool:
    """Whether a cell is empty or contains only blanks."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _quoted(text: str, in_list: bool) -> str:
    unclear = text != text.strip() or text[:1] == '"' or (in_list and (";" in text or '"' in text)) or not text
    return json.dumps(text, ensure_ascii=False) if unclear else text


def _plain(item: Any) -> str:
    return repr(item) if isinstance(item, float) else str(item)


def _unquoted(text: str) -> str:
    text = text.strip()
    if len(text) < 2 or text[0] != '"' or text[-1] != '"':
        return text
    try:
        return str(json.loads(text))
    except ValueError:
        return text


def _value(cell: Any, field: Marker) -> Any:
    if isinstance(cell, str):
        return _of_text(_unquoted(cell), field)
    whole = int(cell) if isinstance(cell, float) and cell.is_integer() else cell
    match field:
        case TextField() | ChoiceField():
            return str(whole).upper() if isinstance(cell, bool) else str(whole) if _is_number(whole) else cell
        case IntegerField():
            return whole
        case DateField() if isinstance(cell, dt.datetime) and cell.time() == dt.time():
            return cell.date()
        case _:
            return cell


def _of_text(text: str, field: Marker) -> Any:
    match field:
        case NumberField():
            plain = text.replace("−", "-")
            return float(plain) if NUMBER.fullmatch(plain) else text
        case IntegerField():
            return int(text) if WHOLE.fullmatch(text) else text
        case BooleanField():
            return WORDS.get(text.casefold(), text)
        case DateField() if DAY.fullmatch(text):
            return _day(text)
        case _:
            return text


def _day(text: str) -> dt.date | str:
    """The date in a text in the form of ISO 8601; the text itself where it is not such a date."""
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return text


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
