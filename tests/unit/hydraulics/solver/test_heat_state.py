"""Loops that count as closed: below 4 ml/h, until they carry twice as much."""

from __future__ import annotations

import numpy as np

from heatloop.hydraulics.network.build import build_network
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.solver.heat_state import HeatState
from heatloop.hydraulics.solver.problem import CLOSED_KG_S, OperatingProblem
from tests.helpers.back_loss_loops import WATER
from tests.helpers.dwelling import loop_path


def test_a_closed_loop_opens_again_at_twice_the_flow_at_which_it_closed() -> None:
    network = build_network([loop_path(name, None, 1.0) for name in "ab"])
    problem = OperatingProblem(np.full((2, 1), 50.0), np.array([[50.0]]), (ConstantHead(1e3),))
    state = HeatState(network, problem, WATER)
    course = []
    for share in (1.5, 1.0, 1.5, 1.99, 2.01, 1.5, 1.01, 0.99):
        state._shut_now(CLOSED_KG_S * np.array([[share], [0.5]]))
        course.append(bool(state.shut[0, 0]))
    assert course == [False, True, True, True, False, False, False, True]
    assert state.shut[1, 0]
    assert not state._shut_now(np.full((2, 1), 0.01))
    assert not state.shut.any()
