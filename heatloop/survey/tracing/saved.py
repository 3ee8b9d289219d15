"""A tracing as plain values for a JSON file, and back; every value of a file is checked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from heatloop.findings.input_errors import InputError, InputIssue, is_number, quoted_value
from heatloop.survey.drawing.floors import HIGHEST_M, LOWEST_M
from heatloop.survey.tracing.model import (
    PixelPoint,
    PixelSegment,
    ScaleLine,
    TracedOpening,
    TracedPage,
    TracedRoom,
    Tracing,
)
from heatloop.survey.tracing.session import LONGEST_SCALE_M, MIN_SCALE_PX, OPENING_TOOLS, is_on_wall
from heatloop.survey.tracing.snapping import MIN_CORNERS
from heatloop.text.quoting import LONGEST_NAME, single_line

VERSION = 1
LARGEST_CLICK_PX = 10_000.0
MAX_ITEMS = 10_000


def tracing_values(tracing: Tracing, levels_m: Sequence[float]) -> dict[str, Any]:
    """A tracing, and the present level of each page, as dictionaries, lists, texts and numbers."""
    return {
        "version": VERSION,
        "pages": [
            {
                "page": page.number,
                "width_px": page.width_px,
                "height_px": page.height_px,
                "level_m": level_m,
                "scale": None if page.scale is None else _scale_values(page.scale),
                "rooms": [_room_values(room) for room in page.rooms],
                "openings": [_opening_values(one) for one in page.openings],
            }
            for page, level_m in zip(tracing.pages, levels_m, strict=True)
        ],
    }


def tracing_of(values: Any, blank: Tracing, levels_m: Sequence[float], file: str) -> tuple[Tracing, tuple[float, ...]]:
    """The tracing in the values of a file, and its levels, on the pages of `blank`, which may be more.

    Raises InputError for the first value that cannot be used, and if the tracing is of other pictures.
    """
    reader = _Reader(file)
    pages = reader.items(reader.keyed(values, "version", "pages")["pages"], "pages")
    if values["version"] != VERSION:
        raise reader.error("version", quoted_value(values["version"]), f"{VERSION}")
    found = [reader.page(item, f"page {number}") for number, item in enumerate(pages, start=1)]
    tracing, levels = blank, list(levels_m)
    for page, level_m in found:
        index = next((i for i, one in enumerate(blank.pages) if one.number == page.number), None)
        if index is None:
            raise reader.error("", f"a tracing of page {page.number} too", "that page among those that are shown")
        here = blank.pages[index]
        if (here.width_px, here.height_px) != (page.width_px, page.height_px):
            text = f"page {page.number} as {page.width_px} x {page.height_px} pixels"
            required = f"{here.width_px} x {here.height_px}, as now: delete the file, or name another, to begin again"
            raise reader.error("", text, required)
        tracing, levels[index] = tracing.with_page(index, page), level_m
    if len(set(tracing.room_names)) < len(tracing.room_names):
        raise reader.error("rooms", "a name twice", "a name of its own for each room")
    return tracing, tuple(levels)


def _scale_values(scale: ScaleLine) -> dict[str, Any]:
    return {"ends_px": _lists(scale.ends_px), "length_m": scale.length_m, "click_px": scale.click_px}


def _room_values(room: TracedRoom) -> dict[str, Any]:
    corners = _lists(room.corners_px)
    return {"name": room.name, "level_m": room.level_m, "corners_px": corners, "click_px": room.click_px}


def _opening_values(one: TracedOpening) -> dict[str, Any]:
    return {"kind": one.kind, "level_m": one.level_m, "ends_px": _lists(one.ends_px), "click_px": one.click_px}


def _lists(points: Sequence[PixelPoint]) -> list[list[float]]:
    return [list(point) for point in points]


class _Reader:
    """Values of one file; each is checked, and InputError names its place."""

    def __init__(self, file: str) -> None:
        self.file = file

    def error(self, place: str, found: str, required: str) -> InputError:
        return InputError([InputIssue(self.file, place, found, required)])

    def keyed(self, value: Any, *keys: str) -> dict[str, Any]:
        if not isinstance(value, dict) or set(value) != set(keys):
            raise self.error("", quoted_value(value), f"the keys {', '.join(keys)}")
        return value

    def items(self, value: Any, place: str) -> list[Any]:
        if not isinstance(value, list) or len(value) > MAX_ITEMS:
            raise self.error(place, quoted_value(value), f"a list of at most {MAX_ITEMS}")
        return value

    def number(self, value: Any, place: str, least: float, most: float) -> float:
        if not is_number(value) or not least <= value <= most:
            raise self.error(place, quoted_value(value), f"a number from {least:g} to {most:g}")
        return float(value)

    def whole(self, value: Any, place: str) -> int:
        number = self.number(value, place, 1, 1_000_000)
        if number != int(number):
            raise self.error(place, quoted_value(value), "a whole number")
        return int(number)

    def level(self, value: Any, place: str) -> float:
        return self.number(value, f"{place}, level_m", LOWEST_M, HIGHEST_M)

    def click_px(self, value: Any, place: str) -> float:
        return self.number(value, f"{place}, click_px", 0.0, LARGEST_CLICK_PX)

    def points(self, value: Any, place: str, size: tuple[int, int]) -> tuple[PixelPoint, ...]:
        """Points of the picture, or not far outside it."""
        found = []
        for item in self.items(value, place):
            pair = self.items(item, place)
            if len(pair) != 2:
                raise self.error(place, quoted_value(item), "two numbers for each point")
            x, y = (self.number(n, place, -side, 2 * side) for n, side in zip(pair, size, strict=True))
            found.append((x, y))
        return tuple(found)

    def ends(self, value: Any, place: str, size: tuple[int, int]) -> PixelSegment:
        points = self.points(value, place, size)
        if len(points) != 2 or points[0] == points[1]:
            raise self.error(place, quoted_value(value), "two points apart from each other")
        return points[0], points[1]

    def page(self, value: Any, place: str) -> tuple[TracedPage, float]:
        keys = ("page", "width_px", "height_px", "level_m", "scale", "rooms", "openings")
        held = self.keyed(value, *keys)
        number, width, height = (self.whole(held[key], f"{place}, {key}") for key in keys[:3])
        size = (width, height)
        scale = None if held["scale"] is None else self.scale(held["scale"], f"{place}, scale", size)
        rooms = tuple(self.room(item, f"{place}, room", size) for item in self.items(held["rooms"], f"{place}, rooms"))
        openings = self.items(held["openings"], f"{place}, openings")
        page = TracedPage(number, width, height, scale, rooms)
        found = tuple(self.opening(item, f"{place}, opening", page) for item in openings)
        page = TracedPage(number, width, height, scale, rooms, found)
        return page, self.level(held["level_m"], place)

    def scale(self, value: Any, place: str, size: tuple[int, int]) -> ScaleLine:
        held = self.keyed(value, "ends_px", "length_m", "click_px")
        ends = self.ends(held["ends_px"], f"{place}, ends_px", size)
        if math.dist(*ends) < MIN_SCALE_PX:
            raise self.error(place, "ends that are too near each other", f"at least {MIN_SCALE_PX:g} pixels between")
        length_m = self.number(held["length_m"], f"{place}, length_m", 1e-6, LONGEST_SCALE_M)
        return ScaleLine(ends, length_m, self.click_px(held["click_px"], place))

    def room(self, value: Any, place: str, size: tuple[int, int]) -> TracedRoom:
        held = self.keyed(value, "name", "level_m", "corners_px", "click_px")
        name = held["name"]
        if not isinstance(name, str) or not name or len(name) > LONGEST_NAME or single_line(name) != name:
            raise self.error(f"{place}, name", quoted_value(name), "a name in one line")
        corners = self.points(held["corners_px"], f'{place} "{name}"', size)
        if len(corners) < MIN_CORNERS or any(a == b for a, b in zip(corners, (*corners[1:], corners[0]), strict=True)):
            raise self.error(f'{place} "{name}"', f"{len(corners)} corners", f"at least {MIN_CORNERS}, no two as one")
        return TracedRoom(name, self.level(held["level_m"], place), corners, self.click_px(held["click_px"], place))

    def opening(self, value: Any, place: str, page: TracedPage) -> TracedOpening:
        held = self.keyed(value, "kind", "level_m", "ends_px", "click_px")
        kind = next((kind for kind in OPENING_TOOLS if kind == held["kind"]), None)
        if kind is None:
            raise self.error(f"{place}, kind", quoted_value(held["kind"]), f"one of {', '.join(OPENING_TOOLS)}")
        ends = self.ends(held["ends_px"], place, (page.width_px, page.height_px))
        click_px = self.click_px(held["click_px"], place)
        opening = TracedOpening(kind, self.level(held["level_m"], place), ends, click_px)
        if not is_on_wall(page, opening):
            raise self.error(place, f"a {kind} beside every wall", "both ends on a wall of a room of its level")
        return opening
