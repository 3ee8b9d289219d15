"""Head along a loop."""

from __future__ import annotations

from itertools import pairwise

import pytest
from matplotlib.path import Path

import heatloop as hl
from heatloop.report.plots.water.loop_pressure import loop_pressure, pressure_path


def test_head_falls_along_a_loop_from_what_is_available_to_nothing(design: hl.Design) -> None:
    for row in design.loops.to_dict("records"):
        elements = design.elements[design.elements["loop"] == row["loop"]]
        xs, heads = zip(*pressure_path(elements), strict=True)
        assert heads[0] == pytest.approx(row["available_pressure_kpa"], abs=1e-6)
        assert heads[-1] == pytest.approx(0.0, abs=1e-6)
        assert all(b >= a - 1e-9 for a, b in pairwise(xs))
        assert all(b <= a + 1e-6 for a, b in pairwise(heads))


@pytest.mark.parametrize("half", [False, True])
def test_no_line_runs_through_the_name_of_a_valve(alder_lodge: hl.Design, half: bool) -> None:
    """The lockshield valve of the living room takes 0.6 of 15 kPa: its step is lower than its name."""
    for loop in alder_lodge.loops["loop"]:
        ax = loop_pressure(alder_lodge, loop, half=half).axes
        ax.get_figure(root=True).canvas.draw()
        for name in ax.texts:
            box = name.get_window_extent()
            assert box.x1 <= ax.get_figure(root=True).bbox.x1
            for line in ax.get_lines():
                assert not Path(ax.transData.transform(line.get_xydata())).intersects_bbox(box, filled=False), loop
