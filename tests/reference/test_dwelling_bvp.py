"""The dwelling of the benchmarks, solved with its network, against scipy's boundary-value solver loop by loop.

Same equations, another method: `solve_bvp` has the flow that the coupled solve found and the heat capacity of water at
every point, and finds each loop's return and heat anew.
"""

import numpy as np
from scipy.integrate import solve_bvp

from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.solver.operating_state import OperatingConditions, solve_state
from heatloop.physics.water import plain_water
from tests.helpers.agreement import assert_agrees
from tests.helpers.dwelling import HEAD_PA, SUPPLY_C, dwelling

WATER = plain_water()


def return_by_boundary_values_c(runs, cells, flow_kg_s, inlet_c):
    """Temperature at which a there-and-back loop of these cells gives its water back: out and home channel of every
    cell as two unknowns on [0, 1]."""
    length, k, n = runs.length_m[cells, None], runs.emission_w_mkn[:, cells, None], runs.exponent[cells, None]
    link, room_c = runs.link_w_mk[0, cells, None], runs.room_c[cells, None]
    count = cells.stop - cells.start

    def slope(_x, y):
        water = np.stack([y[0::2], y[1::2]])
        excess = water - room_c
        heat = k * np.sign(excess) * np.abs(excess) ** n + link * (water - water[::-1])
        change = heat * length / (flow_kg_s * WATER.heat_capacity_j_kgk(water))
        out = np.empty_like(y)
        out[0::2], out[1::2] = -change[0], change[1]
        return out

    def ends(a, b):
        joined = [b[2 * r + c] - a[2 * r + 2 + c] for r in range(count - 1) for c in (0, 1)]
        return np.array([a[0] - inlet_c, b[-2] - b[-1], *joined])

    guess = np.full((2 * count, 11), inlet_c)
    found = solve_bvp(slope, ends, np.linspace(0, 1, 11), guess, tol=1e-9, bc_tol=1e-11, max_nodes=5_000)
    assert found.status == 0, found.message
    return float(found.y[1, 0])


def test_heat_of_the_coupled_dwelling_within_a_millionth():
    system = dwelling()
    state = solve_state(
        system, OperatingConditions(np.full(len(system.loops), SUPPLY_C), [ConstantHead(HEAD_PA)]), WATER
    )
    (group,) = system.groups
    assert group.arms == tuple(range(12))
    for place, arm in enumerate(state.arms):
        cells = slice(int(group.runs.start[place]), int(group.runs.start[place + 1]))
        flow_kg_s, inlet_c = float(state.loop_flow_kg_s[place]), float(arm.node_c[0, 0])
        return_c = return_by_boundary_values_c(group.runs, cells, flow_kg_s, inlet_c)
        heat_w = flow_kg_s * float(WATER.enthalpy_j_kg(inlet_c) - WATER.enthalpy_j_kg(return_c))
        mine_w = flow_kg_s * float(WATER.enthalpy_j_kg(inlet_c) - WATER.enthalpy_j_kg(arm.return_c))
        assert_agrees("solve_bvp", "heat of every loop of the dwelling", abs(mine_w / heat_w - 1.0), 1e-6)
