"""Trunks, reverse return, bypasses, mixed circuits, tees and the lift of warm water: balances and orders of size."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from fluids.fittings import (
    K_branch_diverging_Crane,
    K_run_diverging_Crane,
)

from heatloop.hydraulics.analysis.loop_isolation import isolate_each_loop
from heatloop.hydraulics.network.build import Levels, PipeworkInput, build_network
from heatloop.hydraulics.network.shared_pipework import build_shared_pipework, from_source_outwards
from heatloop.hydraulics.pumps import (
    ConstantHead,
    LimitedByCurve,
    ProportionalHead,
    PumpCurveAtSpeed,
    pump_as_commissioned,
    pump_characteristic,
)
from heatloop.hydraulics.solver.heat_state import HeatState
from heatloop.hydraulics.solver.operating_state import OperatingConditions, solve_state
from heatloop.hydraulics.solver.problem import CLOSED_KG_S
from heatloop.physics.water import plain_water
from heatloop.survey.water_system import Bypass, PumpCurve, Trunk
from tests.helpers.dwelling import PIPES, loop_path

WATER = plain_water()
ROW = (
    Trunk("one", "trunk 28", 5.0),
    Trunk("two", "trunk 28", 10.0, from_trunk="one"),
    Trunk("three", "trunk 28", 10.0, from_trunk="two"),
)
ONE = Trunk("one", "trunk 28", 5.0)
TWO = Trunk("two", "trunk 22", 10.0, from_trunk="one")
THREE = Trunk("three", "trunk 22", 8.0, from_trunk="two")


def loops_on(trunks, count=2):
    return [loop_path(f"{trunk} {i}", trunk, 1.2) for trunk in trunks for i in range(count)]


def enthalpy(temp_c):
    return WATER.enthalpy_j_kg(np.asarray(temp_c, float))


def test_direct_return_starves_the_far_loop_and_reverse_return_evens_them_out():
    paths = loops_on(["one", "two", "three"], 1)
    supply = np.full(3, 50.0)
    direct = solve_state(
        build_network(paths, PipeworkInput(ROW, PIPES)), OperatingConditions(supply, [ConstantHead(3000.0)]), WATER
    )
    turned = tuple(replace(t, reverse_return=True) if t.from_trunk else t for t in ROW)
    system = build_network(paths, PipeworkInput(turned, PIPES))
    even = solve_state(system, OperatingConditions(supply, [ConstantHead(3000.0)]), WATER)
    assert np.all(np.diff(direct.loop_flow_kg_s) < 0.0)
    spread = [float(np.ptp(state.loop_flow_kg_s) / state.loop_flow_kg_s.mean()) for state in (direct, even)]
    assert spread[1] < 0.5 * spread[0]
    returns = [i for i, place in enumerate(system.locations) if "reverse-return pipe" in place.element.label]
    assert [system.locations[i].element.length_m for i in returns] == [20.0]
    assert even.flow_kg_s[returns] == pytest.approx(even.total_flow_kg_s, rel=1e-12)
    returns = {
        p.element.label: even.flow_kg_s[i] for i, p in enumerate(system.locations) if p.element.direction == "return"
    }
    assert returns["two"] == pytest.approx(even.loop_flow_kg_s[0], rel=1e-12)
    assert returns["three"] == pytest.approx(even.loop_flow_kg_s[:2].sum(), rel=1e-12)


def test_return_temperature_of_a_trunk_is_the_mixture_of_what_it_carries():
    system = build_network(loops_on(["one", "two"]), PipeworkInput(ROW, PIPES))
    state = solve_state(system, OperatingConditions(np.full(4, 55.0), [ConstantHead(4000.0)]), WATER)
    place = next(
        i for i, p in enumerate(system.locations) if p.element.label == "two" and p.element.direction == "return"
    )
    flow, temp = state.loop_flow_kg_s[2:], state.return_c[2:]
    assert float(enthalpy(state.temp_in_c[place])) == pytest.approx(
        float(flow @ enthalpy(temp) / flow.sum()), rel=1e-12
    )
    assert state.flow_kg_s[place] == pytest.approx(flow.sum(), rel=1e-12)


@pytest.mark.parametrize("mixed_to_c", [45.0, 60.0, 75.0])
def test_a_mixed_trunk_balances_mass_and_heat_at_its_mixing_point(mixed_to_c):
    trunks = (ROW[0], Trunk("cool", "trunk 22", 6.0, from_trunk="one", mixed_to_c=mixed_to_c))
    system = build_network(loops_on(["one", "cool"]), PipeworkInput(trunks, PIPES))
    loop_temp_c = min(mixed_to_c, 70.0)
    supply = np.array([70.0, 70.0, loop_temp_c, loop_temp_c])
    state = solve_state(
        system, OperatingConditions(supply, [ConstantHead(6000.0), ConstantHead(4000.0)], source_c=70.0), WATER
    )
    secondary, back_c, drawn = state.circuit_flow_kg_s[1], state.circuit_return_c[1], state.drawn_kg_s[0]
    assert secondary == pytest.approx(state.loop_flow_kg_s[2:].sum(), rel=1e-12)
    mixture = drawn * enthalpy(70.0) + (secondary - drawn) * enthalpy(back_c)
    assert float(mixture) == pytest.approx(float(secondary * enthalpy(loop_temp_c)), rel=1e-10)
    assert drawn == pytest.approx(secondary, rel=1e-12) if mixed_to_c >= 70.0 else drawn < secondary
    assert state.total_flow_kg_s == pytest.approx(state.loop_flow_kg_s[:2].sum() + drawn, rel=1e-12)
    taken = state.total_flow_kg_s * (enthalpy(70.0) - enthalpy(state.source_return_c))
    given = state.loop_flow_kg_s * (enthalpy(supply) - enthalpy(state.return_c))
    assert float(taken) == pytest.approx(float(given.sum()), rel=1e-9)
    assert max(state.residual_mass, state.residual_head, state.residual_energy) < 1e-8


def test_a_bypass_passes_what_its_kv_lets_through_at_the_differential_there():
    system = build_network(loops_on(["one"]), PipeworkInput(ROW[:1], PIPES, [Bypass("b", 0.4, "one")]))
    state = solve_state(system, OperatingConditions(np.full(2, 50.0), [ConstantHead(5000.0)]), WATER)
    differential = float(np.diff(state.pressure_pa[system.loop_nodes[0]])[0]) * -1.0
    density = float(WATER.density_kg_m3(50.0))
    assert state.bypass_kg_s[0] == pytest.approx(
        0.4 / 3600.0 * np.sqrt(differential / 1e5 * 1000.0 * density), rel=1e-9
    )
    assert state.total_flow_kg_s == pytest.approx(state.loop_flow_kg_s.sum() + state.bypass_kg_s[0], rel=1e-12)
    taken = state.total_flow_kg_s * (enthalpy(50.0) - enthalpy(state.source_return_c))
    given = (state.loop_flow_kg_s * (enthalpy(50.0) - enthalpy(state.return_c))).sum()
    assert float(taken) == pytest.approx(float(given), rel=1e-9)


def test_a_bypass_with_an_opening_pressure_holds_shut_below_it_and_keeps_it_above():
    system = build_network(
        loops_on(["one"]), PipeworkInput(ROW[:1], PIPES, [Bypass("b", 0.4, "one", opens_at_kpa=6.0)])
    )
    supply = np.full(2, 50.0)
    below = solve_state(system, OperatingConditions(supply, [ConstantHead(5500.0)]), WATER)
    assert below.bypass_kg_s[0] == 0.0
    above = solve_state(
        system,
        OperatingConditions(supply, [PumpCurveAtSpeed((0.0, 2e-4), (9000.0, 5000.0))], held_kg_s=np.array([0.0, 5e-3])),
        WATER,
    )
    differential = float(np.diff(above.pressure_pa[system.loop_nodes[0]])[0]) * -1.0
    passed = 0.4 / 3600.0 * np.sqrt((differential - 6000.0) / 1e5 * 1000.0 * float(WATER.density_kg_m3(50.0)))
    assert above.bypass_kg_s[0] > 0.0
    assert above.bypass_kg_s[0] == pytest.approx(passed, rel=1e-8)
    assert max(above.residual_mass, above.residual_head) < 1e-8


def test_tees_take_what_the_coefficients_of_the_library_give_on_the_flow_side():
    system = build_network(loops_on(["one"], 3), PipeworkInput(ROW[:1], PIPES, tees=True))
    state = solve_state(system, OperatingConditions(np.full(3, 50.0), [ConstantHead(5000.0)]), WATER)
    tees = [i for i, p in enumerate(system.locations) if p.element.kind == "tee" and p.element.direction == "flow"]
    assert [system.locations[i].loop for i in tees] == [0, 1, 2]
    density, area = float(WATER.density_kg_m3(50.0)), np.pi * 0.0262**2 / 4.0
    first, second, third = state.loop_flow_kg_s / density
    dynamic = [0.5 * density * (q / area) ** 2 for q in (first + second + third, second + third)]
    bores = (0.0262, 0.0136)
    straight = K_run_diverging_Crane(*bores, second + third, first) * dynamic[0]
    required = [
        K_branch_diverging_Crane(*bores, second + third, first) * dynamic[0],
        straight + K_branch_diverging_Crane(*bores, third, second) * dynamic[1],
        straight + K_run_diverging_Crane(*bores, third, second) * dynamic[1],
    ]
    assert state.drop_pa[tees] == pytest.approx(required, rel=1e-9)
    assert max(state.residual_mass, state.residual_head) < 1e-8


def test_warm_water_lifts_the_flow_of_a_loop_upstairs_by_its_weight_alone():
    """Without a pump the friction of the loop equals g h (rho return - rho flow)."""
    path = loop_path("upstairs", None, 1.2, kv_m3_h=1.3, rooms_c=(20.0,))
    state = solve_state(
        build_network([path], levels=Levels({"room": 5.0})),
        OperatingConditions(np.array([60.0]), [ConstantHead(0.0)]),
        WATER,
    )
    tail_in, tail_out = float(WATER.density_kg_m3(60.0)), float(WATER.density_kg_m3(state.return_c[0]))
    assert state.loop_flow_kg_s[0] > 1e-3
    assert state.drop_pa.sum() == pytest.approx(9.80665 * 5.0 * (tail_out - tail_in), rel=1e-6)


def test_affinity_laws_and_the_ends_of_a_pump_curve():
    curve = PumpCurveAtSpeed((0.0, 1e-4, 2e-4), (20e3, 17e3, 9e3))
    at = np.array([0.0, 0.7e-4, 2e-4, 3e-4])
    full, _ = curve.head_pa(at)
    half, _ = replace(curve, speed=0.5).head_pa(at * 0.5)
    assert half == pytest.approx(0.25 * full, rel=1e-12)
    assert full[0] == 20e3
    assert full[2] == pytest.approx(9e3)
    assert full[3] == pytest.approx(9e3 - 8e3)
    step = 1e-9
    for flow in (0.3e-4, 1.5e-4, 2.5e-4):
        (low, high), slope = (
            curve.head_pa(np.array([flow - step, flow + step]))[0],
            curve.head_pa(np.array([flow]))[1][0],
        )
        assert (high - low) / (2 * step) == pytest.approx(slope, rel=1e-5)


def test_pumps_run_as_the_survey_or_the_commissioning_sets_them():
    points = {"flow_m3_h": (0.0, 0.5, 1.0), "head_kpa": (30.0, 25.0, 12.0)}
    constant = pump_characteristic(PumpCurve(**points, constant_kpa=20.0))
    assert isinstance(constant, LimitedByCurve)
    assert constant.head_pa(np.array([0.0, 1.0 / 3600.0]))[0] == pytest.approx([20e3, 12e3])
    proportional = pump_characteristic(PumpCurve(**points, proportional_kpa=20.0, proportional_m3_h=0.5))
    assert proportional.head_pa(np.array([0.0, 0.5 / 3600.0]))[0] == pytest.approx([10e3, 20e3])
    set_down = pump_as_commissioned(PumpCurve(**points), 0.4 / 3600.0, 11e3)
    assert set_down.head_pa(np.array([0.4 / 3600.0]))[0][0] == pytest.approx(11e3, rel=1e-10)
    assert pump_as_commissioned(PumpCurve(**points), 0.4 / 3600.0, 99e3).speed == 1.0
    assert pump_as_commissioned(PumpCurve(**points, speed=0.8), 0.4 / 3600.0, 11e3).speed == 0.8
    assert pump_as_commissioned(None, 0.4 / 3600.0, 11e3) == ConstantHead(11e3)


@pytest.mark.parametrize(
    "drive", [PumpCurveAtSpeed((0.0, 1e-4, 4e-4), (9e3, 8e3, 2e3)), ProportionalHead(6e3, 2e-4), ConstantHead(5e3)]
)
def test_the_duty_point_lies_on_the_law_of_the_pump(drive):
    system = build_network(loops_on(["one", "two"]), PipeworkInput(ROW, PIPES))
    state = solve_state(system, OperatingConditions(np.full(4, 50.0), [drive]), WATER)
    flow = np.array([state.total_flow_kg_s / float(WATER.density_kg_m3(50.0))])
    assert state.head_pa == pytest.approx(drive.head_pa(flow)[0][0], rel=1e-10)
    assert max(state.residual_mass, state.residual_head, state.residual_energy) < 1e-8


def test_shutting_a_loop_is_what_a_whole_solve_with_it_shut_comes_to():
    system = build_network(loops_on(["one", "two"]), PipeworkInput(ROW, PIPES))
    drive = PumpCurveAtSpeed((0.0, 1e-4, 4e-4), (9e3, 8e3, 2e3))
    supply = np.full(4, 50.0)
    state = solve_state(system, OperatingConditions(supply, [drive]), WATER)
    shut = isolate_each_loop(state, [drive], WATER.density_kg_m3(state.circuit_c))
    held = np.array([np.inf, 0.0, np.inf, np.inf])
    whole = solve_state(system, OperatingConditions(supply, [drive], held_kg_s=held), WATER)
    assert shut.loop_flow_kg_s[:, 1] == pytest.approx(whole.loop_flow_kg_s, rel=2e-4)
    assert shut.head_pa[0, 1] == pytest.approx(whole.head_pa, rel=2e-4)
    assert shut.loop_flow_kg_s[1, 1] == 0.0
    assert np.all(shut.loop_flow_kg_s[[0, 2, 3], 1] > state.loop_flow_kg_s[[0, 2, 3]])


def test_a_source_of_unknown_temperature_is_as_warm_as_the_warmest_loop():
    trunks = (ROW[0], Trunk("cool", "trunk 22", 6.0, from_trunk="one", mixed_to_c=45.0))
    system = build_network(loops_on(["one", "cool"]), PipeworkInput(trunks, PIPES))
    supply, pumps = np.array([70.0, 65.0, 45.0, 45.0]), [ConstantHead(6000.0), ConstantHead(4000.0)]
    silent = solve_state(system, OperatingConditions(supply, pumps), WATER)
    stated = solve_state(system, OperatingConditions(supply, pumps, source_c=70.0), WATER)
    warmer = solve_state(system, OperatingConditions(supply, pumps, source_c=80.0), WATER)
    assert silent.drawn_kg_s == pytest.approx(stated.drawn_kg_s, rel=1e-12)
    assert warmer.drawn_kg_s[0] < 0.9 * silent.drawn_kg_s[0]


def test_a_mixed_circuit_under_a_mixed_circuit_takes_its_water_from_it():
    """Source 70, mixed to 50, and that mixed to 40: each mixing point balances mass and heat."""
    trunks = (
        Trunk("one", "trunk 28", 5.0, mixed_to_c=50.0),
        Trunk("cool", "trunk 22", 6.0, from_trunk="one", mixed_to_c=40.0),
    )
    system = build_network(loops_on(["one", "cool"]), PipeworkInput(trunks, PIPES))
    supply = np.array([50.0, 50.0, 40.0, 40.0])
    pumps = [ConstantHead(6000.0), ConstantHead(6000.0), ConstantHead(4000.0)]
    state = solve_state(system, OperatingConditions(supply, pumps, source_c=70.0), WATER)
    for number, (before_c, loop_temp_c) in enumerate(((70.0, 50.0), (50.0, 40.0)), start=1):
        flow, back_c = state.circuit_flow_kg_s[number], state.circuit_return_c[number]
        drawn = state.drawn_kg_s[number - 1]
        mixture = drawn * enthalpy(before_c) + (flow - drawn) * enthalpy(back_c)
        assert float(mixture) == pytest.approx(float(flow * enthalpy(loop_temp_c)), rel=1e-10)
        assert 0.0 < drawn < flow
    assert state.total_flow_kg_s == pytest.approx(state.drawn_kg_s[0], rel=1e-10)
    taken = state.total_flow_kg_s * (enthalpy(70.0) - enthalpy(state.source_return_c))
    given = state.loop_flow_kg_s * (enthalpy(supply) - enthalpy(state.return_c))
    assert float(taken) == pytest.approx(float(given.sum()), rel=1e-9)


def test_a_loop_that_has_shut_opens_at_twice_the_flow_at_which_it_shut():
    """What hovers about the limit neither opens nor shuts at every step."""
    state = object.__new__(HeatState)
    state.shut = np.zeros((4, 1), bool)
    flows = CLOSED_KG_S * np.array([[0.9], [1.0], [1.5], [3.0]])
    assert state._shut_now(flows)
    assert state.shut[:, 0].tolist() == [True, True, False, False]
    assert state._shut_now(flows * 1.9)
    assert state.shut[:, 0].tolist() == [True, True, False, False]
    assert state._shut_now(flows * 2.1)
    assert state.shut[:, 0].tolist() == [True, False, False, False]
    assert not state._shut_now(flows * 3.0)
    assert not state.shut.any()


@pytest.mark.parametrize(
    ("trunks", "hanging", "sides"),
    [
        ((ONE,), ("one",), {}),
        ((ONE,), ("one", "one"), {"one": ("flow", "return")}),
        ((ONE, TWO), ("two",), {}),
        ((ONE, TWO), ("one", "two"), {"one": ("flow", "return")}),
        ((ONE, TWO, THREE), ("three", "two", "three"), {"two": ("flow", "return"), "three": ("flow", "return")}),
        ((ONE,), (None, None, "one"), {}),
    ],
)
def test_tees_are_where_water_divides(
    trunks: tuple[Trunk, ...], hanging: tuple[str | None, ...], sides: dict[str, tuple[str, ...]]
) -> None:
    assert build_shared_pipework(trunks, PIPES, hanging).branching() == sides


def test_a_bypass_is_a_branch_too() -> None:
    assert build_shared_pipework((ONE,), PIPES, ("one",), [Bypass("b", 0.4, "one")]).branching() == {
        "one": ("flow", "return")
    }


def test_water_that_comes_back_another_way_has_tees_on_the_flow_alone() -> None:
    turned = Trunk("two", "trunk 22", 10.0, from_trunk="one", reverse_return=True)
    found = build_shared_pipework((ONE, turned), PIPES, ("one", "two")).branching()
    assert found["one"] == ("flow",)


def test_trunks_branch_from_those_before_them() -> None:
    mains = build_shared_pipework((THREE, ONE, TWO), PIPES, ("three", "one"))
    for number, link in enumerate(mains.links):
        name = link.element.label
        before = {"one": None, "two": "one", "three": "two"}[name]
        assert mains.leaves(number) == (before, "flow" if link.is_flow else "return")
    assert mains.bore_m("one") == pytest.approx(0.0262)
    assert mains.bore_m("three") == pytest.approx(0.0202)
    assert [trunk.name for trunk in from_source_outwards((THREE, TWO, ONE))] == ["one", "two", "three"]


def test_streams_pass_the_links_on_their_way() -> None:
    mains = build_shared_pipework((ONE, TWO), PIPES, ("one", "two", None))
    for link, row in zip(mains.links, mains.on_link, strict=True):
        assert row.tolist() == ([1, 1, 0] if link.element.label == "one" else [0, 1, 0])
    assert mains.of_circuit.tolist() == [[1, 1, 1]]
    assert mains.link_circuit.tolist() == [0, 0, 0, 0]


def test_the_circuit_of_the_source_draws_from_no_other_and_a_mixed_one_from_the_end_of_its_trunk():
    trunks = (ONE, replace(TWO, mixed_to_c=40.0))
    shared = PipeworkInput(trunks, PIPES).shared_by(loops_on(["one", "two"], 1))
    source, mixed = shared.circuits
    assert (source.trunk, source.parent, source.draws_at, source.mixed_to_c) == (-1, -1, (-1, -1), None)
    assert (mixed.trunk, mixed.parent, mixed.mixed_to_c) == (1, 0, 40.0)
    assert mixed.draws_at == shared.join["one"]
