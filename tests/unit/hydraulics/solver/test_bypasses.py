"""A bypass with an opening pressure opens at it, and closes where its water stands."""

from __future__ import annotations

import numpy as np
import pytest

from heatloop.hydraulics.network.build import PipeworkInput, build_network
from heatloop.hydraulics.solver.bypasses import BypassState
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
