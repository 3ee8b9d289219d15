"""Rules of rooms: walls that close, openings that fit, adjacent sides that exist."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from itertools import combinations

from heatloop.physics.fabric.usual_build_ups import build_ups_of_family, usual_build_ups
from heatloop.survey.building import FAR_SIDES, CoveredStretch, FloorOrCeiling, Obstacle, Opening, Room, Wall
from heatloop.survey.files.key_path import Loc
from heatloop.survey.files.validation import IssueCollector
from heatloop.survey.room_geometry import TURNS_WITHIN_DEG, RoomGeometry, crossing_walls
from heatloop.survey.rules.diagonals import check_diagonals, check_lengths
from heatloop.survey.survey import SurveyData
from heatloop.survey.traverse.squared_room import geometry_of_room, traverse_of
from heatloop.text.quoting import suggestion

TAPE_M = 0.001
DOORWAY_M = 0.020
ADJACENT = "the name of a room or a space, or outdoors, ground, neighbour"
"""What the key `beyond` may name, in words."""
COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


def required_build_up(name: str, own: Sequence[str]) -> str:
    """Words for a build-up that is neither in the file nor in the library.

    They state the nearest name, first of the file; and all ages of a build-up stated without age, never another age
    than the one stated.
    """
    family = build_ups_of_family(name)
    if family:
        close = suggestion(name, own)
        listed = ", ".join(f'"{item}"' for item in family[:8]) + (" ..." if len(family) > 8 else "")
        if close is not None:
            return f'the name of a build-up; the nearest is "{close}" of this file; or one of the library: {listed}'
        return f"the whole name of a build-up of the library: {listed}"
    close = suggestion(name, (*own, *usual_build_ups()))
    if close is not None:
        return f'the name of a build-up; the nearest is "{close}"'
    listed = ", ".join(f'"{item}"' for item in own) or "none"
    return (
        f"the name of a build-up of this file ({listed}) or of the library that docs/reference/survey-format.md lists"
    )


@dataclass(frozen=True)
class _Names:
    """What walls, openings, floors and ceilings may name: what is beyond them, in the survey's order; build-ups."""

    survey: SurveyData
    beyond: Mapping[str, None]
    build_ups: Set[str]
    windows: Set[str]
    """Build-ups that state the parts of a window."""

    @classmethod
    def of(cls, survey: SurveyData) -> _Names:
        """The names of a survey."""
        rooms, spaces = (room.name for room in survey.rooms), (space.name for space in survey.spaces)
        windows = frozenset(item.name for item in survey.build_ups if item.window is not None)
        return cls(
            survey, dict.fromkeys((*FAR_SIDES, *rooms, *spaces)),
            frozenset(item.name for item in survey.build_ups), windows,
        )  # fmt: skip


def check_rooms(survey: SurveyData, findings: IssueCollector) -> None:
    """Report every invalid value in rooms and spaces."""
    names = _Names.of(survey)
    spaces = [space.name for space in survey.spaces]
    _likes(survey, findings)
    for index, room in enumerate(survey.rooms):
        loc: Loc = ("room", index)
        if room.name in FAR_SIDES or room.name in spaces:
            other = "a space has this one" if room.name in spaces else f'"{room.name}" has a meaning as beyond'
            findings.add((*loc, "name"), f'"{room.name}"', f"another name: {other}")
        check_indoor(loc, room, survey.project.outdoor_c, findings)
        _heat(loc, room, findings)
        for key, surface in (("floor", room.floor), ("ceiling", room.ceiling)):
            if surface is not None:
                _far_side((*loc, key), room, surface, names, findings)
        for number, wall in enumerate(room.walls):
            _wall((*loc, "walls", number), room, wall, names, findings)
        if room.walls and not findings.is_unread((*loc, "walls")):
            _traverse(loc, check_diagonals(loc, room, findings), findings)
    for index, name in enumerate(spaces):
        if name in FAR_SIDES:
            findings.add(
                ("space", index, "name"), f'"{name}"', "another name, because this one has a meaning for beyond"
            )
    _doorways(survey, findings)


