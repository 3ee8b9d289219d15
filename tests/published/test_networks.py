"""Networks of pipes against textbooks; sources in data/published/networks.csv."""

from functools import cache

import numpy as np
import pytest

from heatloop.hydraulics.network.flow_solver import solve_network
from heatloop.hydraulics.network.links import ElementArrays, NetworkGraph
from heatloop.physics.constants import GRAVITY_M_S2
from heatloop.physics.friction import darcy_friction_factor, friction_table
from heatloop.physics.water import plain_water
from tests.helpers.published import replayed


def pipes(bore_m, length_m, relative_roughness):
    """One round pipe a link."""
    bore_m, length_m = np.asarray(bore_m, float), np.asarray(length_m, float)
    places = np.arange(bore_m.size)
    return ElementArrays(
        link=places,
        first_element=places,
        area_m2=np.pi * bore_m**2 / 4.0,
        hydraulic_diameter_m=bore_m,
        length_m=length_m,
        zeta=np.zeros(bore_m.size),
        kv_m3_h=np.full(bore_m.size, np.inf),
        friction=places,
        table=friction_table(tuple(relative_roughness), (64.0,) * bore_m.size),
    )


def law(elements, density_kg_m3, kinematic_m2_s):
    """Drop of each link and its slope for water that is the same everywhere."""
    density = np.full(elements.link.size, density_kg_m3)
    return lambda flow: elements.drop(flow, density, density * kinematic_m2_s)[:2]


def squares(resistance):
    """Drop K Q |Q| of each link, and its slope."""
    resistance = np.asarray(resistance, float)
    return lambda flow: (resistance * flow * np.abs(flow), 2.0 * resistance * np.maximum(np.abs(flow), 1e-9))


def network(nodes, links, fixed):
    start, end = np.array(links).T
    return NetworkGraph(nodes, start, end, np.array(fixed))


@cache
def three_in_parallel():
    """N1. Three pipes between the same two points, head loss 20.3 m, water of 998 kg/m3."""
    elements = pipes([0.08, 0.06, 0.04], [100.0, 150.0, 80.0], [0.003, 0.002, 0.005])
    head_pa = 20.3 * 998.0 * GRAVITY_M_S2
    state = solve_network(
        network(2, [(0, 1)] * 3, [0, 1]), np.array([head_pa, 0.0]), law(elements, 998.0, 1.02e-6), np.ones(3)
    )
    flow_m3_h = state.flow_kg_s / 998.0 * 3600.0
    return {**dict(zip(("flow_a", "flow_b", "flow_c"), flow_m3_h, strict=True)), "flow_total": flow_m3_h.sum()}


@cache
def two_in_parallel():
    """N2. 0.5 m3/s shared by two pipes at Reynolds numbers of millions, beyond the solver's own table."""
    bore, length = np.array([0.2, 0.3]), np.array([400.0, 600.0])
    area = np.pi * bore**2 / 4.0

    def colebrook(flow):
        factor = darcy_friction_factor(np.abs(flow) * bore / (area * 2.94e-4), 0.025e-3 / bore)
        drop = factor * length / bore * flow * np.abs(flow) / (2.0 * 1000.0 * area**2)
        return drop, 2.0 * np.abs(drop / flow)

    state = solve_network(
        network(2, [(0, 1)] * 2, [1]),
        np.zeros(1),
        colebrook,
        np.full(2, 250.0),
        np.array([500.0, 0.0]),
    )
    head_m = state.pressure_pa[0] / (1000.0 * GRAVITY_M_S2)
    return {"flow_a": state.flow_kg_s[0] / 1000.0, "flow_b": state.flow_kg_s[1] / 1000.0, "head_loss": head_m}


