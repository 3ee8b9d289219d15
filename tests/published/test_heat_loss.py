"""Room heat loss against published values (data/published/heat_loss.csv) and docs/explanation/worked-room.md.

Published elements are put through whole surveys, so that what is checked is what a user gets.
"""

from __future__ import annotations

import ast
import math
import operator
from collections.abc import Callable
from typing import Any

import pytest

from heatloop.heat_loss import defaults
from heatloop.heat_loss.building_load import INFILTRATION_SHARE, BuildingLoad, building_load
from heatloop.heat_loss.model import RoomLoss
from heatloop.heat_loss.rooms import room_losses
from heatloop.physics.fabric import ground, layers, windows
from heatloop.survey.building import (
    Building,
    BuildUp,
    FloorOrCeiling,
    Layer,
    Opening,
    Reheat,
    Room,
    UnheatedSpace,
    Wall,
    WindowParts,
)
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source
from tests.helpers.paths import ROOT
from tests.helpers.published import replayed

WORKED = ROOT / "docs" / "explanation" / "worked-room.md"

FT2_M2 = 0.3048**2
BTU_H_W = 0.29307107
U_BTU = BTU_H_W / FT2_M2 * 1.8


def _survey(
    outdoor_c: float,
    rooms: tuple[Room, ...],
    build_ups: tuple[BuildUp, ...],
    building: Building,
    spaces: tuple[UnheatedSpace, ...] = (),
) -> SurveyData:
    project = Project("published", outdoor_c, 50.0, "none.toml", annual_mean_c=10.0)
    return SurveyData(project, building, build_ups, spaces, rooms, Source(), (), (), Catalogue())


def _other(area: float = 1.0) -> tuple[Wall, ...]:
    """Two walls that close the room and lose nothing."""
    return (Wall(area), Wall(area))


# --- published values ---------------------------------------------------------------------------------


def _element_btu_h(**i: Any) -> float:
    indoor_c = (i["indoor_f"] - 32.0) / 1.8
    beyond_c = (i["beyond_f"] - 32.0) / 1.8
    length_m = i["area_ft2"] * FT2_M2 / 2.4
    wall = Wall(length_m, beyond="neighbour", neighbour_c=beyond_c, build_up="u")
    room = Room("room", indoor_c, 2.4, air_changes_h=0.0, walls=(wall, *_other()))
    survey = _survey(-20.0, (room,), (BuildUp("u", u_w_m2k=i["u"] * U_BTU),), Building())
    return _only(room_losses(survey, {"room": 10.0})).total_w / BTU_H_W


def _only(losses: tuple[RoomLoss, ...]) -> RoomLoss:
    (loss,) = losses
    return loss


def _thermal_bridges_w_m2k(**i: Any) -> float:
    """What a room loses to the usual supplement of its detailing, found by a word of its description."""
    (supplement,) = (value for value, words in defaults.BRIDGES_W_M2K.items() if i["detailing"] in words)
    room = Room(
        "room",
        20.0,
        2.5,
        air_changes_h=0.0,
        walls=(Wall(4.0, beyond="outdoors", build_up="u"), *_other()),
    )
    survey = _survey(-5.0, (room,), (BuildUp("u", u_w_m2k=0.3),), Building(thermal_bridge_w_m2k=supplement))
    loss = _only(room_losses(survey, {"room": 10.0}))
    return loss.total_w / (10.0 * 25.0) - 0.3


def _thermal_bridges_overall_w_m2k(**i: Any) -> float:
    """The same in overall inside dimensions: the stated one, and for all other buildings what is taken unsaid."""
    (supplement,) = (value for value, words in defaults.BRIDGES_OVERALL_W_M2K.items() if i["detailing"] in words)
    room = Room("room", 20.0, 2.5, air_changes_h=0.0, walls=(Wall(4.0, beyond="outdoors", build_up="u"), *_other()))
    stated = None if i["detailing"] == "other" else supplement
    building = Building(dimensions="overall inside", thermal_bridge_w_m2k=stated)
    loss = _only(room_losses(_survey(-5.0, (room,), (BuildUp("u", u_w_m2k=0.3),), building), {"room": 10.0}))
    by_kind = {part.kind: part for part in loss.parts}
    return by_kind["bridges"].heat_w / ((by_kind["walls"].area_m2 or 0.0) * 25.0)


