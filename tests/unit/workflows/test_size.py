"""Sizing a whole survey: the right steps in the right order, balances, and what must not matter."""

import tomllib
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

import heatloop as hl
from heatloop.survey.water_system import Bypass
from tests.helpers.paths import DATA

DEMOS = ("alder_draft", "mill_annexe")


@pytest.fixture(scope="module", params=DEMOS)
def design(request):
    return request.getfixturevalue(request.param)


@pytest.fixture(scope="module")
def lodge(alder_draft):
    return alder_draft


def test_residuals_stand_at_1e_9(design):
    for name in ("residual_mass", "residual_head", "residual_energy", "residual_inlet"):
        assert 0 <= design.summary[name] <= 1e-9, name


def test_every_loop_has_its_design_drop(design):
    required = design.survey.project.delta_t_k
    assert np.allclose(design.loops["temperature_drop_k"], required, rtol=0, atol=1e-7)


def test_heat_by_coolprop_enthalpy_is_the_heat_of_the_tables(design):
    """Flow times the difference of CoolProp's own enthalpies against useful heat and pipe losses."""
    from CoolProp.CoolProp import PropsSI

    state = design.operation
    for loop, flow, supply_c, return_c in zip(
        design.loops.to_dict("records"), state.loop_flow_kg_s, state.supply_c, state.return_c, strict=True
    ):
        enthalpy = [PropsSI("H", "T", t + 273.15, "P", 250_000.0, "Water") for t in (supply_c, return_c)]
        given = flow * (enthalpy[0] - enthalpy[1])
        assert given == pytest.approx(loop["heat_to_rooms_w"] + loop["pipe_loss_w"] + loop["downward_loss_w"], rel=2e-9)


def test_elements_follow_each_other(design):
    """In each channel the water enters an element as it left the one before."""
    skirting = design.elements[design.elements["channel"] > 0]
    for _, rows in skirting.groupby(["loop", "arm", "channel"]):
        assert np.allclose(rows["inlet_temp_c"].to_numpy()[1:], rows["outlet_temp_c"].to_numpy()[:-1], atol=1e-10)


def test_pressure_drops_add_up_to_the_pump_head(lodge):
    """Along every way through a loop without parallel channels, trunks included, the drops sum to the head."""
    elements, head = lodge.elements, lodge.summary["pump_head_kpa"] * 1000.0
    trunk = elements[elements["kind"] == "trunk"].groupby("label")["pressure_drop_pa"].sum()
    for name, way in (("Kitchen", ["ground floor"]), ("Bedrooms", ["ground floor", "upstairs"])):
        drops = elements[elements["loop"] == name]["pressure_drop_pa"].sum() + trunk[way].sum()
        assert drops == pytest.approx(head, rel=1e-9)


def test_index_loop_is_open_and_the_others_are_throttled(lodge):
    index = lodge.loops[lodge.loops["is_index_loop"]]
    assert list(index["loop"]) == [lodge.summary["index_loop"]]
    valves = lodge.valves[lodge.valves["is_balancing"]]
    at_index = valves[valves["loop"] == lodge.summary["index_loop"]]
    assert np.allclose(at_index["calculated_setting"], 6)
    assert (valves[valves["loop"] != lodge.summary["index_loop"]]["calculated_setting"] < 5.99).all()


def test_both_arms_of_the_loop_from_the_middle_return_at_the_same_temperature(lodge):
    along = lodge.temperature_profile
    home = along[(along["loop"] == "Living room") & (along["direction"] == "return")]
    last = home.groupby("arm")["water_temp_c"].last()
    assert last[1] == pytest.approx(last[2], abs=1e-6)


def test_the_demo_fails_where_it_is_meant_to(lodge):
    failed = lodge.checks[lodge.checks["verdict"] == "fail"]
    assert list(failed["location"]) == ["Kitchen-diner"]
    assert failed["recommendation"].str.len().min() > 20


LOOP_FIGURES = ["flow_l_h", "heat_to_rooms_w", "pressure_drop_kpa", "valve_kv_m3_h"]
ROOM_FIGURES = ["heat_loss_w", "heat_to_rooms_w", "heated_length_m", "free_wall_m"]


def figures(table, columns):
    """The columns as an array that is compared to nine digits."""
    return pytest.approx(table[columns].to_numpy(dtype=float), rel=1e-9, abs=1e-9, nan_ok=True)


def test_names_and_order_of_loops_do_not_matter(lodge):
    survey = lodge.survey
    renamed = tuple(replace(loop, name=f"loop {i}") for i, loop in enumerate(survey.loops))
    other = hl.size(replace(survey, loops=renamed))
    assert list(other.loops["loop"]) == [loop.name for loop in renamed]
    assert other.loops[LOOP_FIGURES].to_numpy(dtype=float) == figures(lodge.loops, LOOP_FIGURES)
    turned = hl.size(replace(survey, loops=survey.loops[::-1]))
    reverse = turned.loops.iloc[::-1].reset_index(drop=True)
    assert list(reverse["loop"]) == list(lodge.loops["loop"])
    assert reverse[LOOP_FIGURES].to_numpy(dtype=float) == figures(lodge.loops, LOOP_FIGURES)


