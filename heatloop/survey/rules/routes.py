"""Rules of routes: walls that exist, follow on and carry the named openings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from heatloop.survey.building import Room
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.files.key_path import Loc
from heatloop.survey.files.loop_tables import LoopTable, RouteTable
from heatloop.survey.files.validation import IssueCollector
from heatloop.survey.loops import Loop, RouteCrossing, RouteEstimate, RouteItem, RouteWalls, StraightJoint

TAPE_M = 0.001
Way = Literal["clockwise", "anticlockwise"]


def route_locs(index: int, table: LoopTable) -> list[Loc]:
    """Location in the file of the route of each arm of a loop."""
    if table.has_emitters_alone:
        return []
    if table.arms is None:
        return [("loop", index, "route")]
    return [("loop", index, "arms", arm) for arm in range(len(table.arms))]


def rooms_on_route(loop: Loop) -> tuple[str, ...]:
    """Rooms in which a loop has skirting, each once, in water order."""
    items = [item for arm in loop.arms for item in arm if not isinstance(item, RouteCrossing)]
    return tuple(dict.fromkeys(item.room for item in items))


def rooms_heated(loop: Loop) -> tuple[str, ...]:
    """Rooms that a loop heats, each once: those with its skirting, then those with its other emitters."""
    return tuple(dict.fromkeys((*rooms_on_route(loop), *(item.room for item in loop.emitters))))


def check_routes(
    index: int, loop: Loop, table: LoopTable, rooms: Mapping[str, Room | None], catalogue: Catalogue | None,
    findings: IssueCollector,
) -> None:  # fmt: skip
    """Report every error in the routes of one loop; `catalogue` is None where it could not be read.

    `rooms` by name; None for a room whose walls could not be read, whose routes are not checked.
    """
    for loc, items, keys in zip(route_locs(index, table), loop.arms, table.routes, strict=True):
        for place, (item, item_table) in enumerate(zip(items, keys, strict=True)):
            _item((*loc, place), item, item_table, rooms, findings)
        _order(loc, items, rooms, findings)
    for place, joint in enumerate(loop.straight_joints):
        _straight(("loop", index, "straight_joints", place), joint, rooms, findings)
    profiles = {item.name: item for item in catalogue.profiles} if catalogue else {}
    profile = profiles.get(loop.profile)
    sections = [
        name for items in loop.arms for item in items if isinstance(item, RouteWalls) for name in item.floor_sections
    ]
    if sections and profile is not None and profile.floor_section is None:
        found = f'"{profile.name}", without a rating as a floor section ([profile.floor_section])'
        required = f'a profile with this rating, because the route has a floor section at "{sections[0]}"'
        findings.add(("loop", index, "profile"), found, required)


def _straight(loc: Loc, joint: StraightJoint, rooms: Mapping[str, Room | None], findings: IssueCollector) -> None:
    """Check that a straight joint is on an existing wall; the layout checks that skirting passes it."""
    room = rooms.get(joint.room)
    if findings.is_unread(loc) or not findings.name((*loc, "room"), "the name of a room", joint.room, rooms):
        return
    if room is not None and joint.wall > len(room.walls):
        required = f'a wall from 1 to {len(room.walls)} of room "{room.name}"'
        findings.add(
            (*loc, "wall"), f"{joint.wall}", required if room.walls else f'no joint: "{room.name}" has no walls'
        )


def _item(
    loc: Loc, item: RouteItem, route_table: RouteTable, rooms: Mapping[str, Room | None], findings: IssueCollector
) -> None:
    if findings.is_unread(loc):
        return
    if isinstance(item, RouteCrossing):
        _crossing(loc, item, route_table, rooms, findings)
        return
    if route_table.room is None:
        required = "the name of a room; or length_m, for a crossing"
        findings.add((*loc, "room"), "nothing", required)
        return
    room = rooms.get(item.room)
    if not findings.name((*loc, "room"), "the name of a room", item.room, rooms) or room is None:
        return
    if isinstance(item, RouteEstimate):
        _quote(loc, route_table, room, findings)
    elif route_table.walls is None:
        required = f"walls = [...], numbers from 1 to {len(room.walls)}"
        findings.add((*loc, "walls"), "nothing", required)
    elif not room.walls:
        required = "the room without walls, estimated from its estimated_wall_m; or the walls of the room"
        findings.add((*loc, "walls"), f'walls of room "{room.name}", which has none', required)
    elif not findings.is_unread((*loc, "walls")):
        _walls(loc, item, room, findings)


def _crossing(
    loc: Loc, item: RouteCrossing, route_table: RouteTable, rooms: Mapping[str, Room | None], findings: IssueCollector
) -> None:
    if route_table.length_m is None:
        findings.add((*loc, "length_m"), "nothing", "the length of the crossing in metres, one way")
    if route_table.pipe is None and not item.pipe:
        required = "the name of a pipe, here or in the crossing of the loop"
        findings.add((*loc, "pipe"), "nothing", required)
    misplaced = [
        key for key in ("room", "walls", "from_m", "to_m", "direction") if getattr(route_table, key) is not None
    ]
    if misplaced:
        required = "skirting (room and walls) or a crossing (pipe and length_m), two items of the route"
        findings.add(loc, f"{misplaced[0]} in a crossing", required)
    findings.name((*loc, "heats"), "the name of a room", item.heats, rooms)


def _quote(loc: Loc, route_table: RouteTable, room: Room, findings: IssueCollector) -> None:
    if room.estimated_wall_m is None:
        required = "walls, or estimated_wall_m for an estimate"
        findings.add((*loc, "room"), f'"{room.name}", a room without walls', required)
    misplaced = [key for key in ("from_m", "to_m", "direction") if getattr(route_table, key) is not None]
    if route_table.floor_sections:
        misplaced.append("floor_sections")
    if misplaced:
        findings.add((*loc, misplaced[0]), "a place on walls of a room without walls", "the room alone")


def _walls(loc: Loc, item: RouteWalls, room: Room, findings: IssueCollector) -> None:
    count = len(room.walls)
    outside = [place for place, wall in enumerate(item.walls) if wall > count]
    for place in outside:
        required = f'a wall from 1 to {count} of room "{room.name}"'
        findings.add((*loc, "walls", place), f"{item.walls[place]}", required)
    if outside or 0 in item.walls:
        return
    openings = {o.name for number in item.walls for o in room.walls[number - 1].openings if o.name}
    for place, section in enumerate(item.floor_sections):
        findings.name((*loc, "floor_sections", place), "an opening on these walls", section, openings)
    way = route_direction(item, count)
    for before, after in pairwise(item.walls):
        following = next_wall(before, count, way)
        if after != following:
            required = f"wall {following} after wall {before}, or a crossing between two route items"
            findings.add((*loc, "walls"), f"wall {after} after wall {before}, {way}", required)
            return
    if len(item.walls) > count + 1 or (len(item.walls) > count and item.from_m is None):
        findings.add((*loc, "walls"), "walls more than once", f"each of the {count} walls once")
        return
    _positions(loc, item, room, way, findings)


def route_direction(item: RouteWalls, count: int) -> Way:
    """Direction of the water along the walls of an item, in a room of `count` walls.

    As stated; else clockwise if the wall numbers rise (from the last wall to wall 1 counts as rising), or anticlockwise
    if they fall.
    """
    if item.direction:
        return item.direction
    falls = len(item.walls) > 1 and item.walls[1] == next_wall(item.walls[0], count, "anticlockwise")
    falls = falls or (len(item.walls) > 1 and item.walls[1] < item.walls[0] and item.walls[1] != 1)
    return "anticlockwise" if falls else "clockwise"


def next_wall(wall: int, count: int, way: Way) -> int:
    """The wall that touches `wall` at its end, going that way round a room of `count` walls.

    >>> next_wall(4, 4, "clockwise"), next_wall(1, 4, "anticlockwise")
    (1, 4)
    """
    return wall % count + 1 if way == "clockwise" else (wall - 2) % count + 1


def _positions(loc: Loc, item: RouteWalls, room: Room, way: Way, findings: IssueCollector) -> None:
    fits = True
    for key, value, number in (("from_m", item.from_m, item.walls[0]), ("to_m", item.to_m, item.walls[-1])):
        length_m = room.walls[number - 1].length_m
        if value is not None and value > length_m + TAPE_M:
            findings.add((*loc, key), f"{value:g}", f"at most the length of wall {number}, {length_m:g} m")
            fits = False
    if not fits:
        return
    start, stop = _ends(item, room, way)
    ahead = stop.at_m - start.at_m if way == "clockwise" else start.at_m - stop.at_m
    either_order = item.direction is not None and item.from_m is not None and item.to_m is not None
    if len(item.walls) == 1 and ahead <= TAPE_M and not (either_order and abs(ahead) > TAPE_M):
        order = "above from_m" if way == "clockwise" else "below from_m"
        required = f"to_m {order} going {way}, both from the left-hand end when facing the wall"
        findings.add((*loc, "to_m"), f"from {start.at_m:g} m to {stop.at_m:g} m", required)
    if len(item.walls) > 1 and item.walls[0] == item.walls[-1] and ahead > TAPE_M:
        found = f"from {start.at_m:g} m all round to {stop.at_m:g} m on wall {item.walls[0]}"
        findings.add((*loc, "to_m"), found, "a route that stops before it meets its own start")


@dataclass(frozen=True)
class _End:
    """Start or end of an item of a route: a place on a wall, and the direction there."""

    room: str
    wall: int
    at_m: float
    way: Way


def _ends(item: RouteWalls, room: Room, way: Way) -> tuple[_End, _End]:
    """Places where the water enters and leaves the walls of an item."""
    clockwise = way == "clockwise"
    first, last = item.walls[0], item.walls[-1]
    enter = item.from_m if item.from_m is not None else (0.0 if clockwise else room.walls[first - 1].length_m)
    leave = item.to_m if item.to_m is not None else (room.walls[last - 1].length_m if clockwise else 0.0)
    if len(item.walls) == 1 and item.direction and item.from_m is not None and item.to_m is not None:
        enter, leave = sorted((enter, leave), reverse=not clockwise)
    return _End(room.name, first, enter, way), _End(room.name, last, leave, way)


def _order(loc: Loc, items: Sequence[RouteItem], rooms: Mapping[str, Room | None], findings: IssueCollector) -> None:
    """Check that there is skirting, and a crossing wherever one item does not start at the end of the one before."""
    if items and all(isinstance(item, RouteCrossing) for item in items):
        findings.add(loc, "crossings alone", "at least one item with the walls of a room")
        return
    for place, (before, after) in enumerate(pairwise(items), start=1):
        if isinstance(before, RouteCrossing) or isinstance(after, RouteCrossing):
            continue
        leaves, enters = _known_ends(before, rooms, 1), _known_ends(after, rooms, 0)
        if leaves is None or enters is None or _touch(leaves, enters, rooms):
            continue
        found = f"a start at {_words(enters)}, and the item before it stops at {_words(leaves)}"
        findings.add((*loc, place), found, "a start where the item before stops, or a crossing between")


def _known_ends(item: RouteItem, rooms: Mapping[str, Room | None], which: int) -> _End | None:
    """Start (0) or end (1) of an item; None where an error of the item prevents this."""
    room = None if isinstance(item, RouteCrossing) else rooms.get(item.room)
    if room is None or isinstance(item, RouteCrossing):
        return None
    if isinstance(item, RouteEstimate):
        return _End(item.room, 0, 0.0, "clockwise")
    if not item.walls or not all(1 <= wall <= len(room.walls) for wall in item.walls):
        return None
    return _ends(item, room, route_direction(item, len(room.walls)))[which]


def _touch(leaves: _End, enters: _End, rooms: Mapping[str, Room | None]) -> bool:
    """Whether skirting continues from one end to the other in the same direction; unread places are accepted."""
    if leaves.room != enters.room or not leaves.wall or not enters.wall or leaves.way != enters.way:
        return False
    if leaves.wall == enters.wall:
        return not abs(leaves.at_m - enters.at_m) > TAPE_M
    room = rooms[leaves.room]
    walls = room.walls if room else ()
    left, right = (leaves, enters) if leaves.way == "clockwise" else (enters, leaves)
    at_corner = not (abs(left.at_m - walls[left.wall - 1].length_m) > TAPE_M or right.at_m > TAPE_M)
    return right.wall == next_wall(left.wall, len(walls), "clockwise") and at_corner


def _words(end: _End) -> str:
    where = f", wall {end.wall}, {end.at_m:g} m" if end.wall else ""
    return f'room "{end.room}"{where}'