def _reheat(**i: Any) -> float:
    room = Room("room", 20.0, air_changes_h=0.0, walls=(Wall(4.0), *_other()))
    reheat = Reheat(int(i["hours"]), int(i["drop"]))
    survey = _survey(-5.0, (room,), (), Building(reheat=reheat))
    return _only(room_losses(survey, {"room": 12.0})).total_w / 12.0


def _example_room_w_k(**i: Any) -> float:
    """3.3 by 3 by 2.3 m, two air changes of 0.33; the example counts the wall gross, glass beside it."""
    walls = (
        Wall(6.0, beyond="outdoors", build_up="wall"),
        Wall(6.0 / 2.3, beyond="outdoors", build_up="glass"),
        Wall(1.0),
    )
    room = Room("room", 21.0, 2.3, air_changes_h=2.0, floor=FloorOrCeiling("outdoors", "floor"), walls=walls)
    build_ups = (
        BuildUp("wall", u_w_m2k=1.5),
        BuildUp("glass", u_w_m2k=2.9),
        BuildUp("floor", u_w_m2k=1.0),
    )
    building = Building(thermal_bridge_w_m2k=0.0, air_wh_m3k=0.33)
    loss = _only(room_losses(_survey(-1.0, (room,), build_ups, building), {"room": 3.3 * 3.0}))
    heat_w = {part.label: part.heat_w for part in loss.parts}
    by_part = {
        "air": next(part.heat_w for part in loss.parts if part.kind == "air"),
        "windows": heat_w["wall 2"],
        "walls": heat_w["wall 1"],
        "floor": heat_w["floor"],
        "total": loss.total_w,
    }
    return by_part[i["part"]] / 22.0


def _house_w_k(**i: Any) -> float:
    """A house of one room: the load of its source without air, and what it is made of."""
    walls = (
        Wall(40.0, beyond="outdoors", build_up="wall"),
        Wall(10.0, beyond="outdoors", build_up="glass"),
        Wall(1.0),
    )
    build_ups = tuple(
        BuildUp(name, u_w_m2k=u) for name, u in (("floor", 0.25), ("roof", 0.16), ("wall", 0.35), ("glass", 2.0))
    )
    house = Room(
        "house", 20.0, 2.0, air_changes_h=0.0, walls=walls,
        floor=FloorOrCeiling("outdoors", "floor"), ceiling=FloorOrCeiling("outdoors", "roof"),
    )  # fmt: skip
    survey = _survey(-5.0, (house,), build_ups, Building(thermal_bridge_w_m2k=0.0))
    losses = room_losses(survey, {"house": 48.0})
    heat_w = {part.label: part.heat_w for part in _only(losses).parts}
    heat_w |= {"walls": heat_w["wall 1"], "windows": heat_w["wall 2"]}
    heat_w["total"] = building_load(survey, losses, {"house": 48.0}).total_w
    return heat_w[i["part"]] / 25.0


def _share(**i: Any) -> float:
    """Air of a building over that of its rooms, where leaks alone count (no least rate in a stated 1 1/h)."""
    rooms = tuple(
        Room(name, 20.0, air_changes_h=1.0, infiltration_changes_h=1.0, walls=(Wall(4.0), *_other()))
        for name in ("north", "south")
    )
    survey = _survey(-5.0, rooms, (), Building())
    areas = {"north": 10.0, "south": 12.0}
    load = building_load(survey, room_losses(survey, areas), areas)
    assert load.air_w / load.sum_of_rooms_w == pytest.approx(INFILTRATION_SHARE.value)
    return load.air_w / load.sum_of_rooms_w


