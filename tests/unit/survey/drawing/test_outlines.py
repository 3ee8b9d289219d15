"""Any outline comes back as it was drawn."""

from __future__ import annotations

import math
import random

import pytest

from heatloop.survey.drawing.outlines import Outline, closed_outline, joined_lines
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
