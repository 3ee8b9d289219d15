"""States of arms by number, by slice and one after the other; arms without flow are as warm as their rooms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.heat.arm_states import arm_without_flow
from heatloop.hydraulics.network.build import build_network
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState, solve_state
from tests.helpers.back_loss_loops import WATER
from tests.helpers.dwelling import loop_path

ROOMS_C = (20.0, 17.0, 22.0)


@pytest.fixture(scope="module")
def state() -> SystemState:
    """The second of three loops is shut; its water would be cut into parts at a small flow."""
    paths = [loop_path(name, None, 1.2, pieces=6, rooms_c=ROOMS_C) for name in "abc"]
    held = np.array([np.inf, 0.0, 0.002])
    conditions = OperatingConditions(np.full(3, 55.0), [ConstantHead(4e3)], held_kg_s=held)
    return solve_state(build_network(paths), conditions, WATER)


def test_arms_are_had_by_number_by_slice_and_in_order(state: SystemState) -> None:
    arms = state.arms
    assert len(arms) == 3
    assert list(arms) == [arms[0], arms[1], arms[2]]
    assert arms[1:] == (arms[1], arms[2])
    assert arms[::-2] == (arms[2], arms[0])
    assert arms[-1] is arms[2]
    with pytest.raises(IndexError):
        arms[3]


def test_an_arm_without_flow_is_as_warm_as_its_rooms_all_along(state: SystemState) -> None:
    shut = state.arms[1]
    cells = np.repeat(ROOMS_C, 2)
    assert shut.node_c.tolist() == shut.surface_c.tolist() == [[*cells, cells[-1]]] * 2
    assert shut.mean_c.tolist() == [cells.tolist()] * 2
    assert (shut.return_c, shut.given_w, shut.check_w, shut.emitted_w.sum()) == (20.0, 0.0, 0.0, 0.0)
    assert shut.fine_c.shape == shut.fine_surface_c.shape == (2, shut.fine_x_m.size)
    for x, water_c in zip(shut.fine_x_m, shut.fine_c[0], strict=True):
        at = x / 1.2
        if abs(at - round(at)) < 1e-9:
            assert water_c == pytest.approx([*cells, cells[-1]][round(at)])
        assert min(ROOMS_C) <= water_c <= max(ROOMS_C)
    assert state.arms[2].given_w > 50.0


def test_a_loop_without_valve_is_throttled_at_its_first_element() -> None:
    """What is left of the head stands there: the drop of the whole loop is the head."""
    plain = loop_path("a", None, 1.0, pieces=3)
    bare = replace(plain, tail_flow=plain.tail_flow[:1], tail_return=plain.tail_return[1:])
    conditions = OperatingConditions(np.array([55.0]), [ConstantHead(4e3)], held_kg_s=np.array([0.01]))
    state = solve_state(build_network([bare]), conditions, WATER)
    assert state.loop_flow_kg_s == pytest.approx([0.01], rel=1e-9)
    first, *others = state.more_pa.tolist()
    assert first > 1e3
    assert not any(others)
    assert state.network.locations[0].element is bare.tail_flow[0]
    assert state.drop_pa.sum() == pytest.approx(4e3, rel=1e-6)


def test_a_fine_grid_without_flow_has_the_room_at_every_bound_of_a_cell(state: SystemState) -> None:
    """Three points to a cell: at its start its room, between them on the way to the next."""
    path, bounds = state.network.arms[1], np.arange(7) * 1.2
    fine_x_m = np.linspace(0.0, bounds[-1], 19)
    fine = np.full((2, 19), 50.0)
    shut = arm_without_flow(replace(state.arms[1], fine_x_m=fine_x_m, fine_c=fine, fine_surface_c=fine), path)
    rooms_c = np.append(np.repeat(ROOMS_C, 2), ROOMS_C[-1])
    assert shut.fine_c.shape == shut.fine_surface_c.shape == (2, 19)
    assert shut.fine_c[0, ::3] == pytest.approx(rooms_c)
    third = rooms_c[:-1] + np.diff(rooms_c) / 3.0
    assert shut.fine_surface_c[1, 1::3] == pytest.approx(third)


def test_a_fine_grid_without_flow_goes_from_the_room_of_the_first_cell_to_the_next() -> None:
    """Cells of 1.2 m at 20, 17 and 22 °C: a third along the first, 20 - 3 / 3 = 19 °C."""
    network = build_network([loop_path("a", None, 1.2, pieces=3, rooms_c=ROOMS_C)])
    conditions = OperatingConditions(np.array([55.0]), [ConstantHead(4e3)], held_kg_s=np.array([0.0]))
    arm = solve_state(network, conditions, WATER).arms[0]
    fine = np.zeros((2, 4))
    shut = arm_without_flow(
        replace(arm, fine_x_m=np.array([0.0, 0.4, 1.2, 3.6]), fine_c=fine, fine_surface_c=fine), network.arms[0]
    )
    assert shut.fine_c[0] == pytest.approx([20.0, 19.0, 17.0, 22.0])
