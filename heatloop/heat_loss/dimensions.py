"""Dimensions for the heat loss of a room: as measured inside, overall inside, or outside.

EN 12831-1 has all three. A survey is measured inside, and the others are calculated from it. A wall between rooms is
moved outwards by half its thickness. For outside dimensions, a wall towards outdoors, ground or an unheated space is
moved by its whole thickness. Floors and ceilings are treated in the same way. Air and reheat use the inside dimensions.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from heatloop.heat_loss.building_elements import RoomSizes
from heatloop.heat_loss.defaults import FLOOR_THICKNESS_M, PARTITION_THICKNESS_M, WALL_THICKNESS_M
from heatloop.heat_loss.u_values import build_up_named
from heatloop.survey.building import Dimensions, FloorOrCeiling, Room, Wall
from heatloop.survey.survey import SurveyData

MIN_SINE = 0.1
"""Sine of the minimum turn at which two walls of different thickness are assumed to meet in a corner."""


def room_sizes(survey: SurveyData, room: Room, floor_area_m2: float) -> RoomSizes:
    """Lengths of the walls, floor area and storey height of a room in the survey's dimensions, m and m2.

    `floor_area_m2` is the inside one. Definitions of EN 12831-1:2017, from memory.
    """
    inside = RoomSizes(tuple(wall.length_m for wall in room.walls), floor_area_m2)
    used = survey.building.dimensions
    if used == "inside":
        return inside
    offsets = [_wall_offset_m(survey, wall, used) for wall in room.walls]
    lengths = moved_lengths_m(inside.lengths_m, [wall.turn_deg for wall in room.walls], offsets)
    strips = (
        offset * 0.5 * (before + after)
        for offset, before, after in zip(offsets, inside.lengths_m, lengths, strict=True)
    )
    below = _surface_offset_m(survey, room.floor, used)
    above = _surface_offset_m(survey, room.ceiling, used)
    return RoomSizes(lengths, floor_area_m2 + math.fsum(strips), below, above, False)


def moved_lengths_m(
    lengths_m: Sequence[float], turns_deg: Sequence[float], offsets_m: Sequence[float]
) -> tuple[float, ...]:
    """Lengths of the walls of a closed traverse whose walls move outwards by `offsets_m`, each its own, m.

    `turns_deg` at the end of each wall, 90 for an inside corner. At a turn a of two walls with offsets d and e the
    first grows by (e - d cos a) / sin a; walls that go straight on (sine below 0.1) keep their meeting point.

    >>> [round(length, 3) for length in moved_lengths_m((4.0, 5.0, 4.0, 5.0), (90.0,) * 4, (0.3, 0.3, 0.1, 0.1))]
    [4.4, 5.4, 4.4, 5.4]
    """
    grown = list(lengths_m)
    count = len(grown)
    for wall in range(count):
        other = (wall + 1) % count
        turn = math.radians(turns_deg[wall])
        if abs(math.sin(turn)) < MIN_SINE:
            continue
        grown[wall] += (offsets_m[other] - offsets_m[wall] * math.cos(turn)) / math.sin(turn)
        grown[other] += (offsets_m[wall] - offsets_m[other] * math.cos(turn)) / math.sin(turn)
    return tuple(grown)


def _wall_offset_m(survey: SurveyData, wall: Wall, used: Dimensions) -> float:
    if _inner(survey, wall.beyond):
        return 0.5 * _thickness_m(survey, wall.build_up, PARTITION_THICKNESS_M.value)
    usual_m, _ = WALL_THICKNESS_M.or_stated(survey.building.wall_thickness_m)
    return _thickness_m(survey, wall.build_up, usual_m) if used == "outside" else 0.0


def _surface_offset_m(survey: SurveyData, surface: FloorOrCeiling | None, used: Dimensions) -> float:
    build_up = None if surface is None else surface.build_up
    thickness_m = _thickness_m(survey, build_up, FLOOR_THICKNESS_M.value)
    if _inner(survey, None if surface is None else surface.beyond):
        return 0.5 * thickness_m
    return thickness_m if used == "outside" else 0.0


def _inner(survey: SurveyData, beyond: str | None) -> bool:
    """Whether the adjacent space is heated: another room, a neighbour, or not stated."""
    return beyond not in {"outdoors", "ground", *(space.name for space in survey.spaces)}


def _thickness_m(survey: SurveyData, name: str | None, usual_m: float) -> float:
    """Thickness in m by the layers of a build-up, else the default."""
    named = None if name is None else build_up_named(survey, name)
    if named is None or not named[0].layers or named[0].suspended:
        return usual_m
    return sum(layer.thickness_m for layer in named[0].layers)
