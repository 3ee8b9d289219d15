"""Contact with warm surfaces and downdraught, by hand at the limits of the tables."""

import pytest

from heatloop.physics.comfort import burn_threshold_c, downdraught_velocity_m_s


def test_a_contact_a_second_longer_takes_the_limit_of_the_longer_time():
    assert [burn_threshold_c(seconds) for seconds in (60.0, 61.0, 600.0, 601.0, 28_801.0)] == [51, 48, 48, 43, 43]
    with pytest.raises(ValueError, match="60 s or more"):
        burn_threshold_c(59.9)


def test_downdraught_by_distance_height_and_excess():
    """sqrt(4 x 1) is 2: by Heiselberg's three reaches, none from a pane as warm as the room or without height."""
    by_reach = [downdraught_velocity_m_s(1.0, 4.0, distance) for distance in (0.39, 0.4, 2.0, 2.1)]
    assert by_reach == pytest.approx([0.166, 0.286 / 1.72, 0.286 / 3.32, 0.086], rel=1e-12)
    assert downdraught_velocity_m_s(0.0, 4.0, 0.0) == downdraught_velocity_m_s(1.0, -3.0, 0.0) == 0.0
    assert downdraught_velocity_m_s(0.5, 0.5, 0.0) == pytest.approx(0.0415, rel=1e-12)
    for height_m, distance_m in ((-0.1, 0.0), (1.0, -0.1)):
        with pytest.raises(ValueError, match="a length below 0"):
            downdraught_velocity_m_s(height_m, 4.0, distance_m)
