"""Thermal movement against published tables; sources in data/published/movement.csv."""

import pytest

from heatloop.physics.thermal_expansion import (
    ALUMINIUM_EXPANSION_1_K,
    COPPER_EXPANSION_1_K,
    free_end_gap_mm,
    gap_at_mm,
    thermal_expansion_mm,
)
from tests.helpers.published import replayed

QUANTITIES = {
    "aluminium_expansion_1_k": lambda: ALUMINIUM_EXPANSION_1_K,
    "copper_expansion_1_k": lambda: COPPER_EXPANSION_1_K,
    "thermal_growth_mm": thermal_expansion_mm,
}


test_published_row = replayed("movement", __name__, QUANTITIES)


def test_gap_left_at_fitting_closes_to_the_clearance_when_hottest():
    """A 6 m aluminium piece fitted at 10 °C and run at 70: 8.3 mm of growth by hand, and 1 mm to spare."""
    gap = free_end_gap_mm(6.0, ALUMINIUM_EXPANSION_1_K, installation_temp_c=10.0, hottest_c=70.0, min_gap_mm=1.0)
    assert gap == pytest.approx(9.3, abs=0.05)
    assert gap_at_mm(gap, 6.0, ALUMINIUM_EXPANSION_1_K, 10.0, 70.0) == pytest.approx(1.0)
    assert gap_at_mm(gap, 6.0, ALUMINIUM_EXPANSION_1_K, 10.0, -5.0) > gap
