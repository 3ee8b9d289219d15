"""Outputs of emitters: excess temperature, return temperature, fitted exponents, points that are refused."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from heatloop.physics.emitters import (
    BRIGHT_EMISSIVITY,
    characteristic_constant,
    fit_characteristic,
    logarithmic_excess_k,
    min_return_ratio,
    one_way_constant,
    one_way_outlet_excess_k,
    plate_output_w_m,
    web_link_w_mk,
)


def test_one_test_point_that_falls_among_rising_ones_is_refused_in_any_order():
    points = ([30.0, 40.0, 50.0, 60.0], [515.0, 748.0, 740.0, 1267.0])
    with pytest.raises(ValueError, match="rise with excess"):
        fit_characteristic(*points)
    with pytest.raises(ValueError, match="rise with excess"):
        fit_characteristic(points[0][::-1], points[1][::-1])
    assert fit_characteristic([60.0, 30.0, 50.0], [1267.0, 515.0, 1000.0]).exponent == pytest.approx(1.3, abs=0.01)


def test_small_outputs_and_small_rises_are_fitted():
    """Half a watt a metre at 0.5 K: above 0 is enough, and so is a rise of less than a watt."""
    excess = [0.5, 0.7, 0.9]
    found = fit_characteristic(excess, [0.5 * (one / 0.5) ** 1.3 for one in excess])
    assert (found.exponent, found.k_w_mkn) == pytest.approx((1.3, 0.5 / 0.5**1.3), rel=1e-9)


def test_exponents_end_at_1_and_at_1_6():
    excess = [30.0, 40.0, 50.0]
    for exponent in (1.001, 1.599):
        found = fit_characteristic(excess, [2.0 * one**exponent for one in excess])
        assert found.exponent == pytest.approx(exponent, rel=1e-9)
    for exponent in (0.999, 1.601):
        with pytest.raises(ValueError, match="outside 1 to 1"):
            fit_characteristic(excess, [2.0 * one**exponent for one in excess])


def test_bright_metal_radiates_a_tenth():
    assert BRIGHT_EMISSIVITY == 0.1


@pytest.mark.parametrize(
    ("flow_c", "return_c", "mean_k"),
    [
        (50.0, 50.0, 30.0),
        (50.0, 50.0 - 1e-6, 30.0),
        (75.0, 65.0, 10.0 / math.log(55.0 / 45.0)),
        (65.0, 75.0, 10.0 / math.log(55.0 / 45.0)),
    ],
)
def test_logarithmic_excess(flow_c: float, return_c: float, mean_k: float) -> None:
    assert float(logarithmic_excess_k(flow_c, return_c, 20.0)) == pytest.approx(mean_k, rel=1e-6)


def test_logarithmic_excess_of_half_a_kelvin_and_of_none() -> None:
    assert float(logarithmic_excess_k(21.0, 20.5, 20.0)) == pytest.approx(0.5 / math.log(2.0))
    assert float(logarithmic_excess_k(20.5, 20.25, 20.0)) == pytest.approx(0.25 / math.log(2.0))
    for flow_c, return_c in ((30.0, 20.0), (20.0, 30.0)):
        with pytest.raises(ValueError, match="must both be above the room temperature"):
            logarithmic_excess_k(flow_c, return_c, 20.0)


@pytest.mark.parametrize(("exponent", "length_m"), [(1.0, 3.0), (1.0 + 1e-10, 3.0), (1.3, 3.0), (1.3, 0.5)])
def test_the_constant_of_a_test_gives_its_return(exponent: float, length_m: float) -> None:
    """600 W from 75 to 65 °C in a room at 20: 60 W/K of water."""
    k = one_way_constant(600.0, length_m, exponent, 75.0, 65.0, 20.0)
    assert float(one_way_outlet_excess_k(55.0, k, exponent, length_m, 60.0)) == pytest.approx(45.0, rel=1e-9)


def test_the_least_return_of_a_linked_pair() -> None:
    """Channels that give 2 each, linked by 6: (8 - sqrt(4 + 24)) / 6; without a link none."""
    assert min_return_ratio(2.0, 6.0) == pytest.approx((8.0 - math.sqrt(28.0)) / 6.0)
    assert min_return_ratio(2.0, 0.5) == pytest.approx((2.5 - math.sqrt(6.0)) / 0.5)
    assert min_return_ratio(0.5, 0.5) == pytest.approx((1.0 - math.sqrt(0.75)) / 0.5)
    assert min_return_ratio(2.0, 0.0) == 0.0
    for share, link in ((0.0, 1.0), (1.0, -0.1)):
        with pytest.raises(ValueError, match="share_k_w_mk must be above 0 and link_w_mk not below 0"):
            min_return_ratio(share, link)


@pytest.mark.parametrize(
    ("quantity", "sound"),
    [
        (characteristic_constant, (0.5, 1.3, 0.5)),
        (plate_output_w_m, (0.5, 0.5)),
        (web_link_w_mk, (0.5, 0.5, 0.5, 1)),
    ],
    ids=lambda one: getattr(one, "__name__", None),
)
def test_nothing_of_an_emitter_is_nought_or_less(quantity: Callable[..., float], sound: tuple[float, ...]) -> None:
    """Each quantity in turn: half a unit is sound, 0 and less are refused. An exponent is judged elsewhere."""
    assert quantity(*sound) > 0.0
    for place in range(len(sound)):
        if quantity is characteristic_constant and place == 1:
            continue
        for wrong in (0.0, -1.0):
            with pytest.raises(ValueError, match=r"must (all )?be above 0"):
                quantity(*sound[:place], wrong, *sound[place + 1 :])


def test_a_test_needs_a_flow_above_its_return_and_a_return_above_its_room() -> None:
    assert one_way_constant(600.0, 3.0, 1.3, 20.2, 20.1, 20.0) > 0.0
    for flow_c, return_c in ((65.0, 65.0), (65.0, 75.0), (65.0, 20.0), (65.0, 19.0)):
        with pytest.raises(ValueError, match="must fall in this order"):
            one_way_constant(600.0, 3.0, 1.3, flow_c, return_c, 20.0)
