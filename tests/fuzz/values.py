"""Alterations of the values of a good file that leave its structure: numbers at their limits, names of other things."""

from __future__ import annotations

import copy
import random
from typing import Any

from tests.fuzz.mutations import places

FACTORS = (0.0, 1e-6, 1e-3, 0.1, 0.5, 0.9, 1.1, 2.0, 10.0, 1e3, 1e6)
PLAIN = (0.0, 1e-9, 1e-3, 0.01, 0.05, 0.1, 0.5, 1.0, 2.0, 5.0, 20.0, 45.0, 90.0, 100.0, 270.0, 1e4)


def altered_values(tables: dict[str, Any], draw: random.Random) -> dict[str, Any]:
    """Tables with one to three values changed, or optional parts left out or doubled."""
    tables = copy.deepcopy(tables)
    for _ in range(draw.choice((1, 1, 2, 3))):
        found = places(tables)
        *steps, last = draw.choice(found)
        node: Any = tables
        for step in steps:
            node = node[step]
        _alter(node, last, _others(tables, found, last), draw)
    return tables


def _others(tables: Any, found: list[tuple[Any, ...]], last: Any) -> list[Any]:
    """The values of the same key elsewhere."""
    values = []
    for *steps, key in found:
        if key == last and isinstance(last, str):
            node = tables
            for step in steps:
                node = node[step]
            values.append(node[key])
    return values


def _alter(node: Any, last: Any, others: list[Any], draw: random.Random) -> None:
    value = node[last]
    if isinstance(value, bool):
        node[last] = not value
    elif isinstance(value, int | float):
        chosen = draw.choice(("factor", "plain", "other"))
        if chosen == "other" and others:
            node[last] = draw.choice(others)
        else:
            node[last] = value * draw.choice(FACTORS) if chosen == "factor" else draw.choice(PLAIN)
    elif draw.random() < 0.4 and others:
        node[last] = copy.deepcopy(draw.choice(others))
    elif isinstance(node, list) and draw.random() < 0.5:
        node.insert(draw.randrange(len(node) + 1), copy.deepcopy(value))
    else:
        del node[last]
