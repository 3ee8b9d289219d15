"""Building elements around a room, and the space on the other side of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from heatloop.heat_loss.defaults import ANNUAL_MEAN_C
from heatloop.heat_loss.model import PartKind
from heatloop.survey.building import Opening, Room, Wall
from heatloop.survey.survey import SurveyData

Side = Literal["outdoors", "unheated", "neighbour", "room", "ground", "equally warm"]


@dataclass(frozen=True)
class BuildingElement:
    """One plane part of the boundary of a room: net area, in the dimensions of the survey.

    `place`: where the survey states it. `width_m` and `height_m`: of an opening. `depth_m`: depth of a cellar floor
    below the ground outside; `floor_build_up`: its build-up.
    """

    kind: PartKind
    label: str
    place: str
    beyond: str | None
    neighbour_c: float | None
    build_up: str | None
    area_m2: float
    width_m: float | None = None
    height_m: float | None = None
    depth_m: float = 0.0
    floor_build_up: str | None = None


@dataclass(frozen=True)
class AdjacentSide:
    """The other side of an element: its kind, its name in the survey and its temperature."""

    side: Side
    name: str
    temp_c: float


@dataclass(frozen=True)
class NotCalculable:
    """Reason why an element cannot be calculated; reported as an input issue that states the file."""

    place: str
    found: str
    required: str


@dataclass(frozen=True)
class RoomSizes:
    """Sizes of a room for its heat loss.

    Lengths of walls in m, floor area in m2, additions to its height below and above in m. `measured`: all sizes are as
    measured.
    """

    lengths_m: tuple[float, ...]
    floor_m2: float
    below_m: float = 0.0
    above_m: float = 0.0
    measured: bool = True


def elements_of(room: Room, sizes: RoomSizes) -> tuple[BuildingElement, ...]:
    """Walls less their openings, the openings, floor and ceiling of a room of these sizes, in survey order."""
    elements: list[BuildingElement] = []
    for number, wall in enumerate(room.walls, start=1):
        elements += wall_elements(room, number, wall, sizes)
    elements.append(_surface_element(room, "floor", sizes.floor_m2))
    elements.append(_surface_element(room, "ceiling", sizes.floor_m2))
    return tuple(elements)


def far_side(survey: SurveyData, room: Room, element: BuildingElement) -> AdjacentSide | NotCalculable:
    """Kind, name and temperature of the space on the other side of an element of a room.

    An unheated space with a temperature factor f is at indoor - f (indoor - outdoor).
    """
    outdoor_c = survey.project.outdoor_c
    beyond = element.beyond
    if beyond is None:
        return AdjacentSide("equally warm", "equally warm", room.indoor_c)
    if beyond == "outdoors":
        return AdjacentSide("outdoors", beyond, outdoor_c)
    if beyond == "ground":
        mean_c, _ = ANNUAL_MEAN_C.or_stated(survey.project.annual_mean_c)
        return AdjacentSide("ground", beyond, mean_c)
    if beyond == "neighbour":
        if element.neighbour_c is None:
            return NotCalculable(element.place, 'beyond = "neighbour" alone', "neighbour_c as well, in °C")
        return AdjacentSide("neighbour", beyond, element.neighbour_c)
    for other in survey.rooms:
        if other.name == beyond:
            return AdjacentSide("room", beyond, other.indoor_c)
    for space in survey.spaces:
        if space.name == beyond:
            if space.temp_c is not None:
                return AdjacentSide("unheated", beyond, space.temp_c)
            if space.temperature_factor is not None:
                drop_k = space.temperature_factor * (room.indoor_c - outdoor_c)
                return AdjacentSide("unheated", beyond, room.indoor_c - drop_k)
            return NotCalculable(f'space "{beyond}"', "no temperature", "temp_c or temperature_factor")
    names = [item.name for item in survey.rooms] + [space.name for space in survey.spaces]
    known = ", ".join(f'"{name}"' for name in names)
    return NotCalculable(element.place, f'beyond = "{beyond}"', f'"outdoors", "ground", "neighbour", or one of {known}')


def is_door(kind: str) -> bool:
    """Whether an opening counts with the doors: any door that is not glazed.

    >>> is_door("door"), is_door("glazed door"), is_door("window")
    (True, False, False)
    """
    return "door" in kind and "glazed" not in kind


def _surface_element(room: Room, kind: Literal["floor", "ceiling"], floor_area_m2: float) -> BuildingElement:
    surface = room.floor if kind == "floor" else room.ceiling
    place = f'room "{room.name}", {kind}'
    if surface is None:
        return BuildingElement(kind, kind, place, None, None, None, floor_area_m2)
    area = floor_area_m2 if surface.area_m2 is None else surface.area_m2
    depth = room.depth_below_ground_m if kind == "floor" else 0.0
    return BuildingElement(
        kind, kind, place, surface.beyond, surface.neighbour_c, surface.build_up, area, depth_m=depth
    )


def wall_elements(room: Room, number: int, wall: Wall, sizes: RoomSizes) -> list[BuildingElement]:
    """The net wall (divided at ground level for a cellar wall) and its openings.

    In other dimensions than measured, a wall beside an outside corner can become smaller than its openings. Its own
    area is then 0.
    """
    length_m = sizes.lengths_m[number - 1]
    place = f'room "{room.name}", wall {number}'
    label = f"wall {number}"
    openings_m2 = sum(opening.area_m2 for opening in wall.openings)
    above_m = room.height_m + sizes.below_m + sizes.above_m
    elements = []
    if wall.beyond == "ground":
        buried = room.depth_below_ground_m >= room.height_m
        below_m = above_m if buried else room.depth_below_ground_m + sizes.below_m
        above_m -= below_m
        elements.append(
            BuildingElement(
                "walls",
                label if above_m == 0.0 else f"{label}, below ground",
                place,
                "ground",
                None,
                wall.build_up,
                length_m * below_m,
                depth_m=room.depth_below_ground_m,
                floor_build_up=None if room.floor is None else room.floor.build_up,
            )
        )
        label = f"{label}, above ground"
    if above_m > 0.0:
        beyond = "outdoors" if wall.beyond == "ground" else wall.beyond
        net_m2 = length_m * above_m - openings_m2
        net_m2 = net_m2 if sizes.measured else max(net_m2, 0.0)
        elements.append(BuildingElement("walls", label, place, beyond, wall.neighbour_c, wall.build_up, net_m2))
    openings = enumerate(wall.openings, start=1)
    return elements + [opening_element(room, number, wall, *counted) for counted in openings]


def opening_element(room: Room, number: int, wall: Wall, count: int, opening: Opening) -> BuildingElement:
    """Opening `count` of wall `number` of a room, both from 1, as a part of the room's boundary."""
    place = f'room "{room.name}", wall {number}'
    inherited = "outdoors" if wall.beyond == "ground" else wall.beyond
    return BuildingElement(
        "doors" if is_door(opening.kind) else "windows",
        f"wall {number}, {opening.name or f'{opening.kind} {count}'}",
        f"{place}, opening {count}",
        opening.beyond or inherited,
        opening.neighbour_c if opening.neighbour_c is not None else wall.neighbour_c,
        opening.build_up,
        opening.area_m2,
        opening.width_m,
        opening.height_m,
    )
