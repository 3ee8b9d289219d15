"""What mixed circuits draw and mixed loops mix in, as inflow into the nodes whose pressure is unknown."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from heatloop.hydraulics.solver.pump_boundary import source_feed


@pytest.mark.parametrize(
    ("nodes", "inflow_kg_s"),
    [
        ((2, 4), [0.02, -0.02, 0.0]),
        ((4, 7), [0.0, 0.02, -0.02]),
        ((0, 2), [-0.02, 0.0, 0.0]),
        ((7, 9), [0.0, 0.0, 0.02]),
    ],
)
def test_what_a_loop_mixes_in_goes_from_its_return_to_its_flow(
    nodes: tuple[int, int], inflow_kg_s: list[float]
) -> None:
    """A node of known pressure, be it the first or the last of all, has no balance of its own."""
    equations = SimpleNamespace(unknown=np.array([2, 4, 7]))
    network = SimpleNamespace(node_equations=equations, circuits=[None], loop_nodes=np.array([nodes]))
    inflow = np.full((3, 1), 9.0)
    source_feed(network, inflow, np.zeros((0, 1)), np.array([[0.02]]))  # type: ignore[arg-type]
    assert inflow.ravel().tolist() == inflow_kg_s
