"""In which cell a point along an arm lies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.analysis.room_output import cells_of_points, skirting_cells
from tests.helpers.dwelling import loop_path

ARM = loop_path("a", None, 1.0).arms[0]


def arm(*cells: tuple[float, bool]):  # type: ignore[no-untyped-def]
    made = [replace(ARM.cells[0], length_m=length_m, skirting=skirting) for length_m, skirting in cells]
    return replace(ARM, cells=tuple(made))


@pytest.mark.parametrize(
    ("cells", "x_m", "at"),
    [
        # skirting all along: a point between two belongs to the one that ends there
        (((1.0, True), (2.0, True), (0.5, True)), [0.0, 0.4, 1.0, 1.0 + 5e-10, 1.1, 3.0, 3.2, 3.5, 3.6],
         [0, 0, 0, 0, 1, 1, 2, 2, 2]),
        # plain pipe in the middle: where skirting begins after it, the point is the skirting's
        (((1.0, True), (2.0, False), (0.5, True)), [1.0, 1.5, 3.0 - 1e-6, 3.0, 3.0 + 5e-10, 3.5], [0, 1, 1, 2, 2, 2]),
        # two stretches of pipe, and pipe at the end
        (((1.0, False), (2.0, False), (0.5, True), (1.0, False)), [0.0, 1.0, 3.0, 3.5, 4.5], [0, 0, 2, 2, 3]),
    ],
)  # fmt: skip
def test_a_point_lies_in_the_cell_that_ends_there_or_in_the_skirting_that_begins(
    cells: tuple[tuple[float, bool], ...], x_m: list[float], at: list[int]
) -> None:
    assert cells_of_points(arm(*cells), np.array(x_m)).tolist() == at


def test_skirting_apart_from_pipe() -> None:
    assert skirting_cells(arm((1.0, True), (2.0, False))).tolist() == [True, False]
