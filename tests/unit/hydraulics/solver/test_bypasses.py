"""A bypass with an opening pressure opens at it, and closes where its water stands."""

from __future__ import annotations

import numpy as np
import pytest

from heatloop.hydraulics.network.build import Levels, PipeworkInput, build_network
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.solver.bypasses import BypassState
from heatloop.hydraulics.solver.coupled import FlowReversed
from heatloop.hydraulics.solver.operating_state import OperatingConditions, solve_state
from heatloop.physics.water import plain_water
from heatloop.survey.water_system import Bypass, Trunk
from tests.helpers.dwelling import PIPES, loop_path


@pytest.mark.parametrize(
    ("was_open", "flow_kg_s", "spare_pa", "is_open"),
    [
        (False, 0.0, -500.0, False),
        (False, 0.0, 500.0, True),
        (False, 0.01, 500.0, True),
        (False, 0.01, -500.0, False),
        (True, 0.01, 500.0, True),
        (True, 0.01, -500.0, True),
        (True, 0.0, 500.0, False),
        (True, -0.01, -500.0, False),
    ],
)
def test_a_closed_bypass_asks_for_pressure_and_an_open_one_for_flow(
    was_open: bool, flow_kg_s: float, spare_pa: float, is_open: bool
) -> None:
    bypasses = [Bypass("always", 0.2, "one"), Bypass("valve", 0.2, "one", opens_at_kpa=12.0)]
    network = build_network(
        [loop_path("a", "one", 1.0)], PipeworkInput((Trunk("one", "trunk 28", 5.0),), PIPES, bypasses)
    )
    links = network.graph.start.size
    always, valve = network.bypass_link
    state, held = BypassState(network, 1), np.full((links, 1), np.nan)
    state.hold(held, np.zeros((links, 1)), np.full((links, 1), 1.0 if was_open else -1.0))
    assert np.isnan(held[valve, 0]) == was_open
    state.hold(held, np.full((links, 1), flow_kg_s), np.full((links, 1), spare_pa))
    assert np.isnan(held[valve, 0]) == is_open
    assert is_open or held[valve, 0] == 0.0
    assert np.isnan(held[always, 0])
    opening_pa = state.opening_pa(None, (links, 1))
    assert opening_pa is not None
    assert opening_pa.ravel().tolist() == [12e3 if link == valve else 0.0 for link in range(links)]


def test_a_bypass_that_lets_return_water_rise_is_an_error_with_its_name() -> None:
    """By buoyancy a loop upstairs draws more than the pump gives; with an opening pressure the bypass is closed."""
    trunk = Trunk("main", "trunk 28", 5.0)
    path = loop_path("upstairs", "main", 1.0)
    upstairs = Levels({cell.room: 6.0 for arm in path.arms for cell in arm.cells})
    for opens_at_kpa in (None, 5.0):
        pipework = PipeworkInput((trunk,), PIPES, [Bypass("open", 0.5, "main", opens_at_kpa)])
        network = build_network([path], pipework, upstairs)
        conditions = OperatingConditions(np.array([70.0]), [ConstantHead(1.0)])
        if opens_at_kpa is None:
            with pytest.raises(FlowReversed, match='bypass "open": flow is reversed'):
                solve_state(network, conditions, plain_water())
        else:
            assert solve_state(network, conditions, plain_water()).bypass_kg_s[0] == 0.0
