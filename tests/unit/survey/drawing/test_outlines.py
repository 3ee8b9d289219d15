"""Any outline comes back as it was drawn."""

from __future__ import annotations

import math
import random

import pytest

from heatloop.survey.drawing.outlines import Outline, closed_outline, joined_lines, overlapping
from heatloop.survey.drawing.rooms import traverse_turns_deg
from heatloop.survey.room_geometry import room_geometry


def _staircase(seed: int) -> list[tuple[float, float]]:
    """A room with random steps, its corners clockwise."""
    shuffled = random.Random(seed)
    x, y = 0.0, 3.0
    points = [(0.0, 0.0), (0.0, 3.0)]
    for _ in range(shuffled.randrange(1, 5)):
        x += round(shuffled.uniform(0.5, 2.0), 3)
        points.append((x, y))
        y += round(shuffled.choice([-1, 1]) * shuffled.uniform(0.3, 0.6), 3)
        points.append((x, y))
    return [*points, (x + 1.0, y), (x + 1.0, 0.0)]


@pytest.mark.parametrize("seed", range(12))
def test_any_room_comes_back_as_it_was_drawn(seed: int) -> None:
    points = _staircase(seed)
    shuffled = random.Random(seed)
    angle = shuffled.uniform(0, 360)
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    turned = [(50 + c * x - s * y, -20 + s * x + c * y) for x, y in points]
    start = shuffled.randrange(len(turned))
    turned = turned[start:] + turned[:start]
    outline = closed_outline(turned[:: shuffled.choice([1, -1])], 0.005)
    segments = list(zip(turned, [*turned[1:], turned[0]], strict=True))
    shuffled.shuffle(segments)
    (joined,) = joined_lines([(b, a) if shuffled.random() < 0.5 else (a, b) for a, b in segments], 0.005, 3.0)
    assert isinstance(outline, Outline)
    assert isinstance(joined, Outline)
    assert joined.corners_m == outline.corners_m
    lengths = sorted(math.dist(a, b) for a, b in outline.walls)
    assert lengths == pytest.approx(sorted(math.dist(a, b) for a, b in segments))
    turns = traverse_turns_deg(outline.corners_m, 1.0)
    assert set(turns) == {90.0, -90.0}
    assert sum(turns) == 360.0
    geometry = room_geometry([math.dist(a, b) for a, b in outline.walls], turns)
    assert geometry.misclosure_m < 1e-9
    assert geometry.floor_area_m2 == pytest.approx(outline.area_m2)


def _rectangle(west: float, south: float, east: float, north: float) -> Outline:
    outline = closed_outline([(west, south), (west, north), (east, north), (east, south)], 0.005)
    assert isinstance(outline, Outline)
    return outline


@pytest.mark.parametrize(
    ("other", "is_over"),
    [
        ((0.0, 0.0, 4.0, 3.0), True),  # the same outline again
        ((1.0, 0.0, 6.0, 3.0), True),  # two sides in line, every corner on a side
        ((-2.0, 1.0, 6.0, 2.0), True),
        ((4.0, 0.0, 6.0, 3.0), False),  # one side in common
        ((3.95, 0.0, 6.0, 3.0), False),  # a slip of the draughtsman
        ((4.1, -1.0, 6.0, 4.0), False),
        ((0.0, 3.0, 4.0, 6.0), False),
    ],
)
@pytest.mark.parametrize("swapped", [False, True])
def test_outlines_with_sides_in_line_lie_over_each_other(
    other: tuple[float, float, float, float], is_over: bool, swapped: bool
) -> None:
    both = [_rectangle(0.0, 0.0, 4.0, 3.0), _rectangle(*other)]
    assert bool(overlapping(both[::-1] if swapped else both, 0.005)) is is_over


def test_a_room_in_the_corner_of_another_is_not_over_it() -> None:
    """An outside corner leaves space for a second room."""
    corner = closed_outline([(0, 0), (0, 5), (2, 5), (2, 3), (6, 3), (6, 0)], 0.005)
    assert isinstance(corner, Outline)
    assert overlapping([corner, _rectangle(2.0, 3.0, 6.0, 5.0)], 0.005) == []
    assert len(overlapping([corner, _rectangle(1.0, 0.0, 6.0, 5.0)], 0.005)) == 1
