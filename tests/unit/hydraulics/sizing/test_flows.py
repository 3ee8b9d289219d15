"""Flows of loops for their drop: what the water brings back at them, and drops that no flow can give."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from heatloop.hydraulics.from_survey import supply_temp_c
from heatloop.hydraulics.heat.arm_groups import group_similar_arms
from heatloop.hydraulics.heat.channel_heat import solve_group
from heatloop.hydraulics.lots.dwelling import LotDwelling
from heatloop.hydraulics.model import EmitterCharacteristic, LoopPath, PathElement
from heatloop.hydraulics.network.build import build_network
from heatloop.hydraulics.sizing import flows as sizing_flows
from heatloop.hydraulics.sizing.flow_iteration import LoopDuty, TemperatureDropNotReachable, _corrected
from heatloop.hydraulics.sizing.flows import (
    NEAR_K,
    LoopSizing,
    _first_flows,
    _flows_of_initial_guess,
    _quick_flows,
    size_loops,
    sized_loops,
)
from heatloop.hydraulics.sizing.size_system import loop_duties
from heatloop.hydraulics.sizing.trial_solution import ROUGH_K, TrialSolution, loops_network
from heatloop.hydraulics.solver.operating_state import OperatingConditions, solve_state
from heatloop.physics.water import plain_water
from tests.helpers.dwelling import loop_path
from tests.helpers.lot_systems import lot_survey

WATER = plain_water()
SUPPLY_C = np.array([55.0, 50.0])
PATHS = [
    loop_path("there and back", None, 1.2, film=True),
    loop_path("one way", None, 0.9, film=True, one_way=True),
]


def sized(drops_k: tuple[float, float], arriving: Any = None) -> LoopSizing:
    return size_loops(loops_network(PATHS), [LoopDuty(drop) for drop in drops_k], SUPPLY_C, WATER, arriving)


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
    alone = loops_network(PATHS[:1]), [LoopDuty(greatest_k)], SUPPLY_C[:1], WATER
    only = None if arriving is None else lambda flows: arriving(flows)[:1]
    assert size_loops(*alone, only).drop_k == pytest.approx(greatest_k, abs=1e-3)
    with pytest.raises(TemperatureDropNotReachable):
        size_loops(alone[0], [LoopDuty(greatest_k + 0.3)], *alone[2:], only)


@pytest.mark.parametrize("scale", [1.0, 1e-5])
def test_slopes_corrected_by_a_step_give_the_change_that_was_observed(scale: float) -> None:
    """Two units of one loop and one of another, which stays as it was; beside the step nothing changes."""
    rng = np.random.default_rng(2)
    related = np.array([[1, 1, 0], [1, 1, 0], [0, 0, 1]]) > 0
    slopes = np.where(related, rng.normal(size=(3, 3)), 0.0)
    step, change = scale * rng.normal(size=3), scale * rng.normal(size=3)
    found = _corrected(slopes, step, change, np.array([True, True, False]), related)
    assert found[:2] @ step == pytest.approx(change[:2], rel=1e-12)
    assert found[2].tolist() == slopes[2].tolist()
    across = np.array([-step[1], step[0], 0.0])
    assert found @ across == pytest.approx(slopes @ across, rel=1e-9)
    still = _corrected(slopes, np.zeros(3), change, np.ones(3, bool), related)
    assert still.tolist() == slopes.tolist()


def two_arms(directions: tuple[int, ...], valves: bool) -> LoopPath:
    """A loop fed from the middle, three pieces one way and seven the other."""
    plain, arms = loop_path("two arms", None, 1.0), []
    for pieces in (3, 7):
        arm = loop_path("arm", None, 1.0, pieces=pieces, one_way=-1 not in directions).arms[0]
        sides = {sign: arm.channels[0 if sign > 0 else -1] for sign in directions}
        channels = tuple(tuple(replace(e) for e in sides[sign]) for sign in directions)
        valve = (replace(plain.tail_return[0]),) if valves else ()
        ducts = (arm.ducts[0],) * len(directions)
        arms.append(replace(arm, directions=directions, channels=channels, ducts=ducts, return_valve=valve))
    return replace(plain, arms=tuple(arms))


@pytest.mark.parametrize("directions", [(1,), (1, -1), (1, 1, -1)])
def test_arms_without_valves_share_their_loop_by_their_resistance(directions: tuple[int, ...]) -> None:
    """The network solved at the sized flow parts it in the same way, and brings it back cooler by the drop."""
    path = two_arms(directions, valves=False)
    (loop,) = size_loops(loops_network([path]), [LoopDuty(7.0)], SUPPLY_C[:1], WATER).loops
    network = build_network([path])
    state = solve_state(network, OperatingConditions(SUPPLY_C[:1], [np.array([loop.flow_kg_s])]), WATER)
    carried = [
        sum(state.link_flow_kg_s[link] for link, sign in zip(links, directions, strict=True) if sign > 0)
        if len(set(np.ravel(links).tolist())) > 1
        else state.link_flow_kg_s[links[0]]
        for links in network.channel_link
    ]
    assert np.array(loop.arm_flow_kg_s) == pytest.approx(np.array(carried), rel=1e-5)
    assert loop.arm_flow_kg_s[0] > 1.1 * loop.arm_flow_kg_s[1]
    assert sum(loop.arm_flow_kg_s) == pytest.approx(loop.flow_kg_s, rel=1e-12)
    assert SUPPLY_C[0] - state.return_c[0] == pytest.approx(7.0, abs=1e-3)


@pytest.mark.parametrize("directions", [(1, -1), (1, 1, -1)])
def test_each_arm_with_a_valve_has_the_drop_of_its_loop(directions: tuple[int, ...]) -> None:
    path = two_arms(directions, valves=True)
    (loop,) = size_loops(loops_network([path]), [LoopDuty(7.0)], SUPPLY_C[:1], WATER).loops
    assert loop.arm_flow_kg_s[1] > 1.5 * loop.arm_flow_kg_s[0]
    trial = TrialSolution(loops_network([path]), SUPPLY_C[:1], WATER)
    flows = np.array(loop.arm_flow_kg_s)
    for _ in range(3):
        trial.share_again(flows)
    assert trial.drop_k(flows) == pytest.approx([7.0, 7.0], abs=2e-3)
    alone = trial.alone(0, flows)
    carried = [
        sum(alone.link_flow_kg_s[link] for link, sign in zip(links, directions, strict=True) if sign > 0)
        if len(set(np.ravel(links).tolist())) > 1
        else alone.link_flow_kg_s[links[0]]
        for links in alone.network.channel_link
    ]
    assert np.array(carried) == pytest.approx(flows, rel=2e-3)


@pytest.mark.parametrize("supply_c", [42.0, 65.0])
def test_flows_sized_in_other_conditions_are_near_those_of_these(supply_c: float) -> None:
    """Adapted by excess and drop they are within a third, and sizing from them ends at the same flows."""
    duties, supply = [LoopDuty(6.0), LoopDuty(9.0)], np.array([supply_c, supply_c - 3.0])
    before = sized((8.0, 8.0))
    fresh = size_loops(loops_network(PATHS), duties, supply, WATER)
    expected = np.array([loop.flow_kg_s for loop in fresh.loops])
    aim = _flows_of_initial_guess(TrialSolution(loops_network(PATHS), supply, WATER), duties, before)
    assert aim is not None
    assert aim.flow_kg_s == pytest.approx(expected, rel=0.3)
    again = size_loops(loops_network(PATHS), duties, supply, WATER, None, before)
    assert np.array([loop.flow_kg_s for loop in again.loops]) == pytest.approx(expected, rel=1e-4)
    other = TrialSolution(loops_network(PATHS[:1]), supply[:1], WATER)
    assert _flows_of_initial_guess(other, duties[:1], before) is None


@pytest.mark.parametrize("warmer_k", [0.5, -1.5, 4.0])
def test_loops_sized_by_loss_start_from_the_flows_of_nearly_the_same_water(warmer_k: float) -> None:
    """They start at the flows found before for nearly the same water, and end as a fresh sizing."""
    duties, supply_c = [LoopDuty(8.0, {"room": 30.0}), LoopDuty(8.0, {"room": 45.0})], SUPPLY_C + warmer_k
    network = loops_network(PATHS)
    before = size_loops(network, duties, SUPPLY_C, WATER)
    trial = TrialSolution(network, supply_c, WATER)
    trial.tolerance_k = ROUGH_K
    started = _first_flows(trial, duties, before).flow_kg_s.tolist() == before.met.flow_kg_s.tolist()
    assert started == (abs(warmer_k) <= NEAR_K)
    again = size_loops(network, duties, supply_c, WATER, None, before)
    fresh = size_loops(network, duties, supply_c, WATER)
    assert again.met.flow_kg_s == pytest.approx(fresh.met.flow_kg_s, rel=1e-8)
    assert again.met.by_loss.all()
    other = [LoopDuty(8.0, {"room": 29.0}), duties[1]]
    assert size_loops(network, other, SUPPLY_C, WATER, None, before).met.flow_kg_s == pytest.approx(
        size_loops(network, other, SUPPLY_C, WATER).met.flow_kg_s, rel=1e-8
    )


def test_a_loop_with_one_flow_does_not_start_from_one_whose_arms_have_their_own() -> None:
    duty = [LoopDuty(8.0, {"room": 30.0})]
    by_arms = size_loops(loops_network([two_arms((1, -1), valves=True)]), duty, SUPPLY_C[:1], WATER)
    assert by_arms.met.flow_kg_s.size == 2
    network = loops_network(PATHS[:1])
    again, fresh = (size_loops(network, duty, SUPPLY_C[:1], WATER, None, guess) for guess in (by_arms, None))
    assert again.met.flow_kg_s == pytest.approx(fresh.met.flow_kg_s, rel=1e-8)


@pytest.mark.parametrize("drops_k", [(4.0, 4.0), (9.0, 6.0), (14.0, 12.0)])
def test_quick_flows_give_their_drops_and_how_these_change(drops_k: tuple[float, float]) -> None:
    """Within a thousandth; the slopes are those of differences, within a tenth."""
    trial, duties = TrialSolution(loops_network(PATHS), SUPPLY_C, WATER), [LoopDuty(drop) for drop in drops_k]
    found = _quick_flows(trial, duties)
    assert found is not None
    flows, slope_k = found
    drop = trial.drop_k(flows)
    assert drop == pytest.approx(np.array(drops_k), rel=1.1e-3)
    by_difference = (trial.drop_k(flows * 1.001) - trial.drop_k(flows / 1.001)) / (2.0 * np.log(1.001))
    assert slope_k == pytest.approx(by_difference, rel=0.1)


def test_heat_into_rooms_is_what_the_water_gives_of_skirting_and_emitters() -> None:
    law = EmitterCharacteristic(k_w_kn=1.6, exponent=1.25, room_c=22.0)
    path = PATHS[0]
    rail = PathElement("emitter", "rail", "bath", 0, 0, "return", path.tail_flow[0].duct, 1.5e-6, emits=law)
    trial = TrialSolution(loops_network([replace(path, tail_return=(rail, *path.tail_return))]), SUPPLY_C[:1], WATER)
    flow = np.array([0.02])
    back_c = SUPPLY_C[0] - float(trial.drop_k(flow)[0])
    (rooms,) = trial.room_w(flow)
    given_w = 0.02 * float(WATER.enthalpy_j_kg(SUPPLY_C[0]) - WATER.enthalpy_j_kg(back_c))
    assert rooms.keys() == {"room", "bath"}
    assert sum(rooms.values()) == pytest.approx(given_w, rel=1e-7)


def test_loops_sized_again_for_the_same_water_keep_the_targets_of_their_units(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """By loss: which rooms can be warm and which flows are fixed is not searched again, and the flows are the same."""
    survey = lot_survey(307, "loss")
    dwelling = LotDwelling.of(survey)
    network, duties = loops_network(dwelling.paths), loop_duties(survey, dwelling.room_losses, dwelling.paths)
    supply_c = np.array([supply_temp_c(survey, loop) for loop in survey.loops], float)
    first = sized_loops(network, duties, supply_c, dwelling.fluid)
    cooler = sized_loops(network, duties, supply_c, dwelling.fluid, lambda flows: supply_c - 0.1, first)
    fresh = sized_loops(network, duties, supply_c, dwelling.fluid, lambda flows: supply_c - 0.1)
    np.testing.assert_allclose(cooler.met.flow_kg_s, fresh.met.flow_kg_s, rtol=1e-7)
    monkeypatch.setattr(sizing_flows, "searched_aims", None)
    again = sized_loops(network, duties, supply_c, dwelling.fluid, None, first)
    np.testing.assert_allclose(again.met.flow_kg_s, first.met.flow_kg_s, rtol=1e-8)
    with pytest.raises(TypeError):
        sized_loops(network, duties, supply_c + 0.5, dwelling.fluid, None, first)
