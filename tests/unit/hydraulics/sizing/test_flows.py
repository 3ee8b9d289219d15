"""Flows of loops for their drop: what the water brings back at them, and drops that no flow can give."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from heatloop.hydraulics.heat.arm_groups import group_similar_arms
from heatloop.hydraulics.heat.channel_heat import solve_group
from heatloop.hydraulics.sizing.flow_iteration import LoopDuty, TemperatureDropNotReachable, _corrected
from heatloop.hydraulics.sizing.flows import LoopSizing, size_loops
from heatloop.physics.water import plain_water
from tests.helpers.dwelling import loop_path

WATER = plain_water()
SUPPLY_C = np.array([55.0, 50.0])
PATHS = [
    loop_path("there and back", None, 1.2, film=True),
    loop_path("one way", None, 0.9, film=True, one_way=True),
]


def sized(drops_k: tuple[float, float], arriving: Any = None) -> LoopSizing:
    return size_loops(PATHS, [LoopDuty(drop) for drop in drops_k], SUPPLY_C, WATER, arriving)


def cooler_by_a_trunk(loop_kg_s: np.ndarray) -> np.ndarray:
    """A trunk that loses 60 W: the water arrives the cooler the less of it flows."""
    return SUPPLY_C - 60.0 / (4180.0 * max(float(loop_kg_s.sum()), 1e-4))


@pytest.mark.parametrize("arriving", [None, cooler_by_a_trunk], ids=["as supplied", "from a trunk"])
@pytest.mark.parametrize("drops_k", [(8.0, 8.0), (12.0, 5.0)])
def test_at_its_flow_each_loop_brings_back_water_cooler_by_its_drop(
    arriving: Any, drops_k: tuple[float, float]
) -> None:
    found = sized(drops_k, arriving)
    flow_kg_s = np.array([loop.flow_kg_s for loop in found.loops])
    supply_c = SUPPLY_C if arriving is None else arriving(flow_kg_s)
    for loop, path in enumerate(PATHS):
        (group,) = group_similar_arms(path.arms)
        channels = np.full((len(path.arms[0].directions), 1), flow_kg_s[loop])
        back_c = float(solve_group(group, channels, supply_c[[loop]], WATER).joined_c[0])
        assert supply_c[loop] - back_c == pytest.approx(drops_k[loop], abs=1e-4)
    assert found.drop_k == pytest.approx(np.array(drops_k), abs=1e-4)


@pytest.mark.parametrize("arriving", [None, cooler_by_a_trunk], ids=["as supplied", "from a trunk"])
def test_a_drop_that_no_flow_gives_is_answered_by_one_that_a_flow_gives(arriving: Any) -> None:
    """Linked channels warm the return: of 35 K excess about half can be had. A tenth of a kelvin more cannot."""
    with pytest.raises(TemperatureDropNotReachable) as refused:
        sized((33.0, 8.0), arriving)
    greatest_k = refused.value.max_drop_k
    assert (refused.value.loop, refused.value.required_k) == ("there and back", 33.0)
    assert 10.0 < greatest_k < 30.0
    assert greatest_k * 10.0 == pytest.approx(round(greatest_k * 10.0), abs=1e-9)
    alone = [PATHS[0]], [LoopDuty(greatest_k)], SUPPLY_C[:1], WATER
    only = None if arriving is None else lambda flows: arriving(flows)[:1]
    assert size_loops(*alone, only).drop_k == pytest.approx(greatest_k, abs=1e-3)
    with pytest.raises(TemperatureDropNotReachable):
        size_loops(alone[0], [LoopDuty(greatest_k + 0.3)], *alone[2:], only)


def test_slopes_corrected_by_a_step_give_the_change_that_was_observed() -> None:
    """Two units of one loop and one of another, which stays as it was; beside the step nothing changes."""
    rng = np.random.default_rng(2)
    trial: Any = type("Trial", (), {"loop_of_unit": np.array([0, 0, 1])})
    slopes = np.where(np.array([[1, 1, 0], [1, 1, 0], [0, 0, 1]]) > 0, rng.normal(size=(3, 3)), 0.0)
    step, change = rng.normal(size=3), rng.normal(size=3)
    found = _corrected(trial, slopes, step, change, np.array([True, True, False]))
    assert found[:2] @ step == pytest.approx(change[:2], rel=1e-12)
    assert found[2].tolist() == slopes[2].tolist()
    across = np.array([-step[1], step[0], 0.0])
    assert found @ across == pytest.approx(slopes @ across, rel=1e-9)
    still = _corrected(trial, slopes, np.zeros(3), change, np.ones(3, bool))
    assert still.tolist() == slopes.tolist()
