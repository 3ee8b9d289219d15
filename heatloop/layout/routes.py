"""Chains of walls from route items: walls in water order with one running coordinate.

A chain is skirting without an explicit crossing in it. Its coordinate `s` (m) is 0 where the water enters and follows
the measured length of every wall. Positions on a wall (from the left) can thus be put in water order in either
direction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.layout.walls import EPS_M, rounded_length
from heatloop.survey.building import Room
from heatloop.survey.loops import RouteCrossing, RouteEstimate, RouteItem, RouteWalls
from heatloop.survey.survey import SurveyData


@dataclass(frozen=True)
class WallSpan:
    """A wall or part of it, in water order: in at `enter_m`, out at `leave_m` of the wall; it starts
    `start_along_m` along the chain.

    `turn_deg` is the turn to the next span of the chain (0 at its last).
    """

    wall: int
    enter_m: float
    leave_m: float
    start_along_m: float = 0.0
    turn_deg: float = 0.0

    @property
    def rightward(self) -> bool:
        return self.leave_m > self.enter_m

    @property
    def length_m(self) -> float:
        return abs(self.leave_m - self.enter_m)

    @property
    def end_along_m(self) -> float:
        return self.start_along_m + self.length_m

    def s_of(self, at_m: float) -> float:
        """Chain coordinate of a position on the wall."""
        return self.start_along_m + (at_m - self.enter_m if self.rightward else self.enter_m - at_m)

    def at_of(self, s: float) -> float:
        """Position on the wall of a chain coordinate."""
        return self.enter_m + (s - self.start_along_m if self.rightward else self.start_along_m - s)


@dataclass(frozen=True)
class WallChain:
    """Walls of one room that the run follows without an explicit crossing."""

    room: Room
    spans: tuple[WallSpan, ...]
    floor_sections: tuple[str, ...] = ()

    @property
    def length_m(self) -> float:
        return self.spans[-1].end_along_m

    def place(self, s: float, leaving: bool = False) -> tuple[int, float]:
        """(wall, position) of a chain coordinate; at a corner, the end of the first wall or the start of the next."""
        for span in self.spans:
            if s < span.end_along_m - EPS_M or (leaving and s < span.end_along_m + EPS_M):
                return span.wall, rounded_length(span.at_of(s))
        last = self.spans[-1]
        return last.wall, rounded_length(last.at_of(s))


ChainItem = WallChain | RouteCrossing | RouteEstimate


def wall_chains(survey: SurveyData, loop: str, items: Sequence[RouteItem]) -> tuple[ChainItem, ...]:
    """The items of one arm with neighbouring walls joined to chains.

    Raises InputError for items that do not follow on from each other without a crossing.
    """
    joined: list[ChainItem] = []
    faults: list[InputIssue] = []
    for item in items:
        if not isinstance(item, RouteWalls):
            if isinstance(item, RouteEstimate) and joined and not isinstance(joined[-1], RouteCrossing):
                faults.append(_gap(survey, loop, f'room "{item.room}"'))
            joined.append(item)
            continue
        try:
            chain = WallChain(survey.room(item.room), wall_spans(survey, loop, item), item.floor_sections)
        except InputError as error:
            faults += error.issues
            continue
        before = joined[-1] if joined else None
        if before is None or isinstance(before, RouteCrossing):
            joined.append(chain)
        elif isinstance(before, WallChain) and _follows(before, chain):
            joined[-1] = _join(before, chain)
        elif not faults:
            faults.append(_gap(survey, loop, f'room "{item.room}", wall {item.walls[0]}'))
    if faults:
        raise InputError(faults)
    return tuple(joined)


def wall_spans(survey: SurveyData, loop: str, item: RouteWalls) -> tuple[WallSpan, ...]:
    """Walls of one route item in water order; InputError if they are not in sequence."""
    room = survey.room(item.room)
    place = f'loop "{loop}", room "{item.room}"'
    if not room.walls:
        raise InputError([survey.fault(place, "no walls", "walls, or estimated_wall_m for a quote")])
    unknown = [w for w in item.walls if not 1 <= w <= len(room.walls)]
    if unknown or not item.walls:
        found = f"wall {unknown[0]}" if unknown else "no walls"
        raise InputError([survey.fault(place, found, f"walls from 1 to {len(room.walls)}")])
    way = direction(survey, loop, item, room)
    enter_m, leave_m = _bounds(survey, place, item, room, way)
    clockwise = way == "clockwise"
    found_spans: list[WallSpan] = []
    s = 0.0
    for i, number in enumerate(item.walls):
        length_m = room.walls[number - 1].length_m
        first, last = i == 0, i == len(item.walls) - 1
        start = enter_m if first else (0.0 if clockwise else length_m)
        stop = leave_m if last else (length_m if clockwise else 0.0)
        turn = 0.0 if last else _turn(room, number, clockwise)
        span = WallSpan(number, start, stop, s, turn)
        if span.length_m < EPS_M or span.rightward != clockwise:
            required = "from_m before to_m" if clockwise else "from_m beyond to_m"
            raise InputError(
                [
                    survey.fault(
                        f"{place}, wall {number}",
                        f"from {start:.3f} m to {stop:.3f} m {way}",
                        f"{required}, both from the left-hand end, or the other direction",
                    )
                ]
            )
        found_spans.append(span)
        s = span.end_along_m
    return tuple(found_spans)


def direction(survey: SurveyData, loop: str, item: RouteWalls, room: Room) -> Literal["clockwise", "anticlockwise"]:
    """Direction in which the water follows the walls.

    Clockwise if their numbers rise (from the last to 1 counts as rising), anticlockwise if they fall; one wall
    clockwise. A `direction` of the item takes precedence. Raises InputError if walls listed one after the other do not
    touch in this direction.
    """
    pairs = list(pairwise(item.walls))
    count = len(room.walls)
    falls = bool(pairs) and pairs[0][1] == (pairs[0][0] - 2) % count + 1
    way: Literal["clockwise", "anticlockwise"] = item.direction or ("anticlockwise" if falls else "clockwise")
    for a, b in pairs:
        following = a % count + 1 if way == "clockwise" else (a - 2) % count + 1
        if b != following:
            raise InputError(
                [
                    survey.fault(
                        f'loop "{loop}", room "{item.room}"',
                        f"wall {a} then wall {b}, {way}",
                        f"wall {following} after wall {a}, or a crossing between two route items",
                    )
                ]
            )
    return way


def _bounds(survey: SurveyData, place: str, item: RouteWalls, room: Room, way: str) -> tuple[float, float]:
    """Where the water enters the first wall and leaves the last."""
    clockwise = way == "clockwise"
    first_m = room.walls[item.walls[0] - 1].length_m
    last_m = room.walls[item.walls[-1] - 1].length_m
    enter_m = item.from_m if item.from_m is not None else (0.0 if clockwise else first_m)
    leave_m = item.to_m if item.to_m is not None else (last_m if clockwise else 0.0)
    for key, number, value, length_m in (
        ("from_m", item.walls[0], enter_m, first_m),
        ("to_m", item.walls[-1], leave_m, last_m),
    ):
        if not -EPS_M <= value <= length_m + EPS_M:
            raise InputError([survey.fault(f"{place}, wall {number}", f"{key} = {value:g}", f"0 to {length_m:g} m")])
    # one wall with both positions and a stated direction: the stretch is plain whichever is given first
    if len(item.walls) == 1 and item.direction and None not in (item.from_m, item.to_m):
        low, high = sorted((enter_m, leave_m))
        return (low, high) if clockwise else (high, low)
    return enter_m, leave_m


def _turn(room: Room, wall: int, clockwise: bool) -> float:
    """Turn from a wall to the next in water order; an inside corner is inside in both directions."""
    return room.walls[wall - 1 if clockwise else wall - 2].turn_deg


def _follows(before: WallChain, after: WallChain) -> bool:
    """True if `after` starts where `before` ends, going the same way round."""
    a, b = before.spans[-1], after.spans[0]
    if before.room.name != after.room.name or a.rightward != b.rightward:
        return False
    walls = before.room.walls
    if a.wall == b.wall:
        return abs(a.leave_m - b.enter_m) < EPS_M
    left, right = (a, b) if a.rightward else (b, a)
    left_at, right_at = (a.leave_m, b.enter_m) if a.rightward else (b.enter_m, a.leave_m)
    touching = right.wall == left.wall % len(walls) + 1
    return touching and abs(left_at - walls[left.wall - 1].length_m) < EPS_M and abs(right_at) < EPS_M


def _join(before: WallChain, after: WallChain) -> WallChain:
    a, b = before.spans[-1], after.spans[0]
    kept = list(before.spans)
    turn = _turn(before.room, a.wall, a.rightward) if a.wall != b.wall else 0.0
    kept[-1] = WallSpan(a.wall, a.enter_m, a.leave_m, a.start_along_m, turn)
    kept += [WallSpan(x.wall, x.enter_m, x.leave_m, x.start_along_m + a.end_along_m, x.turn_deg) for x in after.spans]
    return WallChain(before.room, tuple(kept), before.floor_sections + after.floor_sections)


def _gap(survey: SurveyData, loop: str, where: str) -> InputIssue:
    return survey.fault(
        f'loop "{loop}", {where}',
        "skirting that does not start where the part before ends",
        "a crossing between the two parts of the route",
    )
