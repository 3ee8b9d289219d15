"""U-values of layers and floors against published tables and worked examples (data/published/fabric.csv)."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import pytest

from heatloop.heat_loss.building_elements import AdjacentSide, BuildingElement
from heatloop.heat_loss.u_values import UValue, u_value
from heatloop.physics.fabric import ground, layers
from heatloop.physics.fabric.layers import LayerResistance, ThermalResistance
from heatloop.physics.fabric.usual_build_ups import usual_build_ups
from heatloop.survey.building import Building, BuildUp, Layer
from heatloop.survey.catalogue import Catalogue
from heatloop.survey.survey import Project, SurveyData
from heatloop.survey.water_system import Source
from tests.helpers.published import replayed


def _layer(text: str) -> LayerResistance:
    """`R0.13`, `R3.333|1.077|0.095` (clear, bridge, fraction) or `0.22/0.77` (thickness, conductivity)."""
    if not text.startswith("R"):
        thickness, conductivity = text.split("/")
        return LayerResistance(layers.layer_resistance_m2k_w(float(thickness), float(conductivity)))
    clear, *bridge = (float(part) for part in text[1:].split("|"))
    return LayerResistance(clear, *bridge) if bridge else LayerResistance(clear)


def _resistance(inputs: Mapping[str, Any], own: list[LayerResistance] | None = None) -> ThermalResistance:
    own = own or [_layer(text) for text in inputs["layers"].split(";")]
    return layers.total_resistance(own, inputs["rsi"], inputs["rse"])


def _vented(inputs: Mapping[str, Any]) -> float:
    """A wall with a cavity 50 mm wide whose openings have an area, through the heat loss of a survey."""
    leaf = Layer("inner leaf", 0.1, resistance_m2k_w=inputs["inner"])
    word = {"closed": "unventilated", "open": "well ventilated"}.get(inputs["vent"], "slightly ventilated")
    area = None if isinstance(inputs["vent"], str) else inputs["vent"]
    cavity = Layer("cavity", 0.05, cavity=word, vent_mm2_m=area)  # type: ignore[arg-type]
    outer = Layer("outer leaf", 0.105, conductivity_w_mk=0.77)
    element = BuildingElement("walls", "wall 1", "wall 1", "outdoors", None, "wall", 10.0)
    survey = SurveyData(
        Project("published", -5.0, 50.0, "none.toml"), Building(), (BuildUp("wall", (leaf, cavity, outer)),), (), (),
        Source(), (), (), Catalogue(),
    )  # fmt: skip
    found = u_value(survey, element, AdjacentSide("outdoors", "outdoors", -5.0), 20.0)
    assert isinstance(found, UValue)
    return 1.0 / found.u_w_m2k


def _path(inputs: Mapping[str, Any], bridged: bool) -> float:
    own = [_layer(text) for text in inputs["layers"].split(";")]
    along = [
        LayerResistance(layer.bridge_m2k_w if bridged and layer.bridge_m2k_w else layer.clear_m2k_w) for layer in own
    ]
    return _resistance(inputs, along).total_m2k_w


def _slab(inputs: Mapping[str, Any]) -> float:
    b_m = 2.0 / inputs["p_a"]
    return ground.slab_u_w_m2k(b_m, inputs["floor"], inputs["wall"], inputs["ground"])


def _slab_size(inputs: Mapping[str, Any]) -> float:
    length, breadth = inputs["length"], inputs["breadth"]
    b_m = ground.characteristic_dimension_m(length * breadth, 2.0 * (length + breadth))
    return ground.slab_u_w_m2k(b_m, 0.0, 0.3, 1.5)


def _suspended(inputs: Mapping[str, Any]) -> float:
    b_m = 2.0 / inputs["p_a"]
    return ground.suspended_u_w_m2k(b_m, 0.2, ground.Void(0.3, 1.5, 0.003, 5.0, 0.05), 0.3, 1.5)


def _direction(inputs: Mapping[str, Any]) -> layers.Direction:
    return {"horizontal": "horizontal", "up": "up", "down": "down"}[inputs["direction"]]  # type: ignore[return-value]


def _library(inputs: Mapping[str, Any]) -> float:
    assert inputs["name"] == "solid_brick"
    listed = usual_build_ups()["solid brick wall, before 1965"].u_w_m2k
    own = [_layer("0.220/0.77"), _layer("0.013/0.57")]
    computed = layers.total_resistance(own, 0.13, 0.04).u_w_m2k
    assert listed is not None
    assert listed == pytest.approx(computed, abs=0.05)
    return listed


QUANTITIES: dict[str, Callable[..., float]] = {
    "rsi": lambda **i: layers.RSI_M2K_W[_direction(i)],
    "rse": lambda **i: layers.RSE_M2K_W,
    "cavity": lambda **i: layers.cavity_resistance_m2k_w(i["thickness"], _direction(i)),
    "r_vented": lambda **i: _vented(i),
    "u_vented": lambda **i: 1.0 / _vented(i),
    "path_clear": lambda **i: _path(i, False),
    "path_bridge": lambda **i: _path(i, True),
    "r": lambda **i: _resistance(i).total_m2k_w,
    "u": lambda **i: _resistance(i).u_w_m2k,
    "upper": lambda **i: _resistance(i).upper_m2k_w,
    "slab": lambda **i: _slab(i),
    "slab_size": lambda **i: _slab_size(i),
    "ground_w_mk": lambda **i: next(v for word, v in ground.GROUND_CONDUCTIVITY_W_MK.items() if i["ground"] in word),
    "perimeter_over_area": lambda **i: 2.0 / ground.characteristic_dimension_m(i["area"], i["perimeter"]),
    "suspended": lambda **i: _suspended(i),
    "library": lambda **i: _library(i),
}


test_published_row = replayed("fabric", __name__, QUANTITIES)


# --- limits and second formulas, derived --------------------------------------------------------------


def test_a_bridge_lies_between_its_limits() -> None:
    own = [LayerResistance(3.0, 0.8, 0.12), LayerResistance(0.5), LayerResistance(0.18, 0.4, 0.12)]
    resistance = layers.total_resistance(own, 0.13, 0.04)
    assert resistance.lower_m2k_w < resistance.total_m2k_w < resistance.upper_m2k_w
    assert resistance.error_bound == pytest.approx(
        (resistance.upper_m2k_w - resistance.lower_m2k_w) / 2.0 / resistance.total_m2k_w
    )


def test_crossed_and_shared_bridges_by_hand() -> None:
    crossed = [LayerResistance(2.0, 1.0, 0.25), LayerResistance(1.0, 0.5, 0.5)]
    shared = [LayerResistance(2.0, 1.0, 0.25, "stud"), LayerResistance(1.0, 0.5, 0.25, "stud")]
    by_sections = 0.375 / 3.2 + 0.375 / 2.7 + 0.125 / 2.2 + 0.125 / 1.7
    assert layers.total_resistance(crossed, 0.1, 0.1).upper_m2k_w == pytest.approx(1.0 / by_sections)
    by_paths = 0.75 / 3.2 + 0.25 / 1.7
    assert layers.total_resistance(shared, 0.1, 0.1).upper_m2k_w == pytest.approx(1.0 / by_paths)


def test_a_bridge_of_the_same_material_is_no_bridge() -> None:
    plain = layers.total_resistance([LayerResistance(2.0)], 0.13, 0.04)
    same = layers.total_resistance([LayerResistance(2.0, 2.0, 0.3)], 0.13, 0.04)
    assert same.total_m2k_w == pytest.approx(plain.total_m2k_w, rel=1e-12)
    assert same.upper_m2k_w == pytest.approx(same.lower_m2k_w, rel=1e-12)


def test_metal_in_insulation_is_beyond_the_method() -> None:
    steel = LayerResistance(0.1 / 0.035, 0.1 / 50.0, 0.01)
    assert not layers.total_resistance([steel, LayerResistance(0.1)], 0.13, 0.04).within_method


def test_slab_formulas_meet_where_they_change() -> None:
    """The two branches of ISO 13370 agree within a few per cent where d_t reaches B'."""
    b_m, wall_m, soil_w_mk = 6.0, 0.3, 2.0
    floor = (b_m - wall_m) / soil_w_mk - 0.21
    below = ground.slab_u_w_m2k(b_m, floor - 1e-6, wall_m, soil_w_mk)
    above = ground.slab_u_w_m2k(b_m, floor + 1e-6, wall_m, soil_w_mk)
    assert above == pytest.approx(below, rel=0.02)


