"""The sign of a limit, read from what was found: whether it is a maximum or a minimum."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

AT_MOST, AT_LEAST = "≤", "≥"


def limit_signs(rows: Sequence[dict[Any, Any]]) -> list[str]:
    """A sign for each row of a table of checks; "" where nothing was found or no limit is stated.

    A limit that is met below it, or missed above it, is a maximum. A figure that equals its limit meets either; it
    takes the sign of another row of the same check, and a minimum where there is none.
    """
    own = [_sign(row) for row in rows]
    known = {row["check"]: sign for row, sign in zip(rows, own, strict=True) if sign in (AT_MOST, AT_LEAST)}
    return [known.get(row["check"], AT_LEAST) if sign == "=" else sign for row, sign in zip(rows, own, strict=True)]


def _sign(row: dict[Any, Any]) -> str:
    value, limit = float(row["calculated"]), float(row["limit"])
    if math.isnan(value) or math.isnan(limit):
        return ""
    if math.isclose(value, limit, rel_tol=1e-9, abs_tol=1e-12):
        return "="
    return AT_MOST if (value < limit) == (row["verdict"] == "pass") else AT_LEAST
