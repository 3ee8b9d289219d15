"""Design heat loss of each room: EN 12831-1, room by room, in inside, overall inside or outside dimensions.

Transmission to outdoors, unheated spaces, neighbours, other rooms and the ground; thermal bridges by
a supplement on U of what bounds outdoors or unheated spaces; outdoor air; reheat after a setback.
Steady state at the design outdoor temperature; sun, people and appliances are left out, as the
standard does. No correction for high rooms: the method is kept to rooms of at most 5 m.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TypeVar

from heatloop.findings.assumption import Assumption
from heatloop.findings.input_errors import InputError
from heatloop.heat_loss.building_elements import BuildingElement, NotCalculable, elements_of, far_side, wall_elements
from heatloop.heat_loss.defaults import (
    ANNUAL_MEAN_C,
    BRIDGES_OVERALL_SOURCE,
    BRIDGES_OVERALL_W_M2K,
    BRIDGES_SOURCE,
    BRIDGES_W_M2K,
    GREATEST_HEIGHT_M,
    GROUND_SEASON,
    GROUND_WATER,
    REHEAT_SOURCE,
    REHEAT_W_M2,
    STATED_SOURCE,
    SURVEY_SOURCE,
    USUAL_BRIDGES_W_M2K,
)
from heatloop.heat_loss.dimensions import room_sizes
from heatloop.heat_loss.model import LossPart, RoomLoss
from heatloop.heat_loss.u_values import UValue, u_value
from heatloop.heat_loss.ventilation import room_air, ventilation_loss
from heatloop.survey.building import Building, Room
from heatloop.survey.survey import SurveyData

Item = TypeVar("Item", str, Assumption)


def room_losses(survey: SurveyData, floor_areas_m2: Mapping[str, float]) -> tuple[RoomLoss, ...]:
    """Design heat loss of every room of a survey in W, in survey order.

    `floor_areas_m2`: floor area of each room by name. A room that states `heat_loss_w` keeps it. Raises InputError with
    all errors where a loss cannot be calculated.
    """
    losses: list[RoomLoss] = []
    wrong = _reheat_faults(survey.building)
    for room in survey.rooms:
        loss = _room_loss(survey, room, floor_areas_m2.get(room.name))
        if isinstance(loss, RoomLoss):
            losses.append(loss)
        else:
            wrong += loss
    if wrong:
        raise _error(survey, wrong)
    return tuple(losses)


def thermal_bridge_w_m2k(building: Building) -> float:
    """Supplement on U for thermal bridges in W/(m2 K): as stated, else the default of the dimensions."""
    stated = building.thermal_bridge_w_m2k
    return USUAL_BRIDGES_W_M2K[building.dimensions] if stated is None else stated


def wall_u_w_m2k(survey: SurveyData, room_name: str, wall_number: int) -> float | None:
    """U of a wall (numbers from 1) in its place, W/(m2 K), for the loss behind the skirting.

    None where the wall has no build-up, or the adjacent space is not stated; InputError where its
    U-value cannot be computed; KeyError where the survey has no such wall. U as in `room_losses`.
    """
    room = survey.room(room_name)
    if not 1 <= wall_number <= len(room.walls):
        raise KeyError(f'room "{room_name}" has {len(room.walls)} walls, not a wall {wall_number}')
    place = f'room "{room_name}", wall {wall_number}'
    parts = wall_elements(room, wall_number, room.walls[wall_number - 1], room_sizes(survey, room, 1.0))
    element = next(part for part in parts if part.place == place)
    if element.build_up is None or element.beyond is None:
        return None
    adjacent = far_side(survey, room, element)
    value = adjacent if isinstance(adjacent, NotCalculable) else u_value(survey, element, adjacent, room.indoor_c)
    if isinstance(value, NotCalculable):
        raise _error(survey, [value])
    return value.u_w_m2k


def _error(survey: SurveyData, wrong: Iterable[NotCalculable]) -> InputError:
    """One error for each reason, stated once, with the file of the survey."""
    return InputError(survey.fault(item.place, item.found, item.required) for item in dict.fromkeys(wrong))


def _room_loss(survey: SurveyData, room: Room, floor_area_m2: float | None) -> RoomLoss | list[NotCalculable]:
    if room.heat_loss_w is not None:
        by = room.heat_loss_source or "stated in the survey"
        text = "stated heat losses are at this project's temperatures, ventilation and reheat included"
        note = Assumption(text, STATED_SOURCE)
        return RoomLoss(room.name, room.indoor_c, room.heat_loss_w, by, (), (note,))
    outdoor_c = survey.project.outdoor_c
    place = f'room "{room.name}"'
    if room.indoor_c <= outdoor_c:
        found = f"indoor_c {room.indoor_c:g}"
        return [NotCalculable(place, found, f"above the outdoor design temperature, {outdoor_c:g} °C")]
    if not room.walls:
        found = "no walls to calculate its heat loss, and no heat_loss_w"
        return [NotCalculable(place, found, "walls, or a stated heat_loss_w (also for an estimate)")]
    if floor_area_m2 is None or not floor_area_m2 > 0.0:
        return [NotCalculable(place, "no floor area", "walls that close, or heat_loss_w")]
    sizes = room_sizes(survey, room, floor_area_m2)
    pieces = [_element_part(survey, room, element) for element in elements_of(room, sizes)]
    wrong = [piece for piece in pieces if isinstance(piece, NotCalculable)]
    if wrong:
        return wrong
    good = [piece for piece in pieces if not isinstance(piece, NotCalculable)]
    transmission = [part for part, _ in good if part is not None]
    bridges = _bridges(survey, transmission, room.indoor_c - outdoor_c)
    air = room_air(survey, room, floor_area_m2)
    air_loss, air_notes = ventilation_loss(survey, room, air)
    reheat, reheat_notes = _reheat(survey.building, room, floor_area_m2)
    parts = (*transmission, *bridges, air_loss, *reheat)
    total_w = sum(part.heat_w for part in parts)
    assumptions = [note for _, value in good for note in value.assumptions]
    assumptions += [*_bridge_notes(survey.building, bridges), *air_notes, *air.assumptions, *reheat_notes]
    cautions = [text for _, value in good for text in value.cautions]
    cautions += [*air.cautions, *_room_cautions(room, total_w)]
    return RoomLoss(room.name, room.indoor_c, total_w, None, parts, _unique(assumptions), _unique(cautions))


def _element_part(
    survey: SurveyData, room: Room, element: BuildingElement
) -> tuple[LossPart | None, UValue] | NotCalculable:
    """Loss through one element and its assumptions; None where the adjacent side is equally warm."""
    if element.area_m2 < -1e-9:
        found = f"openings {-element.area_m2:.2f} m2 larger than the wall"
        return NotCalculable(element.place, found, "openings that fit into the wall")
    adjacent = far_side(survey, room, element)
    if isinstance(adjacent, NotCalculable):
        return adjacent
    if adjacent.side == "equally warm":
        text = f"{element.place}: adjacent space not stated, assumed to be equally warm"
        return None, UValue(0.0, (Assumption(text, SURVEY_SOURCE),))
    if element.build_up is None and adjacent.temp_c == room.indoor_c:
        text = f"{element.place}: no build_up stated, and none required, because {adjacent.name} is equally warm"
        return None, UValue(0.0, (Assumption(text, "temperatures of the survey"),))
    u = u_value(survey, element, adjacent, room.indoor_c)
    if isinstance(u, NotCalculable):
        return u
    design_k = room.indoor_c - survey.project.outdoor_c
    factor = (room.indoor_c - adjacent.temp_c) / design_k
    notes = u.assumptions
    if adjacent.side == "ground":
        season, season_note = GROUND_SEASON.or_stated(survey.building.ground_season_factor)
        _, mean_note = ANNUAL_MEAN_C.or_stated(survey.project.annual_mean_c)
        water, water_note = GROUND_WATER.or_stated(survey.building.ground_water_factor)
        factor *= season * water
        notes = season_note + water_note + mean_note + notes
    heat_w = element.area_m2 * u.u_w_m2k * factor * design_k
    part = LossPart(
        element.kind, element.label, adjacent.name, element.area_m2, u.u_w_m2k, adjacent.temp_c, factor, heat_w
    )
    return part, UValue(u.u_w_m2k, notes, u.cautions)


def _bridges(survey: SurveyData, transmission: list[LossPart], design_k: float) -> list[LossPart]:
    """Supplement on U of every part towards outdoors or an unheated space, one for each adjacent side."""
    supplement = thermal_bridge_w_m2k(survey.building)
    outside = {"outdoors", *(space.name for space in survey.spaces)}
    exposed = [part for part in transmission if part.beyond in outside]
    bridges = []
    for beyond in dict.fromkeys(part.beyond for part in exposed):
        same = [part for part in exposed if part.beyond == beyond]
        area = sum(part.area_m2 or 0.0 for part in same)
        factor = same[0].factor
        heat_w = area * supplement * factor * design_k
        label = f"thermal bridges to {beyond}"
        bridges.append(LossPart("bridges", label, beyond, area, supplement, same[0].adjacent_temp_c, factor, heat_w))
    return bridges


def _bridge_notes(building: Building, bridges: list[LossPart]) -> tuple[Assumption, ...]:
    supplement, used = thermal_bridge_w_m2k(building), building.dimensions
    overall = used == "overall inside"
    words = (BRIDGES_OVERALL_W_M2K if overall else BRIDGES_W_M2K).get(supplement)
    if not bridges or words is None:
        return ()
    origin = "not stated in the survey" if building.thermal_bridge_w_m2k is None else "as stated in the survey"
    text = f"thermal bridges {supplement:g} W/(m2 K), {origin}; the reference gives this value for {words}"
    if used == "inside":
        text += "; a value for outside dimensions, applied to inside dimensions"
    return (Assumption(text, BRIDGES_OVERALL_SOURCE if overall else BRIDGES_SOURCE),)


def _reheat(
    building: Building, room: Room, floor_area_m2: float
) -> tuple[tuple[LossPart, ...], tuple[Assumption, ...]]:
    notes: tuple[Assumption, ...] = ()
    if room.reheat_w_m2 is not None:
        rate = room.reheat_w_m2
    elif building.reheat is not None:
        rate = REHEAT_W_M2[building.reheat.hours][building.reheat.drop_k - 1]
        notes = (Assumption(f"reheat {rate:g} W/m2 of floor", REHEAT_SOURCE),)
    else:
        return (), (Assumption("no reheat: heated without setback on the design day", SURVEY_SOURCE),)
    if rate == 0.0:
        return (), notes
    label = f"reheat {rate:g} W/m2"
    part = LossPart("reheat", label, "reheat", floor_area_m2, None, None, 1.0, rate * floor_area_m2)
    return (part,), notes


def _reheat_faults(building: Building) -> list[NotCalculable]:
    reheat = building.reheat
    if reheat is None or (reheat.hours in REHEAT_W_M2 and 1 <= reheat.drop_k <= 3):
        return []
    found = f"reheat in {reheat.hours} h after a drop of {reheat.drop_k} K"
    return [NotCalculable("building, reheat", found, "hours from 1 to 4 and drop_k from 1 to 3")]


def _room_cautions(room: Room, total_w: float) -> list[str]:
    cautions = []
    if room.height_m > GREATEST_HEIGHT_M:
        cautions.append(
            f"height {room.height_m:g} m: EN 12831 holds to {GREATEST_HEIGHT_M:g} m; warm air gathers above "
            "and the loss is larger than computed"
        )
    if total_w < 0.0:
        cautions.append("the room gains more from warmer rooms than it loses")
    return cautions


def _unique(items: Iterable[Item]) -> tuple[Item, ...]:
    return tuple(dict.fromkeys(items))
