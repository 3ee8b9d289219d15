"""Rooms, walls, openings and build-ups of a survey."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

FAR_SIDES = ("outdoors", "ground", "neighbour")
"""Adjacent spaces of a wall in addition to the rooms and spaces of the survey."""

Interruption = Literal["crossing", "stop"]

CavityAir = Literal["unventilated", "slightly ventilated", "well ventilated"]

Dimensions = Literal["inside", "outside", "overall inside"]

Shielding = Literal["none", "moderate", "heavy"]

RoomUse = Literal["living", "bedroom", "kitchen", "bathroom", "toilet", "hall", "office", "meeting"]


@dataclass(frozen=True)
class Layer:
    """One layer of a build-up, from inside to outside."""

    material: str
    thickness_m: float
    conductivity_w_mk: float | None = None
    resistance_m2k_w: float | None = None
    bridge_fraction: float = 0.0
    bridge_conductivity_w_mk: float | None = None
    cavity: CavityAir | None = None
    bridge: str | None = None
    vent_mm2_m: float | None = None


@dataclass(frozen=True)
class WindowParts:
    """A window by its glass, frame and spacer; panes are divided by bars of the frame's width."""

    glass_u_w_m2k: float
    frame_u_w_m2k: float
    frame_width_m: float
    spacer_psi_w_mk: float = 0.08
    panes_across: int = 1
    panes_up: int = 1


@dataclass(frozen=True)
class BuildUp:
    """A wall, floor, roof or glazing by its layers, by a stated U-value or by the window's parts.

    A floor on the ground is a slab, unless it is `suspended`.
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
    """A door, window or glazed door in a wall."""

    kind: str
    start_m: float
    width_m: float
    height_m: float
    sill_m: float = 0.0
    name: str | None = None
    build_up: str | None = None
    beyond: str | None = None
    neighbour_c: float | None = None
    crossing_depth_m: float | None = None

    @property
    def area_m2(self) -> float:
        return self.width_m * self.height_m

    @property
    def end_m(self) -> float:
        return self.start_m + self.width_m


@dataclass(frozen=True)
class Obstacle:
    """An object at the wall that interrupts the skirting, such as units, a chimney breast or a bath."""

    kind: str
    start_m: float
    width_m: float
    run: Interruption = "crossing"
    crossing_depth_m: float | None = None

    @property
    def end_m(self) -> float:
        return self.start_m + self.width_m


@dataclass(frozen=True)
class CoveredStretch:
    """A stretch where the skirting runs behind furniture or units."""

    start_m: float
    width_m: float
    factor: float = 0.6

    @property
    def end_m(self) -> float:
        return self.start_m + self.width_m


@dataclass(frozen=True)
class Wall:
    """One wall of a traverse."""

    length_m: float
    turn_deg: float = 90.0
    beyond: str | None = None
    neighbour_c: float | None = None
    build_up: str | None = None
    openings: tuple[Opening, ...] = ()
    obstacles: tuple[Obstacle, ...] = ()
    covered: tuple[CoveredStretch, ...] = ()


@dataclass(frozen=True)
class Diagonal:
    """Measured distance between two corners of a room; corner n is the left-hand end of wall n."""

    from_corner: int
    to_corner: int
    length_m: float


@dataclass(frozen=True)
class FloorOrCeiling:
    """A floor or ceiling: the space beyond it and its build-up."""

    beyond: str
    build_up: str | None = None
    neighbour_c: float | None = None
    area_m2: float | None = None


@dataclass(frozen=True)
class Room:
    """A room: its comfort temperature, and its traverse or stated heat loss."""

    name: str
    indoor_c: float
    height_m: float = 2.4
    level_m: float = 0.0
    air_changes_h: float | None = None
    heat_recovery: float = 0.0
    floor: FloorOrCeiling | None = None
    ceiling: FloorOrCeiling | None = None
    walls: tuple[Wall, ...] = ()
    vulnerable: bool = False
    first_wall_bearing_deg: float = 0.0
    heat_loss_w: float | None = None
    heat_loss_source: str | None = None
    copy_of: str | None = None
    estimated_wall_m: float | None = None
    use: RoomUse | None = None
    infiltration_changes_h: float | None = None
    reheat_w_m2: float | None = None
    depth_below_ground_m: float = 0.0
    diagonals: tuple[Diagonal, ...] = ()


@dataclass(frozen=True)
class UnheatedSpace:
    """An unheated space beyond a wall: its own temperature, or its temperature factor."""

    name: str
    temp_c: float | None = None
    temperature_factor: float | None = None
    heating_pipes: bool = False


@dataclass(frozen=True)
class EdgeInsulation:
    """Insulation along the edge of a slab."""

    width_m: float
    thickness_m: float
    conductivity_w_mk: float
    upright: bool = False


@dataclass(frozen=True)
class Underfloor:
    """The void below suspended ground floors; None is replaced by a default, which is listed as an assumption."""

    height_m: float | None = None
    wall_u_w_m2k: float | None = None
    vents_m2_m: float | None = None
    wind_m_s: float | None = None
    wind_shelter: float | None = None


@dataclass(frozen=True)
class Reheat:
    """Reheat after a setback."""

    hours: int
    drop_k: int


@dataclass(frozen=True)
class Building:
    """Data common to all rooms: the whole slab, the ground, the thermal-bridge supplement, the air.

    None is replaced by a default, which the heat loss lists among its assumptions.
    """

    slab_area_m2: float | None = None
    slab_exposed_perimeter_m: float | None = None
    dimensions: Dimensions = "inside"
    thermal_bridge_w_m2k: float | None = None
    wall_thickness_m: float | None = None
    ground_conductivity_w_mk: float | None = None
    ground_season_factor: float | None = None
    ground_water_factor: float | None = None
    edge_insulation: EdgeInsulation | None = None
    underfloor: Underfloor = Underfloor()
    air_wh_m3k: float | None = None
    n50_h: float | None = None
    shielding: Shielding | None = None
    reheat: Reheat | None = None
    infiltration_share: float | None = None
