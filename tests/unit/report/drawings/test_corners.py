"""Corner enlargements: positions that are close together on two straights, with both figures of every pipe."""

from __future__ import annotations

import datetime as dt
import math
import re
from itertools import combinations

import pytest

import heatloop as hl
from heatloop.report.control.control import document_control
from heatloop.report.drawings.continuations import side_of
from heatloop.report.drawings.first_fix_sheets import first_fix_sheets
from heatloop.report.drawings.geometry import DrawingSheet, Ring
from tests.helpers.sheet_faults import sheet_faults

DAY = dt.date(2026, 11, 29)
LINE = re.compile(r"(\d+[a-z]?) ([FR]): (\d+) \((\d+)\), wall (\d+)")


def _sheets(first_fix: hl.FirstFix) -> tuple[DrawingSheet, ...]:
    return first_fix_sheets(first_fix, document_control(first_fix.survey, None, made_on=DAY))


@pytest.mark.parametrize(
    ("house", "titles"),
    [
        ("mill_annexe", ["X1  Annexe, positions 1 and 2, 1:5"]),
        ("alder_draft", ["X1  Living room, positions 8 and 9, 1:10"]),
        ("harbour_loft", ["X1  Saloon, positions 4 and 5, 1:20"]),
    ],
)
def test_close_positions_are_enlarged_with_both_figures(
    house: str, titles: list[str], request: pytest.FixtureRequest
) -> None:
    first_fix = request.getfixturevalue(house).first_fix()
    sheets = _sheets(first_fix)
    assert sheet_faults(first_fix, sheets) == []
    texts = [words.text for sheet in sheets for words in sheet.words]
    assert [text for text in texts if text.startswith("X1 ")] == titles
    numbers = {int(one) for one in re.findall(r"\d+", titles[0].partition("positions")[2].rpartition(",")[0])}
    found = {match[1]: match.groups()[1:] for match in map(LINE.fullmatch, texts) if match}
    pipes = [pipe for mark in first_fix.positions if mark.number in numbers for pipe in mark.pipes]
    assert found == {
        pipe.mark: (
            pipe.direction[0].upper(),
            f"{1000 * pipe.from_left_corner_m:.0f}",
            f"{1000 * pipe.from_right_corner_m:.0f}",
            str(pipe.wall),
        )
        for pipe in pipes
    }
    details = [words.text for sheet in sheets for words in sheet.words if words.layer == "HL-DETAIL"]
    in_sketch = [text for text in details if text in found]
    assert sorted(in_sketch) == sorted(found), "every pipe is marked in the sketch"


def test_pipes_stand_in_the_sketch_as_on_site(mill_annexe: hl.Design) -> None:
    first_fix = mill_annexe.first_fix()
    (sheet,) = _sheets(first_fix)
    holes = {hole.mark: hole for hole in sheet.holes}
    true_mm = [holes[mark].centre_m for mark in ("1", "2")]
    diameter = holes["1"].diameter_m * 1000.0 / 5
    rings = [one for one in sheet.paper if isinstance(one, Ring) and math.isclose(2 * one.radius_mm, diameter)]
    distance = 1000.0 * math.dist(*true_mm) / 5
    assert any(math.isclose(math.dist(a.centre, b.centre), distance, rel_tol=1e-6) for a, b in combinations(rings, 2))


def test_a_part_is_beside_another_on_one_side_or_not_at_all() -> None:
    own = (0.0, 0.0, 10.0, 8.0)
    assert side_of(own, (10.1, 2.0, 20.0, 9.0)) == "east"
    assert side_of(own, (-9.0, 2.0, -0.1, 9.0)) == "west"
    assert side_of(own, (2.0, 8.1, 7.0, 15.0)) == "north"
    assert side_of(own, (2.0, -6.0, 7.0, -0.1)) == "south"
    assert side_of(own, (10.1, 8.1, 20.0, 15.0)) is None, "only at a corner"
    assert side_of(own, (13.0, 2.0, 20.0, 9.0)) is None, "another part is between"
