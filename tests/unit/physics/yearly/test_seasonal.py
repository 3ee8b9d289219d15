"""Seasonal performance by hand, and its limits; published figures in tests/published/test_energy.py."""

import numpy as np
import pytest

from heatloop.physics.yearly.seasonal import (
    bivalent_point_c,
    part_load_efficiency,
    season_energy,
    seasonal_efficiency_percent,
)


def test_part_load_costs_nothing_at_full_load_and_without_degradation():
    assert part_load_efficiency(4.0, 1.0, 0.9) == pytest.approx(4.0)
    assert part_load_efficiency([4.0, 3.0], [0.3, 0.6], 1.0) == pytest.approx([4.0, 3.0])
    assert part_load_efficiency(4.0, 0.2, 0.0) == pytest.approx(0.8), "in proportion to the load"


@pytest.mark.parametrize(
    ("ratio", "degradation", "words"),
    [
        (0.0, 0.9, "load_ratio: must be above 0"),
        (1.1, 0.9, "at most 1"),
        (0.5, 1.1, "degradation = 1.1: must be 0 to 1"),
    ],
)
def test_part_load_outside_its_range_is_refused(ratio, degradation, words):
    with pytest.raises(ValueError, match=words):
        part_load_efficiency(4.0, ratio, degradation)


def test_a_season_by_hand():
    """10 h at half load: 4 COP falls to 3.636; 5 h beyond the capacity; 20 h without heat."""
    season = season_energy([3.0, 8.0, 0.0], [10.0, 5.0, 20.0], [4.0, 2.0, 1.0], [6.0, 6.0, np.inf], 0.9)
    assert season.required_kwh == pytest.approx([30.0, 40.0, 0.0])
    assert season.source_kwh == pytest.approx([30.0, 30.0, 0.0])
    assert season.input_kwh == pytest.approx([30.0 / (4.0 * 0.5 / 0.55), 15.0, 0.0])
    assert season.short_kwh == pytest.approx([0.0, 10.0, 0.0])
    assert season.performance == pytest.approx(70.0 / (8.25 + 15.0 + 10.0))


def test_a_source_without_limit_is_never_at_part_load():
    season = season_energy([3.0], [10.0], [4.0], [np.inf], 0.9)
    assert season.input_kwh == pytest.approx([7.5])
    with pytest.raises(ValueError, match="efficiency: must be above 0"):
        season_energy([3.0], [10.0], [0.0], [np.inf])


def test_the_bivalent_point_is_where_load_and_capacity_meet():
    at_c = [-10.0, 0.0, 10.0]
    assert bivalent_point_c(at_c, [8.0, 5.0, 2.0], [5.0, 6.0, 7.0]) == pytest.approx(-2.5)
    assert np.isnan(bivalent_point_c(at_c, [4.0, 3.0, 2.0], [5.0, 6.0, 7.0]))
    assert bivalent_point_c(at_c, [8.0, 7.0, 9.0], [5.0, 6.0, 7.0]) == 10.0


def test_primary_energy():
    assert seasonal_efficiency_percent(2.5) == pytest.approx(100.0)
    assert seasonal_efficiency_percent(4.0, 2.0, 8.0) == pytest.approx(192.0)
