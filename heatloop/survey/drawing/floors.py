"""Floors of a drawing: a layer of room outlines for each, and its level."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from heatloop.findings.input_errors import InputError, InputIssue, is_number, quoted_value
from heatloop.survey.drawing.outlines import Outline, OutlineProblem, overlapping
from heatloop.survey.drawing.rooms import DrawnRoom

LOWEST_M, HIGHEST_M = -30.0, 300.0
"""Range of a level, m: that of the key `level_m` of a room."""


def check_levels(levels_m: Sequence[float], layers: int, file: str) -> None:
    """InputError unless there is a level, in m, for each layer of outlines."""
    usable = all(is_number(level) and LOWEST_M <= level <= HIGHEST_M for level in levels_m)
    if not usable or len(levels_m) != layers:
        count = "one number" if layers == 1 else f"{layers} numbers, one for each layer,"
        required = f"{count} in m, from {LOWEST_M:g} to {HIGHEST_M:g}"
        raise InputError([InputIssue(file, "level", quoted_value(list(levels_m)), required)])


def floors_over_each_other(floors: Sequence[Sequence[Outline]], join_m: float) -> list[OutlineProblem]:
    """Outlines of one floor that lie over those of another; within a floor they are checked before."""
    if len(floors) < 2:
        return []
    problems = overlapping([outline for floor in floors for outline in floor], join_m)
    return [replace(one, required="the plans of the floors beside each other in the drawing") for one in problems]


def at_levels(rooms: Sequence[DrawnRoom], counts: Sequence[int], levels_m: Sequence[float]) -> tuple[DrawnRoom, ...]:
    """Rooms with their levels, m: floor by floor, so many rooms on each."""
    levels = [level for count, level in zip(counts, levels_m, strict=True) for _ in range(count)]
    return tuple(replace(room, level_m=float(level)) for room, level in zip(rooms, levels, strict=True))


def beside_other_floors(rooms: Sequence[DrawnRoom], wall_m: float, file: str) -> list[InputIssue]:
    """An error for each room that is drawn so near to a room of another level that it counts as beside it."""
    level = {room.name: room.level_m for room in rooms}
    pairs = {
        (room.name, wall.beyond): None
        for room in rooms
        for wall in room.walls
        if wall.beyond is not None and level[wall.beyond] != room.level_m
    }
    required = f"the plans of floors more than {wall_m:g} m apart"
    return [
        InputIssue(file, f'room "{name}"', f'a wall beside "{other}", which is on another level', required)
        for name, other in pairs
    ]
