"""Steps of a tracing: clicks, keys and texts, what they refuse, and undo back to the beginning."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatloop.survey.tracing.model import TracedPage, Tracing
from heatloop.survey.tracing.session import (
    KEYS,
    TOOLS,
    begin,
    click,
    number_of,
    press,
    typed,
    with_level,
    with_page_shown,
    with_tool,
)

BLANK = Tracing((TracedPage(1, 1000, 800), TracedPage(2, 1000, 800)))
HALL = [(100.0, 100.0), (100.0, 400.0), (500.0, 400.0), (500.0, 100.0)]


def clicked(session, *points, screen_px=1.0):
    for point in points:
        session = click(session, point, screen_px)
    return session


def scaled(length="8.00"):
    return typed(clicked(begin(BLANK, (0.0, 2.6)), (100.0, 700.0), (900.0, 700.0)), length)


def with_hall():
    return typed(press(clicked(scaled(), *HALL), "Enter"), "Hall")


def test_it_begins_with_the_scale_and_goes_on_with_rooms():
    assert begin(BLANK, (0.0, 2.6)).tool == "scale"
    session = scaled("8,00 m")
    assert session.page.m_per_px == 0.01
    assert session.tool == "room"
    assert begin(session.tracing, (0.0, 2.6)).page_index == 1
    whole = Tracing((session.page, replace(session.page, number=2)))
    assert begin(whole, (0.0, 2.6)).tool == "room"


@pytest.mark.parametrize("text", ["", "six", "0", "-3", "1e3", "600", "8 ft"])
def test_a_length_that_is_none_is_refused_and_asked_for_again(text):
    session = scaled(text)
    assert session.refused
    assert session.awaited == "length"
    assert session.page.scale is None


def test_points_too_near_each_other_make_no_scale():
    session = clicked(begin(BLANK, (0.0, 2.6)), (100.0, 700.0), (110.0, 700.0))
    assert session.refused
    assert session.awaited == ""


def test_a_second_known_length_is_compared_before_it_is_typed():
    session = clicked(with_tool(scaled(), "scale"), (100.0, 100.0), (401.0, 100.0))
    assert "By the scale so far it is 3.01 m" in session.message
    assert typed(session, "3.00").page.m_per_px == pytest.approx(3.0 / 301.0)


def test_a_room_is_closed_by_its_first_corner_or_enter_and_named():
    by_corner = typed(clicked(scaled(), *HALL, (103.0, 98.0)), "Hall")
    assert by_corner.tracing == with_hall().tracing
    (room,) = by_corner.page.rooms
    assert (room.name, room.level_m, room.corners_px) == ("Hall", 0.0, tuple(HALL))
    assert by_corner.awaited == ""


def test_a_room_left_without_a_name_has_a_number():
    session = press(clicked(scaled(), *HALL), "Enter")
    assert session.awaited == "name"
    assert typed(session, "  ").page.rooms[0].name == "Room 1"
    assert press(session, "Escape").page.rooms[0].name == "Room 1"
    assert click(session, (700.0, 100.0), 1.0).awaited == ""


def test_a_name_is_used_once_and_stands_in_one_line():
    session = press(clicked(with_hall(), (600.0, 100.0), (600.0, 400.0), (900.0, 400.0), (900.0, 100.0)), "Enter")
    refused = typed(session, "Hall")
    assert refused.refused
    assert refused.awaited == "name"
    assert typed(refused, "<b>Den</b>\nand more").page.rooms[1].name == "<b>Den</b>\\nand more"


def test_too_few_corners_close_no_room():
    session = press(clicked(scaled(), *HALL[:2]), "Enter")
    assert session.refused
    assert session.page.rooms == ()


def test_the_same_point_twice_is_one_corner():
    session = clicked(scaled(), HALL[0], HALL[0])
    assert session.refused
    assert len(session.points) == 1


def test_openings_lie_on_a_wall_and_their_second_click_on_the_same():
    session = clicked(with_tool(with_hall(), "window"), (104.0, 200.0), (90.0, 320.0))
    (window,) = session.page.openings
    assert (window.kind, window.ends_px) == ("window", ((100.0, 200.0), (100.0, 320.0)))
    assert session.message == "Window placed, 1.20 m wide."
    away = clicked(with_tool(with_hall(), "door"), (300.0, 250.0))
    assert away.refused
    assert away.points == ()
    same = clicked(with_tool(with_hall(), "door"), (100.0, 200.0), (100.0, 200.5))
    assert same.refused


def test_a_room_is_selected_renamed_and_deleted_with_its_openings():
    session = clicked(with_tool(with_hall(), "door"), (100.0, 200.0), (100.0, 284.0))
    session = click(with_tool(session, "select"), (300.0, 250.0), 1.0)
    renamed = typed(session, "Lobby")
    assert renamed.tracing.room_names == ("Lobby",)
    assert renamed.page.openings == session.page.openings
    deleted = press(session, "Delete")
    assert (deleted.page.rooms, deleted.page.openings) == ((), ())
    assert press(deleted, "undo").tracing == session.tracing


def test_an_opening_is_selected_before_the_room_it_is_in():
    session = clicked(with_tool(with_hall(), "door"), (100.0, 200.0), (100.0, 284.0))
    session = press(click(with_tool(session, "select"), (103.0, 240.0), 1.0), "Delete")
    assert session.page.openings == ()
    assert len(session.page.rooms) == 1
    assert press(session, "Delete").refused
    assert click(with_tool(session, "select"), (900.0, 700.0), 1.0).refused


def test_backspace_takes_a_point_back_and_escape_all():
    session = clicked(scaled(), *HALL[:3])
    assert len(press(session, "Backspace").points) == 2
    assert press(session, "Escape").points == ()
    assert press(session, "undo").points == press(session, "Backspace").points
    assert press(scaled(), "Backspace") == scaled()
    assert press(scaled(), "F5") == scaled()


def test_pages_and_levels():
    session = with_page_shown(with_hall(), 1)
    assert (session.page.number, session.level_m, session.tool) == (2, 2.6, "scale")
    assert with_page_shown(session, 7) == session
    session = with_level(with_page_shown(session, 0), "5,3")
    assert session.levels_m == (5.3, 2.6)
    assert with_level(session, "roof").refused
    assert click(with_tool(session, "door"), (100.0, 200.0), 1.0).refused, "walls of another level take no doors"


def test_a_number_as_it_is_typed():
    assert [number_of(text) for text in ("6.02", " 6,02 m ", "+3", "-0.4", "1.2.3", "")] == [
        6.02,
        6.02,
        3,
        -0.4,
        None,
        None,
    ]


events = st.one_of(
    st.tuples(st.just("click"), st.tuples(st.integers(0, 20), st.integers(0, 16)), st.booleans()),
    st.tuples(st.just("key"), st.sampled_from([key for key in KEYS if key not in ("undo", "redo")])),
    st.tuples(st.just("text"), st.sampled_from(["3.5", "Hall", "Den", "", "\x00"])),
    st.tuples(st.just("tool"), st.sampled_from(TOOLS)),
    st.tuples(st.just("page"), st.integers(0, 1)),
    st.tuples(st.just("level"), st.sampled_from(["0", "2.6"])),
)


def stepped(session, event):
    kind, value, *more = event
    if kind == "click":
        return click(session, (50.0 * value[0], 50.0 * value[1]), 1.0, *more)
    steps = {"key": press, "text": typed, "tool": with_tool, "page": with_page_shown, "level": with_level}
    return steps[kind](session, value)


@given(st.lists(events, max_size=60))
def test_undo_goes_back_step_by_step_and_redo_forward_again(walk):
    session = begin(BLANK, (0.0, 2.6))
    for event in walk:
        session = stepped(session, event)
        assert len(set(session.tracing.room_names)) == len(session.tracing.room_names)
        assert all(len(room.corners_px) >= 3 for page in session.tracing.pages for room in page.rooms)
    last, count = session.tracing, len(session.past)
    session = replace(session, points=())
    for _ in range(count):
        session = press(session, "undo")
    assert session.tracing == BLANK
    assert press(session, "undo").refused
    for _ in range(count):
        session = press(session, "redo")
    assert session.tracing == last
