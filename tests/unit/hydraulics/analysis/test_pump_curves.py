"""Curves round the duty point: of the system by whole solves, of the pump by its law; loops isolated together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.analysis.loop_isolation import isolate_loops, system_curve
from heatloop.hydraulics.analysis.pump_curves import pump_curves
from heatloop.hydraulics.network.build import PipeworkInput, build_network
from heatloop.hydraulics.pumps import ConstantHead, PumpCurveAtSpeed, full_speed
from heatloop.hydraulics.solver.bypasses import BypassState
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState, solve_state
from heatloop.physics.water import plain_water
from heatloop.survey.water_system import Bypass, PumpCurve, Trunk
from tests.helpers.dwelling import PIPES, loop_path

WATER = plain_water()
TRUNK = Trunk("one", "trunk 28", 5.0)
STATED = PumpCurve((0.0, 0.6, 1.2), (20.0, 16.0, 4.0))
PUMP = replace(full_speed(STATED), speed=0.7)
SUPPLY_C = 40.0


@pytest.fixture(scope="module")
def state() -> SystemState:
    loops = [loop_path(f"loop {i}", "one", 1.0 + 0.2 * i) for i in range(3)]
    network = build_network(loops, PipeworkInput((TRUNK,), PIPES))
    return solve_state(network, OperatingConditions(np.full(3, SUPPLY_C), [PUMP]), WATER)


def density(state: SystemState) -> np.ndarray:
    return np.asarray(WATER.density_kg_m3(state.circuit_c), float)


def test_the_system_curve_is_that_of_whole_solves_at_other_heads(state: SystemState) -> None:
    """But for temperatures, which stay: in laminar flow cooler water is thicker, by a few per cent of the flow."""
    heads = np.array([0.5, 1.0, 1.5]) * state.head_pa
    flows = system_curve(state, [PUMP], density(state), 0, heads)
    assert flows[1] == pytest.approx(state.total_flow_kg_s, rel=1e-8)
    for head_pa, flow in zip(heads, flows, strict=True):
        conditions = OperatingConditions(np.full(3, SUPPLY_C), [ConstantHead(float(head_pa))])
        assert flow == pytest.approx(solve_state(state.network, conditions, WATER).total_flow_kg_s, rel=0.03)


def test_curves_meet_at_the_duty_point(state: SystemState) -> None:
    of = {curve.kind: curve for curve in pump_curves(state, [PUMP], density(state), [STATED])}
    duty = state.total_flow_kg_s / density(state)[0]
    assert set(of) == {"system", "pump as set", "pump at full speed"}
    assert {curve.pump for curve in of.values()} == {"source"}
    for kind in ("system", "pump as set"):
        at = np.interp(duty, of[kind].flow_m3_s, of[kind].head_pa)
        assert at == pytest.approx(state.head_pa, rel=0.005)
    system = of["system"]
    assert system.head_pa == pytest.approx(state.head_pa * np.linspace(0.1, 1.5, 15) ** 2)
    assert np.all(np.diff(system.flow_m3_s) > 0.0)
    pump = of["pump as set"]
    assert pump.flow_m3_s[0] == 0.0
    assert pump.flow_m3_s[1:] == pytest.approx(duty * np.linspace(0.1, 1.5, 15)[: pump.flow_m3_s.size - 1])
    assert pump.head_pa == pytest.approx(PUMP.head_pa(pump.flow_m3_s)[0])
    full = of["pump at full speed"]
    assert full.flow_m3_s[-1] == pytest.approx(min(1.2 / 3600.0, 3.0 * duty))
    assert full.flow_m3_s.size == 25
    assert full.head_pa == pytest.approx(full_speed(STATED).head_pa(full.flow_m3_s)[0])


def test_points_below_nothing_are_left_out(state: SystemState) -> None:
    weak = PumpCurveAtSpeed((0.0, 2e-4, 2.2e-4), (6e3, 5e3, 100.0))
    of = {curve.kind: curve for curve in pump_curves(state, [weak], density(state), [None])}
    assert set(of) == {"system", "pump as set"}
    assert of["pump as set"].head_pa.min() >= 0.0


def test_loops_isolated_together_are_those_of_a_whole_solve_with_both_shut(state: SystemState) -> None:
    which = np.array([[True, False], [False, True], [True, False]])
    found = isolate_loops(state, [PUMP], density(state), which)
    assert found.open_loop_flow_kg_s == pytest.approx(state.loop_flow_kg_s, rel=1e-8)
    for s in range(2):
        held = np.where(which[:, s], 0.0, np.inf)
        whole = solve_state(state.network, OperatingConditions(np.full(3, SUPPLY_C), [PUMP], held_kg_s=held), WATER)
        assert found.loop_flow_kg_s[:, s] == pytest.approx(whole.loop_flow_kg_s, rel=0.02)
        assert found.head_pa[0, s] == pytest.approx(whole.head_pa, rel=0.01)
    assert (found.loop_flow_kg_s[which] == 0.0).all()
    assert found.head_pa[0, 0] > found.head_pa[0, 1] > state.head_pa


# --- bypasses ----------------------------------------------------------------------------------------------


def test_a_bypass_opens_at_its_differential_and_shuts_when_its_flow_ceases() -> None:
    bypasses = [Bypass("plain", 0.4, "one"), Bypass("opens", 0.4, "one", opens_at_kpa=6.0)]
    pipework = PipeworkInput((TRUNK,), PIPES, bypasses)
    network = build_network([loop_path("a", "one", 1.0), loop_path("b", "one", 1.2)], pipework)
    state = BypassState(network, 3)
    ((link, opens_pa, is_open),) = state.ways
    assert (link, opens_pa) == (int(network.bypass_link[1]), 6000.0)
    shape = (network.graph.start.size, 3)
    offset = state.opening_pa(None, shape)
    assert offset is not None
    assert offset[link].tolist() == [6000.0] * 3
    assert np.count_nonzero(offset) == 3
    again = state.opening_pa(offset.copy(), shape)
    assert again is not None
    assert again[link].tolist() == [12_000.0] * 3
    held, flow, spare = np.full(shape, np.nan), np.zeros(shape), np.zeros(shape)
    spare[link] = [-1.0, 0.0, 1.0]
    state.hold(held, flow, spare)
    assert is_open.tolist() == [False, False, True]
    assert held[link].tolist()[:2] == [0.0, 0.0]
    assert np.isnan(held[link, 2])
    flow[link], spare[link] = [0.0, 0.0, 1e-3], [1.0, -1.0, -1.0]
    state.hold(held, flow, spare)
    assert is_open.tolist() == [True, False, True], "open until its flow ceases"
    flow[link] = [1e-3, 0.0, 0.0]
    state.hold(held, flow, spare)
    assert is_open.tolist() == [True, False, False]
