"""Tables written as TOML, and a TOML file changed so that its comments stay."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

import tomlkit

BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")

Notes = Mapping[tuple[str | int, ...], str]


def toml_text(tables: Mapping[str, Any], heading: str, notes: Notes | None = None) -> str:
    """Tables as the text of a TOML file; `heading` is its first comment.

    Lists of tables within a table are written one item to a line. `notes`: by the place of such an item, the comment on
    the line above it.
    """
    notes = notes or {}
    lines = [f"# {heading}"]
    for key, value in tables.items():
        if isinstance(value, list):
            for number, item in enumerate(value):
                lines += ["", f"[[{_key(key)}]]", *_table(item, (key, number), notes)]
        else:
            lines += ["", f"[{_key(key)}]", *_table(value, (key,), notes)]
    return "\n".join(lines) + "\n"


def _table(table: Mapping[str, Any], place: tuple[str | int, ...], notes: Notes) -> Iterator[str]:
    for key, value in table.items():
        if not (isinstance(value, list) and value and all(_is_nested(item) for item in value)):
            yield f"{_key(key)} = {_value(value)}"
            continue
        yield f"{_key(key)} = ["
        for number, item in enumerate(value):
            note = notes.get((*place, key, number))
            yield from [f"  # {note}"] if note else []
            yield f"  {_value(item)},"
        yield "]"


def _is_nested(item: Any) -> bool:
    return isinstance(item, dict) or (isinstance(item, list) and any(isinstance(entry, dict) for entry in item))


def _key(key: str) -> str:
    return key if BARE_KEY.fullmatch(key) else _value(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_key(key)} = {_value(item)}" for key, item in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    return repr(value)


def merged_toml(text: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> str:
    """Text of a TOML file with the tables `before`, changed to the tables `after`.

    Parts that are the same in both are not changed; their comments and order remain.
    """
    document = tomlkit.parse(text)
    _merge(document, before, after, outermost=True)
    return tomlkit.dumps(document)


def _merge(node: Any, before: Mapping[str, Any], after: Mapping[str, Any], outermost: bool = False) -> None:
    for key in [key for key in before if key not in after and key in node]:
        del node[key]
    for key, value in after.items():
        old = before.get(key)
        if key in before and old == value:
            continue
        there = key in node and key != "tails"  # lengths of tails have two spellings: they are written anew
        if there and isinstance(value, dict) and isinstance(old, dict):
            _merge(node[key], old, value)
        elif not (there and _are_tables(value) and _are_tables(old) and _merged_list(node[key], key, old or [], value)):
            in_line = isinstance(node, tomlkit.items.InlineTable)
            item = _parsed_line(key, value) if in_line else _parsed_item(key, value, outermost)
            if isinstance(node, tomlkit.items.Table) and key not in node:
                _add_below_last(node, key, item)
            else:
                node[key] = item


def _add_below_last(table: Any, key: str, item: Any) -> None:
    """Add a key below the last one: comments between a table and the next belong to the next."""
    body = table.value.body
    last = max((place for place, (held, _) in enumerate(body) if held is not None), default=-1)
    after = body[last + 1 :]
    del body[last + 1 :]
    table[key] = item
    for _, remark in after:
        table.add(remark)


def _are_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(item, dict) for item in value)


def _merged_list(node: Any, key: str, before: list[dict[str, Any]], after: list[dict[str, Any]]) -> bool:
    """Change a list of tables item by item; return whether this was possible.

    Items are matched by name or, without names, by number; others are removed or added at the end.
    """
    old, new = ([item.get("name", number) for number, item in enumerate(items)] for items in (before, after))
    staying = [name for name in old if name in new]
    distinct = len(set(old)) == len(old) and len(set(new)) == len(new) and len(node) == len(old)
    if not distinct or new[: len(staying)] != staying:
        return False
    for index in reversed([number for number, name in enumerate(old) if name not in new]):
        del node[index]
    for number, name in enumerate(staying):
        _merge(node[number], before[old.index(name)], after[number])
    for item in after[len(staying) :]:
        in_brackets = isinstance(node, tomlkit.items.AoT)
        node.append(_parsed_item(key, [item], in_brackets)[0])
    return True


def _parsed_line(key: str, value: Any) -> Any:
    """A value in the form of tomlkit, on one line."""
    return tomlkit.parse(f"{_key(key)} = {_value(value)}")[key]


def _parsed_item(key: str, value: Any, outermost: bool) -> Any:
    """A value in the form of tomlkit, written as in a whole file; `outermost` at the top of the file."""
    if outermost:
        return tomlkit.parse(toml_text({key: value}, ""))[key]
    return tomlkit.parse("\n".join(_table({key: value}, (), {})) + "\n")[key]
