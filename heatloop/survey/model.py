"""The survey as frozen values: rooms, walls, loops, trunks and the source.

These classes hold what the file says and nothing that is computed from it. They are made by
:mod:`heatloop.survey.read` after every value has been checked, so code below may trust them.
Lengths in metres, temperatures in degrees Celsius; every attribute carries its unit.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, TypeVar

from heatloop.describe import Account, Speaks
from heatloop.survey.account import survey_account
from heatloop.survey.catalogue import Catalogue, Profile
from heatloop.survey.distribution import Antifreeze as Antifreeze
from heatloop.survey.distribution import Bypass as Bypass
from heatloop.survey.distribution import PumpCurve as PumpCurve
from heatloop.survey.distribution import Source as Source
from heatloop.survey.distribution import Trunk as Trunk
from heatloop.survey.system import WaterSystem

Arrangement = Literal["one-way", "there-and-back"]
Interruption = Literal["crossing", "stop"]
CavityAir = Literal["unventilated", "slightly ventilated", "well ventilated"]
Shielding = Literal["none", "moderate", "heavy"]
RoomUse = Literal["living", "bedroom", "kitchen", "bathroom", "toilet", "hall", "office", "meeting"]


@dataclass(frozen=True)
class Layer:
    """One layer of a build-up, from inside to outside.

    A layer with `resistance_m2k_w` or an air `cavity` needs no conductivity. `bridge_fraction` of the
    area is another material (studs, joists) of `bridge_conductivity_w_mk`; layers whose `bridge` names
    agree are crossed by the same members.
    """

    material: str
    thickness_m: float
    conductivity_w_mk: float | None = None
    resistance_m2k_w: float | None = None
    bridge_fraction: float = 0.0
    bridge_conductivity_w_mk: float | None = None
    cavity: CavityAir | None = None
    bridge: str | None = None


@dataclass(frozen=True)
class WindowParts:
    """A window by its glass, its frame as seen from inside, and the spacer at the glass edge.

    `panes_across` and `panes_up` count the panes of one opening, divided by bars of the frame's width.
    """

    glass_u_w_m2k: float
    frame_u_w_m2k: float
    frame_width_m: float
    spacer_psi_w_mk: float = 0.08
    panes_across: int = 1
    panes_up: int = 1


@dataclass(frozen=True)
class BuildUp:
    """A wall, floor, roof or glazing by its layers, by a stated U-value or by the window's parts.

    `correction_w_m2k` is added to the U of the layers (gaps, fasteners). Surface resistances of None are those of
    ISO 6946. A floor beyond which there is ground is a slab, unless it is `suspended` over a void.
    """

    name: str
    layers: tuple[Layer, ...] = ()
    u_w_m2k: float | None = None
    window: WindowParts | None = None
    correction_w_m2k: float = 0.0
    suspended: bool = False
    inner_surface_m2k_w: float | None = None
    outer_surface_m2k_w: float | None = None


@dataclass(frozen=True)
class Opening:
    """A door, window or glazed door in a wall; `start_m` from the left as you face the wall.

    `crossing_drop_m` is the drop at each side of a crossing that passes it, None for the loop's own: an outside
    door wants more, since its pipes go round the reveal and below the threshold.
    """

    kind: str
    start_m: float
    width_m: float
    height_m: float
    sill_m: float = 0.0
    name: str | None = None
    build_up: str | None = None
    beyond: str | None = None
    neighbour_c: float | None = None
    crossing_drop_m: float | None = None

    @property
    def area_m2(self) -> float:
        return self.width_m * self.height_m

    @property
    def end_m(self) -> float:
        return self.start_m + self.width_m


@dataclass(frozen=True)
class Obstacle:
    """What stands against the wall and interrupts the skirting (units, a chimney breast, a bath).

    `crossing_drop_m` as of an opening.
    """

    kind: str
    start_m: float
    width_m: float
    run: Interruption = "crossing"
    crossing_drop_m: float | None = None

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
    """A floor or ceiling: what is beyond it and what it is built of; `area_m2` where it slopes."""

    beyond: str
    build_up: str | None = None
    neighbour_c: float | None = None
    area_m2: float | None = None


@dataclass(frozen=True)
class Room:
    """A room: its comfort temperature, its traverse, or its heat loss as stated by somebody.

    `infiltration_changes_h` is the part of `air_changes_h` that passes no heat recovery.
    `depth_below_ground_m` is how far the floor of a cellar room lies below the ground outside.
    """

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
    use: RoomUse | None = None
    infiltration_changes_h: float | None = None
    reheat_w_m2: float | None = None
    depth_below_ground_m: float = 0.0


@dataclass(frozen=True)
class Space:
    """An unheated space beyond a wall: its own temperature, or its temperature factor
    (1 at the outdoor temperature, 0 at the room's own)."""

    name: str
    temp_c: float | None = None
    temperature_factor: float | None = None


@dataclass(frozen=True)
class EdgeInsulation:
    """Insulation along the edge of a slab: laid flat `width_m` in, or upright `width_m` down."""

    width_m: float
    thickness_m: float
    conductivity_w_mk: float
    upright: bool = False


@dataclass(frozen=True)
class Underfloor:
    """The void below suspended ground floors; what is None takes its default, listed as assumed."""

    height_m: float | None = None
    wall_u_w_m2k: float | None = None
    vents_m2_m: float | None = None
    wind_m_s: float | None = None
    wind_shelter: float | None = None


@dataclass(frozen=True)
class Reheat:
    """Heating up again in `hours` after a setback in which the rooms cooled by `drop_k`."""

    hours: int
    drop_k: int


@dataclass(frozen=True)
class Building:
    """What the rooms share: the whole slab, the ground, the thermal-bridge supplement, the air.

    What is None takes its default, which the heat loss lists among its assumptions. `n50_h` is the
    result of the air test at 50 Pa in changes an hour.
    """

    slab_area_m2: float | None = None
    slab_exposed_perimeter_m: float | None = None
    thermal_bridge_w_m2k: float = 0.05
    wall_thickness_m: float | None = None
    ground_conductivity_w_mk: float | None = None
    ground_season_factor: float | None = None
    edge_insulation: EdgeInsulation | None = None
    underfloor: Underfloor = Underfloor()
    air_wh_m3k: float | None = None
    n50_h: float | None = None
    shielding: Shielding | None = None
    reheat: Reheat | None = None
    infiltration_share: float | None = None


@dataclass(frozen=True)
class Tails:
    """The pair of pipes joining a loop to the distribution, metres one way.

    `useful_share` of what the pipes lose counts for the room where the skirting begins.
    """

    pipe: str
    flow_m: float
    return_m: float
    zeta: float = 0.0
    useful_share: float = 0.0


@dataclass(frozen=True)
class CrossingRule:
    """How automatic crossings of a loop are piped: pipe and drop at each side.

    `useful_share` of what any crossing of the loop loses counts for the room that it heats.
    """

    pipe: str
    drop_m: float = 0.2
    useful_share: float = 0.0


@dataclass(frozen=True)
class StraightAt:
    """A straight joint that is wanted, `at_m` from the left-hand end of a wall as one faces it."""

    room: str
    wall: int
    at_m: float


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
class LoopEmitter:
    """Another emitter on a loop, all its water passing: before the skirting (side "flow") or after it ("return").
    Its heat goes to `room`. One that is `existing` stands there already: it is neither ordered nor priced."""

    emitter: str
    room: str
    side: Literal["flow", "return"] = "return"
    existing: bool = False


@dataclass(frozen=True)
class Loop:
    """One closed water path. `arms` has one route, or two when it is fed from the middle; `emitters` are in water
    order on each side. A loop of other emitters alone has no arms and no profile ("")."""

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
    finish: str | None = None
    cover: str | None = None
    emitters: tuple[LoopEmitter, ...] = ()
    straight_joints: tuple[StraightAt, ...] = ()


@dataclass(frozen=True)
class Project:
    """The job: its temperatures, how its loops are sized, and what the water side counts in: `buoyancy` of
    warm water between levels, losses of the `tees` where loops leave the trunks."""

    name: str
    outdoor_c: float
    flow_temp_c: float
    catalogue: str
    delta_t_k: float = 7.0
    size_by: Literal["drop", "loss"] = "drop"
    water_film: bool = True
    pipe_losses: bool = True
    annual_mean_c: float | None = None
    antifreeze: Antifreeze | None = None
    buoyancy: bool = False
    tees: bool = False


@dataclass(frozen=True)
class Survey(Speaks):
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
    system: WaterSystem = field(default_factory=WaterSystem)
    bypasses: tuple[Bypass, ...] = ()

    def account(self) -> Account:
        """The job, its rooms and its loops: what is printed and shown in a notebook."""
        return survey_account(self)

    @property
    def profiles(self) -> tuple[Profile, ...]:
        """The profiles of its loops, each once; none where all heat comes from other emitters."""
        return tuple(self.catalogue.profile(name) for name in dict.fromkeys(i.profile for i in self.loops if i.profile))

    @property
    def heated_rooms(self) -> tuple[str, ...]:
        """Names of the rooms with skirting or another emitter, each once."""
        routed = (i.room for loop in self.loops for arm in loop.arms for i in arm if not isinstance(i, RouteCrossing))
        return tuple(dict.fromkeys((*routed, *(one.room for loop in self.loops for one in loop.emitters))))

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
