"""The survey as frozen values: rooms, walls, loops, trunks and the source.

These classes hold what the file says and nothing that is computed from it. They are made by
:mod:`heatloop.survey.read` after every value has been checked, so code below may trust them.
Lengths in metres, temperatures in degrees Celsius; every attribute carries its unit.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeVar

from heatloop.survey.catalogue import Catalogue

Arrangement = Literal["one-way", "there-and-back"]
Interruption = Literal["crossing", "stop"]


@dataclass(frozen=True)
class Layer:
    """One layer of a build-up, from inside to outside.

    A layer with `resistance_m2k_w` (an air cavity, say) needs no conductivity. `bridge_fraction` of
    the area is another material (studs, joists) of `bridge_conductivity_w_mk`.
    """

    material: str
    thickness_m: float
    conductivity_w_mk: float | None = None
    resistance_m2k_w: float | None = None
    bridge_fraction: float = 0.0
    bridge_conductivity_w_mk: float | None = None


@dataclass(frozen=True)
class BuildUp:
    """A wall, floor, roof or glazing by its layers or by a stated U-value."""

    name: str
    layers: tuple[Layer, ...] = ()
    u_w_m2k: float | None = None


@dataclass(frozen=True)
class Opening:
    """A door, window or glazed door in a wall; `start_m` from the left as you face the wall."""

    kind: str
    start_m: float
    width_m: float
    height_m: float
    sill_m: float = 0.0
    name: str | None = None
    build_up: str | None = None
    beyond: str | None = None
    neighbour_c: float | None = None

    @property
    def area_m2(self) -> float:
        return self.width_m * self.height_m

    @property
    def end_m(self) -> float:
        return self.start_m + self.width_m


@dataclass(frozen=True)
class Obstacle:
    """What stands against the wall and interrupts the skirting (units, a chimney breast, a bath)."""

    kind: str
    start_m: float
    width_m: float
    run: Interruption = "crossing"

    @property
    def end_m(self) -> float:
        return self.start_m + self.width_m


@dataclass(frozen=True)
class Covered:
    """A stretch where the skirting runs on behind something at `factor` of its output."""

    start_m: float
    width_m: float
    factor: float = 0.6

    @property
    def end_m(self) -> float:
        return self.start_m + self.width_m


@dataclass(frozen=True)
class Wall:
    """One wall of a traverse. `turn_deg` at its END is 180 minus the angle inside the room."""

    length_m: float
    turn_deg: float = 90.0
    beyond: str | None = None
    neighbour_c: float | None = None
    build_up: str | None = None
    openings: tuple[Opening, ...] = ()
    obstacles: tuple[Obstacle, ...] = ()
    covered: tuple[Covered, ...] = ()


@dataclass(frozen=True)
class Surface:
    """A floor or ceiling: what is beyond it and what it is built of."""

    beyond: str
    build_up: str | None = None
    neighbour_c: float | None = None


@dataclass(frozen=True)
class Room:
    """A room: its comfort temperature, its traverse, or its heat loss as stated by somebody."""

    name: str
    indoor_c: float
    height_m: float = 2.4
    level_m: float = 0.0
    air_changes_h: float | None = None
    heat_recovery: float = 0.0
    floor: Surface | None = None
    ceiling: Surface | None = None
    walls: tuple[Wall, ...] = ()
    vulnerable: bool = False
    first_wall_bearing_deg: float = 0.0
    heat_loss_w: float | None = None
    heat_loss_by: str | None = None
    like: str | None = None
    usable_wall_m: float | None = None


@dataclass(frozen=True)
class Space:
    """An unheated space beyond a wall: its own temperature, or its temperature factor
    (1 at the outdoor temperature, 0 at the room's own)."""

    name: str
    temp_c: float | None = None
    temperature_factor: float | None = None


@dataclass(frozen=True)
class Building:
    """What the rooms share: the whole slab and the thermal-bridge supplement."""

    slab_area_m2: float | None = None
    slab_exposed_perimeter_m: float | None = None
    thermal_bridge_w_m2k: float = 0.05


@dataclass(frozen=True)
class PumpCurve:
    """Head against flow of the pump at one speed, flow rising and head falling."""

    flow_m3_h: tuple[float, ...]
    head_kpa: tuple[float, ...]


@dataclass(frozen=True)
class Source:
    """The heat source and its pump."""

    kind: str = "heat source"
    output_kw: float | None = None
    min_flow_l_h: float | None = None
    max_flow_temp_c: float | None = None
    min_open_water_l: float | None = None
    water_volume_l: float = 0.0
    pump: PumpCurve | None = None


@dataclass(frozen=True)
class Trunk:
    """A pair of pipes that several loops share. `from_trunk` None: it starts at the source."""

    name: str
    pipe: str
    length_m: float
    from_trunk: str | None = None
    mixed_to_c: float | None = None
    zeta: float = 0.0


@dataclass(frozen=True)
class Tails:
    """The pair of pipes joining a loop to the distribution, metres one way."""

    pipe: str
    flow_m: float
    return_m: float
    zeta: float = 0.0


@dataclass(frozen=True)
class CrossingRule:
    """How automatic crossings of a loop are piped: pipe and drop at each side."""

    pipe: str
    drop_m: float = 0.2


@dataclass(frozen=True)
class Valves:
    """Names of catalogue valves on the flow and the return of a loop."""

    flow: str | None = None
    return_: str | None = None


@dataclass(frozen=True)
class RouteWalls:
    """Part of a route along walls of one room, wall numbers from 1 as the survey lists them."""

    room: str
    walls: tuple[int, ...]
    from_m: float | None = None
    to_m: float | None = None
    direction: Literal["clockwise", "anticlockwise"] | None = None
    sills: tuple[str, ...] = ()


@dataclass(frozen=True)
class RouteCrossing:
    """Plain pipe between two parts of a route, one pipe per channel, metres one way."""

    pipe: str
    length_m: float
    heats: str | None = None


@dataclass(frozen=True)
class RouteQuote:
    """Skirting in a room quoted before its survey: a length of it and no walls."""

    room: str
    usable_wall_m: float


RouteItem = RouteWalls | RouteCrossing | RouteQuote


@dataclass(frozen=True)
class Loop:
    """One closed water path. `arms` has one route, or two when it is fed from the middle."""

    name: str
    profile: str
    arrangement: Arrangement
    arms: tuple[tuple[RouteItem, ...], ...]
    tails: Tails
    trunk: str | None = None
    valves: Valves = Valves()
    arm_valves: tuple[Valves, ...] = ()
    crossing: CrossingRule | None = None
    sensor_room: str | None = None
    flow_temp_c: float | None = None
    delta_t_k: float | None = None


@dataclass(frozen=True)
class Project:
    """The job: its temperatures and how its loops are sized."""

    name: str
    outdoor_c: float
    flow_temp_c: float
    catalogue: str
    delta_t_k: float = 7.0
    size_by: Literal["drop", "loss"] = "drop"
    annual_mean_c: float | None = None


@dataclass(frozen=True)
class Survey:
    """A whole survey with the catalogue it names, checked and ready to be calculated."""

    project: Project
    building: Building
    build_ups: tuple[BuildUp, ...]
    spaces: tuple[Space, ...]
    rooms: tuple[Room, ...]
    source: Source
    trunks: tuple[Trunk, ...]
    loops: tuple[Loop, ...]
    catalogue: Catalogue
    path: Path | None = None

    def room(self, name: str) -> Room:
        """The room of that name; KeyError if the survey has none."""
        return _named(self.rooms, name, "room")

    def build_up(self, name: str) -> BuildUp:
        """The build-up of that name; KeyError if the survey has none."""
        return _named(self.build_ups, name, "build-up")

    def space(self, name: str) -> Space:
        """The unheated space of that name; KeyError if the survey has none."""
        return _named(self.spaces, name, "space")

    def trunk(self, name: str) -> Trunk:
        """The trunk of that name; KeyError if the survey has none."""
        return _named(self.trunks, name, "trunk")

    def loop(self, name: str) -> Loop:
        """The loop of that name; KeyError if the survey has none."""
        return _named(self.loops, name, "loop")


Named = TypeVar("Named", Room, BuildUp, Space, Trunk, Loop)


def _named(items: tuple[Named, ...], name: str, what: str) -> Named:
    for item in items:
        if item.name == name:
            return item
    raise KeyError(f"no {what} is called {name!r}; there are {', '.join(repr(i.name) for i in items)}")
