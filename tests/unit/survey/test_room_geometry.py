"""Traverses: closure, area, corners, the same from whichever wall they start."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from heatloop.survey.room_geometry import (
    closing_tolerance_m,
    corner_kind,
    crossing_walls,
    interior_angle_deg,
    polygon_area_m2,
    room_geometry,
)

L_LENGTHS = [6.0, 3.0, 2.5, 2.0, 3.5, 5.0]
L_TURNS = [90.0, 90.0, -90.0, 90.0, 90.0, 90.0]


def test_rectangle_by_hand():
    plan = room_geometry([3.0, 4.0, 3.0, 4.0], [90.0] * 4)
    assert plan.floor_area_m2 == pytest.approx(12.0, abs=1e-12)
    assert plan.perimeter_m == 14.0
    assert plan.misclosure_m == pytest.approx(0.0, abs=1e-12)
    # clockwise with the wall on the left: the first wall goes north, the second east
    assert [x for x, _ in plan.corners_m] == pytest.approx([0, 0, 4, 4], abs=1e-12)
    assert [y for _, y in plan.corners_m] == pytest.approx([0, 3, 3, 0], abs=1e-12)
    assert plan.bearing_deg == (0.0, 90.0, 180.0, 270.0)


def test_l_shaped_room_by_hand():
    plan = room_geometry(L_LENGTHS, L_TURNS)
    assert plan.floor_area_m2 == pytest.approx(3.0 * 6.0 + 2.0 * 3.5, abs=1e-12)


def test_bay_by_hand():
    """A 45-degree bay adds a trapezium 1.6 m wide in front and 0.85 / sqrt 2 deep."""
    deep_m = 0.85 / math.sqrt(2.0)
    wide_m = 1.6 + 2.0 * deep_m
    lengths = [4.0, wide_m + 2.0, 4.0, 1.0, 0.85, 1.6, 0.85, 1.0]
    plan = room_geometry(lengths, [90, 90, 90, -45, 45, 45, -45, 90])
    assert plan.misclosure_m < 1e-12
    assert plan.floor_area_m2 == pytest.approx(4.0 * (wide_m + 2.0) + (1.6 + deep_m) * deep_m, abs=1e-12)


def test_regular_polygon_against_its_formula():
    for sides in (3, 5, 8, 12):
        plan = room_geometry([1.7] * sides, [360.0 / sides] * sides, 33.0)
        assert plan.floor_area_m2 == pytest.approx(sides * 1.7**2 / (4.0 * math.tan(math.pi / sides)), rel=1e-12)


def test_first_bearing_turns_the_plan_and_nothing_else():
    north, east = room_geometry(L_LENGTHS, L_TURNS, 0.0), room_geometry(L_LENGTHS, L_TURNS, 90.0)
    assert east.floor_area_m2 == pytest.approx(north.floor_area_m2, abs=1e-12)
    assert east.corners_m[1] == pytest.approx((6.0, 0.0), abs=1e-12)
    assert east.bearing_deg[0] == 90.0


def test_misclosure_points_from_the_start_to_where_the_last_wall_ends():
    plan = room_geometry([3.1, 4.0, 3.0, 4.2], [90.0] * 4)
    assert plan.misclosure_m == pytest.approx(math.hypot(0.1, 0.2), abs=1e-12)
    # 0.2 m too far west and 0.1 m too far north
    assert plan.misclosure_bearing_deg == pytest.approx(360.0 - math.degrees(math.atan2(0.2, 0.1)), abs=1e-9)


def test_compass_rule_shares_by_length():
    """Each wall takes its length's share of the gap: wall 1 is 3.1/14.3 of the perimeter."""
    plan = room_geometry([3.1, 4.0, 3.0, 4.2], [90.0] * 4)
    share = 3.1 / 14.3
    assert plan.corners_m[1] == pytest.approx((0.2 * share, 3.1 - 0.1 * share), abs=1e-12)


def test_tolerance_is_20_mm_and_0_3_percent():
    assert closing_tolerance_m(25.3) == pytest.approx(0.0959, abs=1e-12)
    inside = room_geometry([3.0 + 0.0619, 4.0, 3.0, 4.0], [90.0] * 4)
    beyond = room_geometry([3.0 + 0.0625, 4.0, 3.0, 4.0], [90.0] * 4)
    assert inside.closes
    assert not beyond.closes


def test_corners():
    assert [corner_kind(t) for t in (90.0, 45.0, -90.0, -45.0, 0.0)] == [
        "inside",
        "inside",
        "outside",
        "outside",
        "straight",
    ]
    assert interior_angle_deg(45.0) == 135.0


