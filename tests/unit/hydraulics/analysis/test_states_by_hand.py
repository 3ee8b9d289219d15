"""What is read from a solved state: laminar and turbulent drops, back loss, loops shut, heat at given flows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.analysis.fixed_flow_heat import heat_at_fixed_flows
from heatloop.hydraulics.analysis.room_output import (
    back_loss_w,
    laminar_and_turbulent_drop_pa,
    loop_heat,
    net_room_heat_w,
    room_output_w,
)
from heatloop.hydraulics.heat.arm_groups import group_similar_arms, repeat_group
from heatloop.hydraulics.model import LoopPath, TailLoss
from heatloop.hydraulics.network.build import build_network
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState, solve_state
from heatloop.hydraulics.solver.scenarios import Scenarios, solve_scenarios
from heatloop.physics.friction import colebrook_friction_factor
from heatloop.physics.water import plain_water
from tests.helpers.dwelling import loop_path

WATER = plain_water()
ROOMS_C = (20.0, 18.0, 16.0)


def with_back_loss(path: LoopPath) -> LoopPath:
    """Every cell in a room of its own temperature, with a wall behind it that loses; tails that lose to one room."""
    arm = path.arms[0]
    cells = tuple(
        replace(cell, room=f"room {cell.room_c:g}", back_w_mk=0.1 + 0.05 * i, useful=1.0)
        for i, cell in enumerate(arm.cells)
    )
    tails = TailLoss(flow_w_k=0.8, return_w_k=0.6, around_c=17.0, useful=0.5, room="room 20")
    return replace(path, arms=(replace(arm, cells=cells),), tail_loss=tails)


PATHS = [
    with_back_loss(loop_path("a", None, 1.2, pieces=6, rooms_c=ROOMS_C, kv_m3_h=0.9)),
    with_back_loss(loop_path("b", None, 0.8, pieces=3, rooms_c=ROOMS_C, film=True)),
]


def solved(head_pa: float, held: list[float] | None = None) -> SystemState:
    conditions = OperatingConditions(
        np.array([55.0, 50.0]), [ConstantHead(head_pa)], held_kg_s=None if held is None else np.array(held)
    )
    return solve_state(build_network(PATHS), conditions, WATER)


@pytest.fixture(scope="module")
def state() -> SystemState:
    return solved(1500.0)


def test_laminar_and_turbulent_drops_by_the_two_laws(state: SystemState) -> None:
    """Every length of pipe between Re 2000 and 4000, with the factor that it has exchanged for that of either law."""
    laminar, turbulent = laminar_and_turbulent_drop_pa(state)
    expected = np.zeros((2, 2))
    between = 0
    for i, place in enumerate(state.network.locations):
        element, re = place.element, float(state.reynolds[i])
        if element.length_m == 0.0 or not 2000.0 < re < 4000.0:
            continue
        between += 1
        bore = element.duct.hydraulic_diameter_m
        dynamic = state.flow_kg_s[i] ** 2 / (2.0 * state.density_kg_m3[i] * element.duct.area_m2**2)
        per_factor = element.length_m / bore * dynamic
        now = (state.drop_pa[i] / dynamic - element.zeta) / (element.length_m / bore)
        rough = float(colebrook_friction_factor(np.array([re]), np.array([element.roughness_m / bore]))[0])
        expected[0, place.loop] += per_factor * (64.0 / re - now)
        expected[1, place.loop] += per_factor * (rough - now)
    assert between > 4
    assert laminar == pytest.approx(expected[0], rel=1e-6, abs=1e-6)
    assert turbulent == pytest.approx(expected[1], rel=1e-6, abs=1e-6)
    assert (laminar <= 0.0).all()
    assert (turbulent >= 0.0).all()


def test_back_loss_is_that_of_walls_above_their_rooms(state: SystemState) -> None:
    lost: dict[str, float] = {}
    for path, heat in zip(state.network.arms, state.arms, strict=True):
        for cell, wall_c in zip(path.cells, heat.wall_c, strict=True):
            assert cell.room_c < wall_c < 55.0
            lost[cell.room] = lost.get(cell.room, 0.0) + cell.back_w_mk * cell.length_m * (wall_c - cell.room_c)
    assert back_loss_w(state) == pytest.approx(lost)
    given, net = room_output_w(state), net_room_heat_w(state)
    assert net == pytest.approx({room: given[room] - lost[room] for room in given})
    heat = loop_heat(state)
    assert (heat.to_rooms_w - heat.net_to_rooms_w).sum() == pytest.approx(sum(lost.values()))
    assert heat.from_water_w == pytest.approx(heat.to_rooms_w + heat.pipe_loss_w + heat.downward_loss_w, rel=1e-6)


def test_useful_tails_count_for_their_room(state: SystemState) -> None:
    emitted: dict[str, float] = {}
    for path, heat in zip(state.network.arms, state.arms, strict=True):
        for cell, watts in zip(path.cells, heat.emitted_w.sum(axis=0), strict=True):
            emitted[cell.room] = emitted.get(cell.room, 0.0) + watts
    emitted["room 20"] += 0.5 * state.tail_loss_w.sum()
    assert room_output_w(state) == pytest.approx(emitted)
    assert (state.tail_loss_w > 30.0).all()


def test_a_shut_loop_is_as_warm_as_its_rooms() -> None:
    shut = solved(1500.0, [0.0, np.inf])
    assert shut.loop_flow_kg_s[0] == 0.0
    rooms = [cell.room_c for cell in PATHS[0].arms[0].cells]
    arm = shut.arms[0]
    for channel in (0, 1):
        assert arm.node_c[channel].tolist() == [*rooms, rooms[-1]]
        assert arm.mean_c[channel].tolist() == rooms
    assert (arm.return_c, arm.given_w) == (rooms[0], 0.0)
    assert not arm.emitted_w.any()
    assert shut.return_c[0] == rooms[0]
    for i, place in enumerate(shut.network.locations):
        element = place.element
        if place.arm == 0 and element.channel > 0:
            nodes = [*rooms, rooms[-1]]
            assert shut.temp_in_c[i] == nodes[element.node_in]
            assert shut.temp_out_c[i] == nodes[element.node_out]
    assert room_output_w(shut)["room 16"] > 0.0, "from the loop that is open"


def test_heat_at_the_flows_of_a_state_is_its_own(state: SystemState) -> None:
    (again,) = heat_at_fixed_flows(state, [state.network.loops], WATER)
    assert again.return_c == pytest.approx(state.return_c, abs=1e-7)
    assert again.tail_loss_w == pytest.approx(state.tail_loss_w, rel=1e-6)
    for ours, theirs in zip(again.arms, state.arms, strict=True):
        assert ours.given_w == pytest.approx(theirs.given_w, rel=1e-6)
    less = [
        replace(
            path,
            arms=tuple(
                replace(arm, cells=tuple(replace(cell, factor=0.5 * cell.factor) for cell in arm.cells))
                for arm in path.arms
            ),
        )
        for path in state.network.loops
    ]
    halved, same = heat_at_fixed_flows(state, [less, state.network.loops], WATER)
    assert (halved.return_c > state.return_c + 0.5).all()
    assert same.return_c == pytest.approx(again.return_c, abs=1e-9)


# --- scenarios ---------------------------------------------------------------------------------------------


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


def test_a_group_over_and_over_has_its_arms_one_after_the_other() -> None:
    (group,) = group_similar_arms([PATHS[0].arms[0]])
    cells = group.runs.length_m.size
    twice = repeat_group(group, 2)
    assert twice.runs.start.tolist() == [0, cells, 2 * cells]
    for name in ("length_m", "exponent", "room_c"):
        assert getattr(twice.runs, name).tolist() == getattr(group.runs, name).tolist() * 2
    for name in ("emission_w_mkn", "link_w_mk"):
        assert getattr(twice.runs, name).shape[1] == 2 * cells
    assert repeat_group(group, 1) is group
    rooms = np.stack([np.full(cells, 19.0), np.full(cells, 23.0)])
    other = repeat_group(group, 2, rooms)
    assert other.runs.room_c.tolist() == [19.0] * cells + [23.0] * cells
