"""Traced rooms as a drawing has them: two rooms by hand, levels apart, and what is wrong with a tracing."""

from dataclasses import replace

import pytest

from heatloop.survey.tracing.model import ScaleLine, TracedOpening, TracedPage, TracedRoom, Tracing
from heatloop.survey.tracing.rooms import traced_rooms

SCALE = ScaleLine(((0.0, 790.0), (800.0, 790.0)), 8.0, 1.0)
HALL = TracedRoom("Hall", 0.0, ((100.0, 100.0), (100.0, 400.0), (400.2, 400.0), (400.2, 100.0)), 1.0)
DEN = TracedRoom("Den", 0.0, ((410.0, 100.0), (410.0, 500.0), (700.0, 500.0), (700.0, 100.0)), 1.0)
DOOR = TracedOpening("door", 0.0, ((400.2, 200.0), (400.2, 284.0)), 1.0)
WINDOW = TracedOpening("window", 0.0, ((100.0, 350.0), (100.0, 230.0)), 1.0)
PAGE = TracedPage(1, 1000, 800, SCALE, (HALL, DEN), (DOOR, WINDOW))


def rooms_of(page, north_deg=0.0):
    rooms, issues = traced_rooms(Tracing((page,)), "plan.pdf", north_deg)
    assert issues == []
    return {room.name: room for room in rooms}


def test_two_rooms_by_hand():
    """10 mm a pixel, corners rounded to 10 mm: the Hall is 3 m square, 3 of 4 m of the Den's west wall are to it."""
    rooms = rooms_of(PAGE)
    assert list(rooms) == ["Hall", "Den"]
    hall, den = rooms["Hall"], rooms["Den"]
    assert [(wall.length_m, wall.turn_deg, wall.beyond) for wall in hall.walls] == [
        (3.0, 90.0, None), (3.0, 90.0, None), (3.0, 90.0, "Den"), (3.0, 90.0, None),
    ]  # fmt: skip
    assert [(wall.length_m, wall.beyond) for wall in den.walls[:2]] == [(1.0, None), (3.0, "Hall")]
    (window,) = hall.walls[0].openings
    assert (window.kind, window.start_m, window.width_m) == ("window", 0.5, 1.2)
    (door,), (other,) = hall.walls[2].openings, den.walls[1].openings
    assert door.name == other.name == "Hall to Den"
    assert (door.start_m, door.width_m, other.start_m) == (1.0, 0.84, 1.16)
    assert hall.first_wall_bearing_deg == 0.0
    assert rooms_of(PAGE, 20.0)["Hall"].first_wall_bearing_deg == 20.0


def test_rooms_of_different_levels_are_no_neighbours():
    rooms = rooms_of(replace(PAGE, rooms=(HALL, replace(DEN, level_m=2.6))))
    assert all(wall.beyond is None for room in rooms.values() for wall in room.walls)
    assert [room.level_m for room in rooms.values()] == [0.0, 2.6]


CROSSED = replace(HALL, corners_px=((100.0, 100.0), (400.0, 400.0), (400.0, 100.0), (100.0, 400.0)))
OVER = replace(DEN, corners_px=((300.0, 100.0), (300.0, 500.0), (700.0, 500.0), (700.0, 100.0)))


@pytest.mark.parametrize(
    ("page", "found"),
    [
        (TracedPage(1, 1000, 800), "no room"),
        (replace(PAGE, scale=None), "rooms without a scale"),
        (replace(PAGE, rooms=(CROSSED, DEN)), "two sides of an outline that cross"),
        (replace(PAGE, rooms=(HALL, OVER)), "lie over each other"),
        (replace(PAGE, rooms=(DEN,), openings=(WINDOW,)), "on no wall"),
    ],
)
def test_what_is_wrong_is_said_and_no_room_is_given(page, found):
    rooms, issues = traced_rooms(Tracing((page,)), "plan.pdf", 0.0)
    assert rooms == ()
    assert found in " ".join(str(issue) for issue in issues)
    assert all(issue.file == "plan.pdf" for issue in issues)
