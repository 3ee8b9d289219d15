"""Degree days and load factors: limits; published figures in tests/published/test_energy.py."""

import pytest

from heatloop.physics.yearly.bins import equivalent_hours, load_factor, maximum_degree_days


@pytest.mark.parametrize(
    ("function", "arguments", "words"),
    [
        (maximum_degree_days, (30.0, 15.5, 15.5), "base_c = 15.5: must be above outdoor_c, 15.5"),
        (load_factor, (100.0, 0.0), "most_degree_days = 0: must be above 0"),
        (equivalent_hours, ([0.0], [1.0], -5.0, -5.0), "base_c = -5: must be above design_outdoor_c, -5"),
    ],
)
def test_what_has_no_answer_is_refused(function, arguments, words):
    with pytest.raises(ValueError, match=words):
        function(*arguments)


def test_hours_at_the_design_load_count_once_and_milder_hours_less():
    assert equivalent_hours([-5.0, 5.0, 20.0], [10.0, 10.0, 10.0], 15.0, -5.0) == pytest.approx(15.0)
