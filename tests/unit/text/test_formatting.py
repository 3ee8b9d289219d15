"""How values are written."""

from __future__ import annotations

import numpy as np
import pytest

from heatloop.text.column import Column
from heatloop.text.formatting import cell_text


@pytest.mark.parametrize(
    ("column", "value", "words"),
    [
        (Column("a", "A", kind="number", decimals=1), 12.345, "12.3"),
        (Column("a", "A", kind="number", decimals=1), np.float64("nan"), "–"),
        (Column("a", "A", kind="number"), None, "–"),
        (Column("a", "A", kind="number", sign=True), 12.0, "+12"),
        (Column("a", "A", kind="number", sign=True), -0.2, "0"),
        (Column("a", "A", kind="percent"), 0.987, "99"),
        (Column("a", "A", kind="figure"), 1234.5, "1234"),
        (Column("a", "A", kind="figure"), 0.012345, "0.0123"),
        (Column("a", "A", kind="residual"), 1.26e-13, "1.3e-13"),
        (Column("a", "A", kind="flag"), np.bool_(True), "yes"),
        (Column("a", "A", kind="flag"), False, ""),
        (Column("a", "A", kind="verdict"), "fail", "✗ fail"),
        (Column("a", "A", kind="unit"), "degC", "°C"),
        (Column("a", "A"), "bell\x07and\x1b[31mred", "bell and [31mred"),
    ],
)
def test_how_values_are_written(column: Column, value: object, words: str) -> None:
    assert cell_text(column, value) == words
