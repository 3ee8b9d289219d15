"""Where a click falls: by hand on a plan of two rooms, and for any click."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatloop.survey.tracing.model import TracedRoom
from heatloop.survey.tracing.snapping import held_to_wall, point_on_wall, snapped_corner

REACH = 8.0
BESIDE = TracedRoom("Study", 0.0, ((410.0, 100.0), (410.0, 400.0), (700.0, 400.0), (700.0, 100.0)), 2.0)


def kind_and_point(at, corners, others=(), free=False, frame_deg=0.0):
    snap = snapped_corner(at, corners, others, REACH, frame_deg, free)
    return snap.kind, snap.point


@pytest.mark.parametrize(
    ("at", "point"),
    [
        ((300.0, 106.0), (300.0, 100.0)),  # level
        ((94.0, 300.0), (100.0, 300.0)),  # upright
        ((204.0, 200.0), (202.0, 202.0)),  # at 45 degrees
    ],
)
def test_a_wall_is_set_square_within_reach(at, point):
    kind, found = kind_and_point(at, [(100.0, 100.0)])
    assert kind == "square"
    assert found == pytest.approx(point)


def test_a_point_out_of_reach_of_every_direction_stays():
    assert kind_and_point((300.0, 140.0), [(100.0, 100.0)]) == ("free", (300.0, 140.0))


def test_shift_leaves_a_point_and_still_closes_the_room():
    corners = [(100.0, 100.0), (400.0, 100.0), (400.0, 300.0)]
    assert kind_and_point((103.0, 301.0), corners, free=True) == ("free", (103.0, 301.0))
    assert kind_and_point((103.0, 104.0), corners, free=True) == ("first corner", (100.0, 100.0))


def test_the_first_corner_closes_a_room_of_three_corners_and_no_sooner():
    assert kind_and_point((104.0, 101.0), [(100.0, 100.0), (400.0, 100.0), (400.0, 300.0)])[0] == "first corner"
    assert kind_and_point((104.0, 101.0), [(100.0, 100.0), (400.0, 100.0)])[0] != "first corner"


def test_the_last_corner_is_in_line_with_the_first():
    corners = [(100.0, 100.0), (400.0, 100.0), (400.0, 300.0)]
    assert kind_and_point((105.0, 303.0), corners) == ("in line", (100.0, 300.0))
    assert kind_and_point((109.0, 303.0), corners) == ("square", (109.0, 300.0))


def test_a_first_corner_takes_a_corner_or_a_wall_of_another_room_within_half_the_reach():
    assert kind_and_point((408.0, 102.0), [], [BESIDE]) == ("corner", (410.0, 100.0))
    assert kind_and_point((407.0, 250.0), [], [BESIDE]) == ("wall", (410.0, 250.0))
    assert kind_and_point((405.0, 250.0), [], [BESIDE]) == ("free", (405.0, 250.0))


def test_the_far_face_of_a_partition_is_not_taken():
    """Ten pixels off, with a click that is two pixels astray."""
    assert kind_and_point((402.0, 102.0), [(100.0, 100.0)], [BESIDE]) == ("square", (402.0, 100.0))


def test_a_wall_ends_on_a_wall_that_is_there():
    assert kind_and_point((407.0, 204.0), [(100.0, 200.0)], [BESIDE]) == ("wall", (410.0, 200.0))


def test_what_is_taken_over_has_the_uncertainty_of_its_own_clicks():
    assert snapped_corner((408.0, 102.0), [], [BESIDE], REACH).click_px == 2.0
    assert snapped_corner((407.0, 204.0), [(100.0, 200.0)], [BESIDE], REACH).click_px == 2.0


def test_a_plan_that_lies_askew_has_its_own_square():
    turned = 3.0
    along, across = math.radians(turned), math.radians(turned + 90.0)
    first = (100.0, 100.0)
    at = (first[0] + 300.0 * math.cos(along) + 3.0 * math.cos(across),
          first[1] + 300.0 * math.sin(along) + 3.0 * math.sin(across))  # fmt: skip
    kind, point = kind_and_point(at, [first], frame_deg=turned)
    assert kind == "square"
    assert point == pytest.approx((first[0] + 300.0 * math.cos(along), first[1] + 300.0 * math.sin(along)))


def test_after_a_wall_that_is_left_free_the_next_is_square_to_it():
    corners = [(100.0, 100.0), (400.0, 130.0)]
    nx, ny = -30.0 / math.hypot(300.0, 30.0), 300.0 / math.hypot(300.0, 30.0)
    kind, point = kind_and_point((400.0 + 200.0 * nx + 3.0, 130.0 + 200.0 * ny), corners)
    assert kind == "square"
    assert (point[0] - 400.0) * 300.0 + (point[1] - 130.0) * 30.0 == pytest.approx(0.0, abs=1e-6)


number = st.floats(0.0, 1000.0)
places = st.tuples(number, number)


@given(places, st.lists(places, max_size=5), st.booleans())
def test_no_click_is_moved_farther_than_twice_the_reach(at, corners, free):
    """Across its wall by one reach at most, and along it by another."""
    snap = snapped_corner(at, corners, [BESIDE], REACH, 0.0, free)
    assert math.dist(at, snap.point) <= 2.0 * REACH + 1e-9
    if snap.kind == "free":
        assert snap.point == at
    if free:
        assert snap.kind in ("free", "first corner")


@given(places)
def test_a_point_of_a_wall_is_the_nearest_of_all(at):
    near = point_on_wall(at, BESIDE.walls_px, 2000.0)
    assert near is not None
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        for (x0, y0), (x1, y1) in BESIDE.walls_px:
            assert near.off_px <= math.dist(at, (x0 + share * (x1 - x0), y0 + share * (y1 - y0))) + 1e-9
    assert held_to_wall(near.point, near.wall) == pytest.approx(near.point)


def test_no_wall_is_found_out_of_reach():
    assert point_on_wall((300.0, 250.0), BESIDE.walls_px, REACH) is None
    assert point_on_wall((404.0, 250.0), BESIDE.walls_px, REACH).point == (410.0, 250.0)
