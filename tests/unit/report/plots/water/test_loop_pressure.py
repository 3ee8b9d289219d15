"""Head along a loop."""

from __future__ import annotations

from itertools import pairwise

import pytest

import heatloop as hl
from heatloop.report.plots.water.loop_pressure import pressure_path


def test_head_falls_along_a_loop_from_what_is_available_to_nothing(design: hl.Design) -> None:
    for row in design.loops.to_dict("records"):
        elements = design.elements[design.elements["loop"] == row["loop"]]
        xs, heads = zip(*pressure_path(elements), strict=True)
        assert heads[0] == pytest.approx(row["available_pressure_kpa"], abs=1e-6)
        assert heads[-1] == pytest.approx(0.0, abs=1e-6)
        assert all(b >= a - 1e-9 for a, b in pairwise(xs))
        assert all(b <= a + 1e-6 for a, b in pairwise(heads))
