"""Whether a survey agrees with itself: the slab with its rooms, the two sides of a partition, a floor or a doorway.

Nothing here stops a calculation. Each doubt is one caution, with what to look at.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from math import fsum

from heatloop.findings.limits import CheckResult, Limit, check_at_least, check_at_most
from heatloop.survey.building import Opening, Room, Wall
from heatloop.survey.room_geometry import room_geometry
from heatloop.survey.survey import SurveyData

SLAB_SLACK = 0.95
"""Share of the rooms' floor that the whole slab must have at least: inside or outside dimensions, and the tape."""

EDGE_SLACK = 0.9
"""Share of the rooms' outer walls that the exposed perimeter must have at least."""

NARROWEST_SLAB_M = 1.0

DOORWAY_M, PLACE_M, PARTITION_M = 0.020, 0.10, 0.75
"""By how much two rooms may differ in the height of a doorway, in its place, and in the length of their partition."""

WHOLE_SLACK = 1.5
"""Times the rooms' floor, or their outer walls, that a slab may have which carries no other room."""

TWO_SIDES = "two rooms tell of one wall, door or floor"

SLAB_AREA = Limit(
    "slab as large as the rooms on it", "m2", "ISO 13370: the area of the whole floor",
    "slab_area_m2 of the building is that of the whole ground floor, not of a room", "caution",
)  # fmt: skip

SLAB_EDGE = Limit(
    "edge of the slab as long as the outer walls on it", "m", "ISO 13370: the exposed perimeter of the whole floor",
    "slab_exposed_perimeter_m counts every side outdoors or beside an unheated space", "caution",
)  # fmt: skip

WHOLE_SLAB = replace(SLAB_AREA, check="slab no larger than the rooms that are all of it")

WHOLE_EDGE = replace(SLAB_EDGE, check="edge of the slab no longer than the outer walls that are all of it")

SLAB_SHAPE = Limit(
    "width of the slab likely", "m", "twice the area over the perimeter: the width of a strip of that shape",
    "compare slab_area_m2 with slab_exposed_perimeter_m, and their units", "caution",
)  # fmt: skip

SAME_BUILD_UP = Limit("one build-up on both sides", "build-ups", TWO_SIDES, "", "caution")

SAME_HEIGHT = Limit("height of a doorway in both rooms", "m", TWO_SIDES, "", "caution")

SAME_PLACE = Limit("place of a doorway in both rooms", "m", TWO_SIDES, "", "caution")

SAME_LENGTH = Limit("length of a partition in both rooms", "m", TWO_SIDES, "", "caution")

SAME_FAR_SIDE = Limit("far sides of a doorway agree", "sides", TWO_SIDES, "", "caution")


@dataclass(frozen=True)
class _Doorway:
    """One side of a named opening."""

    room: Room
    wall: Wall
    opening: Opening

    @property
    def beyond(self) -> str | None:
        return self.opening.beyond or self.wall.beyond


def plausibility_checks(survey: SurveyData) -> Iterator[CheckResult]:
    """A caution for each doubt: slab, then partitions and floors, then doorways. Rooms taken from another by `like`
    are passed over."""
    yield from _slab(survey)
    rooms = [room for room in survey.rooms if room.copy_of is None]
    for one, other in combinations(rooms, 2):
        yield from _partition(survey, one, other)
        yield from _floor(survey, one, other)
        yield from _floor(survey, other, one)
    by_name: dict[str, list[_Doorway]] = {}
    for room in rooms:
        for wall in room.walls:
            for opening in wall.openings:
                if opening.name:
                    by_name.setdefault(opening.name, []).append(_Doorway(room, wall, opening))
    for name, sides in by_name.items():
        for here, there in combinations(sides, 2):
            if here.room is not there.room:
                yield from _doorway(survey, name, here, there)


def _slab(survey: SurveyData) -> Iterator[CheckResult]:
    building = survey.building
    rooms = [room for room in survey.rooms if room.floor is not None and room.floor.beyond == "ground"]
    area_m2, edge_m = building.slab_area_m2, building.slab_exposed_perimeter_m
    outside = {"outdoors", *(space.name for space in survey.spaces)}
    if not rooms:
        return
    floors_m2 = fsum(_floor_m2(room) for room in rooms)
    walls_m = fsum(wall.length_m for room in rooms for wall in room.walls if wall.beyond in outside)
    if area_m2 is not None and area_m2 < SLAB_SLACK * floors_m2:
        yield check_at_least(SLAB_AREA, "building", area_m2, floors_m2)
    if edge_m is not None and edge_m < EDGE_SLACK * walls_m:
        yield check_at_least(SLAB_EDGE, "building", edge_m, walls_m)
    names = {room.name for room in rooms}
    if all(wall.beyond in outside | names for room in rooms for wall in room.walls) and all(r.walls for r in rooms):
        if area_m2 is not None and area_m2 > WHOLE_SLACK * floors_m2:
            yield check_at_most(WHOLE_SLAB, "building", area_m2, floors_m2)
        if edge_m is not None and edge_m > WHOLE_SLACK * walls_m:
            yield check_at_most(WHOLE_EDGE, "building", edge_m, walls_m)
    if area_m2 is not None and edge_m and 2.0 * area_m2 / edge_m < NARROWEST_SLAB_M:
        yield check_at_least(SLAB_SHAPE, "building", 2.0 * area_m2 / edge_m, NARROWEST_SLAB_M)


