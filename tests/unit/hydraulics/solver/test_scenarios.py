"""Many scenarios at once are so many single solves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.network.build import PipeworkInput, build_network
from heatloop.hydraulics.pumps import ConstantHead, PumpCurveAtSpeed
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState, solve_state
from heatloop.hydraulics.solver.scenarios import Scenarios, solve_scenarios
from heatloop.survey.water_system import Trunk
from tests.helpers.back_loss_loops import WATER, solved
from tests.helpers.dwelling import PIPES, loop_path

COUNT = 7
RNG = np.random.default_rng(3)
TRUNKS = (Trunk("one", "trunk 28", 5.0), Trunk("cool", "trunk 22", 6.0, from_trunk="one", mixed_to_c=45.0))


def system_of(rooms_c=20.0, film=True):
    return build_network(
        [
            loop_path("a", "one", 1.2, rooms_c=(rooms_c,), film=film),
            loop_path("b", "one", 0.8, rooms_c=(rooms_c,), film=film, one_way=True),
            loop_path("c", "cool", 1.0, rooms_c=(rooms_c,), film=film),
        ],
        PipeworkInput(TRUNKS, PIPES),
    )


def valves_of(system):
    return [i for i, place in enumerate(system.locations) if place.element.kind == "valve"]


SCENARIOS = Scenarios(
    flow_temp_c=RNG.uniform(40.0, 70.0, COUNT),
    head_pa=np.array([RNG.uniform(2e3, 2e4, COUNT), RNG.uniform(2e3, 1e4, COUNT)]),
    kv_m3_h={i: RNG.uniform(0.1, 0.9, COUNT) for i in valves_of(system_of())},
    shut=np.array([[False] * 3, [True, False, False]] * 4)[:COUNT].T,
    room_c={"room": RNG.uniform(16.0, 23.0, COUNT)},
)


@pytest.mark.parametrize("film", [False, True])
def test_each_scenario_is_the_single_solve_of_its_conditions(film):
    found = solve_scenarios(system_of(film=film), SCENARIOS, WATER, tolerance=1e-11)
    for s in range(COUNT):
        system = system_of(float(SCENARIOS.room_c["room"][s]), film)
        system = system.with_kv({place: float(kv[s]) for place, kv in SCENARIOS.kv_m3_h.items()})
        source = float(SCENARIOS.flow_temp_c[s])
        one = solve_state(
            system,
            OperatingConditions(
                np.array([source, source, min(source, 45.0)]),
                [_head(SCENARIOS.head_pa[0, s]), _head(SCENARIOS.head_pa[1, s])],
                source_c=source,
                held_kg_s=np.where(SCENARIOS.shut[:, s], 0.0, np.inf),
            ),
            WATER,
        )
        output = np.bincount(system.arm_loop, [arm.emitted_w.sum() for arm in one.arms], 3)
        assert found.loop_flow_kg_s[:, s] == pytest.approx(one.loop_flow_kg_s, rel=1e-8)
        assert found.output_w[:, s] == pytest.approx(output, rel=1e-7)
        assert found.flow_kg_s[:, s] == pytest.approx(one.circuit_flow_kg_s, rel=1e-8)
        assert found.room_w[0, s] == pytest.approx(output.sum(), rel=1e-7)


def _head(value):
    return PumpCurveAtSpeed((0.0, 1.0), (float(value), float(value)))


def test_more_scenarios_than_a_lot_holds_come_back_in_their_order():
    system = system_of()
    temps = np.linspace(40.0, 60.0, 400)
    found = solve_scenarios(system, Scenarios(flow_temp_c=temps, head_pa=np.full((2, 400), 5e3)), WATER)
    assert found.loop_flow_kg_s.shape == (3, 400)
    assert np.all(np.diff(found.output_w[0]) > 0.0)
    assert max(found.residual_mass.max(), found.residual_head.max()) < 1e-6
    few = solve_scenarios(system, Scenarios(flow_temp_c=temps[[7, 391]], head_pa=np.full((2, 2), 5e3)), WATER)
    assert few.output_w == pytest.approx(found.output_w[:, [7, 391]], rel=1e-6)


def test_a_law_of_the_pump_serves_all_scenarios():
    system = system_of()
    pump = PumpCurveAtSpeed((0.0, 1e-4, 4e-4), (9e3, 8e3, 2e3))
    temps = np.array([45.0, 60.0])
    found = solve_scenarios(system, Scenarios(flow_temp_c=temps, pumps=(pump, pump)), WATER, tolerance=1e-10)
    for s, temp in enumerate(temps):
        volume = found.flow_kg_s[0, s] / float(WATER.density_kg_m3(temp))
        assert found.head_pa[0, s] == pytest.approx(pump.head_pa(np.array([volume]))[0][0], rel=1e-7)


def test_what_scenarios_lack_is_said():
    system = system_of()
    with pytest.raises(ValueError, match="head_pa or drives"):
        solve_scenarios(system, Scenarios(flow_temp_c=np.array([50.0])), WATER)
    wrong = replace(SCENARIOS, head_pa=np.ones(COUNT))
    with pytest.raises(ValueError, match=r"head_pa \(1, 7\): required \(2, 7\)"):
        solve_scenarios(system, wrong, WATER)


@pytest.fixture(scope="module")
def state() -> SystemState:
    return solved(1500.0)


def test_scenarios_are_so_many_solves_with_their_own_heads_and_rooms(state: SystemState) -> None:
    network = state.network
    heads = np.array([[800.0, 1500.0, 3000.0]])
    found = solve_scenarios(network, Scenarios(flow_temp_c=np.full(3, 55.0), head_pa=heads), WATER)
    for s in range(3):
        conditions = OperatingConditions(np.full(2, 55.0), [ConstantHead(float(heads[0, s]))])
        alone = solve_state(network, conditions, WATER)
        assert found.loop_flow_kg_s[:, s] == pytest.approx(alone.loop_flow_kg_s, rel=1e-6)


def test_heads_of_another_shape_are_refused(state: SystemState) -> None:
    temps = np.full(3, 55.0)
    with pytest.raises(ValueError, match="required \\(1, 3\\)"):
        solve_scenarios(state.network, Scenarios(flow_temp_c=temps, head_pa=np.full((1, 2), 1e3)), WATER)
    with pytest.raises(ValueError, match="scenarios need head_pa or drives"):
        solve_scenarios(state.network, Scenarios(flow_temp_c=temps), WATER)
