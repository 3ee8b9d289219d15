"""A TOML file as a dictionary, or one error with the reason why it cannot be read."""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterable
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.survey.toml.input_text import input_text
from heatloop.survey.toml.limits import deep_key_slip, depth_slip, line_end_slip, number_slip, value_slip
from heatloop.survey.toml.toml_slips import Slip, single_brackets, slip_of


def load_toml(path: Path, many: Collection[str] = ()) -> dict[str, Any]:
    """Tables of a TOML file in UTF-8 (a byte-order mark is ignored).

    `many`: names of the tables that have double brackets. Raises InputError: no such file, not a plain file, not
    readable, not UTF-8, not TOML (one error), or tables of `many` in single brackets (one error each).
    """
    return toml_tables(path, input_text(path, "a TOML file"), many)


def toml_tables(path: Path, text: str, many: Collection[str] = ()) -> dict[str, Any]:
    """The tables in the text of the TOML file `path`, as :func:`load_toml` gives them."""
    text = text.replace("\r\n", "\n")
    slip = line_end_slip(text) or deep_key_slip(text)
    if slip is not None:
        raise _error(path, [slip])
    slips = single_brackets(text, many)
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _error(path, slips if "Cannot " in str(error) and slips else [slip_of(text, str(error))]) from None
    except RecursionError:
        raise _error(path, [depth_slip(text, {})]) from None
    except ValueError:  # a whole number of more digits than Python reads
        raise _error(path, [number_slip(text)]) from None
    if slips and any(isinstance(tables.get(name), dict) for name in many):
        raise _error(path, slips)
    slip = value_slip(text, tables)
    if slip is not None:
        raise _error(path, [slip])
    return tables


def _error(path: Path, slips: Iterable[Slip]) -> InputError:
    return InputError(InputIssue(str(path), slip.place, slip.found, slip.required) for slip in slips)
