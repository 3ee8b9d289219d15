"""Heat at the flows of a state is that of the state."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heatloop.hydraulics.analysis.fixed_flow_heat import heat_at_fixed_flows
from heatloop.hydraulics.solver.operating_state import SystemState
from tests.helpers.back_loss_loops import WATER, solved


@pytest.fixture(scope="module")
def state() -> SystemState:
    return solved(1500.0)


def test_heat_at_the_flows_of_a_state_is_its_own(state: SystemState) -> None:
    (again,) = heat_at_fixed_flows(state, [state.network.loops], WATER)
    assert again.return_c == pytest.approx(state.return_c, abs=1e-7)
    assert again.tail_loss_w == pytest.approx(state.tail_loss_w, rel=1e-6)
    for ours, theirs in zip(again.arms, state.arms, strict=True):
        assert ours.given_w == pytest.approx(theirs.given_w, rel=1e-6)
    less = [
        replace(
            path,
            arms=tuple(
                replace(arm, cells=tuple(replace(cell, factor=0.5 * cell.factor) for cell in arm.cells))
                for arm in path.arms
            ),
        )
        for path in state.network.loops
    ]
    halved, same = heat_at_fixed_flows(state, [less, state.network.loops], WATER)
    assert (halved.return_c > state.return_c + 0.5).all()
    assert same.return_c == pytest.approx(again.return_c, abs=1e-9)
