"""In which cell a point along an arm lies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.analysis.room_output import (
    back_loss_w,
    cells_of_points,
    hottest_surface_c,
    laminar_and_turbulent_drop_pa,
    loop_heat,
    net_room_heat_w,
    room_output_w,
    skirting_cells,
)
from heatloop.hydraulics.network.build import build_network
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState, solve_state
from heatloop.physics.friction import colebrook_friction_factor
from tests.helpers.back_loss_loops import PATHS, WATER, solved
from tests.helpers.dwelling import loop_path

ARM = loop_path("a", None, 1.0).arms[0]


def arm(*cells: tuple[float, bool]):  # type: ignore[no-untyped-def]
    made = [replace(ARM.cells[0], length_m=length_m, skirting=skirting) for length_m, skirting in cells]
    return replace(ARM, cells=tuple(made))


@pytest.mark.parametrize(
    ("cells", "x_m", "at"),
    [
        # skirting all along: a point between two belongs to the one that ends there
        (((1.0, True), (2.0, True), (0.5, True)), [0.0, 0.4, 1.0, 1.0 + 5e-10, 1.1, 3.0, 3.2, 3.5, 3.6],
         [0, 0, 0, 0, 1, 1, 2, 2, 2]),
        # plain pipe in the middle: where skirting begins after it, the point is the skirting's
        (((1.0, True), (2.0, False), (0.5, True)), [1.0, 1.5, 3.0 - 1e-6, 3.0, 3.0 + 5e-10, 3.5], [0, 1, 1, 2, 2, 2]),
        # two stretches of pipe, and pipe at the end
        (((1.0, False), (2.0, False), (0.5, True), (1.0, False)), [0.0, 1.0, 3.0, 3.5, 4.5], [0, 0, 2, 2, 3]),
    ],
)  # fmt: skip
def test_a_point_lies_in_the_cell_that_ends_there_or_in_the_skirting_that_begins(
    cells: tuple[tuple[float, bool], ...], x_m: list[float], at: list[int]
) -> None:
    assert cells_of_points(arm(*cells), np.array(x_m)).tolist() == at


def test_skirting_apart_from_pipe() -> None:
    assert skirting_cells(arm((1.0, True), (2.0, False))).tolist() == [True, False]


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


def test_the_hottest_skirting_of_a_room_is_where_the_water_first_meets_it() -> None:
    """Bare walls are as warm as the water. The hotter pipe before the skirting has no surface in a room."""
    plain = loop_path("a", None, 1.5, pieces=4)
    rooms = ("Hall", "Hall", "Bath", "Bath")
    cells = tuple(
        replace(cell, room=room, skirting=place > 0)
        for place, (cell, room) in enumerate(zip(plain.arms[0].cells, rooms, strict=True))
    )
    path = replace(plain, arms=(replace(plain.arms[0], cells=cells),))
    other = replace(loop_path("b", None, 1.0), profile=None)
    conditions = OperatingConditions(np.array([55.0, 70.0]), [ConstantHead(2000.0)])
    state = solve_state(build_network([path, other]), conditions, WATER)
    water_c = state.arms[0].node_c[0]
    found = hottest_surface_c(state)
    assert found.keys() == {"Hall", "Bath"}
    assert found["Hall"] == pytest.approx(water_c[1], abs=1e-9)
    assert water_c[3] <= found["Bath"] <= water_c[2]  # a node between two rooms belongs to the first
    assert found["Hall"] < water_c[0] - 0.1
