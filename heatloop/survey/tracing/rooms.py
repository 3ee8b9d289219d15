"""Rooms of a tracing in the form of rooms from a drawing: walls, doorways, and the room behind each wall."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from heatloop.findings.input_errors import InputIssue
from heatloop.survey.drawing.outlines import Outline, OutlineProblem, Point, closed_outline, overlapping
from heatloop.survey.drawing.rooms import Alignment, DrawnOpeningSymbol, DrawnRoom, OpeningKind, drawn_rooms
from heatloop.survey.tracing.accuracy import ROUND_M, wall_error_m
from heatloop.survey.tracing.model import PixelPoint, TracedPage, TracedRoom, Tracing
from heatloop.text.quoting import single_line

ALONG_PX = 1e-6
JOIN_M, NEAR_M, WALL_M, SNAP_DEG = 0.02, 0.05, 0.6, 1.0


@dataclass(frozen=True)
class WallLength:
    """The length of a traced wall, from corner to corner, and its maximum error."""

    page: int
    room: str
    wall: int
    length_m: float
    error_m: float


def traced_rooms(tracing: Tracing, plan: str, north_deg: float) -> tuple[tuple[DrawnRoom, ...], list[InputIssue]]:
    """The rooms of a tracing in the order of tracing, and every fault; no rooms if there is a fault.

    Rooms of the same page and level are neighbours where their walls face each other across at most 0.6 m.
    """
    issues: list[InputIssue] = []
    found: dict[str, DrawnRoom] = {}
    if not tracing.room_names:
        issues.append(InputIssue(plan, "", "no room", "at least one room traced"))
    for page in tracing.pages:
        if page.rooms and page.scale is None:
            issues.append(InputIssue(plan, f"page {page.number}", "rooms without a scale", "a length that is known"))
            continue
        for level_m in dict.fromkeys(room.level_m for room in page.rooms):
            found |= _level(page, level_m, (plan, north_deg), issues)
    return (() if issues else tuple(found[name] for name in tracing.room_names)), issues


def wall_lengths(tracing: Tracing) -> tuple[WallLength, ...]:
    """The walls of all rooms on pages with a scale, in the order of their corners, with the errors of their lengths."""
    found = []
    for page in (page for page in tracing.pages if page.scale is not None):
        for room in page.rooms:
            points = metres(page, room.corners_px)
            for number, (a, b) in enumerate(zip(points, (*points[1:], points[0]), strict=True), start=1):
                length_m = round(math.dist(a, b), 3)
                found.append(WallLength(page.number, room.name, number, length_m, wall_error_m(length_m, page, room)))
    return tuple(found)


def metres(page: TracedPage, points: Sequence[PixelPoint]) -> list[Point]:
    """Points of the picture in metres, x to the right and y up.

    They are rounded to the centimetre where each is beside or above the one before; others, at an angle that rounding
    would change, to the millimetre.
    """
    if page.scale is None:
        raise ValueError("no scale")
    s = page.scale.m_per_px
    straight = all(min(abs(x - u), abs(y - v)) < ALONG_PX for (x, y), (u, v) in pairwise((*points, points[0])))
    digits = 2 if straight else 3
    return [(round(x * s, digits) + 0.0, round((page.height_px - y) * s, digits) + 0.0) for x, y in points]


def _level(page: TracedPage, level_m: float, plan: tuple[str, float], issues: list[InputIssue]) -> dict[str, DrawnRoom]:
    """The rooms of a level of a page, by name."""
    file, north_deg = plan
    rooms = page.on_level(level_m)
    outlines: list[Outline] = []
    for room in rooms:
        outline = closed_outline(metres(page, room.corners_px), JOIN_M)
        if isinstance(outline, OutlineProblem):
            issues.append(InputIssue(file, _place(page, room), outline.found, outline.required))
        else:
            outlines.append(outline)
    if len(outlines) < len(rooms):
        return {}
    for problem in overlapping(outlines, JOIN_M):
        issues.append(InputIssue(file, f"page {page.number}", problem.found, problem.required))
    symbols = [_symbol(page, one.kind, one.ends_px) for one in page.openings if one.level_m == level_m]
    names = [room.name for room in rooms]
    found, unplaced = drawn_rooms(outlines, names, symbols, Alignment(SNAP_DEG, WALL_M, north_deg))
    issues += [InputIssue(file, f"page {page.number}", one.found, one.required) for one in unplaced]
    return {room.name: replace(room, level_m=level_m) for room in found}


def _place(page: TracedPage, room: TracedRoom) -> str:
    return f'page {page.number}, room "{single_line(room.name)}"'


def _symbol(page: TracedPage, kind: OpeningKind, ends_px: tuple[PixelPoint, PixelPoint]) -> DrawnOpeningSymbol:
    (x0, y0), (x1, y1) = metres(page, ends_px)
    width_m = max(math.dist((x0, y0), (x1, y1)), ROUND_M)
    middle, along = ((x0 + x1) / 2.0, (y0 + y1) / 2.0), ((x1 - x0) / width_m, (y1 - y0) / width_m)
    return DrawnOpeningSymbol(kind, middle, along, round(width_m, 3), NEAR_M, middle)
