"""Tables and formulas of physics worked by hand where a row of data/published has no figure."""

import math

import numpy as np
import pytest

from heatloop.physics.channels.grid import ChannelRuns
from heatloop.physics.channels.newton import ChannelNewtonSolver
from heatloop.physics.comfort import burn_threshold_c, downdraught_velocity_m_s
from heatloop.physics.emitters import BRIGHT_EMISSIVITY, fit_characteristic
from heatloop.physics.fabric import ground
from heatloop.physics.fabric.layers import LayerResistance, cavity_resistance_m2k_w, total_resistance
from heatloop.physics.friction import _LN_STEP, _check_rising, friction_table
from heatloop.physics.pressurisation import fill_pressures, hot_pressure_kpa, vessel_need
from heatloop.physics.thermal_expansion import thermal_expansion_mm
from heatloop.physics.water import mixture, plain_water

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


def test_one_test_point_that_falls_among_rising_ones_is_refused_in_any_order():
    points = ([30.0, 40.0, 50.0, 60.0], [515.0, 748.0, 740.0, 1267.0])
    with pytest.raises(ValueError, match="rise with excess"):
        fit_characteristic(*points)
    with pytest.raises(ValueError, match="rise with excess"):
        fit_characteristic(points[0][::-1], points[1][::-1])
    assert fit_characteristic([60.0, 30.0, 50.0], [1267.0, 515.0, 1000.0]).exponent == pytest.approx(1.3, abs=0.01)


def test_a_cellar_wall_over_a_bare_floor_by_hand():
    """ISO 13370:2017 7.4.3: d_w 2 (0.13 + 0.5 + 0.04) = 1.34 m, d_f 0.3 + 2 (0.17 + 0.04) = 0.72 m, 2 m deep."""
    by_hand = 4.0 / (math.pi * 2.0) * (1.0 + 0.5 * 0.72 / 2.72) * math.log(2.0 / 1.34 + 1.0)
    assert ground.basement_wall_u_w_m2k(2.0, 0.5) == pytest.approx(by_hand, rel=1e-12)


def test_edge_insulation_by_hand():
    """ISO 13370:2017 D.3 and D.5: d_t 0.3 + 2 (0.17 + 0.04) = 0.72 m; 50 mm of 0.035 adds (1.42857 - 0.025) 2 m."""
    extra_m = (0.05 / 0.035 - 0.05 / 2.0) * 2.0
    by_hand = -2.0 / math.pi * (math.log(1.0 / 0.72 + 1.0) - math.log(1.0 / (0.72 + extra_m) + 1.0))
    assert ground.edge_insulation_psi_w_mk(ground.EdgeStrip(1.0, 0.05, 0.035)) == pytest.approx(by_hand, rel=1e-12)
    assert ground.edge_insulated_u_w_m2k(0.3, by_hand, 8.0) == pytest.approx(0.3 + by_hand / 4.0, rel=1e-12)


def test_a_contact_a_second_longer_takes_the_limit_of_the_longer_time():
    assert [burn_threshold_c(seconds) for seconds in (60.0, 61.0, 600.0, 601.0, 28_801.0)] == [51, 48, 48, 43, 43]
    with pytest.raises(ValueError, match="60 s or more"):
        burn_threshold_c(59.9)


def test_small_outputs_and_small_rises_are_fitted():
    """Half a watt a metre at 0.5 K: above 0 is enough, and so is a rise of less than a watt."""
    excess = [0.5, 0.7, 0.9]
    found = fit_characteristic(excess, [0.5 * (one / 0.5) ** 1.3 for one in excess])
    assert (found.exponent, found.k_w_mkn) == pytest.approx((1.3, 0.5 / 0.5**1.3), rel=1e-9)


@pytest.mark.parametrize("fraction", [-0.001, 1.001])
def test_a_bridge_takes_none_to_all_of_the_area(fraction):
    with pytest.raises(ValueError, match="must be 0 to 1"):
        total_resistance([LayerResistance(1.0, 0.5, fraction)], 0.13, 0.04)
    whole = total_resistance([LayerResistance(1.0, 0.5, 1.0)], 0.13, 0.04)
    assert whole.total_m2k_w == pytest.approx(0.67, rel=1e-12)


def test_downdraught_by_distance_height_and_excess():
    """sqrt(4 x 1) is 2: by Heiselberg's three reaches, none from a pane as warm as the room or without height."""
    by_reach = [downdraught_velocity_m_s(1.0, 4.0, distance) for distance in (0.39, 0.4, 2.0, 2.1)]
    assert by_reach == pytest.approx([0.166, 0.286 / 1.72, 0.286 / 3.32, 0.086], rel=1e-12)
    assert downdraught_velocity_m_s(0.0, 4.0, 0.0) == downdraught_velocity_m_s(1.0, -3.0, 0.0) == 0.0
    assert downdraught_velocity_m_s(0.5, 0.5, 0.0) == pytest.approx(0.0415, rel=1e-12)
    for height_m, distance_m in ((-0.1, 0.0), (1.0, -0.1)):
        with pytest.raises(ValueError, match="a length below 0"):
            downdraught_velocity_m_s(height_m, 4.0, distance_m)