def _min_air_changes(**i: Any) -> float:
    uses = {"living": "living", "bedroom": "bedroom", "kitchen": "kitchen", "bathroom": "bathroom"}
    use = uses.get(i["use"], i["use"])
    room = Room("room", 20.0, 2.5, walls=(Wall(4.0), *_other()), use=use)  # type: ignore[arg-type]
    loss = _only(room_losses(_survey(-5.0, (room,), (), Building()), {"room": 10.0}))
    return loss.total_w / (0.34 * 25.0 * 25.0)


QUANTITIES: dict[str, Callable[..., float]] = {
    "air_from_properties": lambda **i: defaults.air_wh_m3k(i["density"], i["heat_capacity"]),
    "air_default": lambda **i: defaults.AIR_WH_M3K.value,
    "element_btu_h": _element_btu_h,
    "thermal_bridges_w_m2k": _thermal_bridges_w_m2k,
    "thermal_bridges_overall_w_m2k": _thermal_bridges_overall_w_m2k,
    "reheat_w_m2": _reheat,
    "building_infiltration_share": _share,
    "room_w_k": _example_room_w_k,
    "house_w_k": _house_w_k,
    "min_air_changes_h": _min_air_changes,
}


test_published_row = replayed("heat_loss", __name__, QUANTITIES)


def test_air_constant_agrees_with_humid_air() -> None:
    """CoolProp, air at 20 °C, half saturated, sea level: the two digits of the standard's 0.34."""
    from CoolProp.HumidAirProp import HAPropsSI  # here, because its import takes seconds

    state = ("T", 293.15, "P", 101325.0, "R", 0.5)
    density = 1.0 / HAPropsSI("Vha", *state)
    heat_capacity = HAPropsSI("Cha", *state)
    found = defaults.air_wh_m3k(density, heat_capacity)
    assert found == pytest.approx(defaults.AIR_WH_M3K.value, abs=0.005)


def test_least_rates_are_below_typical_ones() -> None:
    """MacKay, table E.1, draught-proofed rooms: kitchen 2, bathroom 2, lounge 1, bedroom 0.5 (seen)."""
    typical = {"kitchen": 2.0, "bathroom": 2.0, "living": 1.0, "bedroom": 0.5}
    for use, changes in typical.items():
        assert 0.5 * changes <= defaults.MIN_AIR_CHANGES_H[use] <= changes  # type: ignore[index]


# --- the worked room ----------------------------------------------------------------------------------


def _study() -> SurveyData:
    plaster = Layer("plaster", 0.013, 0.57)
    build_ups = (
        BuildUp(
            "timber frame",
            (
                Layer("plasterboard", 0.0125, 0.21),
                Layer("wool", 0.140, 0.038, bridge_fraction=0.15, bridge_conductivity_w_mk=0.13),
                Layer("board", 0.009, 0.13),
                Layer("cavity", 0.050, cavity="unventilated"),
                Layer("brick", 0.1025, 0.77),
            ),
        ),
        BuildUp("window", window=WindowParts(1.1, 1.4, 0.08, 0.04, panes_across=2)),
        BuildUp("half-brick", (plaster, Layer("brick", 0.1025, 0.56), plaster)),
        BuildUp("partition", u_w_m2k=1.8),
        BuildUp("door", u_w_m2k=2.0),
        BuildUp("one brick", (plaster, Layer("brick", 0.215, 0.56), plaster)),
        BuildUp("slab", (Layer("screed", 0.065, 1.15), Layer("insulation", 0.060, 0.025))),
        BuildUp(
            "upper floor",
            (
                Layer("plasterboard", 0.0125, 0.21),
                Layer("joists", 0.2, cavity="unventilated"),
                Layer("boards", 0.022, 0.13),
            ),
        ),
    )
    walls = (
        Wall(
            4.0,
            beyond="outdoors",
            build_up="timber frame",
            openings=(Opening("window", 1.0, 1.8, 1.2, 0.9, build_up="window"),),
        ),
        Wall(3.5, beyond="Garage", build_up="half-brick"),
        Wall(
            4.0,
            beyond="Hall",
            build_up="partition",
            openings=(Opening("door", 0.5, 0.8, 2.0, build_up="door"),),
        ),
        Wall(3.5, beyond="neighbour", neighbour_c=15.0, build_up="one brick"),
    )
    study = Room(
        "Study",
        20.0,
        2.4,
        walls=walls,
        floor=FloorOrCeiling("ground", "slab"),
        ceiling=FloorOrCeiling("Bedroom", "upper floor"),
        use="living",
    )
    rooms = (
        study,
        Room("Hall", 18.0, heat_loss_w=420.0, heat_loss_source="the heat pump designer"),
        Room("Bedroom", 18.0, heat_loss_w=510.0, heat_loss_source="the heat pump designer"),
    )
    building = Building(
        slab_area_m2=62.0,
        slab_exposed_perimeter_m=26.0,
        ground_conductivity_w_mk=1.5,
        n50_h=5.0,
        reheat=Reheat(2, 2),
    )
    return _survey(-4.0, rooms, build_ups, building, (UnheatedSpace("Garage", temperature_factor=0.8),))