def _floor_m2(room: Room) -> float:
    if room.floor is not None and room.floor.area_m2 is not None:
        return room.floor.area_m2
    if not room.walls:
        return 0.0
    return room_geometry([wall.length_m for wall in room.walls], [wall.turn_deg for wall in room.walls]).floor_area_m2


def _partition(survey: SurveyData, one: Room, other: Room) -> Iterator[CheckResult]:
    """The walls that two rooms have towards each other."""
    here = [wall for wall in one.walls if wall.beyond == other.name]
    there = [wall for wall in other.walls if wall.beyond == one.name]
    if not here or not there:
        return
    subject = f"{one.name} and {other.name}"
    yield from _same_build_up(survey, f"{subject}, partition", (w.build_up for w in here), (w.build_up for w in there))
    lengths = [fsum(wall.length_m for wall in walls) for walls in (here, there)]
    if abs(lengths[0] - lengths[1]) > PARTITION_M:
        look = (
            f'"{one.name}" has {lengths[0]:.2f} m of wall towards "{other.name}", which has {lengths[1]:.2f} m the '
            "other way: look at what is beyond each wall of both, and at their lengths"
        )
        yield _doubt(SAME_LENGTH, look, f"{subject}, partition", abs(lengths[0] - lengths[1]), PARTITION_M)


def _floor(survey: SurveyData, upper: Room, lower: Room) -> Iterator[CheckResult]:
    """The floor of one room that is the ceiling of another."""
    if upper.floor is None or lower.ceiling is None:
        return
    if upper.floor.beyond == lower.name and lower.ceiling.beyond == upper.name:
        subject = f"{upper.name}, floor over {lower.name}"
        yield from _same_build_up(survey, subject, [upper.floor.build_up], [lower.ceiling.build_up])


def _same_build_up(
    survey: SurveyData, subject: str, here: Iterable[str | None], there: Iterable[str | None]
) -> Iterator[CheckResult]:
    """A doubt where none of the build-ups of one side is one of the other, read from either face."""
    ours, theirs = {name for name in here if name}, {name for name in there if name}
    alike = any(_read_from_either_face(survey, a, b) for a in ours for b in theirs)
    if ours and theirs and not alike:
        words = " and ".join(", ".join(f'"{name}"' for name in sorted(side)) for side in (ours, theirs))
        look = f"its sides are said to be {words}: it is one and has one build-up"
        yield _doubt(SAME_BUILD_UP, look, subject, float(len(ours | theirs)), 1.0)


def _read_from_either_face(survey: SurveyData, a: str, b: str) -> bool:
    layers = {one.name: one.layers for one in survey.build_ups}
    ours, theirs = layers.get(a, ()), layers.get(b, ())
    return a == b or (bool(ours) and ours == tuple(reversed(theirs)))


def _doorway(survey: SurveyData, name: str, here: _Doorway, there: _Doorway) -> Iterator[CheckResult]:
    """Two openings of one name in two rooms of which one at least leads to the other."""
    leads = [here.beyond == there.room.name, there.beyond == here.room.name]
    if not any(leads):
        return
    subject = f'{here.room.name} and {there.room.name}, "{name}"'
    if not all(leads):
        side, back = (there, here) if leads[0] else (here, there)
        said = "nothing" if side.beyond is None else f'"{side.beyond}"'
        look = (
            f'from "{back.room.name}" it leads to "{side.room.name}", where {said} is said to be beyond it: correct '
            "one of the two, or give one of the openings another name"
        )
        yield _doubt(SAME_FAR_SIDE, look, subject, 2.0, 1.0)
        return
    heights = here.opening.height_m, there.opening.height_m
    if here.room.level_m == there.room.level_m and abs(heights[0] - heights[1]) > DOORWAY_M:
        look = f"it is {heights[0]:g} m high in one and {heights[1]:g} m in the other: measure it again"
        yield _doubt(SAME_HEIGHT, look, subject, abs(heights[0] - heights[1]), DOORWAY_M)
    yield from _same_build_up(survey, subject, [here.opening.build_up], [there.opening.build_up])
    yield from _same_place(subject, here, there)


def _same_place(subject: str, here: _Doorway, there: _Doorway) -> Iterator[CheckResult]:
    """Two walls that face each other alone, put together at their doorway: the shorter lies within the longer.

    What lies left of a doorway in one room lies right of it in the other."""
    right_m = there.wall.length_m - there.opening.end_m
    longer_m = there.wall.length_m - here.wall.length_m
    slid_m = right_m - here.opening.start_m
    off_m = max(min(longer_m, 0.0) - slid_m, slid_m - max(longer_m, 0.0))
    if off_m > PLACE_M:
        look = (
            f'in "{here.room.name}" it begins {here.opening.start_m:.2f} m from the left-hand end of its wall, in '
            f'"{there.room.name}" it ends {right_m:.2f} m from the right-hand end: the two walls slide past each '
            "other; measure start_m in both, and look at what is beyond each wall"
        )
        yield _doubt(SAME_PLACE, look, subject, off_m, PLACE_M)


def _doubt(limit: Limit, look: str, subject: str, value: float, bound: float) -> CheckResult:
    return check_at_most(replace(limit, remedy=look), subject, value, bound)
