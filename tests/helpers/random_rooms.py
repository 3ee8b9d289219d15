"""Rooms drawn at random, in whole centimetres, each with a route along some of its walls."""

import math
from dataclasses import replace

from hypothesis import strategies as st

from heatloop.findings.input_errors import InputError
from heatloop.layout.build import build_layout
from heatloop.layout.model import Layout
from heatloop.survey.building import Building, CoveredStretch, Obstacle, Opening, Room, Wall
from heatloop.survey.catalogue import Catalogue, End, Joint, Pipe
from heatloop.survey.loops import CrossingRule, Loop, RouteWalls, Tails
from heatloop.survey.profiles import Channel, FloorSectionRating, OutputRating, Profile
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source

PROFILE = Profile(
    "two-channel", 130.0, 28.0, (Channel(13.0), Channel(13.0)), OutputRating(150.0, 1.28), (3.0, 4.0),
    floor_section=FloorSectionRating(60.0, 1.1),
)  # fmt: skip
JOINTS = (
    Joint("angle", "angle", (-135.0, 135.0), 60.0),
    Joint("inside corner", "inside corner", (80.0, 100.0), 45.0),
    Joint("outside corner", "outside corner", (-100.0, -80.0), 55.0),
    Joint("straight", "straight", (0.0, 0.0), 5.0, heated=True),
)
ENDS = (End("valve end", "valve end", 140.0), End("turn end", "turn end", 60.0))
CATALOGUE = Catalogue((PROFILE,), JOINTS, ENDS, (Pipe("copper 15", 13.6, 15.0),))


def survey_of(room: Room, item: RouteWalls, catalogue: Catalogue = CATALOGUE) -> SurveyData:
    loop = Loop(
        "Loop", "two-channel", "there-and-back", ((item,),), Tails("copper 15", 2.0, 2.0),
        crossing=CrossingRule("copper 15", 0.2),
    )  # fmt: skip
    project = Project("Test", -3.0, 50.0, "")
    return SurveyData(project, Building(), (), (), (room,), Source(), (), (loop,), catalogue)


Cell = tuple[int, int]  # wall, centimetre from its left-hand end


def cm(low: int, high: int) -> st.SearchStrategy[int]:
    return st.integers(low, high)


@st.composite
def outlines(draw: st.DrawFn) -> list[tuple[int, float]]:
    """Walls (cm, turn) of a room that closes to the centimetre: a rectangle, a trapezium a few degrees out of
    square, an L, a U, a room with a wall split in two, with a square bay or with one of three sides at 45 degrees."""
    kind = draw(st.sampled_from(["rectangle", "trapezium", "L", "U", "split", "bay", "angled bay"]))
    a, b, c, d = draw(cm(120, 900)), draw(cm(120, 900)), draw(cm(10, 300)), draw(cm(10, 300))
    if kind == "rectangle":
        return [(a, 90), (b, 90), (a, 90), (b, 90)]
    if kind == "L":
        return [(a + c, 90), (b, 90), (c, -90), (d, 90), (a, 90), (b + d, 90)]
    if kind == "split":
        return [(a, 90), (b, 0), (d, 90), (a, 90), (b + d, 90)]
    if kind == "trapezium":
        lean = draw(cm(-15, 15))
        deg = math.degrees(math.atan2(lean, a))
        return [(a, 90), (b, 90 + deg), (round(math.hypot(a, lean)), 90 - deg), (b - lean, 90)]
    if kind == "U":
        deep = draw(cm(10, 110))
        return [(a, 90), (b, 90), (deep, -90), (c, -90), (deep, 90), (d, 90), (a, 90), (b + c + d, 90)]
    if kind == "angled bay":
        across = round(c * math.sqrt(2.0))
        return [(a, 90), (b, -45), (c, 45), (d, 45), (c, -45), (b, 90), (a, 90), (2 * b + d + across, 90)]
    return [(a, 90), (b, -90), (c, 90), (d, 90), (c, -90), (b, 90), (a, 90), (2 * b + d, 90)]


@st.composite
def cases(draw: st.DrawFn) -> tuple[Room, RouteWalls]:
    """A random room with random interruptions, and a route along several of its walls."""
    walls: list[Wall] = []
    for length, turn in draw(outlines()):
        openings, obstacles, covered = [], [], []
        for i in range(draw(st.integers(0, 2))):
            start = draw(cm(0, max(length - 10, 0)))
            width = draw(cm(5, max(length - start, 5)))
            if start + width > length:
                continue
            at, wide = start / 100, width / 100
            what = draw(st.sampled_from(["door", "window", "floor section", "units", "covered"]))
            if what == "units":
                obstacles.append(Obstacle("units", at, wide))
            elif what == "covered":
                covered.append(CoveredStretch(at, wide, 0.5))
            else:
                sill_m = 0.8 if what == "window" else 0.0
                openings.append(Opening(what, at, wide, 1.0, sill_m, name=f"{what} {len(walls)} {i}"))
        walls.append(Wall(length / 100, turn, openings=tuple(openings), obstacles=tuple(obstacles),
                          covered=tuple(covered)))  # fmt: skip
    room = Room("Room", 20.0, walls=tuple(walls))
    count = len(walls)
    first, size = draw(st.integers(0, count - 1)), draw(st.integers(1, count))
    step = draw(st.sampled_from([1, -1]))
    numbers = tuple((first + step * i) % count + 1 for i in range(size))
    ends = [draw(st.none() | cm(0, round(walls[n - 1].length_m * 100))) for n in (numbers[0], numbers[-1])]
    if size == 1 and None not in ends:  # of one wall either order is the same stretch
        ends.sort(key=lambda e: (e or 0) * step)
    routed = {o.name for n in numbers for o in walls[n - 1].openings if o.kind == "floor section" and o.name}
    from_m, to_m = (None if e is None else e / 100 for e in ends)
    item = RouteWalls("Room", numbers, from_m, to_m, "anticlockwise" if step < 0 else "clockwise")
    names = sorted(name for name in routed if draw(st.booleans()) and name)
    cells = set(route_cells(room, item))
    on_route = [
        o.name for n in set(numbers) for o in walls[n - 1].openings
        if o.name in names and any((n, x) in cells for x in range(round(o.start_m * 100), round(o.end_m * 100)))
    ]  # fmt: skip
    return room, replace(item, floor_sections=tuple(str(n) for n in on_route))


def route_cells(room: Room, item: RouteWalls) -> list[Cell]:
    """Centimetre cells of the route in water order."""
    cells: list[Cell] = []
    clockwise = item.direction == "clockwise"
    for i, number in enumerate(item.walls):
        length = round(room.walls[number - 1].length_m * 100)
        low, high = 0, length
        bounds = []
        if i == 0 and item.from_m is not None:
            bounds.append(("start", round(item.from_m * 100)))
        if i == len(item.walls) - 1 and item.to_m is not None:
            bounds.append(("stop", round(item.to_m * 100)))
        for which, at in bounds:
            if (which == "start") == clockwise:
                low = max(low, at)
            else:
                high = min(high, at)
        own = range(low, high)
        cells += [(number, x) for x in (own if clockwise else reversed(own))]
    return cells


def laid(survey: SurveyData) -> Layout | None:
    """The layout, or None where the only fault is a piece or route too short to be one."""
    allowed = ("taken off by", "no wall suitable", "from_m before", "from_m beyond")
    try:
        return build_layout(survey)
    except InputError as error:
        if all(any(words in str(f) for words in allowed) for f in error.issues):
            return None
        raise
