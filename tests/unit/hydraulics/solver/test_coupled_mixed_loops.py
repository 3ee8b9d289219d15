"""A loop with a flow temperature of its own is mixed to it where its tails join: it takes less than it carries."""

from dataclasses import replace

import numpy as np
import pytest

import heatloop as hl
from heatloop.hydraulics.analysis.loop_isolation import isolate_each_loop, system_curve
from heatloop.hydraulics.network.build import PipeworkInput, build_network
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.solver.operating_state import OperatingConditions, solve_state
from heatloop.survey.water_system import Trunk
from tests.helpers.back_loss_loops import WATER
from tests.helpers.dwelling import PIPES, loop_path
from tests.helpers.paths import DATA, HARBOUR_LOFT
from tests.helpers.random_systems import worst_residual

SURVEYS = {
    "Alder Lodge": DATA / "alder-lodge" / "survey.toml",
    "Mill Annexe": DATA / "mill-annexe" / "survey.toml",
    "Harbour Loft": HARBOUR_LOFT / "survey.toml",
}


def mixed(name: str, loop: int, temp_c: float = 40.0) -> hl.Design:
    """The design of one of these jobs with one of its loops at a flow temperature of its own."""
    survey = hl.read_survey(SURVEYS[name])
    loops = list(survey.loops)
    loops[loop] = replace(loops[loop], flow_temp_c=temp_c)
    return hl.size(replace(survey, loops=tuple(loops)))


@pytest.mark.parametrize(
    ("name", "loop"),
    [*(("Alder Lodge", i) for i in (0, 3)), ("Mill Annexe", 0), *(("Harbour Loft", i) for i in (0, 1))],
)
def test_balances_close(name, loop):
    design = mixed(name, loop)
    assert worst_residual(design) <= 1e-9
    system, state = design.system, design.system.achieved
    network, water = state.network, system.prepared.fluid
    share = state.loop_draw_share
    assert share[loop] < 0.9
    assert np.delete(share, loop) == pytest.approx(1.0, abs=1e-12)
    # what is drawn, at the temperature of the trunk, brings what the loop gives
    joins = network.loop_nodes[loop, 0]
    warm_c = next(
        (
            state.temp_out_c[i]
            for i, place in enumerate(network.locations)
            if place.main >= 0 and network.shared_pipework.links[place.main].end == joins
        ),
        design.survey.project.flow_temp_c,
    )
    drawn = share[loop] * state.loop_flow_kg_s[loop]
    brought = drawn * (water.enthalpy_j_kg(warm_c) - water.enthalpy_j_kg(state.return_c[loop]))
    assert brought == pytest.approx(state.heat_from_water_w[loop], rel=1e-9)
    assert state.supply_c[loop] == 40.0


@pytest.mark.parametrize("name", SURVEYS)
def test_every_pipe_carries_what_is_drawn(name):
    state = mixed(name, 0).system.achieved
    network = state.network
    shared_pipework, drawn = network.shared_pipework, state.loop_draw_share * state.loop_flow_kg_s
    streams = np.concatenate([drawn, state.bypass_kg_s, state.drawn_kg_s])
    assert state.link_flow_kg_s[network.main_link] == pytest.approx(shared_pipework.on_link @ streams, rel=1e-9)
    assert state.circuit_flow_kg_s == pytest.approx(shared_pipework.of_circuit @ streams, rel=1e-9)


def test_less_is_drawn_the_cooler_the_loop():
    flows = [mixed("Mill Annexe", 0, temp_c).system.state.loop_draw_share[0] for temp_c in (70.0, 60.0, 50.0, 40.0)]
    assert flows[0] == 1.0
    assert flows == sorted(flows, reverse=True)
    assert len(set(flows)) == 4


def test_tees_see_what_is_drawn():
    survey = hl.read_survey(SURVEYS["Alder Lodge"])
    loops = (replace(survey.loops[0], flow_temp_c=38.0), *survey.loops[1:])
    design = hl.size(replace(survey, loops=loops, project=replace(survey.project, tees=True)))
    assert worst_residual(design) <= 1e-9
    achieved, exact = design.system.achieved, design.system.state
    sized = np.array([one.flow_kg_s for one in design.system.sized_loops])
    # balanced for the flows as sized, so the presettings give them
    assert exact.loop_flow_kg_s == pytest.approx(sized, rel=1e-6)
    assert achieved.loop_draw_share[0] < 0.7


