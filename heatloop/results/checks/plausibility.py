"""Checks of consistency in a survey: the slab with its rooms, the two sides of a partition, a floor or a doorway.

Each inconsistency is one caution with the measurements to check; none stops the calculation.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from math import fsum

from heatloop.findings.limits import CheckResult, Limit, check_at_least, check_at_most
from heatloop.survey.building import Opening, Room, Wall
from heatloop.survey.survey import SurveyData
from heatloop.survey.traverse.squared_room import geometry_of_room, turns_by_diagonals_deg

SLAB_SLACK = 0.95
"""Minimum area of the slab as a share of the rooms' floor: allows for dimensions and measuring errors."""

EDGE_SLACK = 0.9
"""Minimum exposed perimeter as a share of the rooms' outer walls."""

NARROWEST_SLAB_M = 1.0

DOORWAY_M, PLACE_M, PARTITION_M = 0.020, 0.10, 0.75
"""Maximum difference between two rooms: height of a doorway, its position, length of their partition."""

CORNER_DEG = 1.0
"""Maximum difference of a corner from its stated turn: as far as a protractor shows."""

WHOLE_SLACK = 1.5
"""Maximum ratio of the slab to the rooms' floor, or outer walls, where it carries no other room."""

TWO_SIDES = "two rooms describe the same wall, door or floor"

SLAB_AREA = Limit(
    "slab as large as the rooms on it", "m2", "ISO 13370: the area of the whole floor",
    "enter the area of the whole ground floor, not of one room, as slab_area_m2 of the building", "caution",
)  # fmt: skip

SLAB_EDGE = Limit(
    "edge of the slab as long as the outer walls on it", "m", "ISO 13370: the exposed perimeter of the whole floor",
    "include every side outdoors or beside an unheated space in slab_exposed_perimeter_m", "caution",
)  # fmt: skip

WHOLE_SLAB = replace(SLAB_AREA, check="slab not larger than its rooms")

WHOLE_EDGE = replace(SLAB_EDGE, check="edge of the slab not longer than its outer walls")

SLAB_SHAPE = Limit(
    "plausible width of the slab", "m", "twice the area divided by the perimeter: the width of a strip of that shape",
    "check slab_area_m2 and slab_exposed_perimeter_m, and their units", "caution",
)  # fmt: skip

SQUARE_CORNER = Limit(
    "corner as the survey states it", "°", "walls and diagonals of the room",
    "enter turn_deg of this wall: cut lengths and joints follow the stated turn", "caution",
)  # fmt: skip

SAME_BUILD_UP = Limit("one build-up on both sides", "build-ups", TWO_SIDES, "", "caution")

SAME_HEIGHT = Limit("height of a doorway in both rooms", "m", TWO_SIDES, "", "caution")

SAME_PLACE = Limit("position of a doorway in both rooms", "m", TWO_SIDES, "", "caution")

SAME_LENGTH = Limit("length of a partition in both rooms", "m", TWO_SIDES, "", "caution")

SAME_FAR_SIDE = Limit("adjacent sides of a doorway", "sides", TWO_SIDES, "", "caution")


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
    """A caution for each inconsistency: slab, corners, partitions and floors, then doorways. Rooms copied from another
    are not checked."""
    yield from _slab(survey)
    for room in survey.rooms:
        yield from _corners(room)
    rooms = [room for room in survey.rooms if room.copy_of is None]
    for room_a, room_b in combinations(rooms, 2):
        yield from _partition(survey, room_a, room_b)
        yield from _floor(survey, room_a, room_b)
        yield from _floor(survey, room_b, room_a)
    by_name: dict[str, list[_Doorway]] = {}
    for room in rooms:
        for wall in room.walls:
            for opening in wall.openings:
                if opening.name:
                    by_name.setdefault(opening.name, []).append(_Doorway(room, wall, opening))
    for name, sides in by_name.items():
        for one_side, other_side in combinations(sides, 2):
            if one_side.room is not other_side.room:
                yield from _doorway(survey, name, one_side, other_side)


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
    return geometry_of_room(room).floor_area_m2


def _corners(room: Room) -> Iterator[CheckResult]:
    """The corner of a room with diagonals that differs most from its stated turn."""
    if not room.diagonals:
        return
    turns_deg = turns_by_diagonals_deg(room)
    differences = [abs(turn - wall.turn_deg) for turn, wall in zip(turns_deg, room.walls, strict=True)]
    worst = differences.index(max(differences))
    if differences[worst] > CORNER_DEG:
        place = f"{room.name}, end of wall {worst + 1} at {turns_deg[worst]:.1f}°"
        yield check_at_most(SQUARE_CORNER, place, differences[worst], CORNER_DEG)


