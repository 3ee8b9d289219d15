"""The stated error of a length holds for every room that is clicked within a pixel of the screen."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heatloop.survey.tracing.accuracy import length_error_m, point_error_px, room_point_error_px, wall_error_m
from heatloop.survey.tracing.model import ScaleLine, TracedPage, TracedRoom, Tracing
from heatloop.survey.tracing.rooms import wall_lengths
from heatloop.survey.tracing.session import begin, click, press, typed

SQUARE = TracedRoom("Hall", 0.0, ((0.0, 0.0), (0.0, 300.0), (400.0, 300.0), (400.0, 0.0)), 1.0)


def test_the_error_by_hand():
    """A scale of 8 m over 800 pixels: 10 mm a pixel; clicks within 1.7071 pixels."""
    line = ScaleLine(((0.0, 0.0), (800.0, 0.0)), 8.0, 1.0)
    point_px = point_error_px(1.0)
    assert point_px == pytest.approx(1.70711, abs=1e-5)
    longest_m = (4.0 + 2 * 0.0170711) * (1 + 0.005 / 8.0) / (1 - 2 * 1.70711 / 800.0)
    assert length_error_m(4.0, line, point_px) == pytest.approx(longest_m - 4.0 + 0.0141421, abs=1e-6)
    first_order_m = 2 * 0.0170711 + 4.0 * (2 * 1.70711 / 800.0 + 0.005 / 8.0) + 0.0141421
    assert length_error_m(4.0, line, point_px) == pytest.approx(first_order_m, abs=0.0004)


def test_a_longer_scale_line_and_a_closer_view_make_it_smaller():
    def error_m(span_px, click_px):
        return length_error_m(4.0, ScaleLine(((0.0, 0.0), (span_px, 0.0)), span_px / 100.0, click_px), click_px)

    assert error_m(1600.0, 1.0) < error_m(400.0, 1.0) < error_m(400.0, 2.0)
    assert error_m(1.0, 1.0) == math.inf


def test_walls_at_45_degrees_gather_errors():
    bay = TracedRoom("Bay", 0.0, ((0.0, 0.0), (0.0, 100.0), (50.0, 150.0), (150.0, 150.0), (150.0, 0.0)), 1.0)
    assert room_point_error_px(SQUARE) == point_error_px(1.0)
    assert room_point_error_px(bay) == pytest.approx((1.0 + math.sqrt(2.0)) * point_error_px(1.0))


def test_without_a_scale_there_is_no_error_to_state():
    page = TracedPage(1, 1000, 800, None, (SQUARE,))
    assert wall_lengths(Tracing((page,))) == ()
    with pytest.raises(ValueError, match="no scale"):
        wall_error_m(4.0, page, SQUARE)


astray = st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 2.0 * math.pi))
sides_m = st.floats(0.8, 9.0)


def traced_lengths(sides, scale_m, px_per_m, screen_px, moves):
    """Lengths, and their errors, of an L-shaped room clicked with moves of at most a screen pixel each."""
    moves = iter(moves)

    def hand(point):
        share, angle = next(moves)
        return point[0] + share * screen_px * math.cos(angle), point[1] + share * screen_px * math.sin(angle)

    a, b, c, d = sides
    outline = [(0.0, 0.0), (0.0, a + b), (c, a + b), (c, b), (c + d, b), (c + d, 0.0)]
    session = begin(Tracing((TracedPage(1, 4000, 4000),)), (0.0,))
    for x_m in (0.0, scale_m):
        session = click(session, hand((200.0 + x_m * px_per_m, 3900.0)), screen_px)
    session = typed(session, f"{scale_m:.2f}")
    for x, y in outline:
        session = click(session, hand((200.0 + x * px_per_m, 3800.0 - y * px_per_m)), screen_px)
    session = press(session, "Enter")
    true_m = [math.dist(p, q) for p, q in zip(outline, (*outline[1:], outline[0]), strict=True)]
    return true_m, wall_lengths(session.tracing)


@given(
    st.tuples(sides_m, sides_m, sides_m, sides_m),
    st.floats(2.0, 18.0),
    st.floats(60.0, 180.0),
    st.floats(0.3, 2.0),
    st.lists(astray, min_size=8, max_size=8),
)
def test_no_length_is_off_by_more_than_its_stated_error(sides, scale_m, px_per_m, screen_px, moves):
    true_m, found = traced_lengths(sides, scale_m, px_per_m, screen_px, moves)
    assert len(found) == 6
    for length_m, one in zip(true_m, found, strict=True):
        assert abs(one.length_m - length_m) <= one.error_m


def test_the_stated_error_is_not_idle():
    """Clicks that are astray as badly as they may be use up more than half of it."""
    out, back = (1.0, math.pi / 2.0), (1.0, 1.5 * math.pi)
    moves = [(1.0, 0.0), (1.0, math.pi), out, back, back, (0.0, 0.0), (0.0, 0.0), out]
    true_m, found = traced_lengths((2.0, 2.0, 2.0, 2.0), 10.0, 80.0, 2.0, moves)
    assert 0.5 < max(abs(one.length_m - length) / one.error_m for length, one in zip(true_m, found, strict=True)) <= 1.0