def test_walls_that_cross_or_touch():
    assert crossing_walls([(0, 0), (0, 3), (4, 3), (4, 0)]) == ()
    # a notch in the south wall deeper than the room
    notch = [(0, 0), (0, 3), (4, 3), (4, 0), (2.5, 0), (2.5, 5), (1.5, 5), (1.5, 0)]
    assert crossing_walls(notch) == ((2, 5), (2, 7))
    # the same notch just as deep as the room parts it in two
    touching = [(0, 0), (0, 3), (4, 3), (4, 0), (2.5, 0), (2.5, 3), (1.5, 3), (1.5, 0)]
    assert (2, 6) in crossing_walls(touching)


@pytest.mark.parametrize(("lengths", "turns"), [([1.0, 2.0], [90.0] * 2), ([1.0] * 4, [90.0] * 3)])
def test_too_few_walls_or_lists_that_differ(lengths, turns):
    with pytest.raises(ValueError, match="required: three or more of each"):
        room_geometry(lengths, turns)


def test_wall_without_length():
    with pytest.raises(ValueError, match="required: all above 0"):
        room_geometry([1.0, 0.0, 1.0, 1.0], [90.0] * 4)


@st.composite
def rooms(draw):
    """Rooms round a point: corners at rising bearings, so that no two walls cross; tape errors on top."""
    count = draw(st.integers(3, 9))
    gaps = [draw(st.floats(0.2, 1.0)) for _ in range(count)]
    scale = 2.0 * math.pi / sum(gaps)
    assume(max(gaps) * scale < 3.0)
    angle, corners = 0.0, []
    for gap in gaps:
        radius = draw(st.floats(1.0, 6.0))
        corners.append((radius * math.sin(angle), radius * math.cos(angle)))
        angle += gap * scale
    bearings, lengths = [], []
    for (x1, y1), (x2, y2) in zip(corners, corners[1:] + corners[:1], strict=True):
        bearings.append(math.degrees(math.atan2(x2 - x1, y2 - y1)))
        lengths.append(math.dist((x1, y1), (x2, y2)))
    turns = [
        (following - bearing + 180.0) % 360.0 - 180.0
        for bearing, following in zip(bearings, bearings[1:] + bearings[:1], strict=True)
    ]
    return corners, lengths, turns, bearings[0]


@given(rooms())
def test_a_plan_taken_apart_comes_back(room):
    corners, lengths, turns, bearing = room
    plan = room_geometry(lengths, turns, bearing)
    assert sum(turns) == pytest.approx(360.0)
    assert plan.misclosure_m < 1e-9
    assert plan.floor_area_m2 == pytest.approx(polygon_area_m2(corners), abs=1e-9)
    x0, y0 = corners[0]
    for (x, y), (px, py) in zip(corners, plan.corners_m, strict=True):
        assert (px, py) == pytest.approx((x - x0, y - y0), abs=1e-9)


@given(rooms(), st.integers(1, 8), st.lists(st.floats(-0.03, 0.03), min_size=9, max_size=9), st.floats(-0.1, 0.1))
def test_same_numbers_from_whichever_wall(room, start, tape, protractor):
    """Tape and protractor errors included: area and misclosure do not know where the traverse began."""
    _, lengths, turns, bearing = room
    lengths = [length + error for length, error in zip(lengths, tape, strict=False)]
    assume(min(lengths) > 0.0)
    turns = [turn + protractor for turn in turns]
    first = room_geometry(lengths, turns, bearing)
    start %= len(lengths)
    again = room_geometry(lengths[start:] + lengths[:start], turns[start:] + turns[:start], first.bearing_deg[start])
    assert again.floor_area_m2 == pytest.approx(first.floor_area_m2, abs=1e-9)
    assert again.misclosure_m == pytest.approx(first.misclosure_m, abs=1e-9)
    if first.misclosure_m > 1e-6:
        gap_deg = again.misclosure_bearing_deg - first.misclosure_bearing_deg
        assert abs((gap_deg + 180.0) % 360.0 - 180.0) < 0.01


@given(rooms())
def test_mirrored_room_is_as_large(room):
    _, lengths, turns, _ = room
    mirrored = room_geometry(lengths[::-1], [turns[-2], *turns[-3::-1], turns[-1]])
    assert mirrored.floor_area_m2 == pytest.approx(room_geometry(lengths, turns).floor_area_m2, abs=1e-9)


@given(rooms())
def test_rooms_round_a_point_have_no_crossing_walls(room):
    corners, lengths, turns, bearing = room
    close = min(math.dist(a, b) for i, a in enumerate(corners) for b in corners[i + 1 :])
    assume(close > 0.05 and max(abs(turn) for turn in turns) < 170.0)
    assert crossing_walls(room_geometry(lengths, turns, bearing).corners_m) == ()
