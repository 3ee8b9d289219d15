"""How found and expected values are quoted in messages."""

from __future__ import annotations

import datetime
import difflib
from collections.abc import Iterable
from typing import Any

from heatloop.text.formatting import JOINERS

LONGEST_NAME = 200
"""Maximum length of a name, in characters."""

BRIEF = 60
"""Characters of a found text that a message shows."""


def suggestion(name: str, known: Iterable[str]) -> str | None:
    """The known name most like `name`, or None where none is like it.

    >>> suggestion("lenght_m", ["length_m", "turn_deg"])
    'length_m'
    """
    if len(name) > LONGEST_NAME:
        return None
    by_fold: dict[str, str] = {}
    for item in known:
        by_fold.setdefault(item.casefold(), item)
    matches = difflib.get_close_matches(name.strip().casefold(), list(by_fold), 1, 0.6)
    return by_fold[matches[0]] if matches else None


def closest_name(kind: str, name: str, known: Iterable[str]) -> str:
    """Words for a name that is not known: the nearest one, or the list of all."""
    names = list(dict.fromkeys(known))
    close = suggestion(name, names)
    if close is not None:
        return f'{kind}; the nearest is "{close}"'
    if not names:
        return f"{kind}, but there is none"
    listed = ", ".join(f'"{item}"' for item in names[:12])
    more = f" and {len(names) - 12} more" if len(names) > 12 else ""
    return f"{kind}: {listed}{more}"


def is_printable(text: str) -> bool:
    """Whether a text holds visible characters and spaces alone, on one line; a joiner counts between visible ones.

    >>> is_printable("Hall 2"), is_printable("two\\nlines"), is_printable("\\u200d")
    (True, False, False)
    """
    bare = text
    for joiner in JOINERS:
        bare = bare.replace(joiner, "")
    return bare.isprintable() and (len(bare) == len(text) or bool(bare.strip()))


def single_line(text: str) -> str:
    """A text with what would break its line, or hide in it, written out.

    >>> single_line("two\\nlines")
    'two\\\\nlines'
    """
    if is_printable(text):
        return text
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)


def brief(text: str, maximum: int = BRIEF) -> str:
    """A text of at most `maximum` characters, cut in its middle.

    >>> brief("a long, long name", 10)
    'a lo...ame'
    """
    if len(text) <= maximum:
        return text
    return f"{text[: maximum // 2 - 1]}...{text[-(maximum - maximum // 2 - 2) :]}"


def found_text(value: Any) -> str:
    """A value of a TOML file in words.

    >>> found_text("two"), found_text(True), found_text([1, 2])
    ("the text 'two'", 'true', 'a list of 2')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) >= 10**15:
        return f"a whole number of {value.bit_length()} bits"
    if isinstance(value, int | float):
        return f"{value!r}"
    if isinstance(value, str):
        short = value if len(value) <= BRIEF else f"{value[: BRIEF - 3]}..."
        return f"the text {short!r}" if value else "an empty text"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}" if value else "an empty list"
    if isinstance(value, datetime.date | datetime.time):
        return f"the date or time {value}"
    return "nothing" if value is None else f"a value of the type {type(value).__name__}"
