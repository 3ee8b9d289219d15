"""Design heat loss of each room: EN 12831-1, room by room, inside dimensions.

Transmission to outdoors, unheated spaces, neighbours, other rooms and the ground, thermal bridges by
a supplement on U of what bounds outdoors or unheated spaces, and outdoor air. Steady state at the
design outdoor temperature; sun, people and appliances are left out, as the standard does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from heatloop.heat_loss.elements import (
    DEFAULT_ANNUAL_MEAN_C,
    Element,
    FarSide,
    Unusable,
    elements_of,
    far_side,
)
from heatloop.heat_loss.model import LossPart, RoomLoss
from heatloop.heat_loss.u_values import UValue, u_value
from heatloop.survey.faults import Fault, SurveyError
from heatloop.survey.model import Room, Survey

# Heat capacity of air by volume, W h/(m3 K): EN 12831-1:2017, rho cp = 0.34
AIR_WH_M3K = 0.34
# EN 12831-1:2017: the ground follows the year, not the design day; from memory
GROUND_ANNUAL_FACTOR = 1.45
# EN 12831:2003 table D.2, habitable room; from memory
MINIMUM_AIR_CHANGES_H = 0.5


def room_losses(survey: Survey, floor_areas_m2: Mapping[str, float]) -> tuple[RoomLoss, ...]:
    """The design heat loss of every room of a survey, W, in survey order.

    `floor_areas_m2` holds the floor area of each room by name. A room that states `heat_loss_w` keeps
    it. Raises SurveyError with every fault at once where a loss cannot be computed.
    """
    losses: list[RoomLoss] = []
    wrong: list[Unusable] = []
    for room in survey.rooms:
        loss = _room_loss(survey, room, floor_areas_m2.get(room.name))
        if isinstance(loss, RoomLoss):
            losses.append(loss)
        else:
            wrong += loss
    if wrong:
        file = "survey" if survey.path is None else survey.path.name
        unique = dict.fromkeys(wrong)
        raise SurveyError(Fault(file, item.place, item.found, item.wanted) for item in unique)
    return tuple(losses)


def _room_loss(survey: Survey, room: Room, floor_area_m2: float | None) -> RoomLoss | list[Unusable]:
    place = f'room "{room.name}"'
    if room.heat_loss_w is not None:
        by = room.heat_loss_by or "stated in the survey"
        return RoomLoss(room.name, room.indoor_c, room.heat_loss_w, by)
    outdoor_c = survey.project.outdoor_c
    if room.indoor_c <= outdoor_c:
        found = f"indoor_c {room.indoor_c:g}"
        return [Unusable(place, found, f"above the outdoor design temperature, {outdoor_c:g} degC")]
    if not room.walls:
        return [Unusable(place, "neither walls nor heat_loss_w", "one of them")]
    if floor_area_m2 is None or not floor_area_m2 > 0.0:
        return [Unusable(place, "no floor area", "walls that close, or heat_loss_w")]
    parts: list[LossPart] = []
    wrong: list[Unusable] = []
    assumptions: list[str] = []
    cautions: list[str] = []
    exposed: list[LossPart] = []
    for element in elements_of(room, floor_area_m2):
        if element.area_m2 < -1e-9:
            found = f"openings {-element.area_m2:.2f} m2 larger than the wall"
            wrong.append(Unusable(element.place, found, "openings that fit into the wall"))
            continue
        far = far_side(survey, room, element)
        if isinstance(far, Unusable):
            wrong.append(far)
            continue
        if far.side == "equally warm":
            assumptions.append(f"{element.label}: nothing said of what is beyond, taken as equally warm")
            continue
        u = u_value(survey, element, far, room.indoor_c)
        if isinstance(u, Unusable):
            wrong.append(u)
            continue
        part = _transmission(room, element, far, u, outdoor_c)
        parts.append(part)
        if far.side in ("outdoors", "unheated"):
            exposed.append(part)
        if far.side == "ground":
            assumptions += _ground_assumptions(survey)
        assumptions += u.assumptions
        cautions += u.cautions
    if wrong:
        return wrong
    parts += _bridges(survey, exposed, room.indoor_c - outdoor_c)
    air, air_assumptions = _air(room, floor_area_m2, outdoor_c)
    parts.append(air)
    assumptions += air_assumptions
    total_w = sum(part.watts for part in parts)
    return RoomLoss(
        room.name, room.indoor_c, total_w, None, tuple(parts), _unique(assumptions), _unique(cautions)
    )


def _transmission(room: Room, element: Element, far: FarSide, u: UValue, outdoor_c: float) -> LossPart:
    design_k = room.indoor_c - outdoor_c
    factor = (room.indoor_c - far.temp_c) / design_k
    if far.side == "ground":
        factor *= GROUND_ANNUAL_FACTOR
    watts = element.area_m2 * u.u_w_m2k * factor * design_k
    return LossPart(
        element.kind, element.label, far.name, element.area_m2, u.u_w_m2k, far.temp_c, factor, watts
    )


def _bridges(survey: Survey, exposed: list[LossPart], design_k: float) -> list[LossPart]:
    """The supplement on U of every exposed part, summed per far side."""
    supplement = survey.building.thermal_bridge_w_m2k
    sides = dict.fromkeys((part.beyond, part.temp_beyond_c, part.factor) for part in exposed)
    bridges = []
    for beyond, temp_c, factor in sides:
        area = sum(p.area_m2 or 0.0 for p in exposed if (p.beyond, p.factor) == (beyond, factor))
        watts = area * supplement * factor * design_k
        label = f"thermal bridges to {beyond}"
        bridges.append(LossPart("bridges", label, beyond, area, supplement, temp_c, factor, watts))
    return bridges


def _air(room: Room, floor_area_m2: float, outdoor_c: float) -> tuple[LossPart, list[str]]:
    assumptions = [f"air holds {AIR_WH_M3K:g} W h/(m3 K): EN 12831-1"]
    changes = room.air_changes_h
    if changes is None:
        changes = MINIMUM_AIR_CHANGES_H
        assumptions.append(f"outdoor air {changes:g} changes an hour: EN 12831, habitable room")
    flow_m3_h = changes * floor_area_m2 * room.height_m
    design_k = room.indoor_c - outdoor_c
    factor = 1.0 - room.heat_recovery
    label = f"outdoor air {flow_m3_h:.1f} m3/h"
    watts = AIR_WH_M3K * flow_m3_h * factor * design_k
    return LossPart("air", label, "outdoors", None, None, outdoor_c, factor, watts), assumptions


def _ground_assumptions(survey: Survey) -> list[str]:
    notes = [f"ground loss times {GROUND_ANNUAL_FACTOR:g} for the cold season: EN 12831-1"]
    if survey.project.annual_mean_c is None:
        notes.append(f"annual mean outdoors {DEFAULT_ANNUAL_MEAN_C:g} degC: common practice")
    return notes


def _unique(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(texts))
