"""The network solver by itself: scenarios side by side, sparse and dense alike, pumps and held flows."""

from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.network import links
from heatloop.hydraulics.network.flow_solver import _moved, newton_step, residuals, solve_network, start_iteration
from heatloop.hydraulics.network.links import ElementArrays, FlowResistance, NetworkGraph, NodeEquations, PumpBoundary
from heatloop.physics.friction import friction_table


def outdoor_steps(rungs):
    """A flow rail and a return rail with rungs between; node 0 is the return at the start, 1 the flow."""
    links = []
    flow, back = 1, 0
    for i in range(rungs):
        ahead = (2 + 2 * i, 3 + 2 * i)
        links += [(flow, ahead[0]), (ahead[1], back), ahead]
        flow, back = ahead
    start, end = np.array(links).T
    count = start.size
    rung = np.arange(count) % 3 == 2
    places = np.arange(count)
    elements = ElementArrays(
        link=places,
        first_element=places,
        area_m2=np.where(rung, np.pi * 0.0136**2 / 4, np.pi * 0.0262**2 / 4),
        hydraulic_diameter_m=np.where(rung, 0.0136, 0.0262),
        length_m=np.where(rung, 20.0, 3.0) * (1.0 + 0.1 * (places % 5)),
        zeta=np.where(rung, 12.0, 0.0),
        kv_m3_h=np.where(rung, 0.8, np.inf),
        friction=np.zeros(count, dtype=np.intp),
        table=friction_table((1e-4,), (64.0,)),
    )
    return NetworkGraph(2 + 2 * rungs, start, end, np.array([0, 1])), elements


def law_of(elements, scenarios=1):
    resistance = FlowResistance.of(elements)
    shape = (elements.link.size, scenarios)
    return resistance.at(np.full(shape, 988.0), np.full((resistance.is_pipe.size, scenarios), 5.4e-4))


def settled(network, elements, fixed_pa, inflow=None, drive=None, held=None):
    wiring = NodeEquations.of(network)
    law = law_of(elements, fixed_pa.shape[1])
    now = start_iteration(network, np.full((elements.link.size, fixed_pa.shape[1]), 0.05), fixed_pa, law)
    inflow = np.zeros((wiring.unknown.size, fixed_pa.shape[1])) if inflow is None else inflow
    for _ in range(60):
        now = newton_step(wiring, now, law, inflow, drive, held)
        if np.all(now.moved < 1e-11):
            break
    return wiring, now, residuals(wiring, now, inflow, None if drive is None else drive.place, held)


def test_scenarios_side_by_side_are_so_many_networks():
    network, elements = outdoor_steps(6)
    heads = np.array([50.0, 2000.0, 40000.0])
    _, now, (mass, head) = settled(network, elements, np.array([np.zeros(3), heads]))
    assert max(mass.max(), head.max()) < 1e-11
    for s, value in enumerate(heads):
        density, viscosity = np.full(18, 988.0), np.full(18, 5.4e-4)
        one = solve_network(
            network,
            np.array([0.0, value]),
            lambda flow, d=density, v=viscosity: elements.drop(flow, d, v)[:2],
            np.full(18, 0.05),
        )
        assert now.flow[:, s] == pytest.approx(one.flow_kg_s, rel=1e-9)
        assert now.pressure[:, s] == pytest.approx(one.pressure_pa, rel=1e-9, abs=1e-9)


def test_sparse_and_dense_agree(monkeypatch):
    network, elements = outdoor_steps(40)
    heads = np.array([[0.0, 0.0], [800.0, 20000.0]])
    _, sparse, _ = settled(network, elements, heads)
    monkeypatch.setattr(links, "DENSE_NODES", 1000)
    _, dense, _ = settled(network, elements, heads)
    assert sparse.flow == pytest.approx(dense.flow, rel=1e-9)


@pytest.mark.parametrize("rungs", [4, 40])
def test_a_pump_made_straight_keeps_its_line(rungs):
    network, elements = outdoor_steps(rungs)
    network = NetworkGraph(network.nodes, network.start, network.end, np.array([0]))
    place = np.array([int(np.flatnonzero(NodeEquations.of(network).unknown == 1)[0])])
    ones = np.ones((1, 2))
    drive = PumpBoundary(place, ones, np.array([[0.0, 3e4]]), np.array([[9e3, 9e3]]))
    _, now, (mass, head) = settled(network, elements, np.zeros((1, 2)), drive=drive)
    total = now.flow[0]
    assert now.pressure[1] == pytest.approx([9e3, 9e3 - 3e4 * total[1]], rel=1e-10)
    assert total[1] < total[0]
    assert max(mass.max(), head.max()) < 1e-11


