"""A house drawn as a plan on paper, and the clicks that trace it: `python -m tests.helpers.traced_house` writes the
plan of Alder Lodge into data/."""

from __future__ import annotations

import datetime as dt
import math
import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import heatloop as hl
from heatloop.layout.draft_rooms import DraftRoom, draft_plan
from heatloop.report.drawings.geometry import LARGE_MM, MIDDLE_MM, DrawingSheet, Line, Words
from heatloop.report.drawings.writers.sheet_pdf import write_sheets_pdf
from heatloop.survey.building import Room
from tests.helpers.paths import DATA

LODGE = DATA / "alder-lodge" / "survey.toml"
PLAN = DATA / "alder-lodge" / "plan.pdf"
PAPER_MM = (297.0, 210.0)
ORIGIN_MM = (45.0, 38.0)
MM_PER_M = 20.0
"""Scale 1:50."""
BAR_M, BAR_MM = 10.0, 22.0
INCH_MM, DPI = 25.4, 150.0
STRAIGHT_DEG = 1.0
Point = tuple[float, float]
Astray = Callable[[Point], Point]


@dataclass(frozen=True)
class Storey:
    """One level of a house: its rooms as drawn."""

    level_m: float
    rooms: tuple[DraftRoom, ...]


def storeys(survey: hl.Survey) -> tuple[Storey, ...]:
    """The levels of a house, lowest first."""
    return tuple(Storey(level_m, rooms) for level_m, rooms in draft_plan(survey).levels)


def corners(room: DraftRoom) -> list[Point]:
    """The corners of a room; a wall that only changes what is behind it has none."""
    points = room.path_m[:-1]
    kept = []
    for i, (x, y) in enumerate(points):
        (x0, y0), (x1, y1) = points[i - 1], points[(i + 1) % len(points)]
        turn = math.degrees(math.atan2(y1 - y, x1 - x) - math.atan2(y - y0, x - x0))
        if abs((turn + 180.0) % 360.0 - 180.0) > STRAIGHT_DEG:
            kept.append((x, y))
    return kept


def surveyed_lengths(room: Room) -> list[float]:
    """Lengths from corner to corner: walls that run straight on are one."""
    found = [0.0]
    for wall in room.walls:
        found[-1] += wall.length_m
        if wall.turn_deg != 0.0:
            found.append(0.0)
    return found[:-1]


def openings(storey: Storey) -> list[tuple[str, Point, Point]]:
    """Kind and ends of every opening of a level, a doorway between two rooms once."""
    found, names = [], set()
    for room in storey.rooms:
        for one in room.openings:
            if one.item.name is None or one.item.name not in names:
                found.append((one.item.kind, one.points_m[0], one.points_m[-1]))
                names.add(one.item.name)
    return found


def on_paper(point: Point) -> Point:
    """A point of the house in mm on the paper."""
    return ORIGIN_MM[0] + MM_PER_M * point[0], ORIGIN_MM[1] + MM_PER_M * point[1]


def in_picture(point: Point) -> Point:
    """A point of the house in pixels of the picture, from its top left corner."""
    x, y = on_paper(point)
    return x * DPI / INCH_MM, (PAPER_MM[1] - y) * DPI / INCH_MM


def bar() -> tuple[Point, Point]:
    """The ends of the scale bar in metres of the house."""
    y = (BAR_MM - ORIGIN_MM[1]) / MM_PER_M
    return (0.0, y), (BAR_M, y)


