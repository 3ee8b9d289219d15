"""What a TOML file may hold: how deep its tables and lists are, how large its whole numbers; where it holds more."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from heatloop.survey.toml.toml_slips import TOKEN, Slip, place_of
from heatloop.text.quoting import brief

DEEPEST = 30
"""Tables and lists may be so deep in each other; no survey has more than eight."""

DIGITS = 18
"""Digits of the largest whole number of a file."""

LARGEST = 10**DIGITS
"""No whole number of a file is larger."""

DEEP_KEY = re.compile(rf"""(?<![\w."'-])(?:(?:[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){{{DEEPEST}}}""", re.ASCII)
"""A key of more parts than tables may be deep."""

WHOLE = re.compile(r"(?<![\w.+-])[+-]?(?:0x[0-9A-Fa-f_]+|0o[0-7_]+|0b[01_]+|[0-9][0-9_]*)(?![\w.:-])(?!\s*=)", re.ASCII)
"""A whole number as a value."""

TOO_DEEP = "tables or lists nested too deeply to read", f"at most {DEEPEST} in each other; a survey has at most eight"


def line_end_slip(text: str) -> Slip | None:
    """A line that ends with a carriage return alone; None where there is none. Line ends CR LF are already replaced."""
    position = text.find("\r")
    if position < 0:
        return None
    found, required = (
        "a line that ends with a carriage return alone",
        "a line feed at the end of each line (LF or CRLF)",
    )
    return Slip(place_of(text, position), found, required)


def deep_key_slip(text: str) -> Slip | None:
    """A dotted key of too many parts; None where there is none."""
    key = DEEP_KEY.search(text)
    return Slip(place_of(text, key.start()), *TOO_DEEP) if key else None


def depth_slip(text: str, tables: dict[str, Any]) -> Slip:
    """The place of brackets that are too deep in each other; else the table, of those read, that holds too many."""
    depth = 0
    for token in TOKEN.finditer(text):
        depth += (token[0] in ("[", "{")) - (token[0] in ("]", "}"))
        if depth > DEEPEST:
            return Slip(place_of(text, token.start()), *TOO_DEEP)
    deep = next((key for key, value in tables.items() if _is_deep(value)), "")
    return Slip(brief(deep), *TOO_DEEP)


def value_slip(text: str, tables: dict[str, Any]) -> Slip | None:
    """Tables that are too deep in each other, or a whole number that is too large; None where there is neither."""
    level: list[Any] = [tables]
    for _ in range(DEEPEST):
        level = [child for node in level for child in _children(node)]
        if any(isinstance(child, int) and abs(child) > LARGEST for child in level):
            return number_slip(text)
        level = [child for child in level if isinstance(child, dict | list)]
        if not level:
            return None
    return depth_slip(text, tables)


def number_slip(text: str) -> Slip:
    """The first whole number of a text that is too large."""
    required = f"a number of at most {DIGITS} digits"
    for position, number in _whole_numbers(text):
        digits = number.lstrip("+-").replace("_", "")
        if len(digits) <= DIGITS or (len(digits) < 100 and int(digits, 0 if digits[1] in "xob" else 10) <= LARGEST):
            continue
        line = text[text.rfind("\n", 0, position) + 1 : position]
        key = re.match(r"""\s*([^=#\[\]]*?)\s*=""", line)
        of = f' as "{brief(key[1])}"' if key else ""
        return Slip(place_of(text, position), f"a whole number of {len(digits)} digits{of}", required)
    return Slip("", f"a whole number of more than {DIGITS} digits", required)


def _whole_numbers(text: str) -> Iterator[tuple[int, str]]:
    """The whole numbers outside texts and comments, each with its position."""
    end = 0
    for token in (*TOKEN.finditer(text), None):
        start = token.start() if token else len(text)
        for number in WHOLE.finditer(text, end, start):
            yield number.start(), number[0]
        end = token.end() if token else end


def _children(node: Any) -> Any:
    return node.values() if isinstance(node, dict) else node


def _is_deep(value: Any) -> bool:
    """Whether tables or lists in a value of the outermost table are too deep in each other."""
    level = [value]
    for _ in range(DEEPEST - 1):
        level = [child for node in level if isinstance(node, dict | list) for child in _children(node)]
    return any(isinstance(node, dict | list) for node in level)