def _worked_lines() -> dict[str, tuple[str, str]]:
    """Working and result of every line of the document's tables, by the line's name."""
    lines = {}
    for text in WORKED.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in text.strip("|").split("|")]
        if len(cells) == 5 and cells[0] not in ("line", "---"):
            assert cells[0] not in lines
            lines[cells[0]] = (cells[2], cells[3])
    return lines


_OPERATORS: dict[type[ast.AST], Callable[..., float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.USub: operator.neg,
}


def _arithmetic(node: ast.expr) -> float:
    """A pocket calculator: four operations, brackets, pi and ln."""
    match node:
        case ast.Constant(value=int() | float() as value):
            return float(value)
        case ast.BinOp(left, sign, right):
            return _OPERATORS[type(sign)](_arithmetic(left), _arithmetic(right))
        case ast.UnaryOp(sign, operand):
            return _OPERATORS[type(sign)](_arithmetic(operand))
        case ast.Name(id="pi"):
            return math.pi
        case ast.Call(func=ast.Name(id="ln"), args=[argument]):
            return math.log(_arithmetic(argument))
    raise AssertionError(f"the worked room holds more than arithmetic: {ast.dump(node)}")


def _half_digit(result: str) -> float:
    return 0.5 * 10.0 ** -len(result.partition(".")[2])


@pytest.mark.parametrize("line", _worked_lines())
def test_working_by_pocket_calculator(line: str) -> None:
    working, result = _worked_lines()[line]
    plain = working.replace("×", "*").replace("−", "-").replace("π", "pi")
    found = _arithmetic(ast.parse(plain, mode="eval").body)
    assert found == pytest.approx(float(result), abs=_half_digit(result) + 1e-12)


def _fabric_lines() -> dict[str, float]:
    """The lines on resistances, window and ground, from the functions of the physics."""
    parts = {
        "T1": layers.layer_resistance_m2k_w(0.0125, 0.21),
        "T2": layers.layer_resistance_m2k_w(0.140, 0.038),
        "T3": layers.layer_resistance_m2k_w(0.140, 0.13),
        "T4": layers.layer_resistance_m2k_w(0.009, 0.13),
        "T5": layers.layer_resistance_m2k_w(0.1025, 0.77),
    }
    cavity = layers.cavity_resistance_m2k_w(0.050, "horizontal")

    def resistance(wool: layers.LayerResistance) -> layers.ThermalResistance:
        clear = [parts["T1"], parts["T4"], cavity, parts["T5"]]
        own = [*(layers.LayerResistance(value) for value in clear), wool]
        return layers.total_resistance(own, layers.RSI_M2K_W["horizontal"], layers.RSE_M2K_W)

    wall = resistance(layers.LayerResistance(parts["T2"], parts["T3"], 0.15))
    window = windows.window_geometry(1.8, 1.2, 0.08, 2, 1)
    floor_m2k_w = layers.layer_resistance_m2k_w(0.065, 1.15) + layers.layer_resistance_m2k_w(0.060, 0.025)
    # sides of a pane from its half edge and its area
    half_edge_m, pane_m2 = window.edge_m / 4.0, window.glass_m2 / 2.0
    pane_width_m = 0.5 * (half_edge_m - math.sqrt(half_edge_m**2 - 4.0 * pane_m2))
    return {
        **parts,
        "T6": resistance(layers.LayerResistance(parts["T2"])).total_m2k_w,
        "T7": resistance(layers.LayerResistance(parts["T3"])).total_m2k_w,
        "T8": wall.upper_m2k_w,
        "T9": wall.lower_m2k_w,
        "T10": wall.total_m2k_w,
        "T12": wall.error_bound,
        "W1": pane_width_m,
        "W2": half_edge_m - pane_width_m,
        "W3": window.glass_m2,
        "W4": window.frame_m2,
        "W5": window.edge_m,
        "G1": ground.characteristic_dimension_m(62.0, 26.0),
        "G2": floor_m2k_w,
        "G3": 0.30 + 1.5 * (ground.RSI_FLOOR_M2K_W + floor_m2k_w + ground.RSE_GROUND_M2K_W),
    }


def _computed_lines(loss: RoomLoss, load: BuildingLoad) -> dict[str, float]:
    """Every line of the document as heatloop computes it."""
    parts = {part.label: part for part in loss.parts}
    named = {
        "1": "wall 1", "2": "wall 1, window 1", "3": "wall 2", "4": "wall 3", "5": "wall 3, door 1",
        "6": "wall 4", "7": "floor", "8": "ceiling", "9": "thermal bridges to outdoors",
        "10": "thermal bridges to Garage", "11": "outdoor air 16.8 m3/h", "12": "reheat 11 W/m2",
    }  # fmt: skip
    by_line = {f"Q{number}": parts[label] for number, label in named.items()}
    areas = {"A1": "Q2", "A2": "Q1", "A3": "Q3", "A4": "Q5", "A5": "Q4", "A6": "Q6", "A7": "Q7"}
    u_values = {"T11": "Q1", "W6": "Q2", "U1": "Q3", "U2": "Q6", "U3": "Q8", "G4": "Q7"}
    factors = {"F1": "Q3", "F2": "Q6", "F3": "Q4", "F4": "Q7"}
    infiltration = defaults.infiltration_m3_h(14.0 * 2.4, 5.0, "moderate", 1, 1.2)
    lines = {line: part.heat_w for line, part in by_line.items()}
    lines |= {line: by_line[q].area_m2 or 0.0 for line, q in areas.items()}
    lines |= {line: by_line[q].u_w_m2k or 0.0 for line, q in u_values.items()}
    lines |= {line: by_line[q].factor for line, q in factors.items()}
    flow_m3_h = by_line["Q11"].heat_w / defaults.AIR_WH_M3K.value / 24.0
    lines |= {"V1": infiltration, "V2": flow_m3_h, "A8": flow_m3_h / defaults.MIN_AIR_CHANGES_H["living"]}
    lines |= {"Q13": loss.total_w, "B1": INFILTRATION_SHARE.value * infiltration, "B2": load.total_w}
    return lines | _fabric_lines()


def test_every_line_of_the_worked_room_is_what_heatloop_computes() -> None:
    """One unit of the last printed digit for what is rounded on the way, sums a little more."""
    survey = _study()
    areas = {"Study": 14.0}
    losses = room_losses(survey, areas)
    computed = _computed_lines(losses[0], building_load(survey, losses, areas))
    lines = _worked_lines()
    assert set(computed) == set(lines)
    for line, (_, result) in lines.items():
        digits = 2.0 * _half_digit(result) * (3.0 if line in ("Q13", "B2") else 1.0)
        assert computed[line] == pytest.approx(float(result), abs=digits), line
    assert losses[0].total_w == pytest.approx(sum(part.heat_w for part in losses[0].parts), rel=1e-12)
