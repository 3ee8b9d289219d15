"""What is shown over the picture of a plan, as plain values for the page: outlines, labels, tools, status line.

The page sets texts as text, never as HTML.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

from heatloop.survey.drawing.outlines import contains_point
from heatloop.survey.room_geometry import polygon_area_m2
from heatloop.survey.tracing.accuracy import length_error_m, point_error_px
from heatloop.survey.tracing.model import PixelPoint, TracedOpening, TracedPage, TracedRoom
from heatloop.survey.tracing.session import TOOLS, Tool, TracingSession, placed
from heatloop.survey.tracing.snapping import Snap, SnapKind, direction_deg

LABELS: dict[Tool, tuple[str, str]] = {
    "scale": ("Scale", "s"),
    "room": ("Room", "r"),
    "door": ("Door", "d"),
    "window": ("Window", "w"),
    "glazed door": ("Glazed door", "g"),
    "select": ("Select", "e"),
}
"""Label and key of each tool."""
OPENING_MARKS = {"door": "D", "window": "W", "glazed door": "GD"}
SNAP_WORDS: dict[SnapKind, str] = {
    "free": "as clicked",
    "first corner": "closes the room",
    "corner": "on a corner",
    "wall": "on a wall",
    "square": "square",
    "in line": "square, in line with the first corner",
}
STATED_AT_M = 4.0
"""The length at which the error is stated in one figure."""


def scene(session: TracingSession, saved: str) -> dict[str, Any]:
    """All that the page shows for a session; `saved` says in words where the tracing is kept."""
    page = session.page
    return {
        "page": session.page_index,
        "pages": [f"Page {one.number}" for one in session.tracing.pages],
        "size": [page.width_px, page.height_px],
        "tool": session.tool,
        "tools": [{"id": tool, "label": LABELS[tool][0], "key": LABELS[tool][1]} for tool in TOOLS],
        "level": f"{session.level_m:g}",
        "rooms": [_room(session, index, room) for index, room in enumerate(page.rooms)],
        "openings": [_opening(session, index, one) for index, one in enumerate(page.openings)],
        "scale": _scale(page),
        "points": [list(one.point) for one in session.points],
        "ask": _ask(session),
        "status": session.message or _first_words(session),
        "refused": session.refused,
        "figures": _figures(session),
        "saved": saved,
        "can_undo": bool(session.past or session.points),
        "can_redo": bool(session.future),
        "can_delete": session.selected is not None and session.tool == "select",
    }


def preview(session: TracingSession, at: PixelPoint, screen_px: float, free: bool) -> dict[str, Any]:
    """Where a click would fall, what it is held to, and the length so far."""
    snap = placed(session, at, screen_px, free)
    if snap is None or session.tool == "select":
        return {"point": None, "kind": "", "words": ""}
    words = [] if session.tool == "scale" else [_snap_words(session, snap)]
    if session.points and len(session.points) < (2 if session.tool != "room" else math.inf):
        span_px = math.dist(session.points[-1].point, snap.point)
        words.insert(0, _length(session.page, span_px))
    return {"point": list(snap.point), "kind": snap.kind, "words": ", ".join(words)}


def _snap_words(session: TracingSession, snap: Snap) -> str:
    if snap.kind == "square" and session.points:
        turned_deg = direction_deg(session.points[-1].point, snap.point) - session.frame_deg
        if abs(turned_deg % 90.0 - 45.0) < 1.0:
            return "at 45 degrees"
    return SNAP_WORDS[snap.kind]


def length_words(page: TracedPage) -> str:
    """The error of lengths on a page in one sentence, for its largest screen pixel; empty without a scale."""
    if page.scale is None:
        return ""
    click_px = max((room.click_px for room in page.rooms), default=page.scale.click_px)
    error_m = length_error_m(STATED_AT_M, page.scale, point_error_px(click_px))
    if not math.isfinite(error_m):
        return "The scale line is too short for any length"
    return f"A length of {STATED_AT_M:g} m is right to within {1000.0 * error_m:.0f} mm"


def _length(page: TracedPage, span_px: float) -> str:
    m_per_px = page.m_per_px
    return f"{span_px:.0f} pixels" if m_per_px is None else f"{span_px * m_per_px:.2f} m"


def _room(session: TracingSession, index: int, room: TracedRoom) -> dict[str, Any]:
    page, here = session.page, room.level_m == session.level_m
    labels = [room.name] if here else [room.name, f"level {room.level_m:g} m"]
    if page.m_per_px is not None:
        labels.append(f"{abs(polygon_area_m2(room.corners_px)) * page.m_per_px**2:.1f} m²")
    return {
        "corners": [list(corner) for corner in room.corners_px],
        "label_at": list(_label_at(room.corners_px)),
        "labels": labels,
        "selected": session.selected == ("room", index),
        "here": here,
    }


def _label_at(corners: tuple[PixelPoint, ...]) -> PixelPoint:
    """The centroid of an outline; if that is outside, the middle of the widest part at the same height."""
    sides = list(pairwise((*corners, corners[0])))
    area = sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in sides)
    if area == 0.0:
        return corners[0]
    x = sum((x0 + x1) * (x0 * y1 - x1 * y0) for (x0, y0), (x1, y1) in sides) / (3.0 * area)
    y = sum((y0 + y1) * (x0 * y1 - x1 * y0) for (x0, y0), (x1, y1) in sides) / (3.0 * area)
    if contains_point((x, y), corners):
        return x, y
    met = sorted(x0 + (y - y0) * (x1 - x0) / (y1 - y0) for (x0, y0), (x1, y1) in sides if (y0 > y) != (y1 > y))
    a, b = max(zip(met[::2], met[1::2], strict=False), key=lambda pair: pair[1] - pair[0], default=(x, x))
    return (a + b) / 2.0, y


def _opening(session: TracingSession, index: int, one: TracedOpening) -> dict[str, Any]:
    return {
        "ends": [list(end) for end in one.ends_px],
        "kind": one.kind,
        "mark": OPENING_MARKS[one.kind],
        "selected": session.selected == ("opening", index),
    }


def _scale(page: TracedPage) -> dict[str, Any] | None:
    if page.scale is None:
        return None
    return {"ends": [list(end) for end in page.scale.ends_px], "label": f"{page.scale.length_m:.2f} m"}


def _ask(session: TracingSession) -> dict[str, str] | None:
    """The text that is requested: label and initial value of its field, with a new `id` for each request."""
    number = f"{session.page_index} {len(session.past)} {session.selected}"
    if session.awaited == "length":
        return {"id": f"length {number}", "label": "Length, m", "value": ""}
    if session.awaited == "name" and session.selected is not None:
        return {"id": f"name {number}", "label": "Room name", "value": session.page.rooms[session.selected[1]].name}
    return None


def _first_words(session: TracingSession) -> str:
    if session.page.scale is None:
        return "Begin with the scale: click both ends of a length that you know, then type it."
    return "Click the corners of a room in turn; the first corner or Enter closes it."


def _figures(session: TracingSession) -> str:
    rooms = len(session.tracing.room_names)
    openings = sum(len(page.openings) for page in session.tracing.pages)
    counted = f"{rooms} room{'' if rooms == 1 else 's'}, {openings} opening{'' if openings == 1 else 's'}"
    words = length_words(session.page)
    return f"{counted}. {words}." if words else f"{counted}. No scale on this page yet."
