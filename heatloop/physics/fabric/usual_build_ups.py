"""The library of usual build-ups by age, for surveys of walls whose layers are not known.

Each row of `build_ups.csv` states its source, or that it is common practice. A default by age is cautious on average,
but can be wrong for a single house: measure the wall or open it where the result is important.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType


@dataclass(frozen=True)
class UsualBuildUp:
    """One row: a U-value, or for a ground floor the resistance of its deck without surfaces."""

    name: str
    element: str
    age: str
    u_w_m2k: float | None
    floor_m2k_w: float | None
    suspended: bool
    source: str


@cache
def usual_build_ups() -> Mapping[str, UsualBuildUp]:
    """Every row of the library by its name (sources in the rows; U in W/(m2 K), R in m2 K/W).

    >>> usual_build_ups()["solid brick wall, before 1965"].u_w_m2k
    2.1
    """
    text = resources.files("heatloop.physics.fabric").joinpath("build_ups.csv").read_text(encoding="utf-8")
    rows = [_row(row) for row in csv.DictReader(text.splitlines())]
    return MappingProxyType({row.name: row for row in rows})


def _row(row: dict[str, str]) -> UsualBuildUp:
    return UsualBuildUp(
        row["name"],
        row["element"],
        row["age"],
        float(row["u_w_m2k"]) if row["u_w_m2k"] else None,
        float(row["floor_m2k_w"]) if row["floor_m2k_w"] else None,
        row["suspended"] == "yes",
        row["source"],
    )


def build_ups_of_family(words: str) -> tuple[str, ...]:
    """Names in the library that contain all these words, in its order: the ages of a wall of unknown age.

    >>> build_ups_of_family("cob wall")[:2]
    ('cob wall, before 1984', 'cob wall, 1984-1991')
    """
    sought = words.casefold().replace(",", " ").split()
    return tuple(name for name in usual_build_ups() if all(word in name.casefold() for word in sought))