@pytest.mark.parametrize("name", SURVEYS)
def test_with_a_loop_shut_nothing_is_mixed_there(name):
    system = mixed(name, 0).system
    state, water = system.achieved, system.prepared.fluid
    drives = [ConstantHead(head) for head in state.circuit_head_pa]
    found = isolate_each_loop(state, drives, water.density_kg_m3(state.circuit_c))
    assert found.open_loop_flow_kg_s == pytest.approx(state.loop_flow_kg_s, rel=1e-7)
    assert found.loop_flow_kg_s[0, 0] == pytest.approx(0.0, abs=1e-12)
    # the others draw what they did and what the shut loop leaves them of the head
    assert np.all(found.loop_flow_kg_s[1:, 0] >= state.loop_flow_kg_s[1:] * (1.0 - 1e-9))
    # the same flow through a pump as one that has this head gives
    flow = system_curve(state, drives, water.density_kg_m3(state.circuit_c), 0, state.circuit_head_pa[:1])
    assert flow[0] == pytest.approx(state.total_flow_kg_s, rel=1e-7)


@pytest.mark.parametrize("cooler_c", [45.0, 40.0, 34.0])
def test_a_loop_may_be_cooler_than_the_mixed_trunk_that_feeds_it(cooler_c):
    """What it draws of 45 °C with its own return water makes its flow, and what all draw makes the source's heat."""
    trunks = (Trunk("one", "trunk 28", 5.0), Trunk("cool", "trunk 22", 6.0, from_trunk="one", mixed_to_c=45.0))
    paths = [loop_path("a", "one", 1.2, one_way=True), loop_path("c", "cool", 1.0)]
    network = build_network(paths, PipeworkInput(trunks, PIPES))
    conditions = OperatingConditions(np.array([60.0, cooler_c]), [ConstantHead(9e3), ConstantHead(6e3)], source_c=60.0)
    state = solve_state(network, conditions, WATER)
    enthalpy = WATER.enthalpy_j_kg
    back = enthalpy(state.return_c[1])
    share = (enthalpy(cooler_c) - back) / (enthalpy(45.0) - back)
    assert state.loop_draw_share == pytest.approx([1.0, share], rel=1e-9)
    assert state.circuit_flow_kg_s[1] == pytest.approx(share * state.loop_flow_kg_s[1], rel=1e-9)
    drawn = state.circuit_flow_kg_s[1] * (enthalpy(45.0) - back) / (enthalpy(60.0) - back)
    assert state.circuit_flow_kg_s[0] == pytest.approx(state.loop_flow_kg_s[0] + drawn, rel=1e-9)
    given_w = state.circuit_flow_kg_s[0] * (enthalpy(60.0) - enthalpy(state.source_return_c))
    assert given_w == pytest.approx(sum(arm.emitted_w.sum() for arm in state.arms), rel=1e-8)


def test_loops_that_stand_are_as_warm_as_the_rooms_of_each_arm():
    """Two arms with valves, one room at 20 and one at 15 °C: tails and valves of the flow as the first room."""
    warm, cold = (loop_path("a", None, 1.0, rooms_c=(room_c,)).arms[0] for room_c in (20.0, 15.0))
    plain = loop_path("shut", None, 1.0)
    arms = tuple(
        replace(arm, flow_valve=(replace(plain.tail_flow[1]),), return_valve=(replace(plain.tail_return[0]),))
        for arm in (warm, cold)
    )
    network = build_network([replace(plain, arms=arms), loop_path("open", None, 1.0)])
    conditions = OperatingConditions(np.full(2, 55.0), [ConstantHead(5e3)], held_kg_s=np.array([0.0, np.inf]))
    state = solve_state(network, conditions, WATER)
    assert state.loop_flow_kg_s[0] == 0.0
    assert state.heat_from_water_w[0] == 0.0
    for i, place in enumerate(network.locations):
        if place.loop == 0 and place.arm >= 0 and place.element.channel > 0:
            room_c = (20.0, 15.0)[place.arm]
            assert (state.temp_in_c[i], state.temp_out_c[i]) == (room_c, room_c)
        elif place.loop == 0 and place.arm < 0:
            assert state.temp_out_c[i] == 20.0
    assert state.return_c[0] == 20.0
    assert state.return_c[1] > 25.0
