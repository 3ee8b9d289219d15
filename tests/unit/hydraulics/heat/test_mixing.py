"""Streams of water joined: by enthalpy, with what is lost on the way, and what a mixing valve draws."""

from __future__ import annotations

import numpy as np
import pytest

from heatloop.hydraulics.heat.mixing import (
    MAX_LOST_J_KG,
    draw_off_share,
    estimated_mixed_temperature_c,
    loop_draw_share,
    mixed_temperature_c,
    repeat_for_scenarios,
)
from heatloop.physics.water import plain_water

WATER = plain_water()
MEMBER = np.array([[1.0, 1.0, 0.0], [0.0, 1.0, 1.0], [0.0, 0.0, 0.0]])
FLOW = np.array([[0.02, 0.0], [0.03, 0.05], [0.01, 0.0]])
TEMP = np.array([[60.0, 20.0], [30.0, 35.0], [45.0, 90.0]])


def enthalpy(temp_c: object) -> np.ndarray:
    return np.asarray(WATER.enthalpy_j_kg(np.asarray(temp_c, float)))


@pytest.mark.parametrize("guess_c", [None, 41.0])
def test_a_mixture_has_the_heat_of_its_streams(guess_c: float | None) -> None:
    guess = None if guess_c is None else np.full((3, 2), guess_c) + np.array([[1.0, -6.0], [-7.2, -6.0], [0.0, 0.0]])
    mixed = mixed_temperature_c(WATER, MEMBER, FLOW, TEMP, guess)
    for row, scenario in ((0, 0), (0, 1), (1, 0), (1, 1)):
        who = MEMBER[row] > 0.0
        flow, temp = FLOW[who, scenario], TEMP[who, scenario]
        heat = float(flow @ enthalpy(temp) / flow.sum())
        assert float(enthalpy(mixed[row, scenario])) == pytest.approx(heat, rel=1e-6)
    assert 20.0 < mixed[2, 0] < 90.0, "a mean where nothing is mixed"


def test_what_was_lost_is_missing_and_no_more_than_any_pipe_takes() -> None:
    lost_w = np.array([[100.0, 0.0], [0.0, 0.0], [0.0, 0.0]])
    mixed = mixed_temperature_c(WATER, MEMBER, FLOW, TEMP, less_w=lost_w)
    whole = mixed_temperature_c(WATER, MEMBER, FLOW, TEMP)
    assert float(enthalpy(whole[0, 0]) - enthalpy(mixed[0, 0])) == pytest.approx(100.0 / 0.05, rel=1e-3)
    assert mixed[1:] == pytest.approx(whole[1:])
    much = mixed_temperature_c(WATER, MEMBER, FLOW, TEMP, less_w=lost_w * 1e6)
    most = np.zeros((3, 2))
    most[0, 0] = 0.05 * MAX_LOST_J_KG
    assert much[0, 0] == pytest.approx(mixed_temperature_c(WATER, MEMBER, FLOW, TEMP, less_w=most)[0, 0])
    assert whole[0, 0] - much[0, 0] == pytest.approx(140.0, abs=2.0), "some 140 K"


def test_the_estimate_is_the_mean_by_flow() -> None:
    mixed = estimated_mixed_temperature_c(MEMBER[:2], FLOW, TEMP)
    assert mixed[0] == pytest.approx([(0.02 * 60.0 + 0.03 * 30.0) / 0.05, 35.0])
    assert mixed[1] == pytest.approx([(0.03 * 30.0 + 0.01 * 45.0) / 0.04, 35.0])


@pytest.mark.parametrize(("warm_c", "mixed_c", "back_c"), [(70.0, 45.0, 35.0), (55.0, 54.0, 30.0)])
def test_a_circuit_draws_by_the_balance_of_heat(warm_c: float, mixed_c: float, back_c: float) -> None:
    (share,) = draw_off_share(WATER, *(np.array([value]) for value in (warm_c, mixed_c, back_c)))
    balance = share * enthalpy(warm_c) + (1.0 - share) * enthalpy(back_c)
    assert float(balance) == pytest.approx(float(enthalpy(mixed_c)), rel=1e-12)


def test_a_circuit_draws_all_or_nothing_where_no_mixture_gives_its_temperature() -> None:
    warm, mixed, back = np.array([40.0, 70.0, 30.0]), np.array([45.0, 30.0, 45.0]), np.array([35.0, 35.0, 35.0])
    assert draw_off_share(WATER, warm, mixed, back).tolist() == [1.0, 0.0, 1.0]


def test_a_loop_draws_all_its_water_unless_it_is_mixed_where_it_joins() -> None:
    join, back = np.array([[60.0], [60.0]]), np.array([[35.0], [35.0]])
    share = loop_draw_share(WATER, join, np.array([[60.0], [45.0]]), back)[:, 0]
    assert share[0] == 1.0
    assert share[1] == draw_off_share(WATER, join[1], np.array([45.0]), back[1])[0]


def test_values_for_each_scenario() -> None:
    assert repeat_for_scenarios([1.0, 2.0], 3).tolist() == [[1.0] * 3, [2.0] * 3]
    assert repeat_for_scenarios(np.array([[1.0, 2.0]]), 2).tolist() == [[1.0, 2.0]]
