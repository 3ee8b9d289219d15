"""Small formulas where their two ways meet, each side of them worked by hand."""

from __future__ import annotations

import math

import pytest

from heatloop.physics.emitters import logarithmic_excess_k
from heatloop.physics.fabric.layers import ThermalResistance, slightly_ventilated


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
