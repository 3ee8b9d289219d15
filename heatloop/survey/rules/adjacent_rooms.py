"""Elements that only one of two adjacent rooms states: a shared wall, a doorway, a floor above a ceiling.

The survey can still be calculated, with each side as its own room states it. The result is a caution, because a
missing side and a misspelt name cannot be distinguished.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from heatloop.survey.building import Opening, Room, Wall
from heatloop.survey.survey import SurveyData
from heatloop.text.quoting import suggestion


@dataclass(frozen=True)
class AdjacencyWarning:
    """An element stated by one room only: its location (`subject`), and what to check."""

    subject: str
    look: str


def unmatched_walls(survey: SurveyData) -> Iterator[AdjacencyWarning]:
    """Walls, floors and ceilings towards another surveyed room that does not state this one.

    Not checked: rooms copied by `copy_of`, and adjacent rooms whose walls do not state adjacent spaces because their
    heat loss is stated.
    """
    rooms = {room.name: room for room in survey.rooms}
    for room in survey.rooms:
        if room.copy_of is not None:
            continue
        for number, wall in enumerate(room.walls, start=1):
            for far in dict.fromkeys((wall.beyond, *(opening.beyond for opening in wall.openings))):
                other = rooms.get(far or "")
                if other is not None and _states_far_sides(other) and room.name not in _beyond(other):
                    missing = f'no wall of "{other.name}" has beyond = "{room.name}"'
                    look = f"{missing}: add it there, or correct the far side here"
                    yield AdjacencyWarning(f'{room.name}, wall {number}, towards "{other.name}"', look)
        for key, facing in (("floor", "ceiling"), ("ceiling", "floor")):
            surface = getattr(room, key)
            other = rooms.get(surface.beyond) if surface is not None else None
            if other is None or other.copy_of is not None or other.heat_loss_w is not None:
                continue
            across = getattr(other, facing)
            if across is None or across.beyond not in rooms:
                seen = "none" if across is None else f'beyond = "{across.beyond}"'
                look = f'the {facing} of "{other.name}" is {seen}: enter the room beyond it, or correct the {key} here'
                yield AdjacencyWarning(f'{room.name}, {key}, towards "{other.name}"', look)


def unmatched_doorways(survey: SurveyData) -> Iterator[AdjacencyWarning]:
    """Named openings towards another surveyed room that has no opening of that name, with the name that may be meant.

    An opening in a wall that does not state its adjacent space is reported only where another room has an unmatched
    opening with a similar name.
    """
    sides = [side for room in survey.rooms if room.copy_of is None for side in _named(room)]
    rooms_of: dict[str, set[str]] = {}
    for room, _, opening in sides:
        rooms_of.setdefault(str(opening.name), set()).add(room.name)
    rooms = {room.name: room for room in survey.rooms}
    for room, wall, opening in sides:
        name, far = str(opening.name), rooms.get(opening.beyond or wall.beyond or "")
        if len(rooms_of[name]) > 1 or ((opening.beyond or wall.beyond) and (far is None or not far.walls)):
            continue
        lonely = [
            str(o.name) for r, w, o in sides
            if r is not room and (far is None or r is far) and len(rooms_of[str(o.name)]) == 1
            and (o.beyond or w.beyond or room.name) == room.name
        ]  # fmt: skip
        close = suggestion(name, lonely)
        if far is None and close is None:
            continue
        where = f'in "{far.name}"' if far is not None else "in another room"
        guess = (
            f': check whether it is "{close}" {where}'
            if close
            else f": it has no opening {where}, so the two plans are not joined there"
        )
        yield AdjacencyWarning(
            f'{room.name}, opening "{name}"', f"a doorway has the same name on both its sides{guess}"
        )


def walls_without_adjacent_side(survey: SurveyData) -> Iterator[AdjacencyWarning]:
    """Walls that have a window or a build-up but do not state the adjacent space.

    The build-up may be that of an opening. Such walls are assumed to be equally warm on both sides and to have no heat
    loss, which is seldom intended for a wall with a build-up. Not checked: rooms whose loss is stated, and those copied
    by `copy_of`.
    """
    for room in survey.rooms:
        if room.copy_of is not None or room.heat_loss_w is not None:
            continue
        for number, wall in enumerate(room.walls, start=1):
            if wall.beyond:
                continue
            silent = [o for o in wall.openings if not o.beyond and (o.build_up or o.kind == "window")]
            if not wall.build_up and not silent:
                continue
            reason = f"its {silent[0].name or silent[0].kind}" if silent else f'its build-up "{wall.build_up}"'
            assumed = f"the far side is assumed at the same temperature, so {reason} has no heat loss"
            look = f'{assumed}: enter beyond = "outdoors" or what is there'
            yield AdjacencyWarning(f"{room.name}, wall {number}", look)


def _named(room: Room) -> Iterator[tuple[Room, Wall, Opening]]:
    return ((room, wall, opening) for wall in room.walls for opening in wall.openings if opening.name)


def _beyond(room: Room) -> set[str]:
    """All adjacent spaces of the walls and openings of a room."""
    named = [(wall.beyond, *(opening.beyond for opening in wall.openings)) for wall in room.walls]
    return {beyond for group in named for beyond in group if beyond}


def _states_far_sides(room: Room) -> bool:
    """Whether the room has walls that can state their adjacent space."""
    return bool(room.walls) and room.copy_of is None and (room.heat_loss_w is None or bool(_beyond(room)))