def test_properties_looked_up_in_pairs_are_those_looked_up_alone():
    water, temps_c = plain_water(), [11.0, 38.5, 77.0, 104.0]
    pair = water.density_and_viscosity(temps_c)
    assert pair[0] == pytest.approx(water.density_kg_m3(temps_c), rel=1e-12)
    assert pair[1] == pytest.approx(water.viscosity_pa_s(temps_c), rel=1e-12)
    other = water.heat_capacity_and_enthalpy(temps_c)
    assert other[0] == pytest.approx(water.heat_capacity_j_kgk(temps_c), rel=1e-12)
    assert other[1] == pytest.approx(water.enthalpy_j_kg(temps_c), rel=1e-12)


def test_an_edge_strip_without_a_size_or_a_conductivity_is_refused():
    for strip in (ground.EdgeStrip(0.0, 0.05, 0.035), ground.EdgeStrip(1.0, 0.0, 0.035)):
        with pytest.raises(ValueError, match="must be above 0"):
            ground.edge_insulation_psi_w_mk(strip)
    with pytest.raises(ValueError, match="conductivity_w_mk 0, must be above 0"):
        ground.edge_insulation_psi_w_mk(ground.EdgeStrip(1.0, 0.05, 0.0))


def test_a_cellar_floor_counts_half_its_depth_by_hand():
    """ISO 13370:2017 7.4.2: d_t 0.3 + 2 (0.17 + 2 + 0.04) = 4.72 m and half of 2 m; B' 6 m is more, 5 m less."""
    wide = 4.0 / (math.pi * 6.0 + 5.72) * math.log(math.pi * 6.0 / 5.72 + 1.0)
    assert ground.slab_u_w_m2k(6.0, 2.0, depth_m=2.0) == pytest.approx(wide, rel=1e-12)
    assert ground.slab_u_w_m2k(5.0, 2.0, depth_m=2.0) == pytest.approx(2.0 / (0.457 * 5.0 + 5.72), rel=1e-12)


def test_a_bridge_without_area_agrees_with_any_of_its_name():
    layers = [LayerResistance(1.0, 0.5, 0.1, "stud"), LayerResistance(2.0, 0.7, 0.0, "stud")]
    alone = total_resistance([layers[0], LayerResistance(2.0)], 0.13, 0.04)
    assert total_resistance(layers, 0.13, 0.04).lower_m2k_w == pytest.approx(alone.lower_m2k_w, rel=1e-12)


def test_no_length_and_a_short_one_expand_by_their_share():
    assert thermal_expansion_mm(0.0, 23e-6, 50.0) == 0.0
    assert thermal_expansion_mm(0.5, 23e-6, 50.0) == pytest.approx(0.575, rel=1e-12)


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


def test_a_drop_that_rises_all_but_in_proportion_is_refused():
    """At a constant of 126 the power is 1.0000 less a little; at 125.5 it is above 1."""
    friction_table([0.0], [125.5])
    with pytest.raises(ValueError, match="power 1 in places, must be at least 1"):
        friction_table([0.0], [126.0])


def test_a_curve_is_judged_within_its_intervals_alone():
    """A slope of -1 at the end of an interval that would go on falling until u = 1.01."""
    c1, c2, c3 = (_LN_STEP * part for part in (-1.0 + 1.01**2 - 0.01**2, -1.01, 1.0 / 3.0))
    _check_rising(np.array([[0.0], [c1], [c2], [c3]]), 0.0, 64.0)
    with pytest.raises(ValueError, match="must be at least 1"):
        _check_rising(np.array([[0.0], [c1 - 1e-6], [c2], [c3]]), 0.0, 64.0)


def test_a_mixture_without_glycol_is_refused():
    with pytest.raises(ValueError, match="must be above 0"):
        mixture("propylene glycol", 0.0)


def test_what_is_left_to_move_shrinks_as_the_last_step_did():
    runs = ChannelRuns(
        start=np.array([0, 1]),
        length_m=np.array([5.0]),
        emission_w_mkn=np.array([[2.0]]),
        exponent=np.array([1.3]),
        link_w_mk=np.zeros((0, 1)),
        room_c=np.array([20.0]),
        direction=(1,),
    )
    iteration = ChannelNewtonSolver(runs, np.array([[100.0]]), np.array([60.0]))
    assert iteration.step() == np.inf
    assert iteration.step() < 1.0
    assert iteration.iterations == 2
    iteration.moved_k, iteration.moved_before_k = 1e-3, 1e-1
    assert iteration.left_k == pytest.approx(1e-5, rel=1e-12)
    iteration.moved_before_k = 1e-4  # it grew: no less is left than it has moved
    assert iteration.left_k == 1e-3
    iteration.moved_before_k = np.inf
    assert iteration.left_k == 1e-3
