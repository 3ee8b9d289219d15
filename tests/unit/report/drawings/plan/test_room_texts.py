"""Texts of the plans of first fix: every wall has its length, no leader crosses another, enlargements are marked."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import product
from statistics import fmean

import pytest

import heatloop as hl
from heatloop.report.drawings.geometry import DrawingSheet, Line, Point, Words


@pytest.fixture(scope="module")
def sheets(alder_lodge: hl.Design) -> tuple[DrawingSheet, ...]:
    return alder_lodge.first_fix().sheets()


def test_every_wall_has_its_number_and_taped_length(alder_lodge: hl.Design, sheets: tuple[DrawingSheet, ...]) -> None:
    for sheet in sheets:
        walls = [
            f"{number}: {round(wall.length_m * 1000.0)}"
            for room in sheet.rooms
            for number, wall in enumerate(alder_lodge.survey.room(room).walls, start=1)
        ]
        written = [one.text for one in sheet.plan if isinstance(one, Words) and one.layer == "HL-WALL-TEXT"]
        assert sorted(written) == sorted(walls)


def test_leaders_cross_no_dimension_line_and_no_other_leader(sheets: tuple[DrawingSheet, ...]) -> None:
    """Except in a corner that is enlarged."""
    for sheet in sheets:
        lines = [one for one in sheet.plan if isinstance(one, Line) and one.layer == "HL-DIM" and one.width_mm < 0.3]
        leaders = [line for line in lines if _is_slanted(line)]
        corners = [r.points for r in sheet.plan if isinstance(r, Line) and r.layer == "HL-DETAIL" and len(r.points) > 2]
        middles = [(fmean(x for x, _ in ring[1:]), fmean(y for _, y in ring[1:])) for ring in corners]
        crossed = [
            leader.points
            for leader, other in product(leaders, lines)
            if leader is not other
            and _cross(leader.points, other.points)
            and all(math.dist(leader.points[0], middle) > 10.0 for middle in middles)
        ]
        assert crossed == []


def _is_slanted(line: Line) -> bool:
    (ax, ay), (bx, by) = line.points
    return min(abs(ax - bx), abs(ay - by)) > 0.05


def _cross(line: Sequence[Point], other: Sequence[Point]) -> bool:
    """Whether two lines cross between their ends, with something of both on each side."""
    return all(_side(p, q, r) * _side(p, q, s) < -1e-6 for (p, q), (r, s) in ((line, other), (other, line)))


def _side(p: Point, q: Point, at: Point) -> float:
    return (q[0] - p[0]) * (at[1] - p[1]) - (q[1] - p[1]) * (at[0] - p[0])


def test_every_enlargement_of_a_corner_is_marked_on_the_plan(sheets: tuple[DrawingSheet, ...]) -> None:
    for sheet, expected in zip(sheets, (["X1"], []), strict=True):
        blocks = [match[0] for one in sheet.paper if isinstance(one, Words) and (match := re.match(r"X\d", one.text))]
        marks = [one for one in sheet.plan if isinstance(one, Words) and one.layer == "HL-DETAIL"]
        assert [one.text for one in marks] == blocks == expected
        for one in marks:
            rings = [r for r in sheet.plan if isinstance(r, Line) and r.layer == "HL-DETAIL" and r.dash == "dashed"]
            assert min(math.dist(one.at, point) for ring in rings for point in ring.points) < 5.0
