"""A guest house of forty rooms and thirty loops on three levels: two rows of rooms along a corridor on each."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate, pairwise
from pathlib import Path

from tests.helpers.large_house import BLOCK
from tests.helpers.paths import DATA

LEVELS = ("Ground floor", "First floor", "Second floor")
HEIGHT_M, CORRIDOR_M = 2.8, 1.8
DEPTHS_M = {"north": 4.2, "south": 4.6}
WIDTHS_M = {"north": (4.2, 2.8, 4.6, 3.4, 4.6, 4.4), "south": (4.8, 3.2, 2.6, 3.4, 4.4, 2.8, 2.8)}
GROUND = {
    "north": ("Kitchen", "Pantry", "Breakfast room", "Office", "Lounge", "Library"),
    "south": ("Dining room", "Bar", "Cloakroom", "Reception", "Games room", "Linen room", "Boot room"),
}
"""Rooms of the ground floor from west to east. Bedrooms above have the number of their level and place."""
JOINED = {"north": (0, 3), "south": (0, 4)}
"""Rooms of a row that share a loop with the next room to the east, by their places from the west."""
DOOR_M = 0.84


@dataclass(frozen=True)
class RowRoom:
    """A room of a row: its name, where its west wall stands from the west end of the row, and its width."""

    name: str
    west_m: float
    width_m: float


def guest_house(folder: Path) -> Path:
    """Write the survey and its catalogue into a folder that is made, and return the path of the survey."""
    folder.mkdir(parents=True)
    shutil.copy(DATA / "alder-lodge" / "catalogue.toml", folder)
    text = (DATA / "alder-lodge" / "survey.toml").read_text(encoding="utf-8")
    head = "".join(b for b in BLOCK.split(text) if not b.startswith(("[[room]]", "[[loop]]", "[[trunk]]")))
    changes = {
        'name = "Alder Lodge"': 'name = "Quarry House"',
        "delta_t_k = 7.0": "delta_t_k = 10.0",
        "slab_area_m2 = 72.0": "slab_area_m2 = 260.0",
        "slab_exposed_perimeter_m = 34.8": "slab_exposed_perimeter_m = 70.0",
        "output_kw = 6.0": "output_kw = 30.0",
        "[0.0, 0.4, 0.8, 1.2], head_kpa = [34, 31, 25, 15], constant_kpa = 16.0": (
            "[0.0, 1.2, 2.4, 3.6], head_kpa = [84, 80, 70, 50], constant_kpa = 20.0"
        ),
        "volume_l = 12.0": "volume_l = 35.0",
        "hose_kpa = 150": "hose_kpa = 250",
    }
    for before, after in changes.items():
        assert before in head, before
        head = head.replace(before, after)
    survey = folder / "survey.toml"
    survey.write_text("".join((head, *(part for level in range(3) for part in _level(level)))), encoding="utf-8")
    return survey


def _level(level: int) -> Iterator[str]:
    """Rooms, trunk and loops of a level."""
    rows = {row: list(_row(level, row)) for row in DEPTHS_M}
    corridor = f"{LEVELS[level]} corridor"
    for row, rooms in rows.items():
        yield from (_room(level, row, rooms, place, corridor) for place in range(len(rooms)))
    yield _corridor(level, corridor, rows)
    yield f'[[trunk]]\nname = "{LEVELS[level]}"\npipe = "copper 28"\nlength_m = {4.0 + 3.0 * level}\n'
    for row, rooms in rows.items():
        joined = JOINED[row][:1] if level and row == "south" else JOINED[row]
        for place, room in enumerate(rooms):
            if place in joined:
                yield _loop(level, room, rooms[place + 1], row)
            elif place - 1 not in joined:
                walls = "[1, 2, 3]" if row == "north" else "[3, 4, 1]"
                yield _written(level, room.name, room.name, [f'{{ room = "{room.name}", walls = {walls} }}'])
    yield _written(level, corridor, corridor, [f'{{ room = "{corridor}", walls = [2, 3, 4] }}'])


def _row(level: int, row: str) -> Iterator[RowRoom]:
    """The rooms of a row from west to east; above the ground floor the last two of the south row are one."""
    widths = WIDTHS_M[row]
    if level and row == "south":
        widths = (*widths[:-2], sum(widths[-2:]))
    number = 1 if row == "north" else 7
    for place, (west, east) in enumerate(pairwise(accumulate(widths, initial=0.0))):
        name = f"Room {level}{number + place:02d}" if level else GROUND[row][place]
        yield RowRoom(name, round(west, 2), round(east - west, 2))


def _room(level: int, row: str, rooms: list[RowRoom], place: int, corridor: str) -> str:
    """A room, walls clockwise from its south-west corner: west, north, east, south."""
    room, deep = rooms[place], DEPTHS_M[row]
    west, east = (_wall(deep, rooms[side].name if 0 <= side < len(rooms) else None) for side in (place - 1, place + 1))
    outer = _wall(room.width_m, None, _window(0.7, room.width_m - 1.4))
    inner = _wall(room.width_m, corridor, _door(room.name, 0.4 if row == "south" else room.width_m - 0.4 - DOOR_M))
    north, south = (outer, inner) if row == "north" else (inner, outer)
    return _written_room(level, room.name, 20.0, (west, north, east, south))


def _corridor(level: int, name: str, rows: dict[str, list[RowRoom]]) -> str:
    """The corridor of a level, with a door to every room; a wall in as many parts as there are rooms behind it."""
    end = _wall(CORRIDOR_M, None, _window(0.4, 1.0))
    north = [_part(room, 0.4) for room in rows["north"]]
    south = [_part(room, room.width_m - 0.4 - DOOR_M) for room in reversed(rows["south"])]
    for side in (north, south):
        side[:-1] = [part.replace(", beyond", ", turn_deg = 0, beyond", 1) for part in side[:-1]]
    return _written_room(level, name, 18.0, (end, *north, end, *south))


def _part(room: RowRoom, door_m: float) -> str:
    """The part of a wall of the corridor with a room behind it."""
    return _wall(room.width_m, room.name, _door(room.name, door_m))


def _written_room(level: int, name: str, indoor_c: float, walls: tuple[str, ...]) -> str:
    floor = '{ beyond = "ground", build_up = "slab" }' if level == 0 else _between(indoor_c)
    ceiling = '{ beyond = "Roof space", build_up = "loft" }' if level == len(LEVELS) - 1 else _between(indoor_c)
    listed = ",\n  ".join(walls)
    return (
        f'[[room]]\nname = "{name}"\nlevel_m = {HEIGHT_M * level:g}\nindoor_c = {indoor_c}\nheight_m = 2.40\n'
        f"air_changes_h = 0.6\nfloor = {floor}\nceiling = {ceiling}\nfirst_wall_bearing_deg = 0\n"
        f"walls = [\n  {listed},\n]\n"
    )


def _between(beyond_c: float) -> str:
    """A floor or ceiling towards rooms as warm."""
    return f'{{ beyond = "neighbour", neighbour_c = {beyond_c}, build_up = "upper floor" }}'


def _wall(length_m: float, beyond: str | None, *openings: str) -> str:
    """A wall to that room, or an outer wall."""
    sides = ("outdoors", "outer wall") if beyond is None else (beyond, "partition")
    held = f", openings = [{', '.join(openings)}]" if openings else ""
    return f'{{ length_m = {length_m:.2f}, beyond = "{sides[0]}", build_up = "{sides[1]}"{held} }}'


def _window(start_m: float, width_m: float) -> str:
    size = f"start_m = {start_m:.2f}, width_m = {width_m:.2f}, height_m = 1.20, sill_m = 0.90"
    return f'{{ kind = "window", {size}, build_up = "window" }}'


def _door(room: str, start_m: float) -> str:
    size = f"start_m = {start_m:.2f}, width_m = {DOOR_M}, height_m = 2.04"
    return f'{{ name = "door of {room}", kind = "door", {size}, build_up = "inner door" }}'


def _loop(level: int, west: RowRoom, east: RowRoom, row: str) -> str:
    """A loop along the outer walls of two rooms, through the partition between them."""
    first, second = (west, east) if row == "north" else (east, west)
    route = [
        f'{{ room = "{first.name}", walls = {"[1, 2]" if row == "north" else "[3, 4]"} }}',
        '{ pipe = "copper 15", length_m = 0.40 }',
        f'{{ room = "{second.name}", walls = {"[2, 3]" if row == "north" else "[4, 1]"} }}',
    ]
    return _written(level, f"{west.name} and {east.name}", first.name, route)


def _written(level: int, name: str, sensor: str, route: list[str]) -> str:
    listed = ",\n  ".join(route)
    return (
        f'[[loop]]\nname = "{name}"\nprofile = "two-channel 140"\narrangement = "there-and-back"\n'
        f'trunk = "{LEVELS[level]}"\ntails = {{ pipe = "copper 15", length_m = 4.0 }}\n'
        'crossing = { pipe = "copper 15", depth_m = 0.15 }\n'
        'valves = { flow = "thermostatic 15", return = "lockshield 15" }\n'
        f'sensor_room = "{sensor}"\nroute = [\n  {listed},\n]\n'
    )
