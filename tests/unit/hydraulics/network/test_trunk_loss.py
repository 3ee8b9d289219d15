"""Heat loss of trunks: temperatures by hand, balances by enthalpy, and designs sized for what reaches their loops."""

from dataclasses import replace

import numpy as np
import pytest

import heatloop as hl
from heatloop.hydraulics.network import trunk_loss
from heatloop.hydraulics.network.build import PipeworkInput, build_network
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.solver.operating_state import OperatingConditions, solve_state
from heatloop.hydraulics.solver.scenarios import Scenarios, solve_scenarios
from heatloop.physics.heat_transfer import pipe_loss_w_mk
from heatloop.physics.water import plain_water
from heatloop.survey.water_system import Bypass, Trunk
from tests.helpers.dwelling import PIPES, loop_path
from tests.helpers.paths import DATA

WATER = plain_water()
AROUND_C = 12.0
LODGE = DATA / "alder-lodge" / "draft.toml"
TREE = (
    Trunk("a", "trunk 28", 10.0),
    Trunk("b", "trunk 22", 12.0, from_trunk="a", around_c=-5.0),
    Trunk("cool", "trunk 22", 12.0, from_trunk="a", mixed_to_c=40.0),
    Trunk("d", "trunk 22", 6.0, from_trunk="b", reverse_return=True),
    Trunk("e", "trunk 22", 6.0, from_trunk="d", reverse_return=True),
)


def tree(lose_to_c=AROUND_C):
    paths = [loop_path(f"on {name}", name, 1.5) for name in ("a", "b", "cool", "d", "e", "e")]
    return build_network(paths, PipeworkInput(TREE, PIPES, [Bypass("open", 0.2, "e")], lose_to_c=lose_to_c))


def solved(system):
    maximum = np.array([40.0 if loop.loop.trunk == "cool" else 60.0 for loop in system.loops])
    return solve_state(
        system, OperatingConditions(maximum, [ConstantHead(9000.0), ConstantHead(5000.0)], source_c=60.0), WATER
    )


def enthalpy(temp_c):
    return WATER.enthalpy_j_kg(np.asarray(temp_c, float))


def place_of(system, label, direction):
    return next(
        i for i, p in enumerate(system.locations) if p.element.label == label and p.element.direction == direction
    )


def per_metre(pipe):
    return pipe_loss_w_mk(pipe.outside_mm, pipe.insulation_mm, pipe.insulation_conductivity_w_mk)


def test_a_trunk_cools_its_water_as_a_pipe_does_by_hand():
    system = build_network([loop_path("loop", "a", 1.5)], PipeworkInput(TREE[:1], PIPES, lose_to_c=AROUND_C))
    state = solve_state(system, OperatingConditions(np.array([60.0]), [ConstantHead(4000.0)]), WATER)
    loss_w_k = per_metre(PIPES["trunk 28"]) * 10.0
    flow, now = float(state.loop_flow_kg_s[0]), 60.0
    for _ in range(20):  # the mean heat capacity between both ends
        cp = float((enthalpy(60.0) - enthalpy(now)) / (60.0 - now)) if now < 60.0 else 4180.0
        now = AROUND_C + (60.0 - AROUND_C) * np.exp(-loss_w_k / (flow * cp))
    assert state.supply_c[0] == pytest.approx(now, abs=1e-8)
    assert state.main_loss_w[0] == pytest.approx(flow * float(enthalpy(60.0) - enthalpy(now)), rel=1e-8)
    assert state.source_return_c < state.return_c[0]


def test_every_joule_of_the_source_is_in_a_loop_or_lost_on_the_way():
    system = tree()
    state = solved(system)
    ends = enthalpy([60.0, state.source_return_c])
    loops_w = state.loop_flow_kg_s * (enthalpy(state.supply_c) - enthalpy(state.return_c))
    source_w = state.total_flow_kg_s * float(ends[0] - ends[1])
    assert source_w == pytest.approx(float(loops_w.sum() + state.main_loss_w.sum()), rel=1e-9)
    assert state.given_w == pytest.approx(source_w, rel=1e-9)
    assert (state.main_loss_w > 0.0).all()
    assert max(state.residual_mass, state.residual_head, state.residual_energy, state.residual_inlet) < 1e-9


def test_water_is_cooler_from_trunk_to_trunk_and_returns_mix_less_what_was_lost():
    system = tree()
    state = solved(system)
    on_a, on_b, on_cool, on_d, on_e, also_on_e = state.supply_c
    assert 60.0 > on_a > on_b > on_d > on_e == also_on_e
    assert on_cool < 40.0
    for name in ("a", "b", "d"):
        out, home = (place_of(system, name, way) for way in ("flow", "return"))
        assert state.temp_out_c[out] < state.temp_in_c[out]
        assert state.temp_out_c[home] < state.temp_in_c[home]
        for way in (out, home):
            link = system.shared_pipework.links[system.locations[way].main]
            lost = float(state.flow_kg_s[way] * (enthalpy(state.temp_in_c[way]) - enthalpy(state.temp_out_c[way])))
            assert lost == pytest.approx(float(state.main_loss_w[system.locations[way].main]), rel=1e-7)
            assert link.around_c == (-5.0 if name == "b" else AROUND_C)