def sheet(storey: Storey, number: int, of: int) -> DrawingSheet:
    """A level on paper: inside faces of walls, openings, names of rooms, and a bar of known length."""
    drawn: list[Line | Words] = []
    for room in storey.rooms:
        walls = tuple(on_paper(point) for point in room.path_m)
        drawn.append(Line("WALL", walls, 0.35))
        x, y = (sum(values) / len(values) for values in zip(*walls, strict=True))
        drawn.append(Words("ROOM", (x, y), room.name, MIDDLE_MM, anchor="centre"))
    for kind, a, b in openings(storey):
        drawn.append(Line("OPENING", (on_paper(a), on_paper(b)), 1.4 if kind == "door" else 0.9, grey=0.45))
    a, b = (on_paper(end) for end in bar())
    drawn.append(Line("BAR", (a, b), 0.5))
    drawn += [Line("BAR", ((x, y - 2.0), (x, y + 2.0)), 0.35) for x, y in (a, b)]
    drawn.append(Words("BAR", ((a[0] + b[0]) / 2.0, a[1] - 5.0), f"{BAR_M:g} m", MIDDLE_MM, anchor="centre"))
    title = f"Alder Lodge, level {storey.level_m:g} m, 1:50"
    drawn.append(Words("TITLE", (ORIGIN_MM[0], PAPER_MM[1] - 10.0), title, LARGE_MM))
    none = (0.0, 0.0, 0.0, 0.0)
    return DrawingSheet(number, of, storey.level_m, "", title, None, none, tuple(drawn), (), paper_mm=PAPER_MM)


def write_plan(path: Path, survey: hl.Survey) -> Path:
    """The plan of a house as a PDF, a page for each level."""
    levels = storeys(survey)
    sheets = [sheet(level, number, len(levels)) for number, level in enumerate(levels, start=1)]
    return write_sheets_pdf(path, sheets, "Alder Lodge", dt.date(2026, 1, 1))


def steps(survey: hl.Survey, astray: Astray, screen_px: float) -> Iterator[tuple[str, dict[str, Any]]]:
    """The events that trace a house, each as its name and values; `astray` moves a point as a hand does."""

    def click(point: Point) -> tuple[str, dict[str, Any]]:
        x, y = astray(in_picture(point))
        return "click", {"x": x, "y": y, "screen_px": screen_px}

    for index, storey in enumerate(storeys(survey)):
        if index:
            yield "page", {"index": index}
        yield from map(click, bar())
        yield "text", {"text": f"{BAR_M:.2f}"}
        for room in storey.rooms:
            yield from map(click, corners(room))
            yield click(corners(room)[0])
            yield "text", {"text": room.name}
        for kind in ("door", "glazed door", "window"):
            yield "tool", {"tool": kind}
            for _, a, b in (one for one in openings(storey) if one[0] == kind):
                yield click(a)
                yield click(b)


def hand(seed: int, screen_px: float) -> Astray:
    """Clicks that fall anywhere within a pixel of the screen around the point that is meant."""
    rng = random.Random(seed)

    def astray(point: Point) -> Point:
        share, angle = math.sqrt(rng.random()), rng.uniform(0.0, 2.0 * math.pi)
        return point[0] + share * screen_px * math.cos(angle), point[1] + share * screen_px * math.sin(angle)

    return astray


def entered(survey: hl.Survey, rooms: Sequence[Room]) -> hl.Survey:
    """A survey with the walls and openings of traced rooms in place of its own, and all else as it was.

    What stands against a wall keeps its share of the length. AssertionError where a room has other walls.
    """
    traced = {room.name: room for room in rooms}
    found = []
    for room in survey.rooms:
        walls = []
        for wall, new in zip(room.walls, traced[room.name].walls, strict=True):
            assert (wall.turn_deg, wall.beyond) == (new.turn_deg, new.beyond), f"{room.name}: {wall}, traced as {new}"
            assert [one.kind for one in wall.openings] == [one.kind for one in new.openings]
            openings = tuple(
                replace(one, start_m=other.start_m, width_m=other.width_m)
                for one, other in zip(wall.openings, new.openings, strict=True)
            )
            share = new.length_m / wall.length_m
            obstacles, covered = (
                tuple(replace(one, start_m=one.start_m * share, width_m=one.width_m * share) for one in items)
                for items in (wall.obstacles, wall.covered)
            )
            length_m = new.length_m
            walls.append(replace(wall, length_m=length_m, openings=openings, obstacles=obstacles, covered=covered))
        found.append(replace(room, walls=tuple(walls)))
    return replace(survey, rooms=tuple(found))


if __name__ == "__main__":
    print(write_plan(PLAN, hl.read_survey(LODGE)))
