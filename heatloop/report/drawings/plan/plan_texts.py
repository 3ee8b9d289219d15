"""Everything that is written on a plan: positions with their figures, walls with their lengths, names of rooms."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from heatloop.report.drawings.geometry import MIDDLE_MM, SMALL_MM, Box, Primitive, fitting
from heatloop.report.drawings.plan.level_plan import LevelOnPaper, MarkOnPaper, RoomOnPaper, StraightOnPaper
from heatloop.report.drawings.plan.text_places import (
    ROUNDS,
    Ground,
    Places,
    balloon_places,
    best_place,
    dimension_lines,
    ground_of,
    mark_places,
    name_places,
    standing,
    wall_places,
)
from heatloop.text.formatting import escape_control_characters

LONGEST_NAME_MM = 60.0


@dataclass(frozen=True)
class PlanTexts:
    """What is written on a plan, and how well it went.

    Figures of the rooms in `crowded` found no place on it and stand in details, their rings on the plan. `lost` counts
    rings without a place, `unnamed` lists rooms that have a number in brackets in place of their name.
    """

    primitives: tuple[Primitive, ...]
    crowded: tuple[str, ...]
    lost: int
    unnamed: Mapping[str, int]


@dataclass(frozen=True)
class _Item:
    room: RoomOnPaper
    straight: StraightOnPaper
    mark: MarkOnPaper
    places: Places

    @cached_property
    def urgency(self) -> float:
        """Cost of its twelfth place: the higher, the less free room there is."""
        costs = [cost for _, (cost, _) in zip(range(12), self.places, strict=False)]
        return costs[-1] if len(costs) == 12 else math.inf


def plan_texts(level: LevelOnPaper, field: tuple[float, float, float, float], numbers: Mapping[str, int]) -> PlanTexts:
    """Write on a plan inside a field (west, south, east, north on paper).

    `numbers` give every room the number that stands for a name without a place. Rooms whose figures touch something
    after all rounds of the search give them to details.
    """
    bare = _bounded(ground_of(level.rooms), field)
    own = {room.name: _bounded(ground_of([room]), field) for room in level.rooms}
    items = [
        _Item(room, straight, mark, Places(standing(own[room.name], mark_places(straight, mark), room)))
        for room in level.rooms
        for straight in room.straights
        for mark in straight.marks
    ]
    crowded: tuple[str, ...] = ()
    while True:
        clear = [one for one in items if one.room.name not in crowded]
        ground = bare.copy()
        primitives, failed = _figures(ground, clear)
        if not failed:
            break
        crowded = tuple(room.name for room in level.rooms if room.name in crowded or room.name in failed)
    lost = 0
    for room in level.rooms:
        for straight in room.straights:
            if room.name not in crowded:
                primitives += list(dimension_lines(straight))
    for item in (one for one in items if one.room.name in crowded):
        found = best_place(ground, standing(ground, balloon_places(item.straight, item.mark), None))
        if found is None:
            lost += 1
        else:
            ground.add(found[1])
            primitives += found[1].primitives
    primitives += _walls(ground, level, own)
    names, unnamed = _names(ground, level, numbers, own)
    return PlanTexts((*primitives, *names), crowded, lost, unnamed)


def _bounded(ground: Ground, field: tuple[float, float, float, float]) -> Ground:
    """The ground with the edges of the field as walls."""
    west, south, east, north = field
    ground.walls += [
        ((west, south), (east, south)), ((east, south), (east, north)),
        ((east, north), (west, north)), ((west, north), (west, south)),
    ]  # fmt: skip
    return ground


def _figures(ground: Ground, items: Sequence[_Item]) -> tuple[list[Primitive], set[str]]:
    """Figures of all positions, and the rooms in which some found no place; the ground takes what was placed."""
    order = sorted(items, key=lambda one: (-one.urgency, one.mark.number))
    best: tuple[int, Ground, list[Primitive], set[str]] | None = None
    for _ in range(ROUNDS):
        trial, written, failed = ground.copy(), [], []
        for item in order:
            found = best_place(trial, item.places)
            if found is None:
                failed.append(item)
                continue
            trial.add(found[1])
            written += list(found[1].primitives)
        if best is None or len(failed) < best[0]:
            best = len(failed), trial, written, {item.room.name for item in failed}
        if not failed:
            break
        order = [*failed, *(item for item in order if item not in failed)]
    if best is None:
        return [], set()
    ground.boxes, ground.leaders = best[1].boxes, best[1].leaders
    return best[2], best[3]


def _walls(ground: Ground, level: LevelOnPaper, own: Mapping[str, Ground]) -> list[Primitive]:
    """Number and length of every wall that has a place for them; walls with positions first."""
    marked = {(room.name, wall) for room in level.rooms for straight in room.straights for wall in straight.walls}
    walls = [(room, wall.number) for room in level.rooms for wall in room.walls]
    written: list[Primitive] = []
    for room, number in sorted(walls, key=lambda one: (one[0].name, one[1]) not in marked):
        found = best_place(ground, standing(own[room.name], wall_places(room, number), room))
        if found is not None:
            ground.add(found[1])
            written += found[1].primitives
    return written


def _names(
    ground: Ground, level: LevelOnPaper, numbers: Mapping[str, int], own: Mapping[str, Ground]
) -> tuple[list[Primitive], dict[str, int]]:
    """The name of every room, or its number in brackets."""
    written: list[Primitive] = []
    unnamed: dict[str, int] = {}
    for room in level.rooms:
        whole = escape_control_characters(room.name)
        short = f"[{numbers[room.name]}]"
        long = fitting(whole, LONGEST_NAME_MM, SMALL_MM, True) != whole
        texts = [(short, SMALL_MM)] if long else [(whole, MIDDLE_MM), (whole, SMALL_MM), (short, SMALL_MM)]
        found = best_place(ground, standing(own[room.name], name_places(room, texts), room))
        if found is None:
            unnamed[room.name] = numbers[room.name]
            continue
        ground.add(found[1])
        written += found[1].primitives
        if any(getattr(one, "text", "") == short for one in found[1].primitives):
            unnamed[room.name] = numbers[room.name]
    return written, unnamed


def boxes_of(primitives: Sequence[Primitive]) -> list[Box]:
    """What the texts among some primitives take."""
    return [one.box for one in primitives if hasattr(one, "box")]
