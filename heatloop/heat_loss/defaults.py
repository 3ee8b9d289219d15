"""Default values where the survey states nothing, each with its source.

Every default can be overridden in the survey, and each one used is listed among the assumptions.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from heatloop.findings.assumption import Assumption
from heatloop.physics.fabric.ground import GROUND_CONDUCTIVITY_W_MK
from heatloop.survey.building import Dimensions, RoomUse, Shielding


@dataclass(frozen=True)
class DefaultValue:
    """A value with its unit, description and source."""

    value: float
    unit: str
    description: str
    source: str

    def or_stated(self, stated: float | None) -> tuple[float, tuple[Assumption, ...]]:
        """The stated value, or this default with a line that reports it."""
        if stated is not None:
            return stated, ()
        return self.value, (Assumption(f"{self.description} {self.value:g} {self.unit}".strip(), self.source),)


AIR_WH_M3K = DefaultValue(0.34, "W h/(m3 K)", "heat capacity of air", "EN 12831-1:2017, rho cp of air, from memory")
ANNUAL_MEAN_C = DefaultValue(10.0, "°C", "annual mean outdoors", "common practice, temperate lowland")
# the ground follows the annual mean, not the design day
GROUND_SEASON = DefaultValue(
    1.45,
    "",
    "correction of the loss to the ground for the cold season, factor",
    "f_g1 of EN 12831:2003 D.4.3, from memory",
)
GROUND_WATER = DefaultValue(
    1.0,
    "",
    "correction of the loss to the ground for ground water at least 1 m below the floor, factor",
    "factor G_w of EN 12831:2003 D.4.3, f_GW of EN 12831-1:2017 (1.15 if it is nearer), from memory",
)
GROUND_W_MK = DefaultValue(
    GROUND_CONDUCTIVITY_W_MK["sand or gravel"],
    "W/(m K)",
    "ground conductivity",
    "ISO 13370:2017 table 7, ground unknown, from memory",
)
VENT_MM2_M = DefaultValue(
    1000.0,
    "mm2/m",
    "openings of a slightly ventilated air layer",
    "the middle of the range 500 to 1500 in ISO 6946:2017 6.9.3",
)
WALL_THICKNESS_M = DefaultValue(0.3, "m", "thickness of the walls on the slab", "common practice")
PARTITION_THICKNESS_M = DefaultValue(0.12, "m", "thickness of walls between rooms without layers", "common practice")
FLOOR_THICKNESS_M = DefaultValue(0.3, "m", "thickness of floors and ceilings without layers", "common practice")
DIMENSIONS_SOURCE = (
    "EN 12831-1:2017, internal, overall internal and external dimensions, from memory; thickness by layers, else "
    "outer walls 0.3, walls between rooms 0.12, floors 0.3 m by common practice"
)
# supplement on U of elements towards outdoors, W/(m2 K), for outside dimensions
BRIDGES_SOURCE = "EN 12831-1:2017 table B.1, as quoted by others"
BRIDGES_W_M2K: Mapping[float, str] = {
    0.02: "new buildings with attested, exceptional details",
    0.05: "new buildings whose junctions are built to recognised rules",
    0.10: "all other buildings",
    0.15: "inside insulation broken by solid ceilings",
}
# the same for overall inside dimensions
BRIDGES_OVERALL_SOURCE = "SAP 2005 appendix K, y as quoted by others; overall internal dimensions from memory"
BRIDGES_OVERALL_W_M2K: Mapping[float, str] = {
    0.08: "buildings with accredited details",
    0.15: "all other buildings",
}
# where the survey states nothing; no publication with a supplement for inside dimensions is known
USUAL_BRIDGES_W_M2K: Mapping[Dimensions, float] = {"inside": 0.05, "outside": 0.05, "overall inside": 0.15}

# parameters for the void of ISO 13370
_VOID = "SAP 2012 appendix S5.4, from memory"
VOID_HEIGHT_M = DefaultValue(0.3, "m", "height of the floor above the ground outside", _VOID)
VOID_WALL_U_W_M2K = DefaultValue(1.5, "W/(m2 K)", "U of the walls of the void", _VOID)
VOID_VENTS_M2_M = DefaultValue(0.003, "m2/m", "vents of the void", _VOID)
VOID_WIND_M_S = DefaultValue(5.0, "m/s", "mean wind at 10 m", _VOID)
VOID_SHELTER = DefaultValue(0.05, "", "wind shelter of the void", _VOID)

# habitable room 0.5, kitchen or bathroom with window 1.5, office 1.0, meeting room 2.0 changes an hour; toilet as
# bathroom, hall as habitable: common practice
MIN_AIR_CHANGES_H: Mapping[RoomUse, float] = {
    "living": 0.5,
    "bedroom": 0.5,
    "kitchen": 1.5,
    "bathroom": 1.5,
    "toilet": 1.5,
    "hall": 0.5,
    "office": 1.0,
    "meeting": 2.0,
}
MIN_AIR_SOURCE = "EN 12831:2003 table D.5, from memory; habitable rooms as quoted by others"

# no, one, more than one opening to the outdoors
SHIELDING_SOURCE = "EN 12831:2003 table D.8, from memory"
SHIELDING: Mapping[Shielding, tuple[float, float, float]] = {
    "none": (0.0, 0.03, 0.05),
    "moderate": (0.0, 0.02, 0.03),
    "heavy": (0.0, 0.01, 0.02),
}
DEFAULT_SHIELDING: Shielding = "moderate"

# EN 12831:2003 table D.9 (from memory): middle of the room above the ground, m, and correction
HEIGHT_CORRECTION = ((10.0, 1.0), (30.0, 1.2), (float("inf"), 1.5))

# dwellings, heavy building, setback of up to 8 h: W/m2 by reheat time, h, for a drop of 1, 2, 3 K
REHEAT_W_M2: Mapping[int, tuple[float, float, float]] = {
    1: (11.0, 22.0, 45.0),
    2: (6.0, 11.0, 22.0),
    3: (4.0, 9.0, 16.0),
    4: (2.0, 7.0, 13.0),
}
REHEAT_SOURCE = "EN 12831:2003 table D.10b, heavy building, setback to 8 h, from memory"

STATED_SOURCE = "definition of heat_loss_w in the survey format"
SURVEY_SOURCE = "not stated in the survey"

# EN 12831:2003 clause 1: the method holds for rooms up to 5 m high
GREATEST_HEIGHT_M = 5.0
UNLIKELY_U_W_M2K = 6.0


def air_wh_m3k(density_kg_m3: float, heat_capacity_j_kgk: float) -> float:
    """Heat held by a cubic metre of air, W h/(m3 K): rho cp / 3600, for high or very cold sites.

    Definition; 1.2 kg/m3 and 1000 J/(kg K) give 0.333 (MacKay, p. 289), EN 12831-1 takes 0.34.

    >>> round(air_wh_m3k(1.2, 1005.0), 3)
    0.335
    """
    return density_kg_m3 * heat_capacity_j_kgk / 3600.0


def infiltration_m3_h(
    volume_m3: float, n50_h: float, shielding: Shielding, openings: int, above_ground_m: float
) -> float:
    """Outdoor air through leaks at design wind, m3/h: 2 V n50 e eps, EN 12831:2003 7.2.2.

    `openings` to the outdoors, 0 or more; `above_ground_m` of the middle of the room.

    >>> infiltration_m3_h(50.0, 4.0, "moderate", 2, 1.2)
    12.0
    """
    exposed = SHIELDING[shielding][min(openings, 2)]
    correction = next(factor for limit, factor in HEIGHT_CORRECTION if above_ground_m <= limit)
    return 2.0 * volume_m3 * n50_h * exposed * correction