def _likes(survey: SurveyData, findings: IssueCollector) -> None:
    """Report every room that is a copy of itself, directly or through others, or of a room that does not exist."""
    likes = {room.name: room.copy_of for room in survey.rooms}
    ended: set[str | None] = {None, ""}
    for index, room in enumerate(survey.rooms):
        loc: Loc = ("room", index, "copy_of")
        if room.copy_of == room.name:
            findings.add(loc, f'"{room.copy_of}"', "another room than itself")
        elif findings.name(loc, "the name of a room", room.copy_of, likes):
            seen: dict[str, None] = {room.name: None}
            other = room.copy_of
            while other not in ended and other not in seen:
                seen[str(other)] = None
                other = likes.get(str(other))
            if other == room.name and room.copy_of:
                names = [*seen, room.name]
                short = names if len(names) <= 12 else [*names[:6], "...", *names[-5:]]
                found = " copy of ".join(name if name == "..." else f'"{name}"' for name in short)
                findings.add(loc, found, "a room that is not a copy of itself by way of others")
            elif other in ended:
                ended.update(seen)


def check_indoor(loc: Loc, room: Room, outdoor_c: float, findings: IssueCollector) -> None:
    """Report a room that is not warmer than it is outdoors."""
    if room.indoor_c <= outdoor_c:
        required = f"more than the {outdoor_c:g} °C outdoors"
        findings.add((*loc, "indoor_c"), f"{room.indoor_c:g}", required)


def _heat(loc: Loc, room: Room, findings: IssueCollector) -> None:
    if findings.is_unread((*loc, "walls")) or findings.is_unread(loc):
        return
    if room.walls and room.estimated_wall_m is not None:
        required = "one of the two: estimated_wall_m is for a room without walls"
        findings.add((*loc, "estimated_wall_m"), "estimated_wall_m beside walls", required)
    if not room.walls and room.estimated_wall_m is None and room.heat_loss_w is None:
        required = "walls, or heat_loss_w if it is stated, or estimated_wall_m for an estimate"
        findings.add(loc, "no walls", required)


def _far_side(
    loc: Loc, room: Room, part: Wall | Opening | FloorOrCeiling, names: _Names, findings: IssueCollector,
    around: Wall | None = None,
) -> None:  # fmt: skip
    """Check the adjacent space and build-up of one wall, opening (in the wall `around`), floor or ceiling."""
    if part.beyond == room.name:
        findings.add((*loc, "beyond"), f'"{part.beyond}", the room itself', "what is on its far side")
    else:
        findings.name((*loc, "beyond"), ADJACENT, part.beyond, names.beyond)
    if part.build_up and part.build_up not in names.build_ups and part.build_up not in usual_build_ups():
        own = [item.name for item in names.survey.build_ups]
        findings.add((*loc, "build_up"), f'"{part.build_up}"', required_build_up(part.build_up, own))
    beyond = part.beyond if part.beyond is not None or around is None else around.beyond
    neighbour_c = part.neighbour_c
    if neighbour_c is None and around is not None:
        neighbour_c = around.neighbour_c
    if beyond == "neighbour" and neighbour_c is None and (around is None or part.beyond is not None):
        findings.add((*loc, "neighbour_c"), "nothing", 'the temperature beyond "neighbour", in °C')
    if room.heat_loss_w is None and beyond and part.build_up is None:
        required = f'the name of a build-up towards "{beyond}", or heat_loss_w of the room'
        findings.add((*loc, "build_up"), "nothing", required)
    if part.build_up in names.windows and not isinstance(part, Opening):
        findings.add((*loc, "build_up"), f'"{part.build_up}", the parts of a window', "layers or u_w_m2k")
    if room.heat_loss_w is None and beyond == "ground":
        _on_ground(loc, room, part, names.survey, findings)


