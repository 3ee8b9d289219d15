"""Alterations of a good file: its tables and values, its lines and cells, its characters."""

from __future__ import annotations

import copy
import random
from collections.abc import Callable
from typing import Any

NUMBERS = ("0", "-1", "1", "nan", "inf", "-inf", "1e308", "1e-308", "-0.0", "9" * 25, "1" * 400, "4,5", "0x10", "1_0")
TEXTS = (
    "", " ", "?", "\x1b[31m", "a\nb", "\u202eabc", "\u200d", "\U0001f468\u200d\U0001f469", "x" * 5000, "outdoors",
    "ground", "source", "riser", "../../etc/passwd", "=1+1", '"', "'", "\\", "\0",
)  # fmt: skip
SCRAPS: tuple[Any, ...] = (
    0, -1, 1, 2, 2.5, -1e-9, 1e308, 5e-324, float("nan"), float("inf"), 10**18, 10**400, True, False, [], {}, [[]],
    [{}], [1, 2], ["a"], {"name": "x"}, [0.0, 1.0, 2.0], 37, 90, 360, *TEXTS,
)  # fmt: skip
BEYOND_FLOATS = 10**300
"""A whole number beyond this is not multiplied: with a factor it would be no floating-point number."""

CHARACTERS = "[]{}=,\"'#.\n\r\t\\-+0149eE:;“”\0\x1b\u202e\u200d\ufeffé "


def places(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place in nested tables and lists."""
    steps = list(node.items()) if isinstance(node, dict) else list(enumerate(node)) if isinstance(node, list) else []
    return [found for step, child in steps for found in ((*path, step), *places(child, (*path, step)))]


def altered_tables(tables: dict[str, Any], draw: random.Random) -> dict[str, Any]:
    """Tables with one to four places dropped, given another value, doubled, renamed, scaled or taken from elsewhere."""
    tables = copy.deepcopy(tables)
    for _ in range(draw.randint(1, 4)):
        found = places(tables)
        if not found:
            break
        *steps, last = draw.choice(found)
        node: Any = tables
        for step in steps:
            node = node[step]
        kind = draw.randrange(8)
        if kind == 0:
            del node[last]
        elif kind == 1 and isinstance(node, dict):
            node[draw.choice([f"{last}s", str(last).upper(), "name", "copy_of", "x", *TEXTS])] = node.pop(last)
        elif kind == 2 and isinstance(node, list):
            node.insert(draw.randrange(len(node) + 1), copy.deepcopy(node[last]))
        elif kind == 3 and isinstance(node, list):
            draw.shuffle(node)
        elif kind == 4 and isinstance(node[last], int | float) and not isinstance(node[last], bool):
            factor = draw.choice([-1, 0, 0.001, 0.5, 2, 10, 1000, 1e-30])
            node[last] = node[last] * factor if abs(node[last]) < BEYOND_FLOATS else -node[last]
        elif kind == 5:
            other: Any = tables
            for step in draw.choice(found):
                try:
                    other = other[step]
                except (KeyError, IndexError, TypeError):
                    break
            node[last] = copy.deepcopy(other)
        else:
            node[last] = copy.deepcopy(draw.choice(SCRAPS))
    return tables


def altered_lines(text: str, draw: random.Random) -> str:
    """Lines dropped, doubled, swapped, cut or given a cell or a value of another kind."""
    lines = text.split("\n")
    for _ in range(draw.randint(1, 4)):
        at, other = draw.randrange(len(lines)), draw.randrange(len(lines))
        kind = draw.randrange(7)
        if kind == 0 and len(lines) > 1:
            del lines[at]
        elif kind == 1:
            lines.insert(other, lines[at])
        elif kind == 2:
            lines[at], lines[other] = lines[other], lines[at]
        elif kind == 3:
            lines[at] = lines[at][: draw.randrange(len(lines[at]) + 1)]
        elif kind == 4:
            lines[at] = draw.choice([*NUMBERS, *TEXTS])
        elif kind == 5 and "," in lines[at]:
            cells = lines[at].split(",")
            cells[draw.randrange(len(cells))] = draw.choice([*NUMBERS, *TEXTS])
            lines[at] = ",".join(cells)
        else:
            lines = lines[: at + 1]
    return "\n".join(lines)


def altered_characters(text: str, draw: random.Random) -> str:
    """A few characters put in, dropped or replaced, or a stretch repeated."""
    for _ in range(draw.randint(1, 5)):
        at = draw.randrange(len(text) + 1)
        kind = draw.randrange(4)
        if kind == 0:
            text = text[:at] + draw.choice(CHARACTERS) + text[at:]
        elif kind == 1:
            text = text[:at] + text[at + draw.randint(1, 8) :]
        elif kind == 2:
            text = text[:at] + draw.choice(CHARACTERS) + text[at + 1 :]
        else:
            text = text[:at] + text[at : at + draw.randint(1, 40)] * draw.choice([2, 3, 50]) + text[at:]
    return text


def toml_text(tables: dict[str, Any]) -> str:
    """Tables as TOML, nested ones in braces."""
    return "".join(f"{_key(key)} = {_value(value)}\n" for key, value in tables.items())


def _key(key: str) -> str:
    return _escaped(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(key)} = {_value(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, str):
        return "'surrogate'" if any("\ud800" <= c <= "\udfff" for c in value) else _escaped(value)
    return repr(value)


def _escaped(text: str) -> str:
    return '"' + "".join(c if c.isalnum() or c in " -_.,()/" else f"\\U{ord(c):08x}" for c in text) + '"'


TEXT_CHANGES: tuple[Callable[[str, random.Random], str], ...] = (altered_lines, altered_characters)
