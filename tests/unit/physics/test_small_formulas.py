"""Small formulas where their two ways meet, each side of them worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from heatloop.physics.emitters import logarithmic_excess_k, min_return_ratio, one_way_constant, one_way_outlet_excess_k
from heatloop.physics.fabric.layers import ThermalResistance, slightly_ventilated
from heatloop.physics.friction import local_loss_pa
from heatloop.physics.heat_transfer import pipe_loss_w_mk
from heatloop.physics.pressurisation import hot_pressure_kpa
from heatloop.physics.valves import authority


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


@pytest.mark.parametrize(
    ("openings_mm2", "share"), [(0.0, 0.0), (500.0, 0.0), (750.0, 0.25), (1500.0, 1.0), (4000.0, 1.0)]
)
def test_a_slightly_ventilated_cavity_mixes_total_and_both_limits(openings_mm2: float, share: float) -> None:
    still, vented = ThermalResistance(2.4, 2.6, 2.2), ThermalResistance(1.5, 1.7, 1.3)
    found = slightly_ventilated(still, vented, openings_mm2)
    assert found.total_m2k_w == pytest.approx(2.4 - 0.9 * share)
    assert found.upper_m2k_w == pytest.approx(2.6 - 0.9 * share)
    assert found.lower_m2k_w == pytest.approx(2.2 - 0.9 * share)
    assert found.u_w_m2k == pytest.approx(1.0 / (2.4 - 0.9 * share))


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


def test_a_local_loss_of_a_number_is_a_number_and_of_a_list_a_list() -> None:
    """Zeta 2 at 1 m/s in water of 1000 kg/m³ is 1 kPa, with the sign of the velocity."""
    assert type(local_loss_pa(2.0, 1000.0, 1.0)) is float
    assert local_loss_pa(2.0, 1000.0, -1.0) == -1000.0
    many = local_loss_pa(2.0, 1000.0, [1.0, -2.0])
    assert isinstance(many, np.ndarray)
    assert many.tolist() == [1000.0, -4000.0]


def test_authority_of_no_drop_on_one_side_and_none_on_both() -> None:
    assert (authority(0.0, 5.0), authority(5.0, 0.0), authority(2.0, 6.0)) == (0.0, 1.0, 0.25)
    for valve, rest in ((-1.0, 5.0), (5.0, -1.0), (0.0, 0.0)):
        with pytest.raises(ValueError, match="must be"):
            authority(valve, rest)


def test_pipe_loss_at_its_limits() -> None:
    assert pipe_loss_w_mk(15.0, 0.0) == pytest.approx(10.0 * math.pi * 0.015)
    for outside, insulation, conductivity in ((0.0, 0.0, 0.035), (15.0, -1.0, 0.035), (15.0, 10.0, 0.0)):
        with pytest.raises(ValueError, match="the first two must be above 0, the last 0 or above"):
            pipe_loss_w_mk(outside, insulation, conductivity)


def test_a_vessel_without_precharge_is_compressed_by_its_own_air() -> None:
    """12 l of gas at 1 bar absolute, filled to 1 bar gauge: 6 l left; 2 l more water leave 4 l at 3 bar absolute."""
    assert hot_pressure_kpa(12.0, 2.0, 0.0, 100.0) == pytest.approx(200.0)
    assert hot_pressure_kpa(12.0, 0.0, 50.0, 50.0) == pytest.approx(50.0)
    for precharge, fill in ((-1.0, 50.0), (60.0, 50.0)):
        with pytest.raises(ValueError, match="must be at least the precharge"):
            hot_pressure_kpa(12.0, 1.0, precharge, fill)
