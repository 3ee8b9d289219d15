"""Everything that is written on a plan: positions with their figures, walls with their lengths, names of rooms."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from heatloop.report.drawings.geometry import MIDDLE_MM, SMALL_MM, Primitive, fitting
from heatloop.report.drawings.plan.level_plan import LevelOnPaper, MarkOnPaper, RoomOnPaper
from heatloop.report.drawings.plan.text_places import (
    CROSSED,
    ROUNDS,
    Ground,
    Placed,
    Places,
    balloon_places,
    best_place,
    clear_places,
    dimension_lines,
    ground_of,
    mark_places,
    name_places,
    obstacle_lines,
    wall_places,
)
from heatloop.text.formatting import escape_control_characters

LONGEST_NAME_MM = 60.0

RESERVED_TRIES, RESERVED_OFF_MM = 4, 12.5
"""Places of the text of a wall that are tried before the figures of its room, and how far off the wall they may be."""


@dataclass(frozen=True)
class PlanTexts:
    """Texts of a plan, and texts without a place.

    Figures of the rooms in `crowded` found no place on it and are in details, their rings on the plan. `lost` counts
    rings without a place, `unnamed` lists rooms that have a number in brackets in place of their name.
    """

    primitives: tuple[Primitive, ...]
    crowded: tuple[str, ...]
    lost: int
    unnamed: Mapping[str, int]


@dataclass(frozen=True)
class _Item:
    mark: MarkOnPaper
    places: Places

    @cached_property
    def urgency(self) -> float:
        """Cost of its twelfth place: the higher, the less free room there is."""
        costs = [cost for _, (cost, _) in zip(range(12), self.places, strict=False)]
        return costs[-1] if len(costs) == 12 else math.inf


def plan_texts(level: LevelOnPaper, field: tuple[float, float, float, float], numbers: Mapping[str, int]) -> PlanTexts:
    """Write on a plan inside a field (west, south, east, north on paper).

    `numbers` give every room the number that represents a name without a place. Rooms whose figures touch something
    after all rounds of the search give them to details.
    """
    ground = _bounded(ground_of(level.rooms), field)
    ground.lines += obstacle_lines(level.rooms)  # for the texts of walls and rooms: figures have less free room
    own = {room.name: _bounded(ground_of([room]), field) for room in level.rooms}
    primitives: list[Primitive] = []
    crowded: list[RoomOnPaper] = []
    named: set[tuple[str, int]] = set()
    for room in level.rooms:
        items = _items(own[room.name], room)
        found = _figures(own[room.name], items)
        if found is None:
            crowded.append(room)
            continue
        reserved, written = _with_walls(own[room.name], room, items, found)
        named |= {(room.name, wall) for wall in reserved}
        for placed in (*reserved.values(), *written):
            ground.add(placed)
            primitives += placed.primitives
        for straight in room.straights:
            primitives += list(dimension_lines(straight))
    lost = 0
    for straight, mark in ((run, mark) for room in crowded for run in room.straights for mark in run.marks):
        best = best_place(ground, clear_places(ground, balloon_places(straight, mark), None))
        if best is None:
            lost += 1
        else:
            ground.add(best[1])
            primitives += best[1].primitives
    walls = [
        (room, wall.number) for room in level.rooms for wall in room.walls if (room.name, wall.number) not in named
    ]
    marked = {(room.name, wall) for room in level.rooms for straight in room.straights for wall in straight.walls}
    primitives += _walls(ground, own, [wall for wall in walls if (wall[0].name, wall[1]) in marked])
    names, unnamed = _names(ground, level, numbers, own)
    primitives += names
    primitives += _walls(ground, own, [wall for wall in walls if (wall[0].name, wall[1]) not in marked])
    return PlanTexts(tuple(primitives), tuple(room.name for room in crowded), lost, unnamed)


def _bounded(ground: Ground, field: tuple[float, float, float, float]) -> Ground:
    """The ground with the edges of the field as walls."""
    west, south, east, north = field
    ground.walls += [
        ((west, south), (east, south)), ((east, south), (east, north)),
        ((east, north), (west, north)), ((west, north), (west, south)),
    ]  # fmt: skip
    return ground


def _with_walls(
    bare: Ground, room: RoomOnPaper, items: Sequence[_Item], found: tuple[float, list[Placed]]
) -> tuple[dict[int, Placed], list[Placed]]:
    """Texts of the walls for which these figures of a room leave no place, by wall, and the figures beside them.

    Such a wall takes its place first, and the search for the figures is repeated: the place is that of the lowest cost
    of the text and the figures together.
    """
    reserved: dict[int, Placed] = {}
    figures_cost, figures = found
    for number in sorted({wall for straight in room.straights for wall in straight.walls}):
        taken = bare.copy()
        for placed in (*reserved.values(), *figures):
            taken.add(placed)
        places = list(clear_places(bare, wall_places(room, number), room))
        if best_place(taken, places) is not None:
            continue
        near = [placed for placed in places if _off_mm(room, number, placed[1]) <= RESERVED_OFF_MM]
        costs = sorted(
            ((cost + CROSSED * bare.crossings(placed), placed) for cost, placed in near), key=lambda place: place[0]
        )
        least = math.inf
        for cost, placed in costs[:RESERVED_TRIES]:
            if cost + figures_cost >= least:
                break
            again = _figures(bare, items, (*reserved.values(), placed))
            if again is not None and cost + again[0] < least:
                least, best, figures = cost + again[0], placed, again[1]
        if least < math.inf:
            reserved[number] = best
    return reserved, figures


def _off_mm(room: RoomOnPaper, number: int, placed: Placed) -> float:
    """How far the text of a wall is off it."""
    wall, (west, south, east, north) = room.walls[number - 1], placed.boxes[0].bounds
    x, y = (west + east) / 2.0 - wall.start[0], (south + north) / 2.0 - wall.start[1]
    return x * wall.inward[0] + y * wall.inward[1]


def _items(bare: Ground, room: RoomOnPaper) -> list[_Item]:
    """The positions of a room with the places of their figures.

    Figures stay inside their room, so that rooms do not depend on each other.
    """
    return [
        _Item(mark, Places(clear_places(bare, mark_places(straight, mark), room)))
        for straight in room.straights
        for mark in straight.marks
    ]


def _figures(
    bare: Ground, items: Sequence[_Item], reserved: Sequence[Placed] = ()
) -> tuple[float, list[Placed]] | None:
    """Cost and figures of all positions of a room beside what is `reserved`; None where some find no place."""
    order = sorted(items, key=lambda text_item: (-text_item.urgency, text_item.mark.number))
    for _ in range(ROUNDS):
        trial, written, failed = bare.copy(), list[Placed](), list[_Item]()
        for placed in reserved:
            trial.add(placed)
        whole = 0.0
        for item in order:
            best = best_place(trial, item.places)
            if best is None:
                failed.append(item)
            else:
                whole += best[0]
                trial.add(best[1])
                written.append(best[1])
        if not failed:
            return whole, written
        order = [*failed, *(item for item in order if item not in failed)]
    return None


def _walls(ground: Ground, own: Mapping[str, Ground], walls: Sequence[tuple[RoomOnPaper, int]]) -> list[Primitive]:
    """Number and length of every wall that has a place for them."""
    written: list[Primitive] = []
    for room, number in walls:
        best = best_place(ground, clear_places(own[room.name], wall_places(room, number), room))
        if best is not None:
            ground.add(best[1])
            written += best[1].primitives
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
        best = best_place(ground, clear_places(own[room.name], name_places(room, texts), room))
        if best is None:
            unnamed[room.name] = numbers[room.name]
            continue
        ground.add(best[1])
        written += best[1].primitives
        if any(getattr(primitive, "text", "") == short for primitive in best[1].primitives):
            unnamed[room.name] = numbers[room.name]
    return written, unnamed
