"""The steps of a tracing: clicks, keys and typed texts. Every step returns a new value."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from heatloop.survey.drawing.floors import HIGHEST_M, LOWEST_M
from heatloop.survey.drawing.outlines import contains_point
from heatloop.survey.drawing.rooms import OpeningKind
from heatloop.survey.tracing.model import (
    PixelPoint,
    ScaleLine,
    TracedOpening,
    TracedPage,
    TracedRoom,
    Tracing,
)
from heatloop.survey.tracing.snapping import (
    MIN_CORNERS,
    Snap,
    direction_deg,
    held_to_wall,
    point_on_wall,
    snapped_corner,
)
from heatloop.text.quoting import LONGEST_NAME, single_line

Tool = Literal["scale", "room", "door", "window", "glazed door", "select"]
Awaited = Literal["", "length", "name"]

TOOLS: tuple[Tool, ...] = ("scale", "room", "door", "window", "glazed door", "select")
OPENING_TOOLS: tuple[OpeningKind, ...] = ("door", "window", "glazed door")
REACH_SCREEN_PX = 8.0
"""How far from a point, in pixels of the screen, a click is moved to it."""
MIN_SCALE_PX = 20.0
MIN_OPENING_PX = 2.0
ON_WALL_PX = 0.5
LONGEST_SCALE_M = 500.0
NUMBER = re.compile(r"\s*([-+]?\d{1,6}(?:[.,]\d{1,6})?)\s*m?\s*")


@dataclass(frozen=True)
class TracingSession:
    """A tracing in progress: page, tool, level, points placed, selection, and the earlier values for undo.

    `awaited` is the text that is requested, `selected` the index of a room or an opening of the page, `message` the
    effect of the last step, or the reason why it had none (`refused`).
    """

    tracing: Tracing
    levels_m: tuple[float, ...]
    page_index: int = 0
    tool: Tool = "scale"
    points: tuple[Snap, ...] = ()
    awaited: Awaited = ""
    selected: tuple[Literal["room", "opening"], int] | None = None
    past: tuple[Tracing, ...] = ()
    future: tuple[Tracing, ...] = ()
    message: str = ""
    refused: bool = False

    @property
    def page(self) -> TracedPage:
        """The page that is shown."""
        return self.tracing.pages[self.page_index]

    @property
    def level_m(self) -> float:
        """The level that new rooms are on."""
        return self.levels_m[self.page_index]

    @property
    def frame_deg(self) -> float:
        """The direction that counts as level: that of the first wall of the first room of the page."""
        return direction_deg(*self.page.rooms[0].walls_px[0]) if self.page.rooms else 0.0


def begin(tracing: Tracing, levels_m: tuple[float, ...]) -> TracingSession:
    """A session at the first page that has no scale, else with the tool for rooms at the first page."""
    without = next((index for index, page in enumerate(tracing.pages) if page.scale is None), None)
    session = TracingSession(tracing, levels_m, page_index=without or 0)
    return session if without is not None else replace(session, tool="room")


def click(session: TracingSession, at: PixelPoint, screen_px: float, free: bool = False) -> TracingSession:
    """A click on the picture, `screen_px` being the size of a pixel of the screen in pixels of the picture."""
    if session.tool == "select":
        return _select(session, at, screen_px)
    if session.awaited == "name":
        session = typed(session, "")
    snap = placed(session, at, screen_px, free)
    if snap is None:
        return _refuse(session, "No wall here: click on a wall of a room that is traced, on this level.")
    snap = replace(snap, click_px=max(snap.click_px, screen_px))
    if session.tool == "scale":
        return _scale_click(session, snap)
    if session.tool == "room":
        if snap.kind == "first corner":
            return _close_room(session)
        if session.points and math.dist(snap.point, session.points[-1].point) <= screen_px:
            return _refuse(session, "The same point again: no corner was placed.")
        words = (
            "the first corner or Enter closes the room."
            if len(session.points) + 1 >= MIN_CORNERS
            else "click the next."
        )
        return _say(replace(session, points=(*session.points, snap)), f"Corner {len(session.points) + 1}: {words}")
    return _opening_click(session, snap)


def placed(session: TracingSession, at: PixelPoint, screen_px: float, free: bool = False) -> Snap | None:
    """Position of a click with the present tool; None for an opening that is on no wall."""
    reach_px = REACH_SCREEN_PX * screen_px
    if session.tool in ("scale", "select"):
        return Snap(at, "free")
    rooms = session.page.on_level(session.level_m)
    corners = [one.point for one in session.points]
    if session.tool == "room":
        return snapped_corner(at, corners, rooms, reach_px, session.frame_deg, free)
    if session.points:
        first = session.points[0].point
        wall = min(
            (wall for room in rooms for wall in room.walls_px),
            key=lambda one: math.dist(held_to_wall(first, one), first),
        )
        return Snap(held_to_wall(at, wall), "wall")
    near = point_on_wall(at, [wall for room in rooms for wall in room.walls_px], 2.0 * reach_px)
    return None if near is None else Snap(near.point, "wall")


def press(session: TracingSession, key: str) -> TracingSession:
    """A key: Enter, Backspace, Escape, Delete, undo or redo; any other does nothing."""
    action = KEYS.get(key)
    return session if action is None else action(session)


def typed(session: TracingSession, text: str) -> TracingSession:
    """The text that was requested: a length in metres for the scale, or the name of a room."""
    if session.awaited == "length":
        return _scale_typed(session, text)
    if session.awaited == "name" and session.selected is not None:
        return _rename(session, session.selected[1], text)
    return session


def with_tool(session: TracingSession, tool: Tool) -> TracingSession:
    """Another tool; points placed with the one before are dropped."""
    words = {
        "scale": "Click both ends of a length that you know.",
        "room": "Click the corners of a room in turn; the first corner or Enter closes it.",
        "select": "Click a room or an opening to rename or delete it.",
    }
    text = words.get(tool, f"Click both ends of the {tool} on a wall.")
    return _say(replace(session, tool=tool, points=(), awaited="", selected=None), text)


def with_page_shown(session: TracingSession, index: int) -> TracingSession:
    """Show another page of the plan; no change if there is no such page."""
    if not 0 <= index < len(session.tracing.pages):
        return session
    tool: Tool = "scale" if session.tracing.pages[index].scale is None else "room"
    return with_tool(replace(session, page_index=index), tool)


def with_level(session: TracingSession, text: str) -> TracingSession:
    """Another level for the rooms that follow on this page, in metres as typed."""
    level_m = number_of(text)
    if level_m is None or not LOWEST_M <= level_m <= HIGHEST_M:
        return _refuse(session, f"A level is a number of metres, from {LOWEST_M:g} to {HIGHEST_M:g}.")
    levels = list(session.levels_m)
    levels[session.page_index] = level_m
    session = replace(session, levels_m=tuple(levels), points=(), awaited="", selected=None)
    return _say(session, f"New rooms are on level {level_m:g} m.")


def number_of(text: str) -> float | None:
    """A number of metres as typed, with a point or a comma; None if the text is not a number.

    >>> number_of("6,02 m"), number_of("about 6")
    (6.02, None)
    """
    found = NUMBER.fullmatch(text)
    return float(found[1].replace(",", ".")) if found else None


def _say(session: TracingSession, message: str) -> TracingSession:
    return replace(session, message=message, refused=False)


def _refuse(session: TracingSession, message: str) -> TracingSession:
    return replace(session, message=message, refused=True)


def _changed(session: TracingSession, page: TracedPage, message: str) -> TracingSession:
    """The session with another page in its tracing, which undo takes back."""
    tracing = session.tracing.with_page(session.page_index, page)
    return _say(replace(session, tracing=tracing, past=(*session.past, session.tracing), future=()), message)


def _scale_click(session: TracingSession, snap: Snap) -> TracingSession:
    points = (snap,) if len(session.points) == 2 else (*session.points, snap)
    if len(points) == 1:
        return _say(replace(session, points=points, awaited=""), "Click the other end of the known length.")
    span_px = math.dist(points[0].point, points[1].point)
    if span_px < MIN_SCALE_PX:
        return _refuse(session, "These points are too near each other for a scale: choose a longer line.")
    text, m_per_px = "Type the length in metres, then Enter.", session.page.m_per_px
    if m_per_px is not None:
        text += f" By the scale so far it is {span_px * m_per_px:.2f} m."
    return _say(replace(session, points=points, awaited="length"), text)


def _scale_typed(session: TracingSession, text: str) -> TracingSession:
    length_m = number_of(text)
    if length_m is None or not 0.0 < length_m <= LONGEST_SCALE_M:
        return _refuse(session, f"A length is a number of metres above 0, at most {LONGEST_SCALE_M:g}.")
    a, b = session.points
    line = ScaleLine((a.point, b.point), length_m, max(a.click_px, b.click_px))
    message = f"Scale set: {1000.0 * line.m_per_px:.1f} mm in a pixel of the picture."
    tool: Tool = "room" if not session.page.rooms else "scale"
    session = replace(session, points=(), awaited="", tool=tool)
    return _changed(session, replace(session.page, scale=line), message)


def _close_room(session: TracingSession) -> TracingSession:
    if len(session.points) < MIN_CORNERS:
        return _refuse(session, f"A room has at least {MIN_CORNERS} corners.")
    corners = tuple(one.point for one in session.points)
    name = _free_name(session, f"Room {len(session.tracing.room_names) + 1}")
    room = TracedRoom(name, session.level_m, corners, max(one.click_px for one in session.points))
    page = replace(session.page, rooms=(*session.page.rooms, room))
    session = replace(session, points=(), awaited="name", selected=("room", len(page.rooms) - 1))
    return _changed(session, page, f"{name} closed. Type its name, then Enter.")


def _rename(session: TracingSession, index: int, text: str) -> TracingSession:
    room = session.page.rooms[index]
    name = " ".join(single_line(text.strip()).split())[:LONGEST_NAME]
    if session.tool != "select":
        session = replace(session, selected=None)
    if not name or name == room.name:
        return _say(replace(session, awaited="", selected=None), f"The room is called {room.name}.")
    if name in session.tracing.room_names:
        session = replace(session, selected=("room", index))
        return _refuse(session, f"There is a {name} already: each room has its own name.")
    rooms = list(session.page.rooms)
    rooms[index] = replace(room, name=name)
    session = replace(session, awaited="", selected=None)
    return _changed(session, replace(session.page, rooms=tuple(rooms)), f"The room is called {name}.")


def _free_name(session: TracingSession, base: str) -> str:
    name, number = base, 2
    while name in session.tracing.room_names:
        name, number = f"{base} {number}", number + 1
    return name


def _opening_click(session: TracingSession, snap: Snap) -> TracingSession:
    if not session.points:
        return _say(replace(session, points=(snap,)), f"Click the other end of the {session.tool}.")
    first = session.points[0]
    click_px = max(first.click_px, snap.click_px)
    if math.dist(first.point, snap.point) < MIN_OPENING_PX * click_px:
        return _refuse(session, "Both ends are at one point: click the other end of the opening.")
    kind = next(kind for kind in OPENING_TOOLS if kind == session.tool)
    opening = TracedOpening(kind, session.level_m, (first.point, snap.point), click_px)
    page = replace(session.page, openings=(*session.page.openings, opening))
    return _changed(replace(session, points=()), page, f"{kind.capitalize()} placed{_width(session, opening)}.")


def _width(session: TracingSession, opening: TracedOpening) -> str:
    m_per_px = session.page.m_per_px
    return "" if m_per_px is None else f", {math.dist(*opening.ends_px) * m_per_px:.2f} m wide"


def _select(session: TracingSession, at: PixelPoint, screen_px: float) -> TracingSession:
    """The opening at a point, else the room around it."""
    session = replace(session, selected=None, awaited="")
    page = session.page
    for index, opening in enumerate(page.openings):
        if point_on_wall(at, [opening.ends_px], REACH_SCREEN_PX * screen_px) is not None:
            text = f"{opening.kind.capitalize()}{_width(session, opening)} selected: Delete removes it."
            return _say(replace(session, selected=("opening", index)), text)
    for index, room in enumerate(page.rooms):
        if contains_point(at, room.corners_px):
            text = f"{room.name} selected: type another name, or delete it with its openings."
            return _say(replace(session, selected=("room", index), awaited="name"), text)
    return _refuse(session, "Nothing is traced here.")


def _delete(session: TracingSession) -> TracingSession:
    if session.selected is None:
        return _refuse(session, "Nothing is selected: choose Select, then a room or an opening.")
    kind, index = session.selected
    page = session.page
    session = replace(session, selected=None, awaited="")
    if kind == "opening":
        openings = page.openings[:index] + page.openings[index + 1 :]
        return _changed(session, replace(page, openings=openings), f"{page.openings[index].kind.capitalize()} deleted.")
    kept = replace(page, rooms=page.rooms[:index] + page.rooms[index + 1 :])
    openings = tuple(one for one in kept.openings if is_on_wall(kept, one))
    return _changed(session, replace(kept, openings=openings), f"{page.rooms[index].name} deleted.")


def is_on_wall(page: TracedPage, opening: TracedOpening) -> bool:
    """Whether both ends of an opening are on one wall of a room of its level."""
    walls = [wall for room in page.on_level(opening.level_m) for wall in room.walls_px]
    return any(all(math.dist(held_to_wall(end, wall), end) <= ON_WALL_PX for end in opening.ends_px) for wall in walls)


def _enter(session: TracingSession) -> TracingSession:
    return _close_room(session) if session.tool == "room" and session.points else session


def _back(session: TracingSession) -> TracingSession:
    if not session.points:
        return session
    session = replace(session, points=session.points[:-1], awaited="")
    return _say(session, f"Point taken back; {len(session.points)} left.")


def _escape(session: TracingSession) -> TracingSession:
    if session.awaited == "name" and session.points == ():
        return _say(replace(session, awaited="", selected=None), "The name was left as it is.")
    return _say(replace(session, points=(), awaited="", selected=None), "Nothing in hand.")


def _undo(session: TracingSession) -> TracingSession:
    if session.points:
        return _back(session)
    if not session.past:
        return _refuse(session, "Nothing to undo.")
    earlier, future = session.past[-1], (*session.future, session.tracing)
    session = replace(session, tracing=earlier, past=session.past[:-1], future=future, awaited="", selected=None)
    return _say(session, "Undone.")


def _redo(session: TracingSession) -> TracingSession:
    if not session.future:
        return _refuse(session, "Nothing to redo.")
    later, past = session.future[-1], (*session.past, session.tracing)
    emptied = replace(session, points=(), awaited="", selected=None)
    return _say(replace(emptied, tracing=later, past=past, future=session.future[:-1]), "Done again.")


KEYS: dict[str, Callable[[TracingSession], TracingSession]] = {
    "Enter": _enter, "Backspace": _back, "Escape": _escape, "Delete": _delete, "undo": _undo, "redo": _redo,
}  # fmt: skip
"""What each key does."""
