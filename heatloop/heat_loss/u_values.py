"""U-values of the survey's build-ups in the place where each is used."""

from __future__ import annotations

from dataclasses import dataclass

from heatloop.heat_loss.elements import Element, FarSide, Unusable
from heatloop.physics import fabric, fabric_ground
from heatloop.survey.model import BuildUp, Layer, Survey

# Default wall thickness and ground of ISO 13370 where the survey is silent
WALL_THICKNESS_M = 0.3
GROUND_W_MK = fabric_ground.GROUND_CONDUCTIVITY_W_MK["sand or gravel"]
UNLIKELY_U_W_M2K = 6.0


@dataclass(frozen=True)
class UValue:
    """A U-value in place, with what was assumed for it and what looks unlikely about it."""

    u_w_m2k: float
    assumptions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def u_value(survey: Survey, element: Element, far: FarSide, indoor_c: float) -> UValue | Unusable:
    """U of an element of a room as it stands between the room and its far side."""
    if element.build_up is None:
        return Unusable(element.place, f'no build_up towards "{far.name}"', "the name of a build_up")
    build_up = next((b for b in survey.build_ups if b.name == element.build_up), None)
    if build_up is None:
        known = ", ".join(f'"{b.name}"' for b in survey.build_ups) or "none"
        return Unusable(element.place, f'build_up = "{element.build_up}"', f"one of {known}")
    try:
        value = _u(survey, element, far, indoor_c, build_up)
    except ValueError as error:
        found, _, wanted = str(error).partition(", wanted ")
        return Unusable(f'build_up "{build_up.name}"', found, wanted)
    if isinstance(value, UValue) and value.u_w_m2k > UNLIKELY_U_W_M2K:
        caution = (
            f'build_up "{build_up.name}": U {value.u_w_m2k:.2f} W/(m2 K) is above {UNLIKELY_U_W_M2K:g}, '
            "unlikely for anything that is built"
        )
        return UValue(value.u_w_m2k, value.assumptions, (*value.cautions, caution))
    return value


def _u(
    survey: Survey, element: Element, far: FarSide, indoor_c: float, build_up: BuildUp
) -> UValue | Unusable:
    ground = far.side == "ground"
    if build_up.u_w_m2k is not None:
        if not build_up.u_w_m2k > 0.0:
            raise ValueError(f"u_w_m2k {build_up.u_w_m2k:g}, wanted above 0")
        note = (f'build_up "{build_up.name}": the stated U is taken to include the ground',) if ground else ()
        return UValue(build_up.u_w_m2k, note)
    if not build_up.layers:
        raise ValueError("neither layers nor u_w_m2k, wanted one of them")
    if ground:
        return _ground_u(survey, element, build_up)
    direction = _direction(element, far, indoor_c)
    rsi = fabric.RSI_M2K_W[direction]
    rse = fabric.RSE_M2K_W if far.side == "outdoors" else rsi
    resistance = fabric.total_resistance([_resistance(layer) for layer in build_up.layers], rsi, rse)
    return UValue(resistance.u_w_m2k, (), _bridging_cautions(build_up, resistance))


def _ground_u(survey: Survey, element: Element, build_up: BuildUp) -> UValue | Unusable:
    if element.kind != "floor":
        return Unusable(element.place, 'beyond = "ground" on a wall or ceiling', "a build_up with u_w_m2k")
    building = survey.building
    if building.slab_area_m2 is None or building.slab_exposed_perimeter_m is None:
        return Unusable(
            "building",
            f"a floor on the ground ({element.place}) without the whole slab's size",
            "slab_area_m2 and slab_exposed_perimeter_m of the whole slab, not of the room",
        )
    floor = fabric.total_resistance([_resistance(layer) for layer in build_up.layers], 0.0, 0.0)
    b_m = fabric_ground.characteristic_dimension_m(building.slab_area_m2, building.slab_exposed_perimeter_m)
    u = fabric_ground.slab_u_w_m2k(b_m, floor.total_m2k_w, WALL_THICKNESS_M, GROUND_W_MK)
    notes = (
        f"ground conductivity {GROUND_W_MK:g} W/(m K): ISO 13370 table 7, ground unknown",
        f"walls above the slab {WALL_THICKNESS_M:g} m thick: common practice",
    )
    return UValue(u, notes, _bridging_cautions(build_up, floor))


def _direction(element: Element, far: FarSide, indoor_c: float) -> fabric.Direction:
    """Which way the heat flows: up through a ceiling when the far side is colder."""
    if element.kind not in ("floor", "ceiling"):
        return "horizontal"
    loses = far.temp_c <= indoor_c
    return "up" if (element.kind == "ceiling") == loses else "down"


def _resistance(layer: Layer) -> fabric.LayerResistance:
    if layer.resistance_m2k_w is not None:
        clear = layer.resistance_m2k_w
    elif layer.conductivity_w_mk is not None:
        clear = _named_resistance(layer, layer.conductivity_w_mk)
    else:
        raise ValueError(f'layer "{layer.material}" alone, wanted conductivity_w_mk or resistance_m2k_w')
    if layer.bridge_conductivity_w_mk is None:
        return fabric.LayerResistance(clear, None, layer.bridge_fraction)
    bridge = _named_resistance(layer, layer.bridge_conductivity_w_mk)
    return fabric.LayerResistance(clear, bridge, layer.bridge_fraction)


def _named_resistance(layer: Layer, conductivity_w_mk: float) -> float:
    try:
        return fabric.layer_resistance_m2k_w(layer.thickness_m, conductivity_w_mk)
    except ValueError as error:
        raise ValueError(f'layer "{layer.material}", {error}') from error


def _bridging_cautions(build_up: BuildUp, resistance: fabric.Resistance) -> tuple[str, ...]:
    if resistance.within_method:
        return ()
    return (
        f'build_up "{build_up.name}": its bridges are too strong for the limits method of ISO 6946 '
        f"(upper limit {resistance.upper_m2k_w:.2f}, lower {resistance.lower_m2k_w:.2f} m2K/W, more than "
        f"{fabric.BRIDGING_RATIO_LIMIT:g} times); have U calculated in detail",
    )
