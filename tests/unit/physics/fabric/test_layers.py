"""Cavities and bridged layers by hand."""

from __future__ import annotations

import pytest

from heatloop.physics.fabric.layers import (
    LayerResistance,
    ThermalResistance,
    cavity_resistance_m2k_w,
    slightly_ventilated,
    total_resistance,
)

CAVITIES = {
    "up": (0.0, 0.11, 0.13, 0.15, 0.16, 0.16, 0.16, 0.16, 0.16),
    "horizontal": (0.0, 0.11, 0.13, 0.15, 0.17, 0.18, 0.18, 0.18, 0.18),
    "down": (0.0, 0.11, 0.13, 0.15, 0.17, 0.19, 0.21, 0.22, 0.23),
}
"""ISO 6946:2017 table 8, from memory: resistance at 0, 5, 7, 10, 15, 25, 50, 100 and 300 mm, by the way of the heat."""


@pytest.mark.parametrize("direction", CAVITIES)
def test_cavities_by_the_table_and_half_way_between_its_rows(direction):
    thickness_m = (0.0, 0.005, 0.007, 0.010, 0.015, 0.025, 0.050, 0.100, 0.300)
    table = CAVITIES[direction]
    assert [cavity_resistance_m2k_w(one, direction) for one in thickness_m] == pytest.approx(table, rel=1e-12)
    for first in range(8):
        middle_m = 0.5 * (thickness_m[first] + thickness_m[first + 1])
        between = 0.5 * (table[first] + table[first + 1])
        assert cavity_resistance_m2k_w(middle_m, direction) == pytest.approx(between, rel=1e-12)
    for outside_m in (-0.001, 0.301):
        with pytest.raises(ValueError, match=r"must be 0 to 0\.3"):
            cavity_resistance_m2k_w(outside_m, direction)


@pytest.mark.parametrize("fraction", [-0.001, 1.001])
def test_a_bridge_takes_none_to_all_of_the_area(fraction):
    with pytest.raises(ValueError, match="must be 0 to 1"):
        total_resistance([LayerResistance(1.0, 0.5, fraction)], 0.13, 0.04)
    whole = total_resistance([LayerResistance(1.0, 0.5, 1.0)], 0.13, 0.04)
    assert whole.total_m2k_w == pytest.approx(0.67, rel=1e-12)


def test_a_bridge_without_area_agrees_with_any_of_its_name():
    layers = [LayerResistance(1.0, 0.5, 0.1, "stud"), LayerResistance(2.0, 0.7, 0.0, "stud")]
    alone = total_resistance([layers[0], LayerResistance(2.0)], 0.13, 0.04)
    assert total_resistance(layers, 0.13, 0.04).lower_m2k_w == pytest.approx(alone.lower_m2k_w, rel=1e-12)


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
