"""Flows of one unit at a time: their range, and the search in it."""

from __future__ import annotations

import numpy as np
import pytest

from heatloop.hydraulics.sizing.flow_iteration import LoopDuty, drops_and_shortfalls, misses_of_aims
from heatloop.hydraulics.sizing.flows import _first_flows
from heatloop.hydraulics.sizing.searched_flows import (
    MIN_DROP_BY_LOSS_K,
    SLOWEST_TRANSFER_UNITS,
    flow_range,
    searched_aims,
    slowest_kg_s,
)
from heatloop.hydraulics.sizing.trial_solution import TrialSolution
from heatloop.physics.water import plain_water
from tests.helpers.dwelling import LAW, two_loops


def test_the_slowest_flow_has_so_many_transfer_units_at_the_flow_temperature() -> None:
    trial = two_loops()
    law = LAW
    power = law.exponent - 1.0
    conductance = [
        law.k_w_mkn * (2.0 * 30.0**power + 4.0 * 35.0**power),
        law.k_w_mkn * 6.0 * 20.0**power,
    ]
    capacity = plain_water().heat_capacity_j_kgk(np.array([50.0, 40.0]))
    assert slowest_kg_s(trial) == pytest.approx(np.array(conductance) / capacity / SLOWEST_TRANSFER_UNITS)


@pytest.mark.parametrize("by_loss", [False, True])
def test_first_flows_meet_their_aims_within_a_hundredth(by_loss: bool) -> None:
    """A drop of 8 K, or 30 W from each metre, which water of 50 and of 40 °C can give."""
    required = {"room": 30.0} if by_loss else None
    trial, duties = two_loops(), [LoopDuty(8.0, required), LoopDuty(8.0, required)]
    aim = _first_flows(trial, duties)
    assert aim.by_loss.tolist() == [by_loss] * 2
    assert aim.warm.all()
    assert not aim.fixed.any()
    assert (aim.flow_kg_s > aim.slowest_kg_s).all()
    miss = misses_of_aims(trial, duties, aim.by_loss)
    scale = 180.0 if by_loss else 8.0
    assert np.abs(miss(aim.flow_kg_s)).max() < 0.01 * scale
    assert (miss(aim.flow_kg_s * 1.3) < miss(aim.flow_kg_s)).all()


NONE_BY_LOSS = np.zeros(2, bool)


@pytest.mark.parametrize("drop_k", [2.0, 5.0, 8.0])
@pytest.mark.parametrize("share", [1.0, 0.5, 0.02])
def test_the_duty_of_a_unit_lies_between_its_minimum_and_its_maximum_flow(drop_k: float, share: float) -> None:
    trial, lowest_k = two_loops(), share * drop_k
    found = drops_and_shortfalls(trial, [LoopDuty(drop_k)] * 2, NONE_BY_LOSS)
    least, most = flow_range(trial, found, np.full(2, drop_k), np.full(2, lowest_k))
    assert (least.flow_kg_s >= slowest_kg_s(trial)).all()
    assert least.drop_k == pytest.approx(trial.drop_k(least.flow_kg_s), abs=1e-9)
    assert (least.drop_k >= drop_k).all()
    assert most.drop_k == pytest.approx(trial.drop_k(most.flow_kg_s), abs=1e-9)
    assert (most.drop_k <= lowest_k).all()
    assert (most.flow_kg_s >= 2.0 * least.flow_kg_s).all()
    assert (trial.drop_k(most.flow_kg_s / 2.0) > lowest_k).all()


def heat_w(trial: TrialSolution, flows: np.ndarray) -> np.ndarray:
    """Heat of each loop into its room of 20 and of 15 °C; nothing else is heated."""
    return np.array([sum(rooms.values()) for rooms in trial.room_w(flows)])


def by_loss(share: float) -> tuple[TrialSolution, list[LoopDuty], np.ndarray, np.ndarray]:
    """Two loops whose room requires what they give at half their maximum flow, and `share` of what the rest adds.

    Also the two flows.
    """
    trial, duties = two_loops(), [LoopDuty(8.0, {"room": 0.0})] * 2
    found = drops_and_shortfalls(trial, duties, ~NONE_BY_LOSS)
    _, most = flow_range(trial, found, np.full(2, 8.0), np.full(2, MIN_DROP_BY_LOSS_K))
    half, whole = heat_w(trial, most.flow_kg_s / 2.0), heat_w(trial, most.flow_kg_s)
    required_w = half + share * (whole - half)
    return (
        two_loops(),
        [LoopDuty(8.0, {"room": float(own_w) / 6.0}) for own_w in required_w],
        required_w,
        most.flow_kg_s,
    )


def test_a_room_that_is_warm_only_in_the_last_doubling_of_the_flow_is_found_there() -> None:
    trial, duties, required_w, most_kg_s = by_loss(0.1)
    aim = searched_aims(trial, duties, ~NONE_BY_LOSS)
    assert aim.by_loss.all()
    assert aim.warm.all()
    assert not aim.fixed.any()
    assert (aim.flow_kg_s > most_kg_s / 2.0).all()
    assert (aim.flow_kg_s < most_kg_s).all()
    assert (trial.drop_k(aim.flow_kg_s) > MIN_DROP_BY_LOSS_K).all()
    assert heat_w(trial, aim.flow_kg_s) == pytest.approx(required_w, rel=3e-3)


def test_a_room_that_no_flow_makes_warm_has_the_flow_of_its_design_drop() -> None:
    trial, duties, _, _ = by_loss(1.5)
    aim = searched_aims(trial, duties, ~NONE_BY_LOSS)
    assert not aim.by_loss.any()
    assert not aim.warm.any()
    assert trial.drop_k(aim.flow_kg_s) == pytest.approx(8.0, rel=0.2)


def test_a_room_that_is_warm_at_the_minimum_flow_keeps_it() -> None:
    trial, duties = two_loops(), [LoopDuty(8.0, {"room": 1.0}), LoopDuty(8.0, {"room": 30.0})]
    aim = searched_aims(trial, duties, ~NONE_BY_LOSS)
    assert aim.fixed.tolist() == [True, False]
    assert aim.warm.all()
    assert trial.drop_k(aim.flow_kg_s)[0] >= 8.0


def test_the_ends_of_the_range_are_tried_once(monkeypatch: pytest.MonkeyPatch) -> None:
    trial, duties, _, most_kg_s = by_loss(-1.0)
    tried, plain = [], TrialSolution.drop_and_room_heat
    monkeypatch.setattr(
        TrialSolution,
        "drop_and_room_heat",
        lambda own, flows: tried.append(flows.tolist()) or plain(own, flows),  # type: ignore[func-returns-value]
    )
    searched_aims(trial, duties, ~NONE_BY_LOSS)
    assert tried.count((SLOWEST_TRANSFER_UNITS / 2.0 * slowest_kg_s(trial)).tolist()) == 1
    assert tried.count(most_kg_s.tolist()) == 1
    assert len(tried) > 5
