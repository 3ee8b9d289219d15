"""Heat lost by pipes: the exponential approach, its log mean, and that both give the same heat."""

from __future__ import annotations

import numpy as np
import pytest

from heatloop.hydraulics.network.pipe_loss import MIN_FLOW_KG_S, TailConductances, log_mean_k, temperature_after_loss_c
from heatloop.physics.water import plain_water

WATER = plain_water()
LOSS, AROUND = np.array([2.0, 0.5, 4.0]), np.array([20.0, 15.0, 18.0])
FLOW = np.array([[0.02], [0.05], [0.01]])
INLET = np.array([[60.0], [45.0], [30.0]])


def outlet_c() -> np.ndarray:
    found = INLET
    for _ in range(6):
        found = temperature_after_loss_c(LOSS, AROUND, FLOW, INLET, found, WATER)
    return found


def test_water_nears_its_surroundings_by_transfer_units() -> None:
    found = outlet_c()
    capacity = (WATER.enthalpy_j_kg(INLET) - WATER.enthalpy_j_kg(found)) / (INLET - found)
    units = LOSS[:, None] / (FLOW * capacity)
    around = AROUND[:, None]
    assert found == pytest.approx(around + (INLET - around) * np.exp(-units), rel=1e-9)


def test_what_the_water_gives_is_conductance_times_the_log_mean() -> None:
    found = outlet_c()
    given_w = FLOW * (WATER.enthalpy_j_kg(INLET) - WATER.enthalpy_j_kg(found))
    by_mean_w = LOSS[:, None] * log_mean_k(INLET - AROUND[:, None], found - AROUND[:, None])
    assert given_w == pytest.approx(by_mean_w, rel=1e-8)


def test_water_that_hardly_moves_comes_to_the_surroundings() -> None:
    still = temperature_after_loss_c(LOSS, AROUND, np.zeros((3, 1)), INLET, INLET, WATER)
    assert still[:, 0] == pytest.approx(AROUND)
    least = temperature_after_loss_c(LOSS, AROUND, np.full((3, 1), MIN_FLOW_KG_S), INLET, INLET, WATER)
    assert least == pytest.approx(still)


@pytest.mark.parametrize(
    ("first", "last", "mean"),
    [
        (40.0, 20.0, 20.0 / np.log(2.0)),
        (20.0, 40.0, 20.0 / np.log(2.0)),
        (-30.0, -10.0, -20.0 / np.log(3.0)),
        (25.0, 25.0, 25.0),
        (25.0, 0.0, 0.0),
        (0.0, 0.0, 0.0),
    ],
)
def test_log_mean(first: float, last: float, mean: float) -> None:
    assert log_mean_k(np.array([first]), np.array([last]))[0] == pytest.approx(mean, rel=1e-12)


def test_the_log_mean_of_nearly_equal_ends_is_their_mean() -> None:
    for apart in (1e-13, 1e-9, 1e-5):
        found = log_mean_k(np.array([25.0]), np.array([25.0 * (1.0 + apart)]))[0]
        assert found == pytest.approx(25.0 * (1.0 + apart / 2.0), rel=1e-8)


@pytest.mark.parametrize(("flow", "back", "lossless"), [(0.0, 0.0, True), (1.0, 0.0, False), (0.0, 1.0, False)])
def test_tails_lose_by_their_own_conductance(flow: float, back: float, lossless: bool) -> None:
    tails = TailConductances(np.full(3, flow), np.full(3, back), AROUND)
    assert tails.lossless is lossless
    for side, own in ((tails.flow_outlet_c, flow), (tails.return_outlet_c, back)):
        expected = temperature_after_loss_c(np.full(3, own), AROUND, FLOW, INLET, INLET, WATER)
        assert side(FLOW, INLET, INLET, WATER) == pytest.approx(expected)
