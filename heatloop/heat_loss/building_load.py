"""The design load of the whole building, which is not the sum of its rooms: EN 12831:2003 7.1 and 8.2.

Heat that passes from one room to another stays in the building. The wind does not act on every room at the same time,
so half of the infiltration of several rooms counts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import fsum

from heatloop.findings.assumption import Assumption
from heatloop.heat_loss.defaults import (
    AIR_WH_M3K,
    DIMENSIONS_SOURCE,
    STATED_SOURCE,
    USUAL_BRIDGES_W_M2K,
    DefaultValue,
)
from heatloop.heat_loss.model import RoomLoss
from heatloop.heat_loss.rooms import room_losses, thermal_bridge_w_m2k
from heatloop.heat_loss.ventilation import RoomAir, room_air
from heatloop.survey.building import Dimensions
from heatloop.survey.survey import SurveyData

INFILTRATION_SHARE = DefaultValue(
    0.5, "", "building load: infiltration of several rooms counts", "EN 12831:2003 8.2, as quoted by others"
)
"""Share of the rooms' infiltration that counts for the building at one time."""


@dataclass(frozen=True)
class BuildingLoad:
    """Load of the heat source for space heating in W, with the sum of the rooms for comparison.

    `stated_w`: rooms with a stated loss. `between_rooms_w`: heat between rooms, which is in the sum of the rooms and
    not in the load.
    """

    transmission_w: float
    air_w: float
    reheat_w: float
    stated_w: float
    total_w: float
    sum_of_rooms_w: float
    between_rooms_w: float
    assumptions: tuple[Assumption, ...] = ()


def building_load(survey: SurveyData, losses: Sequence[RoomLoss], floor_areas_m2: Mapping[str, float]) -> BuildingLoad:
    """Load of the whole building in W from the losses of its rooms (`room_losses`).

    Heat between two calculated rooms is left out. Heat towards a room with a stated loss is kept, because the stated
    figure is assumed to include it. Infiltration counts half (EN 12831:2003 8.2) where an air test or the survey states
    it; a stated air change without such a split counts in full.
    """
    load, airs, computed = _load(survey, losses, floor_areas_m2)
    notes: list[Assumption] = [*_other_dimensions(survey, computed, floor_areas_m2)]
    if any(air.infiltration_m3_h > 0.0 for air in airs.values()):
        notes += INFILTRATION_SHARE.or_stated(survey.building.infiltration_share)[1]
    if any(not air.by_rule and air.infiltration_m3_h == 0.0 for air in airs.values()):
        text = "building load: stated air changes that are not split into infiltration and supply are counted in full"
        notes.append(Assumption(text, "cautious assumption"))
    if load.stated_w:
        notes.append(Assumption("building load: rooms with a stated loss are counted with that loss", STATED_SOURCE))
    return replace(load, assumptions=tuple(notes))


def building_load_w(survey: SurveyData, losses: Sequence[RoomLoss], floor_areas_m2: Mapping[str, float]) -> float:
    """Load of the whole building in W, as from `building_load`, without its assumptions."""
    return _load(survey, losses, floor_areas_m2)[0].total_w


def _load(
    survey: SurveyData, losses: Sequence[RoomLoss], floor_areas_m2: Mapping[str, float]
) -> tuple[BuildingLoad, dict[str, RoomAir], list[RoomLoss]]:
    """The load without assumptions, the air of the calculated rooms, and their losses."""
    computed = [loss for loss in losses if loss.loss_source is None]
    inside = {loss.room for loss in computed}
    parts = [part for loss in computed for part in loss.parts]
    fabric = [part for part in parts if part.kind not in ("air", "reheat")]
    between_w = fsum(part.heat_w for part in fabric if part.beyond in inside)
    transmission_w = fsum(part.heat_w for part in fabric if part.beyond not in inside)
    reheat_w = fsum(part.heat_w for part in parts if part.kind == "reheat")
    stated_w = fsum(loss.total_w for loss in losses if loss.loss_source is not None)
    airs = {loss.room: room_air(survey, survey.room(loss.room), floor_areas_m2[loss.room]) for loss in computed}
    air_w = _air_w(survey, airs)
    load = BuildingLoad(
        transmission_w,
        air_w,
        reheat_w,
        stated_w,
        transmission_w + air_w + reheat_w + stated_w,
        fsum(loss.total_w for loss in losses),
        between_w,
    )
    return load, airs, computed


def _other_dimensions(
    survey: SurveyData, computed: Sequence[RoomLoss], floor_areas_m2: Mapping[str, float]
) -> Iterator[Assumption]:
    """Heat loss of the rooms in other dimensions, with the corresponding supplement for thermal bridges."""
    if not computed:
        return
    building = survey.building
    used: Dimensions = building.dimensions
    other: Dimensions = "inside" if used == "outside" else "outside"
    supplement = USUAL_BRIDGES_W_M2K[other] if used == "overall inside" else thermal_bridge_w_m2k(building)
    changed = replace(building, dimensions=other, thermal_bridge_w_m2k=supplement)
    inside = {loss.room for loss in computed}
    others = room_losses(replace(survey, building=changed), floor_areas_m2)
    before_w = fsum(loss.total_w for loss in computed)
    change_w = fsum(loss.total_w for loss in others if loss.room in inside) - before_w
    percent = f"{abs(change_w) / before_w:.0%}".replace("%", " %") if before_w > 0.0 else ""
    share = f" ({percent} of the heat losses calculated here)" if percent else ""
    side = "lower" if change_w < 0.0 else "higher"
    yield Assumption(
        f"heat loss calculated with {used} dimensions and {thermal_bridge_w_m2k(building):g} W/(m² K) for thermal "
        f"bridges; with {other} dimensions and {supplement:g} W/(m² K) it would be {abs(change_w):.0f} W{share} {side}",
        DIMENSIONS_SOURCE,
    )


def _air_w(survey: SurveyData, airs: Mapping[str, RoomAir]) -> float:
    """Heat in W for the outdoor air of the building, each room's share at its own temperature.

    Rooms with a stated rate: the share of infiltration and all the rest. Rooms by rule: the larger of two sums, the
    share of all the infiltration, or all the minimum rates.
    """
    wh_m3k, _ = AIR_WH_M3K.or_stated(survey.building.air_wh_m3k)
    share, _ = INFILTRATION_SHARE.or_stated(survey.building.infiltration_share)
    by_rule = [air for air in airs.values() if air.by_rule]
    leaks_m3_h = share * sum(air.infiltration_m3_h for air in by_rule)
    leaks_govern = leaks_m3_h >= sum(air.minimum_m3_h for air in by_rule)
    total = 0.0
    for name, air in airs.items():
        leaks = share * air.infiltration_m3_h
        if not air.by_rule:
            supply = air.flow_m3_h - air.infiltration_m3_h
        elif leaks_govern:
            supply = 0.0
        else:
            leaks = min(leaks, air.minimum_m3_h)
            supply = air.minimum_m3_h - leaks
        heated = leaks + supply * (1.0 - air.heat_recovery)
        total += wh_m3k * heated * (survey.room(name).indoor_c - survey.project.outdoor_c)
    return total