def test_a_mixed_circuit_has_no_more_than_reaches_its_mixing_point():
    weak = replace(TREE[0], length_m=150.0)
    system = build_network(
        [loop_path("loop", "cool", 1.5)], PipeworkInput((weak, replace(TREE[2], mixed_to_c=59.5)), PIPES, lose_to_c=0.0)
    )
    state = solve_state(
        system,
        OperatingConditions(np.array([59.5]), [ConstantHead(9000.0), ConstantHead(5000.0)], source_c=60.0),
        WATER,
    )
    assert state.circuit_c[1] == pytest.approx(float(state.temp_out_c[place_of(system, "a", "flow")]), abs=1e-9)
    assert state.circuit_c[1] < 58.0
    assert state.residual_energy < 1e-9


def test_scenarios_lose_what_single_solves_lose():
    system = tree()
    heads = np.array([[9000.0, 3000.0], [5000.0, 2000.0]])
    many = solve_scenarios(system, Scenarios(flow_temp_c=np.array([60.0, 45.0]), head_pa=heads), WATER)
    for s, (source_c, head) in enumerate(zip((60.0, 45.0), heads.T, strict=True)):
        maximum = np.array([min(source_c, 40.0 if loop.loop.trunk == "cool" else 60.0) for loop in system.loops])
        one = solve_state(
            system, OperatingConditions(maximum, [ConstantHead(float(h)) for h in head], source_c=source_c), WATER
        )
        assert many.loop_flow_kg_s[:, s] == pytest.approx(one.loop_flow_kg_s, rel=1e-6)
        assert many.circuit_return_c[:, s] == pytest.approx(one.circuit_return_c, abs=1e-5)


@pytest.mark.parametrize(("name", "limit_c"), [("alder_draft", 50.0), ("harbour_loft", 52.0)])
def test_loops_are_sized_for_the_water_that_reaches_them_and_come_back_as_rated(name, limit_c, request):
    design = request.getfixturevalue(name)
    required = [
        design.survey.project.delta_t_k if loop.delta_t_k is None else loop.delta_t_k for loop in design.survey.loops
    ]
    assert (design.loops["flow_temp_c"] < limit_c).all()
    assert design.loops["temperature_drop_k"].to_numpy() == pytest.approx(np.array(required), abs=1e-6)
    rated = hl.simulate(design, settings="calculated", thermostats=False, pump_head_kpa=design.summary["pump_head_kpa"])
    assert rated.loops["flow_l_h"].to_numpy() == pytest.approx(design.loops["flow_l_h"].to_numpy(), rel=1e-6)
    assert rated.summary["trunk_loss_w"] == pytest.approx(design.summary["trunk_loss_w"], rel=1e-6)
    assert design.summary["trunk_loss_w"] > 0.0


def test_pipe_losses_left_out_leave_trunks_out_too():
    survey = hl.read_survey(LODGE)
    design = hl.size(replace(survey, project=replace(survey.project, pipe_losses=False)))
    assert design.summary["trunk_loss_w"] == 0.0
    assert (design.loops["flow_temp_c"] == 50.0).all()


def test_a_colder_way_loses_more_and_the_assumption_goes_when_it_is_known():
    survey = hl.read_survey(LODGE)
    known = replace(survey, trunks=tuple(replace(trunk, around_c=-3.0) for trunk in survey.trunks))
    assumed, stated = hl.size(survey), hl.size(known)
    assert stated.summary["trunk_loss_w"] > 1.5 * assumed.summary["trunk_loss_w"]
    guess = "the mean of the rooms"
    assert assumed.assumptions["assumption"].str.contains(guess).sum() == 1
    assert stated.assumptions["assumption"].str.contains(guess).sum() == 0


def test_temperatures_of_trunks_settle_by_themselves(monkeypatch):
    """Without a limit of passes that could be reached, the iteration ends where nothing moves."""
    monkeypatch.setattr(trunk_loss, "PASSES", 10**6)
    shared = tree().shared_pipework
    streams, back_c = np.zeros(shared.on_link.shape[1]), np.zeros(shared.on_link.shape[1])
    streams[shared.loop_streams], back_c[shared.loop_streams] = 0.03, 35.0
    streams[shared.bypass_streams] = 0.01
    circuit_c = np.array([[60.0], [40.0]])
    loop_c = np.array([40.0 if trunk == "cool" else 60.0 for trunk in ("a", "b", "cool", "d", "e", "e")])
    found = trunk_loss.solve_trunk_temperatures(shared, streams, back_c, circuit_c, loop_c, WATER)
    for link, inlet_c, outlet_c in zip(shared.links, found.inlet_c, found.outlet_c, strict=True):
        assert link.around_c < outlet_c < inlet_c <= 60.0