@pytest.mark.parametrize("shift", [1, 4])
def test_the_wall_a_survey_starts_with_does_not_matter(lodge, shift):
    """The living room listed from another starting wall, its routes renumbered to match."""
    survey = lodge.survey
    room = survey.room("Living room")
    count = len(room.walls)
    bearing = room.first_wall_bearing_deg + sum(wall.turn_deg for wall in room.walls[:shift])
    turned = replace(room, walls=room.walls[shift:] + room.walls[:shift], first_wall_bearing_deg=bearing % 360)

    def renumber(item):
        if getattr(item, "room", None) != room.name or not hasattr(item, "walls"):
            return item
        return replace(item, walls=tuple((wall - 1 - shift) % count + 1 for wall in item.walls))

    loops = tuple(
        replace(loop, arms=tuple(tuple(renumber(item) for item in arm) for arm in loop.arms)) for loop in survey.loops
    )
    rooms = tuple(turned if other.name == room.name else other for other in survey.rooms)
    other = hl.size(replace(survey, rooms=rooms, loops=loops))
    assert other.loops[LOOP_FIGURES].to_numpy(dtype=float) == figures(lodge.loops, LOOP_FIGURES)
    assert other.rooms[ROOM_FIGURES].to_numpy(dtype=float) == figures(lodge.rooms, ROOM_FIGURES)


def test_a_drop_out_of_reach_is_a_fault_that_names_the_greatest(lodge):
    survey = lodge.survey
    with pytest.raises(
        hl.InputError, match=r'loop "[^"]+", delta_t_k: found a design drop of 27 K; required: at most \d'
    ) as caught:
        hl.size(replace(survey, project=replace(survey.project, delta_t_k=27.0)))
    assert "Traceback" not in str(caught.value)


def test_the_greatest_drop_named_can_be_reached(lodge):
    survey = lodge.survey
    with pytest.raises(hl.InputError) as caught:
        hl.size(replace(survey, project=replace(survey.project, delta_t_k=27.0)))
    fault = caught.value.issues[0]
    name = fault.place.split('"')[1]
    greatest = float(fault.required.split("at most ")[1].split(" K")[0])
    loops = tuple(replace(loop, delta_t_k=greatest, trunk=None) for loop in survey.loops if loop.name == name)
    reached = hl.size(replace(survey, loops=loops, trunks=()))
    assert reached.loops["temperature_drop_k"].iloc[0] == pytest.approx(greatest, abs=1e-6)


def test_sizing_by_loss_takes_the_least_flow_that_keeps_rooms_warm(lodge):
    survey = lodge.survey
    by_loss = hl.size(replace(survey, project=replace(survey.project, size_by="loss")))
    for loop in by_loss.loops.to_dict("records"):
        rooms = by_loss.rooms[by_loss.rooms["room"].isin(loop["rooms"].split(", "))]
        assert rooms["margin_w"].min() == pytest.approx(0.0, abs=1e-3), loop["loop"]
        assert loop["temperature_drop_k"] > 2.0


def test_a_room_cold_at_any_flow_gets_the_design_drop_when_sizing_by_loss(lodge):
    survey = lodge.survey
    rooms = tuple(
        replace(room, heat_loss_w=3000.0, heat_loss_source="a test") if room.name == "Kitchen-diner" else room
        for room in survey.rooms
    )
    cold = hl.size(replace(survey, rooms=rooms, project=replace(survey.project, size_by="loss")))
    kitchen = cold.loops.set_index("loop").loc["Kitchen"]
    assert kitchen["temperature_drop_k"] == pytest.approx(survey.project.delta_t_k, abs=1e-6)
    assert "Kitchen-diner" in set(cold.checks[cold.checks["verdict"] == "fail"]["location"])


def test_tables_handed_out_are_copies(lodge):
    handed_out = lodge.loops
    handed_out["flow_l_h"] = 0.0
    assert (lodge.loops["flow_l_h"] > 0).all()


def test_json_form_is_plain(lodge):
    import json

    form = json.loads(json.dumps(lodge.to_dict(), allow_nan=False))
    assert form["schema_version"] == 2
    assert {"loops", "rooms", "elements", "checks", "summary"} <= set(form)
    assert len(form["loops"]) == len(lodge.loops)


def test_survey_files_are_utf8_toml():
    for demo in ("alder-lodge", "mill-annexe"):
        tables = tomllib.loads((DATA / demo / "survey.toml").read_text(encoding="utf-8"))
        survey = hl.read_survey(DATA / demo / "survey.toml")
        assert [room["name"] for room in tables["room"]] == [room.name for room in survey.rooms]


def with_bypass_flows(design, state_kg_s, achieved_kg_s):
    """The system of a design with those flows through a bypass, as sized and with nearest settings."""
    network = SimpleNamespace(bypasses=(Bypass("open", 0.5),))
    flows = {"state": state_kg_s, "achieved": achieved_kg_s}
    states = {
        name: SimpleNamespace(network=network, bypass_kg_s=np.array([flow_kg_s])) for name, flow_kg_s in flows.items()
    }
    return replace(design.system, **states)


@pytest.mark.parametrize(("state_kg_s", "achieved_kg_s"), [(-1e-4, 0.01), (0.01, -1e-4)])
def test_return_water_through_a_bypass_is_one_line_with_a_remedy(monkeypatch, alder_lodge, state_kg_s, achieved_kg_s):
    """As where buoyancy draws more than a trunk lets through."""
    system = with_bypass_flows(alder_lodge, state_kg_s, achieved_kg_s)
    monkeypatch.setattr("heatloop.workflows.size.sized_system", lambda *_: system)
    with pytest.raises(hl.InputError, match=r'bypass "open": found flow from the return .*; required: an opening'):
        hl.size(alder_lodge.survey)


def test_a_flow_that_rounding_reverses_is_no_return_water_through_a_bypass(alder_lodge):
    assert with_bypass_flows(alder_lodge, 0.01, -1e-9).reversed_bypass is None
