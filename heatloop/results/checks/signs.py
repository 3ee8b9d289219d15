"""Sign of a limit in a table of checks: maximum or minimum."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from heatloop.findings.limits import ACCURACY

AT_MOST, AT_LEAST = "≤", "≥"


def limit_signs(rows: Sequence[dict[Any, Any]]) -> list[str]:
    """A sign for each row of a table of checks; "" where no value was calculated or no limit is stated.

    A limit is a maximum if a value below it passes or a value above it fails. A value equal to its limit does not
    decide this: the sign is then that of another row of the same check, or a minimum if there is none.
    """
    own = [_sign(row) for row in rows]
    known = {row["check"]: sign for row, sign in zip(rows, own, strict=True) if sign in (AT_MOST, AT_LEAST)}
    return [known.get(row["check"], AT_LEAST) if sign == "=" else sign for row, sign in zip(rows, own, strict=True)]


def _sign(row: dict[Any, Any]) -> str:
    value, limit = float(row["calculated"]), float(row["limit"])
    if math.isnan(value) or math.isnan(limit):
        return ""
    if math.isclose(value, limit, rel_tol=ACCURACY, abs_tol=1e-12):
        return "="
    return AT_MOST if (value < limit) == (row["verdict"] == "pass") else AT_LEAST