def _on_ground(
    loc: Loc, room: Room, part: Wall | Opening | FloorOrCeiling, survey: SurveyData, findings: IssueCollector
) -> None:
    """Check the data of the heat loss to the ground: size of the whole slab, depth of cellar walls."""
    if isinstance(part, Wall) and room.depth_below_ground_m <= 0.0:
        required = "how far the floor lies below the ground outside, above 0, for a wall against the ground"
        findings.add((*loc[:2], "depth_below_ground_m"), f"{room.depth_below_ground_m:g}", required)
    stated = any(item.name == part.build_up and item.u_w_m2k is not None for item in survey.build_ups)
    if not isinstance(part, FloorOrCeiling) or stated or loc[-1] != "floor":
        return
    for key in ("slab_area_m2", "slab_exposed_perimeter_m"):
        if getattr(survey.building, key) is None and not findings.is_unread(("building", key)):
            required = "that of the whole slab, because a floor lies on the ground"
            findings.add(("building", key), "nothing", required)


def _wall(loc: Loc, room: Room, wall: Wall, names: _Names, findings: IssueCollector) -> None:
    _far_side(loc, room, wall, names, findings)
    for index, opening in enumerate(wall.openings):
        place = (*loc, "openings", index)
        _far_side(place, room, opening, names, findings, wall)
        _inside(place, opening, wall, findings)
        top_m = opening.sill_m + opening.height_m
        if top_m > room.height_m + TAPE_M:
            found = f"{opening.height_m:g} above a sill of {opening.sill_m:g} m: {top_m:g} m in all"
            findings.add((*place, "height_m"), found, f"at most the room's height of {room.height_m:g} m")
    for (i, a), (j, b) in combinations(enumerate(wall.openings), 2):
        low_m, high_m = max(a.sill_m, b.sill_m), min(a.sill_m + a.height_m, b.sill_m + b.height_m)
        if high_m - low_m > TAPE_M:
            _apart((*loc, "openings", j), b, a, f"opening {_called(a, i)}", findings)
    stand: list[tuple[Loc, str, Obstacle | CoveredStretch]] = [
        *(((*loc, "obstacles", i), f"obstacle {i + 1}", item) for i, item in enumerate(wall.obstacles)),
        *(((*loc, "covered", i), f"covered stretch {i + 1}", item) for i, item in enumerate(wall.covered)),
    ]
    for place, _, item in stand:
        _inside(place, item, wall, findings)
    for (_, label, before), (place, _, after) in combinations(stand, 2):
        _apart(place, after, before, label, findings)


def _called(opening: Opening, index: int) -> str:
    return f'"{opening.name}"' if opening.name else f"{index + 1}"


def _inside(loc: Loc, item: Opening | Obstacle | CoveredStretch, wall: Wall, findings: IssueCollector) -> None:
    if item.width_m > wall.length_m + TAPE_M:
        required = f"at most the length of the wall, {wall.length_m:g} m"
        findings.add((*loc, "width_m"), f"{item.width_m:g}", required)
    elif item.end_m > wall.length_m + TAPE_M:
        found = f"{item.start_m:g}, so that it ends at {item.end_m:g} m"
        findings.add((*loc, "start_m"), found, f"an end within the wall's {wall.length_m:g} m")


def _apart(
    loc: Loc, after: Opening | Obstacle | CoveredStretch, before: Opening | Obstacle | CoveredStretch, label: str,
    findings: IssueCollector,
) -> None:  # fmt: skip
    if min(after.end_m, before.end_m) - max(after.start_m, before.start_m) > TAPE_M:
        found = f"{after.start_m:g} m to {after.end_m:g} m, over {label} at {before.start_m:g} m to {before.end_m:g} m"
        findings.add(loc, found, "stretches of wall that do not overlap")


