"""Outdoor air of a room on the design day: stated, or by air test and use; with heat recovery."""

from __future__ import annotations

from dataclasses import dataclass

from heatloop.findings.assumption import Assumption
from heatloop.heat_loss.defaults import (
    AIR_WH_M3K,
    DEFAULT_SHIELDING,
    MIN_AIR_CHANGES_H,
    MIN_AIR_SOURCE,
    SHIELDING_SOURCE,
    infiltration_m3_h,
)
from heatloop.heat_loss.model import LossPart
from heatloop.survey.building import Room
from heatloop.survey.survey import SurveyData


@dataclass(frozen=True)
class RoomAir:
    """Outdoor air in m3/h: the total, and the part by infiltration, which passes no heat recovery.

    `minimum_m3_h`: the rate for the use of the room. `by_rule`: this rate and the air test determine the total, not a
    stated rate.
    """

    flow_m3_h: float
    infiltration_m3_h: float
    minimum_m3_h: float
    heat_recovery: float
    by_rule: bool
    assumptions: tuple[Assumption, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def heated_m3_h(self) -> float:
        """Flow of outdoor air in m3/h that would require the same heat without recovery."""
        supplied = self.flow_m3_h - self.infiltration_m3_h
        return self.infiltration_m3_h + supplied * (1.0 - self.heat_recovery)


def room_air(survey: SurveyData, room: Room, floor_area_m2: float) -> RoomAir:
    """Outdoor air of one room: as stated, else the larger of infiltration and the rate by its use."""
    volume_m3 = floor_area_m2 * room.height_m
    cautions: list[str] = []
    use = room.use or "living"
    minimum = MIN_AIR_CHANGES_H[use]
    leaks, notes = _leaks_m3_h(survey, room, volume_m3)
    if room.air_changes_h is None:
        flow = max(minimum * volume_m3, leaks or 0.0)
        word = f'use "{use}"' if room.use else "use not stated, habitable room"
        notes += (Assumption(f"outdoor air at least {minimum:g} changes an hour, {word}", MIN_AIR_SOURCE),)
    else:
        flow = room.air_changes_h * volume_m3
        if room.use is not None and room.air_changes_h < minimum:
            cautions.append(
                f'{room.air_changes_h:g} air changes an hour in a room of use "{use}" is below the usual '
                f"minimum of {minimum:g} ({MIN_AIR_SOURCE})"
            )
    if room.heat_recovery > 0.0 and leaks is None:
        cautions.append(
            f"heat recovery {100.0 * room.heat_recovery:.0f} % is applied to all outdoor air, infiltration included; "
            "to separate the infiltration, enter infiltration_changes_h or n50_h"
        )
    through_leaks = min(leaks or 0.0, flow)
    by_rule = room.air_changes_h is None
    return RoomAir(
        flow,
        through_leaks,
        minimum * volume_m3,
        room.heat_recovery,
        by_rule,
        notes,
        tuple(cautions),
    )


def ventilation_loss(survey: SurveyData, room: Room, air: RoomAir) -> tuple[LossPart, tuple[Assumption, ...]]:
    """Heat in W for outdoor air: heated flow x 0.34 W h/(m3 K) x (indoor - outdoor)."""
    wh_m3k, notes = AIR_WH_M3K.or_stated(survey.building.air_wh_m3k)
    outdoor_c = survey.project.outdoor_c
    factor = air.heated_m3_h / air.flow_m3_h if air.flow_m3_h > 0.0 else 1.0
    heat_w = wh_m3k * air.heated_m3_h * (room.indoor_c - outdoor_c)
    label = f"outdoor air {air.flow_m3_h:.1f} m3/h"
    return LossPart("air", label, "outdoors", None, None, outdoor_c, factor, heat_w), notes


def _leaks_m3_h(survey: SurveyData, room: Room, volume_m3: float) -> tuple[float | None, tuple[Assumption, ...]]:
    """Infiltration as stated for the room, else from the air test; None where neither is stated."""
    if room.infiltration_changes_h is not None:
        return room.infiltration_changes_h * volume_m3, ()
    building = survey.building
    if building.n50_h is None:
        return None, ()
    shielding = building.shielding or DEFAULT_SHIELDING
    note = Assumption(f'wind shielding "{shielding}", a house among others', SHIELDING_SOURCE)
    openings = sum((opening.beyond or wall.beyond) == "outdoors" for wall in room.walls for opening in wall.openings)
    middle_m = room.level_m + 0.5 * room.height_m
    leaks = infiltration_m3_h(volume_m3, building.n50_h, shielding, openings, middle_m)
    return leaks, () if building.shielding else (note,)
