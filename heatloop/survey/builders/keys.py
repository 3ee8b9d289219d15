"""Keys of the tables of a survey file as keyword arguments of the functions of `hl.build`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any, TypeVar

from heatloop.text.quoting import brief, suggestion

Value = TypeVar("Value")


def value_with_keys(function: str, kind: type[Value], keys: Mapping[str, Any], /, **given: Any) -> Value:
    """A frozen value from what a function of `hl.build` was `given` and from the other `keys` of its table.

    TypeError for a key that the table does not have: it names the function and lists the keys that exist.
    """
    known = [field.name for field in fields(kind) if field.name not in given]  # type: ignore[arg-type]
    unknown = [key for key in keys if key not in known]
    if unknown:
        close = suggestion(unknown[0], known)
        nearest = "" if close is None else f'; the nearest is "{close}"'
        listed = f"other keys: {', '.join(known)}" if known else "there are no other keys"
        raise TypeError(f'build.{function} has no key "{brief(unknown[0])}"{nearest}; {listed}')
    return kind(**given, **keys)