def _partition(survey: SurveyData, room: Room, other: Room) -> Iterator[CheckResult]:
    """The walls that two rooms have towards each other."""
    own_walls = [wall for wall in room.walls if wall.beyond == other.name]
    other_walls = [wall for wall in other.walls if wall.beyond == room.name]
    if not own_walls or not other_walls:
        return
    subject = f"{room.name} and {other.name}"
    yield from _same_build_up(
        survey, f"{subject}, partition", (w.build_up for w in own_walls), (w.build_up for w in other_walls)
    )
    lengths = [fsum(wall.length_m for wall in walls) for walls in (own_walls, other_walls)]
    if abs(lengths[0] - lengths[1]) > PARTITION_M:
        look = (
            f'"{room.name}" has {lengths[0]:.2f} m of wall towards "{other.name}", which has {lengths[1]:.2f} m the '
            "other direction: check the adjacent side and the length of each of these walls"
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
    survey: SurveyData, subject: str, faces: Iterable[str | None], there: Iterable[str | None]
) -> Iterator[CheckResult]:
    """A caution where no build-up of one side equals one of the other, read from either face."""
    ours, theirs = {name for name in faces if name}, {name for name in there if name}
    alike = any(_read_from_either_face(survey, a, b) for a in ours for b in theirs)
    if ours and theirs and not alike:
        words = " and ".join(", ".join(f'"{name}"' for name in sorted(side)) for side in (ours, theirs))
        look = f"enter one build-up on both sides: they are given as {words}"
        yield _doubt(SAME_BUILD_UP, look, subject, float(len(ours | theirs)), 1.0)


def _read_from_either_face(survey: SurveyData, a: str, b: str) -> bool:
    layers = {build_up.name: build_up.layers for build_up in survey.build_ups}
    ours, theirs = layers.get(a, ()), layers.get(b, ())
    return a == b or (bool(ours) and ours == tuple(reversed(theirs)))


def _doorway(survey: SurveyData, name: str, doorway: _Doorway, there: _Doorway) -> Iterator[CheckResult]:
    """Two openings of one name in two rooms of which one at least leads to the other."""
    leads = [doorway.beyond == there.room.name, there.beyond == doorway.room.name]
    if not any(leads):
        return
    subject = f'{doorway.room.name} and {there.room.name}, "{name}"'
    if not all(leads):
        side, back = (there, doorway) if leads[0] else (doorway, there)
        said = "nothing" if side.beyond is None else f'"{side.beyond}"'
        look = (
            f'correct one of the two rooms, or give one of the openings another name: from "{back.room.name}" it leads '
            f'to "{side.room.name}", where its adjacent side is {said}'
        )
        yield _doubt(SAME_FAR_SIDE, look, subject, 2.0, 1.0)
        return
    heights = doorway.opening.height_m, there.opening.height_m
    if doorway.room.level_m == there.room.level_m and abs(heights[0] - heights[1]) > DOORWAY_M:
        look = f"measure its height again: it is {heights[0]:g} m in one room and {heights[1]:g} m in the other"
        yield _doubt(SAME_HEIGHT, look, subject, abs(heights[0] - heights[1]), DOORWAY_M)
    yield from _same_build_up(survey, subject, [doorway.opening.build_up], [there.opening.build_up])
    yield from _same_place(subject, doorway, there)


def _same_place(subject: str, doorway: _Doorway, there: _Doorway) -> Iterator[CheckResult]:
    """Whether a doorway is at the same place in two walls that face each other.

    The walls are put together at the doorway; the shorter must lie within the longer. Left of a doorway in one room is
    right of it in the other.
    """
    right_m = there.wall.length_m - there.opening.end_m
    longer_m = there.wall.length_m - doorway.wall.length_m
    slid_m = right_m - doorway.opening.start_m
    off_m = max(min(longer_m, 0.0) - slid_m, slid_m - max(longer_m, 0.0))
    if off_m > PLACE_M:
        look = (
            f'in "{doorway.room.name}" it begins {doorway.opening.start_m:.2f} m from the left-hand end of its wall, '
            f'in "{there.room.name}" it ends {right_m:.2f} m from the right-hand end, so that the two walls do not '
            "face each other; measure start_m in both, and check the adjacent side of each wall"
        )
        yield _doubt(SAME_PLACE, look, subject, off_m, PLACE_M)


def _doubt(limit: Limit, look: str, subject: str, value: float, bound: float) -> CheckResult:
    return check_at_most(replace(limit, remedy=look), subject, value, bound)
