"""The search for the flow of the largest drop: which way a unit goes, and when no flow is left between."""

from __future__ import annotations

import math

import numpy as np
import pytest

from heatloop.hydraulics.sizing.flow_iteration import LoopDuty, TemperatureDropNotReachable, _PeakSearch
from heatloop.hydraulics.sizing.trial_solution import TrialSolution, loops_network
from heatloop.physics.water import plain_water
from tests.helpers.dwelling import loop_path


def search() -> _PeakSearch:
    """Of two loops, both for a drop of 8 K."""
    network = loops_network([loop_path(name, None, 1.0) for name in "ab"])
    trial = TrialSolution(network, np.array([50.0, 50.0]), plain_water())
    return _PeakSearch(trial, [LoopDuty(8.0), LoopDuty(8.0)], np.ones(2, bool))


def test_a_unit_whose_drop_rises_with_flow_is_on_the_slow_side_of_its_largest_drop() -> None:
    """It goes on with more flow, by a fifth in the logarithm; a unit whose drop falls with flow goes where it is
    sent."""
    flows, required = np.array([0.01, 0.01]), np.array([0.008, 0.008])
    found = search().bounded(flows, required, np.array([-1.0, -1.0]), np.array([0.5, -0.5]))
    assert found == pytest.approx([0.01 * math.exp(0.2), 0.008])
    met = search().bounded(flows, required, np.array([1.0, 1.0]), np.array([0.5, -0.5]))
    assert met.tolist() == required.tolist()


def test_a_unit_known_on_both_sides_is_tried_between_them() -> None:
    peaks, sent = search(), np.array([0.02, 0.02])
    peaks.bounded(np.array([0.01, 0.01]), sent, np.full(2, -1.0), np.array([0.5, 0.5]))
    peaks.bounded(np.array([0.04, 0.04]), sent, np.full(2, -1.0), np.array([-0.5, -0.5]))
    back = peaks.bounded(np.array([0.03, 0.03]), np.array([0.009, 0.025]), np.full(2, -1.0), np.array([-0.5, -0.5]))
    assert back == pytest.approx([math.sqrt(0.01 * 0.03), 0.025])


def test_a_drop_that_is_short_on_both_sides_of_the_largest_is_refused_by_name() -> None:
    peaks, slopes = search(), np.array([-0.5, 0.5])
    peaks.bounded(np.array([0.01, 0.01]), np.array([0.02, 0.02]), np.array([1.0, -0.4]), slopes)
    with pytest.raises(TemperatureDropNotReachable) as refused:
        peaks.bounded(np.array([0.01, 0.010005]), np.array([0.02, 0.02]), np.array([1.0, -0.3]), -np.abs(slopes))
    assert (refused.value.loop, refused.value.required_k) == ("b", 8.0)
    assert refused.value.max_drop_k == pytest.approx(7.7)
    assert str(refused.value) == "loop 'b' cannot reach a drop of 8 K, the greatest is 7.70 K"