def test_edge_insulation_only_helps_and_vanishes_with_its_width() -> None:
    flat = ground.edge_insulation_psi_w_mk(ground.EdgeStrip(1.0, 0.05, 0.035))
    upright = ground.edge_insulation_psi_w_mk(ground.EdgeStrip(0.5, 0.05, 0.035, upright=True))
    assert flat < 0.0
    assert upright == pytest.approx(flat, rel=1e-12)  # 2 D upright reaches as far as D flat
    assert ground.edge_insulation_psi_w_mk(ground.EdgeStrip(1e-9, 0.05, 0.035)) == pytest.approx(0.0, abs=1e-8)
    same_as_soil = ground.edge_insulation_psi_w_mk(ground.EdgeStrip(1.0, 0.05, 2.0))
    assert same_as_soil == pytest.approx(0.0, abs=1e-12)


def test_cellar_wall_nears_its_limit_and_falls_with_depth() -> None:
    """As z goes to 0 the ISO 13370 wall tends to 3/pi times the wall's own U (derived)."""
    own = 1.0 / (0.13 + 0.5 + 0.04)
    shallow = ground.basement_wall_u_w_m2k(1e-6, 0.5, 5.0)
    assert shallow == pytest.approx(3.0 / math.pi * own, rel=1e-4)
    depths = [ground.basement_wall_u_w_m2k(z, 0.5, 5.0) for z in (0.5, 1.0, 2.0, 3.0)]
    assert depths == sorted(depths, reverse=True)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: layers.layer_resistance_m2k_w(0.1, 0.0), "conductivity_w_mk 0"),
        (lambda: layers.layer_resistance_m2k_w(0.0, 1.0), "thickness_m 0"),
        (lambda: layers.total_resistance([LayerResistance(1.0, 0.5, 1.2)], 0.1, 0.1), "bridge_fraction 1.2"),
        (lambda: layers.total_resistance([LayerResistance(1.0, None, 0.2)], 0.1, 0.1), "bridge"),
        (lambda: layers.cavity_resistance_m2k_w(0.4, "up"), "0.4"),
        (lambda: ground.characteristic_dimension_m(0.0, 10.0), "slab area 0"),
        (lambda: ground.characteristic_dimension_m(10.0, 0.0), "perimeter 0"),
    ],
)
def test_what_makes_no_sense_is_refused(call: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()


def test_corrections_for_gaps_and_fasteners_by_hand() -> None:
    assert layers.air_gap_correction_w_m2k(1, 3.0, 4.0) == pytest.approx(0.01 * 0.5625)
    steel = layers.fastener_correction_w_m2k(layers.Fasteners(50.0, 12.5e-6, 4.0), 0.1, 3.0, 4.0)
    assert steel == pytest.approx(0.8 * 50.0 * 12.5e-6 * 4.0 / 0.1 * 0.5625)


def test_every_row_of_the_library_has_a_source_and_one_value() -> None:
    rows = usual_build_ups().values()
    assert len(rows) > 60
    for row in rows:
        assert row.source.strip()
        assert (row.u_w_m2k is None) != (row.floor_m2k_w is None)
        assert row.u_w_m2k is None or 0.1 <= row.u_w_m2k <= 6.0