def _traverse(room_loc: Loc, room: Room, findings: IssueCollector) -> None:
    loc = (*room_loc, "walls")
    total = math.fsum(wall.turn_deg for wall in room.walls)
    if math.isnan(total + math.fsum(traverse_of(room).taped_m)):
        return
    if abs(total - 360.0) > TURNS_WITHIN_DEG:
        findings.add(loc, f"turns that sum to {total:g} degrees", f"360{_turn_hint(total)}")
        return
    if room.diagonals and not check_lengths(room_loc, room, findings):
        return
    first_deg = room.first_wall_bearing_deg if math.isfinite(room.first_wall_bearing_deg) else 0.0
    geometry = geometry_of_room(replace(room, first_wall_bearing_deg=first_deg))
    if not geometry.closes:
        bearing = geometry.misclosure_bearing_deg
        found = (
            f"a last wall that ends {geometry.misclosure_m * 1000:.0f} mm from where the first begins, "
            f"on a bearing of {bearing:.0f} degrees ({compass_direction(bearing)})"
        )
        required = f"walls that close within {geometry.closing_tolerance_m * 1000:.0f} mm"
        findings.add(loc, found, required + _gap_hint(geometry))
        return
    for a, b in crossing_walls(geometry.corners_m):
        findings.add((*loc, b - 1), f"a wall that meets wall {a}", "walls that meet only their neighbours")


def _turn_hint(total_deg: float) -> str:
    if abs(total_deg + 360.0) <= TURNS_WITHIN_DEG:
        return ": these go round anticlockwise, list the walls clockwise seen from above"
    if abs(total_deg - 540.0) <= TURNS_WITHIN_DEG or abs(total_deg - 720.0) <= TURNS_WITHIN_DEG:
        return ": a missing turn is 90; an outside corner requires turn_deg = -90"
    return ": turn_deg is 180 minus the angle inside the room at the end of each wall; a missing turn is 90"


def _gap_hint(geometry: RoomGeometry) -> str:
    """Walls parallel to the gap; the error is probably in one of them."""
    along = [
        number
        for number, bearing in enumerate(geometry.bearing_deg, start=1)
        if abs(math.sin(math.radians(bearing - geometry.misclosure_bearing_deg))) < 0.17
    ]
    return f"; check the walls in that direction: {', '.join(map(str, along))}" if along else ""


def compass_direction(bearing_deg: float) -> str:
    """The nearest of eight points of the compass to a bearing in degrees.

    >>> compass_direction(271.0), compass_direction(359.0)
    ('west', 'north')
    """
    return COMPASS[round(bearing_deg / 45.0) % 8]


@dataclass(frozen=True)
class _Side:
    """One side of a doorway: its opening in the room on that side."""

    loc: Loc
    room: str
    opening: Opening
    beyond: str | None


def _sides(survey: SurveyData) -> Iterator[_Side]:
    for r, room in enumerate(survey.rooms):
        for w, wall in enumerate(room.walls):
            for o, opening in enumerate(wall.openings):
                beyond = opening.beyond or wall.beyond
                if opening.name and beyond not in FAR_SIDES:
                    yield _Side(("room", r, "walls", w, "openings", o), room.name, opening, beyond)


def _doorways(survey: SurveyData, findings: IssueCollector) -> None:
    by_name: dict[str, list[_Side]] = {}
    for side in _sides(survey):
        by_name.setdefault(str(side.opening.name), []).append(side)
    for sides in by_name.values():
        rooms = list(dict.fromkeys(side.room for side in sides))
        if len(rooms) > 2:
            listed = ", ".join(f'"{room}"' for room in rooms)
            findings.add(sides[-1].loc, f"this name in {listed}", "one name for each doorway, in two rooms")
        elif len(rooms) == 2:
            _doorway(sides, [room.name for room in survey.rooms], findings)


def _doorway(sides: Sequence[_Side], rooms: Sequence[str], findings: IssueCollector) -> None:
    """Check the two rooms of a doorway: equal widths, and each room adjacent to the opening of the other."""
    first = sides[0]
    for second in (side for side in sides if side.room != first.room):
        if abs(second.opening.width_m - first.opening.width_m) > DOORWAY_M + 1e-9:
            required = f'{first.opening.width_m:g} within 20 mm, as the same doorway in room "{first.room}"'
            findings.add((*second.loc, "width_m"), f"{second.opening.width_m:g}", required)
        for side, other in ((first, second), (second, first)):
            if side.beyond in rooms and side.beyond != other.room:
                found = f'"{side.beyond}" beyond it, and the same name in room "{other.room}"'
                findings.add(side.loc, found, "the same name on the two sides of one doorway, and nowhere else")
