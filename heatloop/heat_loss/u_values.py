"""U-values of elements of a room by build-up and adjacent side, and of glazing with a colder adjacent side."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from heatloop.findings.assumption import Assumption
from heatloop.heat_loss.building_elements import (
    AdjacentSide,
    BuildingElement,
    NotCalculable,
    far_side,
    is_door,
    opening_element,
)
from heatloop.heat_loss.defaults import (
    GROUND_W_MK,
    UNLIKELY_U_W_M2K,
    VENT_MM2_M,
    VOID_HEIGHT_M,
    VOID_SHELTER,
    VOID_VENTS_M2_M,
    VOID_WALL_U_W_M2K,
    VOID_WIND_M_S,
    WALL_THICKNESS_M,
    DefaultValue,
)
from heatloop.physics.fabric import ground, layers, windows
from heatloop.physics.fabric.usual_build_ups import usual_build_ups
from heatloop.survey.building import BuildUp, Layer, Opening, WindowParts
from heatloop.survey.survey import SurveyData

COLD = ("outdoors", "unheated")


@dataclass(frozen=True)
class GlazedOpening:
    """One opening: its room, number of its wall, label in the heat loss, U-value, and adjacent temperature."""

    room: str
    wall: int
    label: str
    opening: Opening
    u_w_m2k: float
    beyond_c: float


def glazed_openings(survey: SurveyData) -> tuple[GlazedOpening, ...]:
    """Windows and glazed doors towards outdoors or a colder unheated space, in survey order.

    Openings of a room with a stated loss are left out where their build-up is not stated.
    """
    glazed = []
    for room in survey.rooms:
        for number, wall in enumerate(room.walls, start=1):
            for count, opening in enumerate(wall.openings, start=1):
                if is_door(opening.kind):
                    continue
                element = opening_element(room, number, wall, count, opening)
                adjacent = far_side(survey, room, element)
                if isinstance(adjacent, NotCalculable) or adjacent.side not in COLD or adjacent.temp_c >= room.indoor_c:
                    continue
                u = u_value(survey, element, adjacent, room.indoor_c)
                if not isinstance(u, NotCalculable):
                    glazed.append(GlazedOpening(room.name, number, element.label, opening, u.u_w_m2k, adjacent.temp_c))
    return tuple(glazed)


STATED_U_SOURCE = "convention of this program"

SURFACE_SOURCE = "ISO 6946:2017 table 7, surface resistances by direction, as quoted by others"

OUTER_SURFACE = DefaultValue(layers.RSE_M2K_W, "m2 K/W", "surface resistance outside", SURFACE_SOURCE)

DIRECTION_WORDS: Mapping[layers.Direction, str] = {"horizontal": "horizontal", "up": "upward", "down": "downward"}

_FLOOR_SURFACES_M2K_W = layers.RSI_M2K_W["down"] + layers.RSE_M2K_W


@dataclass(frozen=True)
class UValue:
    """A U-value of an element, with its assumptions and cautions."""

    u_w_m2k: float
    assumptions: tuple[Assumption, ...] = ()
    cautions: tuple[str, ...] = ()


def build_up_named(survey: SurveyData, name: str) -> tuple[BuildUp, tuple[Assumption, ...]] | None:
    """The build-up of that name in the survey, else in the library, with a line that states its source."""
    for build_up in survey.build_ups:
        if build_up.name == name:
            return build_up, ()
    usual = usual_build_ups().get(name)
    if usual is None:
        return None
    note = Assumption(f'build_up "{name}" from the library', usual.source)
    if usual.u_w_m2k is not None:
        return BuildUp(name, u_w_m2k=usual.u_w_m2k), (note,)
    deck = Layer(name, 0.1, resistance_m2k_w=usual.floor_m2k_w)
    return BuildUp(name, (deck,), suspended=usual.suspended), (note,)


def u_value(
    survey: SurveyData, element: BuildingElement, adjacent: AdjacentSide, indoor_c: float
) -> UValue | NotCalculable:
    """U-value of an element of a room, between the room and its adjacent side."""
    if element.build_up is None:
        return NotCalculable(element.place, f'no build_up towards "{adjacent.name}"', "the name of a build_up")
    named = build_up_named(survey, element.build_up)
    if named is None:
        known = ", ".join(f'"{b.name}"' for b in survey.build_ups) or "none"
        required = f"one of {known}, or a name from the library of build-ups"
        return NotCalculable(element.place, f'build_up = "{element.build_up}"', required)
    build_up, source = named
    try:
        value = _u(survey, element, adjacent, indoor_c, build_up)
    except ValueError as error:
        # the formulas word every error "found, must be required" (or have, leave): an input error states both apart
        found, *bounds = re.split(", must (?:be|have|leave) ", str(error), maxsplit=1)
        return NotCalculable(f'build_up "{build_up.name}"', found, bounds[0] if bounds else "a plausible value")
    if isinstance(value, NotCalculable):
        return value
    cautions = value.cautions
    if value.u_w_m2k > UNLIKELY_U_W_M2K:
        cautions += (
            f'build_up "{build_up.name}": U {value.u_w_m2k:.2f} W/(m2 K) is above {UNLIKELY_U_W_M2K:g}, '
            "unlikely for anything that is built",
        )
    return UValue(value.u_w_m2k, source + value.assumptions, cautions)


def _u(
    survey: SurveyData, element: BuildingElement, adjacent: AdjacentSide, indoor_c: float, build_up: BuildUp
) -> UValue | NotCalculable:
    ground = adjacent.side == "ground"
    if build_up.u_w_m2k is not None:
        if not build_up.u_w_m2k > 0.0:
            raise ValueError(f"u_w_m2k {build_up.u_w_m2k:g}, must be above 0")
        note = Assumption(f'build_up "{build_up.name}": the stated U is taken to include the ground', STATED_U_SOURCE)
        return UValue(build_up.u_w_m2k, (note,) if ground else ())
    if build_up.window is not None:
        return _window_u(element, build_up.window)
    if not build_up.layers:
        raise ValueError("neither layers nor window nor u_w_m2k, must have one of them")
    if ground:
        return _ground_u(survey, element, build_up)
    return _layered_u(build_up, _direction(element, adjacent, indoor_c), adjacent.side == "outdoors")


@lru_cache(maxsize=256)  # the walls of a house have a few build-ups, and a U-value depends on nothing else
def _layered_u(build_up: BuildUp, direction: layers.Direction, to_outdoors: bool) -> UValue:
    """U-value of layers between air on both sides."""
    rsi, notes = _inner_surface(direction).or_stated(build_up.inner_surface_m2k_w)
    rse, outer_note = (OUTER_SURFACE if to_outdoors else _inner_surface(direction)).or_stated(
        build_up.outer_surface_m2k_w
    )
    notes += outer_note
    resistance = _total(build_up.layers, direction, rsi, rse, rsi)
    notes += tuple(_cavity_notes(build_up, direction))
    u = resistance.u_w_m2k + build_up.correction_w_m2k
    return UValue(u, notes, _bridging_cautions(build_up, resistance))


def _window_u(element: BuildingElement, parts: WindowParts) -> UValue | NotCalculable:
    if element.width_m is None or element.height_m is None:
        return NotCalculable(element.place, "a build_up with window parts", "one with layers or u_w_m2k")
    geometry = windows.window_geometry(
        element.width_m, element.height_m, parts.frame_width_m, parts.panes_across, parts.panes_up
    )
    u = windows.window_u_w_m2k(geometry, parts.glass_u_w_m2k, parts.frame_u_w_m2k, parts.spacer_psi_w_mk)
    return UValue(u)


def _ground_u(survey: SurveyData, element: BuildingElement, build_up: BuildUp) -> UValue | NotCalculable:
    building = survey.building
    ground_w_mk, ground_note = GROUND_W_MK.or_stated(building.ground_conductivity_w_mk)
    thickness_m, wall_note = WALL_THICKNESS_M.or_stated(building.wall_thickness_m)
    notes = ground_note + wall_note
    if element.kind == "walls":
        return _cellar_wall_u(survey, element, build_up, thickness_m, ground_w_mk, notes)
    if element.kind != "floor":
        return NotCalculable(element.place, 'beyond = "ground"', "a floor or a wall against the ground")
    if building.slab_area_m2 is None or building.slab_exposed_perimeter_m is None:
        return NotCalculable(
            "building",
            "a floor on the ground without the size of the whole slab",
            "slab_area_m2 and slab_exposed_perimeter_m of the whole slab, not of the room",
        )
    if building.slab_exposed_perimeter_m == 0.0:
        return UValue(0.0)
    b_m = ground.characteristic_dimension_m(building.slab_area_m2, building.slab_exposed_perimeter_m)
    own = _own(build_up, "down", layers.RSI_M2K_W["down"], layers.RSE_M2K_W)
    own_m2k_w = own.total_m2k_w - _FLOOR_SURFACES_M2K_W
    cautions = _bridging_cautions(build_up, own)
    if build_up.suspended:
        u, void_notes = _suspended_u(survey, b_m, own_m2k_w, thickness_m, ground_w_mk)
        return UValue(u, notes + void_notes, cautions)
    u = ground.slab_u_w_m2k(b_m, own_m2k_w, thickness_m, ground_w_mk, element.depth_m)
    edge = building.edge_insulation
    if edge is not None:
        strip = ground.EdgeStrip(edge.width_m, edge.thickness_m, edge.conductivity_w_mk, edge.upright)
        psi = ground.edge_insulation_psi_w_mk(strip, own_m2k_w, thickness_m, ground_w_mk)
        u = ground.edge_insulated_u_w_m2k(u, psi, b_m)
    return UValue(u, notes, cautions)


def _cellar_wall_u(
    survey: SurveyData,
    element: BuildingElement,
    build_up: BuildUp,
    thickness_m: float,
    ground_w_mk: float,
    notes: tuple[Assumption, ...],
) -> UValue | NotCalculable:
    if not element.depth_m > 0.0:
        return NotCalculable(element.place, 'beyond = "ground"', "depth_below_ground_m of the room above 0")
    wall = _own(build_up, "horizontal", layers.RSI_M2K_W["horizontal"], layers.RSE_M2K_W)
    wall_m2k_w = wall.total_m2k_w - layers.RSI_M2K_W["horizontal"] - layers.RSE_M2K_W
    floor = None if element.floor_build_up is None else build_up_named(survey, element.floor_build_up)
    floor_m2k_w = 0.0
    if floor is not None and floor[0].layers:
        floor_own = _own(floor[0], "down", layers.RSI_M2K_W["down"], layers.RSE_M2K_W)
        floor_m2k_w = floor_own.total_m2k_w - _FLOOR_SURFACES_M2K_W
    u = ground.basement_wall_u_w_m2k(element.depth_m, wall_m2k_w, floor_m2k_w, thickness_m, ground_w_mk)
    return UValue(u, notes, _bridging_cautions(build_up, wall))


def _own(
    build_up: BuildUp, direction: layers.Direction, rsi_m2k_w: float, rse_m2k_w: float
) -> layers.ThermalResistance:
    return _total(build_up.layers, direction, rsi_m2k_w, rse_m2k_w, rse_m2k_w)


def _suspended_u(
    survey: SurveyData, b_m: float, deck_m2k_w: float, thickness_m: float, ground_w_mk: float
) -> tuple[float, tuple[Assumption, ...]]:
    void = survey.building.underfloor
    height_m, height_note = VOID_HEIGHT_M.or_stated(void.height_m)
    wall_u, wall_note = VOID_WALL_U_W_M2K.or_stated(void.wall_u_w_m2k)
    vents, vents_note = VOID_VENTS_M2_M.or_stated(void.vents_m2_m)
    wind, wind_note = VOID_WIND_M_S.or_stated(void.wind_m_s)
    shelter, shelter_note = VOID_SHELTER.or_stated(void.wind_shelter)
    vented = ground.Void(height_m, wall_u, vents, wind, shelter)
    u = ground.suspended_u_w_m2k(b_m, deck_m2k_w, vented, thickness_m, ground_w_mk)
    return u, height_note + wall_note + vents_note + wind_note + shelter_note


def _direction(element: BuildingElement, adjacent: AdjacentSide, indoor_c: float) -> layers.Direction:
    """Direction of the heat flow: upward through a ceiling when the adjacent side is colder."""
    if element.kind not in ("floor", "ceiling"):
        return "horizontal"
    loses = adjacent.temp_c <= indoor_c
    return "up" if (element.kind == "ceiling") == loses else "down"


def _inner_surface(direction: layers.Direction) -> DefaultValue:
    """Resistance between a surface and still air, by the direction of the heat flow."""
    value, meaning = layers.RSI_M2K_W[direction], f"surface resistance inside, {DIRECTION_WORDS[direction]} heat flow"
    return DefaultValue(value, "m2 K/W", meaning, SURFACE_SOURCE)


def _cavity_notes(build_up: BuildUp, direction: layers.Direction) -> Iterator[Assumption]:
    """Assumptions for air layers without a stated resistance, from inside to the first well ventilated one."""
    for number, layer in enumerate(build_up.layers):
        if layer.cavity == "well ventilated":
            names = ", ".join(outer.material for outer in build_up.layers[number:])
            text = f'build_up "{build_up.name}": {names} left out, from the ventilated cavity outwards'
            yield Assumption(text, "ISO 6946:2017 6.9, well ventilated air layer, from memory")
            return
        if layer.cavity is None:
            continue
        value = layers.cavity_resistance_m2k_w(layer.thickness_m, direction)
        text = f"{layer.cavity} air layer of {1000.0 * layer.thickness_m:g} mm, {DIRECTION_WORDS[direction]} heat flow"
        if layer.cavity == "unventilated":
            yield Assumption(f"{text}, {value:.2f} m2 K/W", "ISO 6946:2017 table 8, air layers, from memory")
            continue
        openings, note = VENT_MM2_M.or_stated(layer.vent_mm2_m)
        yield from note
        between = f"{value:.2f} m2 K/W if unventilated; by openings of {openings:g} mm2 a metre towards well ventilated"
        yield Assumption(
            f"{text}, {between}", "ISO 6946:2017 6.9.3, slightly ventilated air layer, as quoted by others"
        )


def _total(
    own: Sequence[Layer], direction: layers.Direction, rsi_m2k_w: float, rse_m2k_w: float, still_air_m2k_w: float
) -> layers.ThermalResistance:
    """Total resistance of layers.

    Layers outside a well ventilated cavity do not count; still air (`still_air_m2k_w`) then bounds the rest. A slightly
    ventilated cavity is between this and a closed one.
    """
    vented = next((n for n, layer in enumerate(own) if layer.cavity not in (None, "unventilated")), None)
    if vented is None:
        return layers.total_resistance([_resistance(layer, direction) for layer in own], rsi_m2k_w, rse_m2k_w)
    cavity = own[vented]
    inner = [_resistance(layer, direction) for layer in own[:vented]]
    ventilated = layers.total_resistance(inner, rsi_m2k_w, still_air_m2k_w)
    if cavity.cavity == "well ventilated":
        return ventilated
    closed = (*own[:vented], replace(cavity, cavity="unventilated"), *own[vented + 1 :])
    openings, _ = VENT_MM2_M.or_stated(cavity.vent_mm2_m)
    still = _total(closed, direction, rsi_m2k_w, rse_m2k_w, still_air_m2k_w)
    return layers.slightly_ventilated(still, ventilated, openings)


def _resistance(layer: Layer, direction: layers.Direction) -> layers.LayerResistance:
    try:
        clear = _clear_m2k_w(layer, direction)
        if layer.bridge_conductivity_w_mk is None:
            return layers.LayerResistance(clear, None, layer.bridge_fraction)
        bridge = layers.layer_resistance_m2k_w(layer.thickness_m, layer.bridge_conductivity_w_mk)
    except ValueError as error:
        raise ValueError(f'layer "{layer.material}", {error}') from error
    return layers.LayerResistance(clear, bridge, layer.bridge_fraction, layer.bridge)


def _clear_m2k_w(layer: Layer, direction: layers.Direction) -> float:
    if layer.cavity is not None:
        return layers.cavity_resistance_m2k_w(layer.thickness_m, direction)
    if layer.resistance_m2k_w is not None:
        return layer.resistance_m2k_w
    if layer.conductivity_w_mk is not None:
        return layers.layer_resistance_m2k_w(layer.thickness_m, layer.conductivity_w_mk)
    raise ValueError("nothing but its thickness, must have conductivity_w_mk, resistance_m2k_w or cavity")


def _bridging_cautions(build_up: BuildUp, resistance: layers.ThermalResistance) -> tuple[str, ...]:
    if resistance.within_method:
        return ()
    return (
        f'build_up "{build_up.name}": its bridges are too strong for the limits method of ISO 6946 '
        f"(upper limit {resistance.upper_m2k_w:.2f}, lower {resistance.lower_m2k_w:.2f} m2K/W, more than "
        f"{layers.BRIDGING_RATIO_LIMIT:g} times); have U calculated in detail",
    )
