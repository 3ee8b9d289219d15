"""Maximum error of traced lengths."""

from __future__ import annotations

import math

from heatloop.survey.tracing.model import ScaleLine, TracedPage, TracedRoom
from heatloop.survey.tracing.snapping import direction_deg

CLICK_SCREEN_PX = 1.0
"""Maximum distance of a click from its corner, in pixels of the screen."""
HALF_PIXEL_PX = math.sqrt(0.5)
"""A drawn corner is anywhere in its pixel of the picture: half of its diagonal."""
TYPED_WITHIN_M = 0.005
"""A typed length is taken as right to the centimetre."""
ROUND_M = 0.01
"""Corners are rounded to this; a length between two of them changes by at most sqrt(2) times as much."""
OBLIQUE = 1.0 + math.sqrt(2.0)
SQUARE_WITHIN_DEG = 0.5


def point_error_px(click_px: float) -> float:
    """Maximum distance of a placed point from the corner on the plan, for the size that a screen pixel had.

    >>> round(point_error_px(2.0), 2)
    2.71
    """
    return CLICK_SCREEN_PX * click_px + HALF_PIXEL_PX


def length_error_m(length_m: float, scale: ScaleLine, point_px: float) -> float:
    r"""Maximum error of a length between two points that are each within `point_px` of the corner on the plan.

    The error has three parts. Both ends of the length are uncertain by :math:`r`, which is `point_px` times the metres
    of a pixel, :math:`s`. The scale is uncertain because both ends of its line are, by :math:`r_s` pixels of its
    :math:`d`, and because the length typed for it, :math:`L_s`, is right to 5 mm only. Corners are rounded to 1 cm:

    .. math:: e = (L + 2 r s) \frac{1 + \delta / L_s}{1 - 2 r_s / d} - L + 0.01 \sqrt 2 \approx
       2 r s + L \left( \frac{2 r_s}{d} + \frac{\delta}{L_s} \right) + 0.014

    It is a bound, not a standard deviation: no length is off by more while each click is within one pixel of the screen
    of its corner, and the plan itself is to scale. A scale taken from a long line keeps the second part small; zooming
    in before clicking makes :math:`r` smaller. Infinite where the ends of the scale line may be the same point.

    >>> line = ScaleLine(((0.0, 0.0), (800.0, 0.0)), 8.0, 1.0)
    >>> round(length_error_m(4.0, line, point_error_px(1.0)), 3)
    0.068
    """
    shaken = 2.0 * point_error_px(scale.click_px) / scale.span_px
    if shaken >= 1.0:
        return math.inf
    longest_m = (length_m + 2.0 * point_px * scale.m_per_px) * (1.0 + TYPED_WITHIN_M / scale.length_m)
    return longest_m / (1.0 - shaken) - length_m + math.sqrt(2.0) * ROUND_M


def room_point_error_px(room: TracedRoom) -> float:
    """The error of a corner of a room.

    In a room of right angles each coordinate of a corner comes from one click. Where walls stand at 45 degrees a
    coordinate that is carried from wall to wall gathers errors: the sum of that series is 1 + sqrt(2) times one click.
    """
    directions = [direction_deg(a, b) for a, b in room.walls_px]
    oblique = any(abs((one - directions[0] + 45.0) % 90.0 - 45.0) > SQUARE_WITHIN_DEG for one in directions)
    return point_error_px(room.click_px) * (OBLIQUE if oblique else 1.0)


def wall_error_m(length_m: float, page: TracedPage, room: TracedRoom) -> float:
    """Maximum error of a length of a wall of a room. ValueError before the page has a scale."""
    if page.scale is None:
        raise ValueError("no scale")
    return length_error_m(length_m, page.scale, room_point_error_px(room))
