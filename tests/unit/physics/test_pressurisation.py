"""Vessels: precharge, final pressure and reserve, worked by hand at the limits of each rule."""

from __future__ import annotations

import numpy as np
import pytest

from heatloop.physics import water
from heatloop.physics.pressurisation import (
    dose_l,
    expansion_by_density,
    expansion_en_12828,
    fill_pressures,
    final_under_relief_kpa,
    hot_pressure_kpa,
    precharge_for_head_kpa,
    static_head_kpa,
    strength_test_kpa,
    vessel_need,
)


def test_reserve_of_a_large_system_is_a_share_of_its_content():
    """1000 l: half a per cent is 5 l and more than 3; (20 + 5) 350 / 150 is the vessel."""
    need = vessel_need(1000.0, 0.02, 100.0, 250.0)
    assert (need.expansion_l, need.reserve_l) == pytest.approx((20.0, 5.0), rel=1e-12)
    assert need.min_volume_l == pytest.approx(25.0 * 350.0 / 150.0, rel=1e-12)


def test_reserve_of_a_small_vessel_is_a_fifth_of_the_vessel():
    """100 l growing by 1 l between 50 and 250 kPa: 1.75 l of vessel a litre held, and 0.2 of the vessel held cold."""
    need = vessel_need(100.0, 0.01, 50.0, 250.0)
    assert need.min_volume_l == pytest.approx(1.75 / (1.0 - 0.2 * 1.75), rel=1e-12)
    assert need.reserve_l == pytest.approx(0.2 * need.min_volume_l, rel=1e-12)


def test_a_vessel_of_15_litres_is_small_and_a_larger_one_is_not():
    """Least cold pressure: gas of the whole vessel at the precharge pressed into what the reserve leaves."""
    small = fill_pressures(15.0, 100.0, 0.01, 50.0, 250.0)
    assert small.min_kpa == pytest.approx(150.0 / 0.8 - 100.0, rel=1e-12)
    large = fill_pressures(16.0, 100.0, 0.01, 50.0, 250.0)
    assert large.min_kpa == pytest.approx(150.0 * 16.0 / 13.0 - 100.0, rel=1e-12)
    assert large.max_kpa == pytest.approx(2400.0 / (2400.0 / 350.0 + 1.0) - 100.0, rel=1e-12)
    assert hot_pressure_kpa(16.0, 1.0, 50.0, large.max_kpa) == pytest.approx(250.0, rel=1e-12)


def test_a_vessel_without_precharge_is_compressed_by_its_own_air() -> None:
    """12 l of gas at 1 bar absolute, filled to 1 bar gauge: 6 l left; 2 l more water leave 4 l at 3 bar absolute."""
    assert hot_pressure_kpa(12.0, 2.0, 0.0, 100.0) == pytest.approx(200.0)
    assert hot_pressure_kpa(12.0, 0.0, 50.0, 50.0) == pytest.approx(50.0)
    for precharge, fill in ((-1.0, 50.0), (60.0, 50.0)):
        with pytest.raises(ValueError, match="must be at least the precharge"):
            hot_pressure_kpa(12.0, 1.0, precharge, fill)


def test_precharge_never_falls_below_its_margin():
    assert precharge_for_head_kpa(static_head_kpa(5.0, 998.0), 25.0) == pytest.approx(48.94 + 25.0, abs=0.01)
    assert precharge_for_head_kpa(static_head_kpa(-5.0)) == 30.0


def test_final_pressure_keeps_the_larger_margin_under_the_relief_valve():
    assert final_under_relief_kpa(600.0) == pytest.approx(540.0)
    assert final_under_relief_kpa(250.0) == pytest.approx(200.0)
    assert final_under_relief_kpa(50.2) == pytest.approx(0.2)
    with pytest.raises(ValueError, match="must be above 50"):
        final_under_relief_kpa(50.0)


def test_the_formula_of_the_standard_holds_from_30_to_110_degrees():
    """0.0031 + 3.9e-6 T²: 900 and 12 100 square degrees."""
    assert [expansion_en_12828(t) for t in (30.0, 110.0)] == pytest.approx([0.00661, 0.05029], rel=1e-12)
    for max_temp_c in (29.9, 110.1):
        with pytest.raises(ValueError, match="must be 30 to 110"):
            expansion_en_12828(max_temp_c)


def test_small_vessel_keeps_a_fifth_as_reserve():
    need = vessel_need(60.0, 0.02, 100.0, 250.0)
    assert need.min_volume_l < 15.0
    assert need.reserve_l == pytest.approx(0.2 * need.min_volume_l)


def test_reserve_rules_meet_at_fifteen_litres():
    """A fifth of 15 l is the 3 l of a larger vessel, so the least volume has no step there."""
    volumes = [vessel_need(content, 0.02, 100.0, 250.0).min_volume_l for content in np.linspace(150.0, 200.0, 500)]
    assert volumes[0] < 15.0 < volumes[-1]
    assert np.all(np.diff(volumes) > 0.0)
    assert np.max(np.diff(volumes)) < 0.02


def test_mixture_expands_more_than_water():
    plain = expansion_by_density(water.plain_water(), 10.0, 70.0)
    assert plain < expansion_by_density(water.mixture("propylene glycol", 0.3), 10.0, 70.0) < 2.0 * plain


def test_a_strength_test_at_the_working_pressure_is_the_least_and_1_3_times_the_usual():
    assert strength_test_kpa(300.0, 1.0) == 300.0
    assert strength_test_kpa(300.0) == pytest.approx(390.0)


def test_no_dose_and_a_dose_of_less_than_one_per_cent():
    assert dose_l(200.0, 0.0) == 0.0
    assert dose_l(200.0, 0.5) == pytest.approx(1.0, rel=1e-12)
    assert dose_l(200.0, 100.0) == pytest.approx(200.0, rel=1e-12)
    for percent in (-0.1, 100.1):
        with pytest.raises(ValueError, match="must be 0 to 100"):
            dose_l(200.0, percent)


def test_an_expansion_is_a_fraction_up_to_a_fifth():
    assert vessel_need(100.0, 0.2, 100.0, 250.0).expansion_l == pytest.approx(20.0, rel=1e-12)
    assert vessel_need(100.0, 0.0, 100.0, 250.0).expansion_l == 0.0
    for expansion in (-0.001, 0.201, float("nan")):
        with pytest.raises(ValueError, match="must be a fraction from 0 to"):
            vessel_need(100.0, expansion, 100.0, 250.0)
