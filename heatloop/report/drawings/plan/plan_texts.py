"""Everything that is written on a plan: positions with their figures, walls with their lengths, names of rooms."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from heatloop.report.drawings.geometry import MIDDLE_MM, SMALL_MM, Primitive, fitting
from heatloop.report.drawings.plan.corner_places import corner_places
from heatloop.report.drawings.plan.level_plan import LevelOnPaper, RoomOnPaper
from heatloop.report.drawings.plan.room_texts import RoomTexts, room_texts
from heatloop.report.drawings.plan.text_places import (
    Ground,
    Placed,
    balloon_places,
    best_place,
    clear_places,
    dimension_lines,
    ground_of,
    name_places,
    obstacle_lines,
    wall_places,
)
from heatloop.text.formatting import escape_control_characters

LONGEST_NAME_MM = 60.0


@dataclass(frozen=True)
class PlanTexts:
    """Texts of a plan, and texts without a place.

    Figures of the rooms in `crowded` found no place on it and are in details, their rings on the plan. `lost` counts
    rings without a place, `unnamed` lists rooms that have a number in brackets in place of their name. `corners` are
    the marks of what is enlarged, one for each group of positions.
    """

    primitives: tuple[Primitive, ...]
    crowded: tuple[str, ...]
    lost: int
    unnamed: Mapping[str, int]
    corners: tuple[tuple[Primitive, ...], ...] = ()


def plan_texts(
    level: LevelOnPaper,
    field: tuple[float, float, float, float],
    numbers: Mapping[str, int],
    enlarged: Sequence[Sequence[int]] = (),
) -> PlanTexts:
    """Write on a plan inside a field (west, south, east, north on paper).

    `numbers` give every room the number that represents a name without a place. Rooms whose figures touch something
    after all rounds of the search give them to details. Each group of positions that is `enlarged` has a mark, X1 and
    on.
    """
    ground = _bounded(ground_of(level.rooms), field)
    ground.lines += obstacle_lines(level.rooms)  # for the texts of walls and rooms: figures have less free room
    own = {room.name: _bounded(ground_of([room]), field) for room in level.rooms}
    primitives: list[Primitive] = []
    crowded: list[RoomOnPaper] = []
    named: set[tuple[str, int]] = set()
    for room in level.rooms:
        found = _room_texts(own[room.name], room, f"[{numbers[room.name]}]")
        if found is None:
            crowded.append(room)
            continue
        named |= {(room.name, wall) for wall in found.walls}
        for placed in found.placed:
            ground.add(placed)
            primitives += placed.primitives
        for straight in room.straights:
            primitives += list(dimension_lines(straight))
    lost = 0
    for straight, mark in ((run, mark) for room in crowded for run in room.straights for mark in run.marks):
        best = best_place(ground, clear_places(ground, _within(field, balloon_places(straight, mark)), None))
        if best is None:
            lost += 1
        else:
            ground.add(best[1])
            primitives += best[1].primitives
    corners = []
    for index, group in enumerate(enlarged, start=1):
        places = _within(field, corner_places(level.rooms, group, f"X{index}"))
        best = best_place(ground, clear_places(ground, places, None))
        corners.append(() if best is None else best[1].primitives)
        if best is not None:
            ground.add(best[1])
    walls = [
        (room, wall.number) for room in level.rooms for wall in room.walls if (room.name, wall.number) not in named
    ]
    marked = {(room.name, wall) for room in level.rooms for straight in room.straights for wall in straight.walls}
    primitives += _walls(ground, own, [wall for wall in walls if (wall[0].name, wall[1]) in marked])
    names, unnamed = _names(ground, level, numbers, own)
    primitives += names
    primitives += _walls(ground, own, [wall for wall in walls if (wall[0].name, wall[1]) not in marked])
    return PlanTexts(tuple(primitives), tuple(room.name for room in crowded), lost, unnamed, tuple(corners))


def _bounded(ground: Ground, field: tuple[float, float, float, float]) -> Ground:
    """The ground with the edges of the field as walls."""
    west, south, east, north = field
    ground.walls += [
        ((west, south), (east, south)), ((east, south), (east, north)),
        ((east, north), (west, north)), ((west, north), (west, south)),
    ]  # fmt: skip
    return ground


def _room_texts(bare: Ground, room: RoomOnPaper, short: str) -> RoomTexts | None:
    """Texts of a room; with a place kept for its number in brackets where they would leave none."""
    found = room_texts(bare, room)
    names = list(clear_places(bare, name_places(room, [(short, SMALL_MM)]), room))
    if found is None or not names:
        return found
    written, kept = bare.copy(), bare.copy()
    for placed in found.placed:
        written.add(placed)
    if best_place(written, names) is not None:
        return found
    kept.add(names[0][1])
    kept.solid += names[0][1].boxes
    return room_texts(kept, room) or found


def _within(
    field: tuple[float, float, float, float], places: Iterable[tuple[float, Placed]]
) -> Iterator[tuple[float, Placed]]:
    """Places whose boxes are inside the field: its edges keep texts from crossing them, not from being beyond them."""
    west, south, east, north = field
    for cost, placed in places:
        bounds = [box.bounds for box in placed.boxes]
        if all(w >= west and s >= south and e <= east and n <= north for w, s, e, n in bounds):
            yield cost, placed


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
