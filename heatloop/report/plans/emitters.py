"""Radiators and other emitters in plan, in rooms that have no skirting.

A survey does not state the position of an emitter. It is drawn in a dashed line under the first window, or in the
middle of the longest wall: a symbol, not a position to measure from.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from matplotlib.axes import Axes
from matplotlib.patches import Polygon

from heatloop.layout.model import Piece
from heatloop.layout.plan_coordinates import Point, RoomPlan
from heatloop.report.plans.room_outline import midpoint, point_inside_room, reading_angle
from heatloop.report.plots import style
from heatloop.survey.survey import SurveyData
from heatloop.text.formatting import escape_control_characters, listing, truncated

if TYPE_CHECKING:
    from heatloop.results.design import DesignResult

LENGTH_M = 0.9
NEAR_MM, FAR_MM, NAME_MM = 1.2, 3.4, 5.6
"""Off the wall, on paper: the two long sides of an emitter, and its name."""

NOT_SURVEYED = "emitter, position not surveyed"


def emitters_in(survey: SurveyData, room: str) -> tuple[str, ...]:
    """Names of the emitters of a room besides skirting, in the order of the loops."""
    return tuple(item.emitter for loop in survey.loops for item in loop.emitters if item.room == room)


def heat_from(design: DesignResult, room: str) -> str:
    """Heat sources of a room in words: skirting, other emitters, or both."""
    others = [truncated(escape_control_characters(name), 24) for name in emitters_in(design.survey, room)]
    skirting = any(piece.room == room for loop in design.layout.loops for piece in loop.pieces)
    return listing([*(["skirting"] if skirting else []), *dict.fromkeys(others)]) or "pipes"


def draw_emitters(ax: Axes, plan: RoomPlan, names: Sequence[str], mm: float, named: bool = True) -> bool:
    """Draw the emitters of a room without skirting as one dashed box; True if there was something to draw."""
    if not names or any(isinstance(drawn.element, Piece) for drawn in plan.drawn):
        return False
    wall, (start, end) = _place(plan)
    near_side = [point_inside_room(plan, wall, point, NEAR_MM * mm) for point in (start, end)]
    far_side = [point_inside_room(plan, wall, point, FAR_MM * mm) for point in (end, start)]
    ax.add_patch(
        Polygon(
            [*near_side, *far_side], closed=True, facecolor=style.PAPER, edgecolor=style.INK, linestyle="--", zorder=7
        )
    )
    if named:
        words = listing(dict.fromkeys(truncated(escape_control_characters(name), 20) for name in names))
        spot = point_inside_room(plan, wall, midpoint((start, end)), NAME_MM * mm)
        angle = reading_angle((start, end))
        ax.annotate(words, spot, ha="center", va="center", rotation=angle, fontsize=7, color=style.MUTED, zorder=8)
    return True


def _place(plan: RoomPlan) -> tuple[int, tuple[Point, Point]]:
    """The wall that an emitter is drawn at, by its number, and from where to where along it."""
    windows = (o for o in plan.openings if getattr(o.item, "kind", "") == "window")
    window = next(windows, None)
    if window is not None:
        return window.wall, _centred(window.points_m[0], window.points_m[-1])
    walls = list(pairwise([*plan.outline_m, plan.outline_m[0]]))
    number, longest = max(enumerate(walls, start=1), key=lambda wall: math.dist(*wall[1]))
    return number, _centred(*longest)


def _centred(start: Point, end: Point) -> tuple[Point, Point]:
    """A stretch of the length of an emitter in the middle of a line, no longer than the line."""
    share = min(1.0, LENGTH_M / math.dist(start, end)) / 2.0
    (x, y), (east, north) = midpoint((start, end)), (end[0] - start[0], end[1] - start[1])
    return (x - share * east, y - share * north), (x + share * east, y + share * north)