@cache
def five_pipes():
    """N3. A bridge of five pipes, 0.5 m3/s in at C and out at B; nodes A B C D."""
    links = {"C-A": (2, 0), "A-D": (0, 3), "C-D": (2, 3), "A-B": (0, 1), "D-B": (3, 1)}
    state = solve_network(
        network(4, list(links.values()), [1]),
        np.zeros(1),
        squares([200.0, 2500.0, 500.0, 800.0, 300.0]),
        np.full(5, 0.1),
        np.array([0.0, 0.0, 0.5, 0.0]),
    )
    return dict(zip(links, state.flow_kg_s, strict=True))


TEN_PIPES = ((0, 1), (1, 2), (2, 3), (3, 4), (4, 0), (3, 5), (5, 6), (6, 4), (2, 7), (7, 5))
"""Ends of the pipes of N4 from its loops [1 2 3 4 5], [-4 6 7 8] and [-3 9 10 -6]."""

TEN_STARTS = np.array([0.04, 0.04, 0.02, -0.02, -0.04, 0.0, 0.0, -0.02, 0.02, 0.0])
"""The flows that N4 starts from: they balance, and so give what is fed in and drawn off."""


@cache
def ten_pipes():
    """N4. Ten pipes in three loops with fixed friction factors."""
    bore = np.array([0.3, 0.2, 0.2, 0.2, 0.2, 0.15, 0.25, 0.15, 0.15, 0.25])
    length = np.array([250.0, 100.0, 125.0, 125.0, 100.0, 100.0, 125.0, 100.0, 100.0, 125.0])
    factor = np.array([0.01879, *[0.02075] * 4, 0.02233, 0.01964, 0.02233, 0.02233, 0.01964])
    area = np.pi * bore**2 / 4.0
    system = network(8, TEN_PIPES, [0])
    inflow = np.bincount(system.start, TEN_STARTS, 8) - np.bincount(system.end, TEN_STARTS, 8)
    resistance = factor * length / bore / (2.0 * GRAVITY_M_S2 * area**2)
    state = solve_network(system, np.zeros(1), squares(resistance), TEN_STARTS, inflow)
    return {f"pipe_{i}": flow for i, flow in enumerate(state.flow_kg_s, start=1)}


@cache
def two_pipe_system():
    """N6. Radiators of 1, 2 and 3 kW at 85/72 °C, 10 per cent lost by the pipes, on one pair of pipes.

    The pipe that carries all the water has the gradient of 6 m of head over 72 m and a quarter more.
    """
    water = plain_water()
    drop_j_kg = float(water.enthalpy_j_kg(85.0) - water.enthalpy_j_kg(72.0))
    flows = 1.1 * np.array([1000.0, 2000.0, 3000.0]) / drop_j_kg
    length = 72.0 * 1.25
    head = 6.0 * 1000.0 * GRAVITY_M_S2
    elements = pipes([0.0202, 0.0202], [length / 3, 2 * length / 3], [7.4e-5] * 2)
    state = solve_network(
        network(3, [(0, 1), (1, 2)], [0, 2]), np.array([head, 0.0]), law(elements, 974.0, 3.9e-7), np.full(2, 0.1)
    )
    gradient = -np.diff(state.pressure_pa) / elements.length_m
    assert gradient[0] == pytest.approx(gradient[1], rel=1e-9)
    return {**{f"flow_{i}_kw": flow for i, flow in enumerate(flows, start=1)}, "gradient": gradient[0]}


QUANTITIES = {
    "three_in_parallel": lambda of: three_in_parallel()[of],
    "two_in_parallel": lambda of: two_in_parallel()[of],
    "five_pipes": lambda of: five_pipes()[of],
    "ten_pipes": lambda of: ten_pipes()[of],
    "two_pipe_system": lambda of: two_pipe_system()[of],
}


test_published_row = replayed("networks", __name__, QUANTITIES)


def test_every_flow_of_a_textbook_network_balances_at_its_nodes():
    flows = np.array(list(ten_pipes().values()))
    start, end = np.array(TEN_PIPES).T
    required = np.bincount(start, TEN_STARTS, 8) - np.bincount(end, TEN_STARTS, 8)
    assert np.bincount(start, flows, 8) - np.bincount(end, flows, 8) == pytest.approx(required, abs=1e-12)