def test_a_flow_may_be_given_and_another_held():
    network, elements = outdoor_steps(3)
    network = NetworkGraph(network.nodes, network.start, network.end, np.array([0]))
    place = np.array([int(np.flatnonzero(NodeEquations.of(network).unknown == 1)[0])])
    drive = PumpBoundary(place, np.zeros((1, 1)), np.ones((1, 1)), np.array([[0.09]]))
    held = np.full((9, 1), np.nan)
    held[2] = 0.01
    _, now, (mass, head) = settled(network, elements, np.zeros((1, 1)), drive=drive, held=held)
    assert now.flow[0, 0] == pytest.approx(0.09, rel=1e-12)
    assert now.flow[2, 0] == pytest.approx(0.01, rel=1e-12)
    assert now.flow[[5, 8], 0].sum() == pytest.approx(0.08, rel=1e-12)
    assert max(mass.max(), head.max()) < 1e-11


def test_a_law_of_links_is_the_sum_of_its_elements():
    """Elements without a length count by their fittings alone, and their links have slopes of their own."""
    elements = ElementArrays(
        link=np.array([0, 0, 0, 1, 1]),
        first_element=np.array([0, 3]),
        area_m2=np.full(5, 1.4e-4),
        hydraulic_diameter_m=np.full(5, 0.0134),
        length_m=np.array([0.0, 4.0, 0.0, 0.0, 0.0]),
        zeta=np.array([3.0, 0.0, 1.5, 2.0, 0.0]),
        kv_m3_h=np.array([np.inf, np.inf, np.inf, np.inf, 0.4]),
        friction=np.zeros(5, dtype=np.intp),
        table=friction_table((1e-4,), (64.0,)),
    )
    density, viscosity = np.array([985.0, 986.0, 987.0, 988.0, 989.0]), np.linspace(5e-4, 6e-4, 5)
    resistance = FlowResistance.of(elements)
    law = resistance.at(density[:, None], viscosity[resistance.is_pipe, None])
    for flow in (-0.03, -1e-4, 1e-6, 0.02):
        link_flow = np.array([[flow], [2.0 * flow]])
        drop, slope = law(link_flow)
        each, each_slope, _ = elements.drop(link_flow[elements.link, 0], density, viscosity)
        assert drop[:, 0] == pytest.approx([each[:3].sum(), each[3:].sum()], rel=1e-12)
        assert slope[:, 0] == pytest.approx([each_slope[:3].sum(), each_slope[3:].sum()], rel=1e-12)
        near = abs(flow) * 1e-6
        rise = (law(link_flow + near)[0] - law(link_flow - near)[0]) / (2.0 * near)
        assert rise[:, 0] == pytest.approx(slope[:, 0], rel=1e-5)


def test_a_solve_ends_where_rounding_alone_moves_its_flows():
    """Without a tolerance nothing is ever near enough: the balances of mass and head end it."""
    network, elements = outdoor_steps(6)
    density, viscosity = np.full(18, 988.0), np.full(18, 5.4e-4)
    found = solve_network(
        network,
        np.array([0.0, 2000.0]),
        lambda flow: elements.drop(flow, density, viscosity)[:2],
        np.full(18, 0.05),
        tolerance=0.0,
    )
    assert found.iterations < 30
    assert max(found.mass_residual, found.head_residual) < 1e-11


def test_a_residual_of_head_is_a_share_of_the_head_at_any_static_pressure():
    """The same network a metre of water under or 10 m: differences of pressure count alone."""
    network, elements = outdoor_steps(3)
    now = start_iteration(network, np.full((9, 1), 0.05), np.array([[0.0], [2000.0]]), law_of(elements))
    node_equations = NodeEquations.of(network)
    inflow = np.zeros((node_equations.unknown.size, 1))
    _, head = residuals(node_equations, now, inflow)
    misfit = np.abs(now.pressure[network.start] - now.pressure[network.end] - now.drop)
    assert head == pytest.approx(misfit.max(axis=0) / 2000.0)
    _, deeper = residuals(node_equations, replace(now, pressure=now.pressure + 98e3), inflow)
    assert deeper == pytest.approx(head, rel=1e-9)


def test_the_change_of_a_flow_beside_much_larger_ones_is_a_share_of_them():
    """A mixing valve can pass a flow as small as the rounding of the flows beside it."""
    flow = np.array([[0.07, 0.07], [-0.03, 0.02], [2e-10, 7e-6]])
    change = np.array([[0.0, 0.0], [0.0, 0.0], [1.4e-17, -7e-9]])
    assert _moved(change, flow) == pytest.approx([1.4e-17 / 7e-8, 1e-3], rel=1e-12)
    assert _moved(np.array([[1e-15]]), np.array([[0.0]])) == pytest.approx([1e-5])
