"""A room taken apart into what bounds it, and what lies beyond each part."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from heatloop.heat_loss.model import PartKind
from heatloop.survey.model import Room, Survey, Wall

Side = Literal["outdoors", "unheated", "neighbour", "room", "ground", "equally warm"]


# Yearly mean in a temperate lowland climate, common practice where no weather record is at hand
DEFAULT_ANNUAL_MEAN_C = 10.0


@dataclass(frozen=True)
class Element:
    """One plane part of a room's boundary: net area, inside dimensions.

    `place` is where the survey states it; `width_m` and `height_m` are those of an opening.
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


@dataclass(frozen=True)
class FarSide:
    """What lies beyond an element: its sort, the survey's word for it and its temperature."""

    side: Side
    name: str
    temp_c: float


@dataclass(frozen=True)
class Unusable:
    """Why a part cannot be computed: becomes a fault that names the file."""

    place: str
    found: str
    wanted: str


def elements_of(room: Room, floor_area_m2: float) -> tuple[Element, ...]:
    """Walls less their openings, the openings, floor and ceiling of a room, in survey order."""
    elements: list[Element] = []
    for number, wall in enumerate(room.walls, start=1):
        elements += _wall_elements(room, number, wall)
    surfaces: tuple[tuple[PartKind, str], ...] = (("floor", "floor"), ("ceiling", "ceiling"))
    for kind, label in surfaces:
        surface = room.floor if label == "floor" else room.ceiling
        beyond, build_up, neighbour_c = (
            (None, None, None) if surface is None else (surface.beyond, surface.build_up, surface.neighbour_c)
        )
        place = f'room "{room.name}", {label}'
        elements.append(Element(kind, label, place, beyond, neighbour_c, build_up, floor_area_m2))
    return tuple(elements)


def far_side(survey: Survey, room: Room, element: Element) -> FarSide | Unusable:
    """The sort, name and temperature of what is beyond an element of a room.

    An unheated space with a temperature factor f stands at indoor - f (indoor - outdoor).
    """
    outdoor_c = survey.project.outdoor_c
    beyond = element.beyond
    if beyond is None:
        return FarSide("equally warm", "equally warm", room.indoor_c)
    if beyond == "outdoors":
        return FarSide("outdoors", beyond, outdoor_c)
    if beyond == "ground":
        mean_c = survey.project.annual_mean_c
        return FarSide("ground", beyond, DEFAULT_ANNUAL_MEAN_C if mean_c is None else mean_c)
    if beyond == "neighbour":
        if element.neighbour_c is None:
            return Unusable(element.place, 'beyond = "neighbour" alone', "neighbour_c as well, in degC")
        return FarSide("neighbour", beyond, element.neighbour_c)
    for other in survey.rooms:
        if other.name == beyond:
            return FarSide("room", beyond, other.indoor_c)
    for space in survey.spaces:
        if space.name == beyond:
            if space.temp_c is not None:
                return FarSide("unheated", beyond, space.temp_c)
            if space.temperature_factor is not None:
                drop_k = space.temperature_factor * (room.indoor_c - outdoor_c)
                return FarSide("unheated", beyond, room.indoor_c - drop_k)
            return Unusable(f'space "{beyond}"', "no temperature", "temp_c or temperature_factor")
    names = [room.name for room in survey.rooms] + [space.name for space in survey.spaces]
    known = ", ".join(f'"{name}"' for name in names)
    return Unusable(
        element.place, f'beyond = "{beyond}"', f'"outdoors", "ground", "neighbour", or one of {known}'
    )


def _wall_elements(room: Room, number: int, wall: Wall) -> list[Element]:
    place = f'room "{room.name}", wall {number}'
    net_m2 = wall.length_m * room.height_m - sum(opening.area_m2 for opening in wall.openings)
    elements = [
        Element("walls", f"wall {number}", place, wall.beyond, wall.neighbour_c, wall.build_up, net_m2)
    ]
    for count, opening in enumerate(wall.openings, start=1):
        called = opening.name or f"{opening.kind} {count}"
        elements.append(
            Element(
                "doors" if is_door(opening.kind) else "windows",
                f"wall {number}, {called}",
                f"{place}, opening {count}",
                opening.beyond or wall.beyond,
                opening.neighbour_c if opening.neighbour_c is not None else wall.neighbour_c,
                opening.build_up,
                opening.area_m2,
                opening.width_m,
                opening.height_m,
            )
        )
    return elements


def is_door(kind: str) -> bool:
    """Whether an opening counts with the doors: any door that is not glazed.

    >>> is_door("door"), is_door("glazed door"), is_door("window")
    (True, False, False)
    """
    return "door" in kind and "glazed" not in kind
