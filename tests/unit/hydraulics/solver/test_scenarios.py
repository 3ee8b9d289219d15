"""Many scenarios at once are so many single solves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from heatloop.hydraulics.analysis.room_output import back_loss_w, net_room_heat_w
from heatloop.hydraulics.model import EmitterCharacteristic, PathElement
from heatloop.hydraulics.network.build import PipeworkInput, build_network
from heatloop.hydraulics.pumps import ConstantHead, PumpCurveAtSpeed
from heatloop.hydraulics.solver.coupled import solve_heat_and_flow
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState, circuit_temps_c, solve_state
from heatloop.hydraulics.solver.problem import OperatingProblem
from heatloop.hydraulics.solver.scenarios import Scenarios, solve_scenarios, solve_settings
from heatloop.physics.emitters import one_way_emission_w
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


@pytest.mark.parametrize("side", ["flow", "return"])
def test_the_heat_of_other_emitters_is_that_of_their_rooms(side):
    """By the closed form of a towel rail alone, with the water that reaches it; nothing where the loop is shut."""
    law = EmitterCharacteristic(k_w_kn=1.6, exponent=1.25, room_c=22.0)
    path, nothing = loop_path("a", None, 1.2, film=False), loop_path("b", None, 0.8, film=False)
    rail = PathElement("emitter", "rail", "bath", 0, 0, side, path.tail_flow[0].duct, 1.5e-6, emits=law)
    tails = {"tail_flow": (*path.tail_flow, rail)} if side == "flow" else {"tail_return": (rail, *path.tail_return)}
    network = build_network([replace(path, **tails), nothing])
    flow_temp_c, shut = np.array([40.0, 55.0, 70.0, 70.0]), np.zeros((2, 4), bool)
    shut[0, 3] = True
    conditions = Scenarios(flow_temp_c=flow_temp_c, head_pa=np.full((1, 4), 6e3), shut=shut)
    found = solve_scenarios(network, conditions, WATER, tolerance=1e-10)
    rail_w = found.room_w[found.rooms.index("bath")]
    for s in range(3):
        flow, inlet_c = found.loop_flow_kg_s[0, s], float(flow_temp_c[s])
        if side == "return":  # what the skirting has left, by the balance of the loop
            enthalpy = WATER.enthalpy_j_kg(inlet_c) - (found.output_w[0, s] - rail_w[s]) / flow
            inlet_c = brentq(lambda t, h=enthalpy: float(WATER.enthalpy_j_kg(t) - h), 22.0, 70.0)
        capacity_w_k = flow * float(WATER.heat_capacity_j_kgk(inlet_c - rail_w[s] / flow / 4180.0 / 2.0))
        expected = float(one_way_emission_w(inlet_c - 22.0, 1.6, 1.25, 1.0, capacity_w_k))
        assert rail_w[s] == pytest.approx(expected, rel=1e-5)
    assert rail_w[3] == 0.0
    assert found.room_w.sum(axis=0) == pytest.approx(found.output_w.sum(axis=0), rel=1e-7)


@pytest.mark.parametrize("guessed", [False, True])
def test_settings_side_by_side_are_so_many_single_solves(guessed):
    """Wide open, and the first valve of each loop nearly closed, from nothing or from flows that are far off."""
    network = system_of()
    first = [next(i for i in valves_of(network) if network.locations[i].loop == loop) for loop in range(3)]
    settings = [{}, dict.fromkeys(first, 0.05)]
    drives = (_head(9e3), _head(6e3))
    source_c, supply_c = 60.0, np.array([60.0, 60.0, 45.0])
    problem = OperatingProblem(supply_c=supply_c[:, None], circuit_c=circuit_temps_c(network, source_c), pumps=drives)
    guess = np.full(3, 0.2) if guessed else None
    found = solve_settings(network, settings, problem, WATER, guess)
    for setting, state in zip(settings, found, strict=True):
        conditions = OperatingConditions(supply_c, list(drives), source_c=source_c)
        alone = solve_state(network.with_kv(setting), conditions, WATER)
        assert state.loop_flow_kg_s == pytest.approx(alone.loop_flow_kg_s, rel=1e-7)
        assert state.circuit_flow_kg_s == pytest.approx(alone.circuit_flow_kg_s, rel=1e-7)
    assert (found[1].loop_flow_kg_s < 0.5 * found[0].loop_flow_kg_s).all()


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


def test_back_loss_and_tails_are_those_of_the_single_solve(alder_lodge, harbour_loft):
    survey = harbour_loft.survey
    loops = tuple(replace(loop, tails=replace(loop.tails, useful_share=0.5)) for loop in survey.loops)
    for design in (alder_lodge, harbour_loft.resize(replace(survey, loops=loops))):
        system = design.system
        own_c = [loop.flow_temp_c for loop in design.survey.loops]
        limits_c = np.array([np.inf if temp_c is None else temp_c for temp_c in own_c])
        temps_c = np.array([design.survey.project.flow_temp_c, 42.0])
        found = solve_scenarios(
            system.achieved.network, Scenarios(temps_c, loop_temp_c=limits_c, pumps=system.pumps), system.fluid,
            system.achieved.loop_flow_kg_s, tolerance=1e-10,
        )  # fmt: skip
        for s, temp_c in enumerate(temps_c):
            state = design.simulate(flow_temp_c=float(temp_c), thermostats=False).operation
            net_w, behind_w = net_room_heat_w(state), back_loss_w(state)
            for row, room in enumerate(found.rooms):
                assert found.net_room_w[row, s] == pytest.approx(net_w[room], rel=1e-6)
                assert found.back_loss_w[row, s] == pytest.approx(behind_w[room], rel=1e-6)
    assert found.tail_room_w.max() > 1.0


def test_factors_on_output_and_length_are_those_of_other_cells():
    """Three scenarios in one call against networks whose cells and elements are changed one by one."""
    network, heads = system_of(), np.full((2, 3), 5e3)
    lengths = np.array([[1.0, 1.1, 0.9], [1.0, 1.0, 1.05], [1.0, 0.95, 1.0]])
    output = np.array([1.0, 0.9, 1.08])
    name = network.loops[0].profile.name
    many = Scenarios(np.full(3, 55.0), head_pa=heads, output_factor={name: output}, length_factor=lengths)
    found = solve_scenarios(network, many, WATER, tolerance=1e-10)
    for s in range(3):
        paths = [changed_path(path, output[s], lengths[loop, s]) for loop, path in enumerate(network.loops)]
        one = solve_scenarios(
            build_network(paths, PipeworkInput(TRUNKS, PIPES)),
            Scenarios(np.array([55.0]), head_pa=heads[:, :1]),
            WATER,
            tolerance=1e-10,
        )
        assert found.output_w[:, s] == pytest.approx(one.output_w[:, 0], rel=1e-7)
        assert found.loop_flow_kg_s[:, s] == pytest.approx(one.loop_flow_kg_s[:, 0], rel=1e-7)
        assert found.room_w[:, s] == pytest.approx(one.room_w[:, 0], rel=1e-7)
    assert not np.allclose(found.output_w[:, 0], found.output_w[:, 1], rtol=0.01)


def changed_path(path, output, length):
    """A path with other outputs and lengths of its skirting."""
    arms = tuple(
        replace(
            arm,
            cells=tuple(
                replace(cell, factor=cell.factor * output, length_m=cell.length_m * length) if cell.skirting else cell
                for cell in arm.cells
            ),
            channels=tuple(
                tuple(
                    replace(part, length_m=part.length_m * length) if part.kind == "piece" else part for part in channel
                )
                for channel in arm.channels
            ),
        )
        for arm in path.arms
    )
    return replace(path, arms=arms)


def test_one_of_several_scenarios_has_the_drops_at_its_own_tees():
    paths = [loop_path(name, "one", 1.0) for name in "ab"]
    network = build_network(paths, PipeworkInput(TRUNKS[:1], PIPES, tees=True))
    supply_c, heads = np.full((2, 3), 55.0), np.array([2e3, 6e3, 12e3])
    problem = OperatingProblem(supply_c, np.full((1, 3), 55.0), (ConstantHead(heads),))
    solution = solve_heat_and_flow(network, problem, WATER)
    assert solution.tee_drop_pa is not None
    for number in range(3):
        one = solution.scenario(network.groups, number)
        assert one.tee_drop_pa is not None
        assert one.tee_drop_pa.tolist() == solution.tee_drop_pa[:, [number]].tolist()
        assert one.flow_kg_s.tolist() == solution.flow_kg_s[:, [number]].tolist()
    assert (np.diff(solution.tee_drop_pa.max(axis=0)) > 0.0).all()
