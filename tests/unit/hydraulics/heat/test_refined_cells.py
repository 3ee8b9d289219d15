"""Cells that are divided again give what undivided ones gave, cell by cell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.heat import channel_heat
from heatloop.hydraulics.heat.arm_groups import group_similar_arms
from heatloop.hydraulics.heat.channel_heat import GroupSolution, arm_results, solve_group
from heatloop.hydraulics.model import Cell
from heatloop.physics.channels.grid import ChannelSolution
from heatloop.physics.water import plain_water
from tests.helpers.dwelling import loop_path

WATER = plain_water()
PATHS = [
    loop_path("a", None, 1.0, pieces=3, rooms_c=(20.0, 18.0, 22.0)),
    loop_path("b", None, 2.0, pieces=5),
]
ARMS = [path.arms[0] for path in PATHS]
FLOW = np.array([[0.02, 0.03], [0.02, 0.03]])
INLET_C = np.array([50.0, 60.0])


def solved() -> GroupSolution:
    (group,) = group_similar_arms(ARMS)
    return solve_group(group, FLOW, INLET_C, WATER)


@pytest.mark.parametrize("rounds", [1, 2])
def test_cells_divided_again_give_the_same_heat(rounds: int, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = solved()
    draw = np.random.default_rng(1)
    left = [rounds]

    def cut(channels: ChannelSolution) -> np.ndarray | None:
        if not left[0]:
            return None
        left[0] -= 1
        return draw.integers(1, 4, channels.middle_c.shape[1])

    monkeypatch.setattr(channel_heat, "refinement_needed", cut)
    finer = solved()
    assert finer.parts.sum() > plain.parts.sum()
    assert finer.parts.size == plain.parts.size
    assert finer.joined_c == pytest.approx(plain.joined_c, abs=2e-6)
    for ours, theirs in zip(arm_results(finer), arm_results(plain), strict=True):
        assert ours.emitted_w == pytest.approx(theirs.emitted_w, rel=1e-6)
        assert ours.return_c == pytest.approx(theirs.return_c, abs=2e-6)


def three_times(cell: Cell) -> Cell:
    return replace(cell, length_m=3.0 * cell.length_m)


def test_a_solve_from_another_at_a_hair_more_flow_is_that_from_nothing() -> None:
    (group,) = group_similar_arms(ARMS)
    fresh = solve_group(group, FLOW, INLET_C, WATER)
    before = solve_group(group, FLOW * 1.001, INLET_C, WATER)
    again = solve_group(group, FLOW, INLET_C, WATER, before)
    assert again.joined_c == pytest.approx(fresh.joined_c, abs=1e-8)
    longer = [
        replace(arm, cells=tuple(replace(cell, length_m=3.0 * cell.length_m) for cell in arm.cells)) for arm in ARMS
    ]
    (other,) = group_similar_arms(longer)
    assert solve_group(other, FLOW, INLET_C, WATER).joined_c.max() < fresh.joined_c.min()
