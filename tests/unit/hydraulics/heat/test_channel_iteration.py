"""Cells that are divided again between steps go on from the temperatures so far."""

from __future__ import annotations

import numpy as np
import pytest

from heatloop.hydraulics.heat import channel_iteration
from heatloop.hydraulics.heat.arm_groups import group_similar_arms
from heatloop.hydraulics.heat.channel_heat import solve_group
from heatloop.hydraulics.heat.channel_iteration import ChannelIteration
from heatloop.physics.channels.grid import _along
from heatloop.physics.water import plain_water
from tests.helpers.dwelling import loop_path

WATER = plain_water()
ARMS = [loop_path(name, None, piece_m, pieces=4).arms[0] for name, piece_m in (("a", 1.5), ("b", 0.7), ("c", 2.0))]
INLET_C = np.array([35.0, 75.0, 50.0])
FLOW = np.full((2, 3), 0.004)


def test_temperatures_so_far_are_where_cells_divided_again_begin() -> None:
    """Runs of very different inlets, at a flow lower by a third: none moves much more than the returns do."""
    (group,) = group_similar_arms(ARMS)
    iteration = ChannelIteration(group, WATER, 1)
    for _ in range(6):
        iteration.step(FLOW[:, :, None], INLET_C[:, None])
    parts = iteration.parts.copy()
    slower = FLOW / 1.5
    first_k = iteration.step(slower[:, :, None], INLET_C[:, None])
    assert iteration.parts.sum() > parts.sum()
    before = solve_group(group, FLOW, INLET_C, WATER)
    after = solve_group(group, slower, INLET_C, WATER)
    physical_k = float(np.abs(after.joined_c - before.joined_c).max())
    assert first_k < 3.0 * physical_k
    for _ in range(6):
        iteration.step(slower[:, :, None], INLET_C[:, None])
    assert iteration.return_c[:, 0] == pytest.approx(after.joined_c, abs=1e-6)


def test_the_coordinate_of_nodes_rises_along_every_run_and_from_one_to_the_next() -> None:
    (group,) = group_similar_arms(ARMS)
    along = _along(group.runs)
    assert along.size == 3 * 5
    within = np.diff(along.reshape(3, 5), axis=1)
    assert within.ravel() == pytest.approx(group.runs.length_m)
    assert (np.diff(along) > 0.0).all()


def test_cells_are_cut_again_a_limited_number_of_times(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing is ever fine enough, each cut halves all cells, and after the last the result stands."""
    monkeypatch.setattr(channel_iteration, "MAX_CUTS", 2)
    monkeypatch.setattr(channel_iteration, "refinement_needed", lambda solved, _: np.full(solved.emitted_w.shape[1], 2))
    (group,) = group_similar_arms(ARMS)
    iteration = ChannelIteration(group, WATER, 1)
    counts = []
    for _ in range(60):
        iteration.step(FLOW[:, :, None], INLET_C[:, None])
        counts.append(int(iteration.parts.sum()))
        if iteration.is_fine() or counts[-1] > 4 * counts[0]:
            break
    assert sorted(set(counts)) == [counts[0], 2 * counts[0], 4 * counts[0]]
    assert len(counts) < 60
