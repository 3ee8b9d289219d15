"""Rows of data/published: read in one way, worked out by the functions that test modules name for them."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import pytest

from tests.helpers.paths import DATA

PUBLISHED = DATA / "published"
COLUMNS = ["case", "quantity", "inputs", "expected", "unit", "tolerance", "tolerance_because", "provenance", "source"]
PROVENANCES = ("seen", "quoted by others", "derived", "from memory")
ROUNDING = 1e-9
"""What binary numbers may lose of half a digit, as a share of it."""

WORKED_OUT: dict[str, dict[str, list[str]]] = {}
"""Modules that calculate each quantity of each file; a quantity without a module is not checked."""

FUNCTIONS: dict[tuple[str, str], Callable[..., Any]] = {}
"""The function that calculates a quantity of a file."""


@dataclass(frozen=True)
class Row:
    """One published number: quantity, inputs and tolerance."""

    file: str
    line: int
    case: str
    quantity: str
    inputs: Mapping[str, float | str]
    expected: float
    unit: str
    tolerance: float
    because: str
    printed: str
    provenance: str
    source: str

    def computed(self) -> float:
        """The number as this library works it out."""
        return float(FUNCTIONS[self.file, self.quantity](**self.inputs))

    @property
    def name(self) -> str:
        """The row in the list of tests."""
        given = " ".join(f"{key}={value}" for key, value in self.inputs.items())
        return f"{self.case} {self.quantity} {given}".strip()[:80]


def half_a_digit(printed: str) -> float:
    """Half a unit of the last printed digit, what rounding may have taken: "0.30" gives 0.005, "1.28e5" 500."""
    exponent = Decimal(printed).as_tuple().exponent
    assert isinstance(exponent, int)
    return 0.5 * 10.0**exponent


def _tolerance(given: str, expected: str) -> float:
    """A tolerance in the row's unit: `0.02`, `3%` of the number, or nothing for half of its last digit."""
    if given.endswith("%"):
        return float(given[:-1]) / 100.0 * abs(float(expected))
    return float(given) if given else half_a_digit(expected)


def _value(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


def read_rows(file: str) -> tuple[Row, ...]:
    """All rows of a file of data/published, its name without `.csv`; AssertionError where a row says too little."""
    with (PUBLISHED / f"{file}.csv").open(encoding="utf-8", newline="") as stream:
        reader = csv.DictReader(stream, strict=True)
        assert reader.fieldnames == COLUMNS, f"{file}.csv: columns {reader.fieldnames}"
        rows = []
        for line, row in enumerate(reader, start=2):
            place = f"{file}.csv, row {line}"
            assert None not in row, f"{place}: more cells than columns"
            assert all(row[name] for name in ("case", "quantity", "expected", "unit", "source")), f"{place}: empty cell"
            assert row["provenance"] in PROVENANCES, f"{place}: provenance {row['provenance']!r}"
            assert bool(row["tolerance"]) == bool(row["tolerance_because"]), f"{place}: a tolerance requires its reason"
            tolerance = _tolerance(row["tolerance"], row["expected"])
            assert tolerance > 0.0, f"{place}: no tolerance"
            inputs = {key: _value(text) for key, text in (pair.split("=", 1) for pair in row["inputs"].split())}
            rows.append(
                Row(
                    file,
                    line,
                    row["case"],
                    row["quantity"],
                    inputs,
                    float(row["expected"]),
                    row["unit"],
                    tolerance,
                    row["tolerance_because"],
                    row["expected"],
                    row["provenance"],
                    row["source"],
                )
            )
    return tuple(rows)


def replayed(file: str, module: str, quantities: Mapping[str, Callable[..., Any]]) -> Callable[[Row], None]:
    """The test of a module that works out rows of a file: one function a quantity, called with a row's inputs."""
    for quantity in quantities:
        WORKED_OUT.setdefault(file, {}).setdefault(quantity, []).append(module)
        FUNCTIONS[file, quantity] = quantities[quantity]
    rows = [row for row in read_rows(file) if row.quantity in quantities]

    @pytest.mark.parametrize("row", rows, ids=lambda row: row.name)
    def test_published_row(row: Row) -> None:
        assert row.computed() == pytest.approx(row.expected, rel=0.0, abs=row.tolerance * (1.0 + ROUNDING)), row.source

    return test_published_row
