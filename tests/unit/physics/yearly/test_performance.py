"""Efficiency and capacity between the points of a table, and beyond its ends."""

import numpy as np
import pytest

from heatloop.physics.yearly.performance import PerformanceGrid

GRID = PerformanceGrid(
    np.array([-7.0, 2.0, 7.0]),
    np.array([35.0, 55.0]),
    np.array([[2.8, 1.8], [3.7, 2.5], [4.7, 3.1]]),
    np.array([[4.0, 3.6], [5.0, 4.4], [6.0, 5.2]]),
)


def test_at_its_points_it_has_the_values_of_the_table():
    for i, outdoor_c in enumerate(GRID.outdoor_c):
        for j, flow_c in enumerate(GRID.flow_temp_c):
            assert GRID.at(outdoor_c, flow_c) == pytest.approx((GRID.efficiency[i, j], GRID.capacity_kw[i, j]))


def test_between_points_it_is_linear_in_both_temperatures():
    efficiency, capacity_kw = GRID.at(4.5, 45.0)
    assert efficiency == pytest.approx((3.7 + 2.5 + 4.7 + 3.1) / 4.0)
    assert capacity_kw == pytest.approx((5.0 + 4.4 + 6.0 + 5.2) / 4.0)


def test_milder_weather_and_cooler_water_have_the_values_of_the_end():
    assert GRID.at(20.0, 25.0) == pytest.approx((4.7, 6.0))


@pytest.mark.parametrize(("outdoor_c", "flow_c"), [(-7.1, 45.0), (0.0, 55.1)])
def test_colder_weather_and_warmer_water_are_refused(outdoor_c, flow_c):
    with pytest.raises(ValueError, match="must be at least -7 °C and at most 55 °C"):
        GRID.at(outdoor_c, flow_c)


def test_a_table_of_one_point_holds_for_milder_weather_and_cooler_water():
    boiler = PerformanceGrid(np.array([-4.0]), np.array([80.0]), np.array([[0.8]]))
    assert boiler.at(10.0, 50.0) == (0.8, np.inf)
