"""A TOML file as a dictionary, or one error with the reason why it cannot be read."""

from __future__ import annotations

import tomllib
from collections.abc import Collection
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.survey.toml.input_text import file_error, input_text
from heatloop.survey.toml.toml_slips import DEEP_KEY, single_brackets, slip_of

DEEPEST = 30
"""Tables and lists may be so deep in each other; no survey has more than eight."""

LARGEST = 10**18
"""No whole number of a file is larger."""


def load_toml(path: Path, many: Collection[str] = ()) -> dict[str, Any]:
    """Tables of a TOML file in UTF-8 (a byte-order mark is ignored).

    `many`: names of the tables that have double brackets. Raises InputError: no such file, not a plain file, not
    readable, not UTF-8, not TOML (one error), or tables of `many` in single brackets (one error each).
    """
    return toml_tables(path, input_text(path, "a TOML file"), many)


def toml_tables(path: Path, text: str, many: Collection[str] = ()) -> dict[str, Any]:
    """The tables in the text of the TOML file `path`, as :func:`load_toml` gives them."""
    text = text.replace("\r\n", "\n")
    if DEEP_KEY.search(text):
        raise _too_deep(path)
    slips = single_brackets(text, many)
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        slips = slips if "Cannot " in str(error) and slips else [slip_of(text, str(error))]
        raise InputError(InputIssue(str(path), slip.place, slip.found, slip.required) for slip in slips) from None
    except RecursionError:
        raise _too_deep(path) from None
    except ValueError as error:
        raise file_error(path, "", f"a value that cannot be read ({error})", "numbers of ordinary size") from None
    if slips and any(isinstance(tables.get(name), dict) for name in many):
        raise InputError(InputIssue(str(path), slip.place, slip.found, slip.required) for slip in slips)
    _check_values(path, tables)
    return tables


def _check_values(path: Path, tables: dict[str, Any]) -> None:
    """Raise InputError where tables are nested too deeply or a whole number is too large."""
    level: list[Any] = [tables]
    for _ in range(DEEPEST):
        level = [child for node in level for child in (node.values() if isinstance(node, dict) else node)]
        if any(isinstance(child, int) and abs(child) > LARGEST for child in level):
            raise file_error(path, "", "a whole number of more than 18 digits", "numbers of ordinary size")
        level = [child for child in level if isinstance(child, dict | list)]
        if not level:
            return
    raise _too_deep(path)


def _too_deep(path: Path) -> InputError:
    return file_error(path, "", "tables or lists nested too deeply to read", "a survey or a catalogue")
