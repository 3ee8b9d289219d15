"""Contact with warm surfaces, downdraught and radiant asymmetry, by hand at the limits of the tables."""

from math import e

import pytest

from heatloop.physics.comfort import (
    AsymmetryKind,
    asymmetry_dissatisfied_percent,
    burn_threshold_c,
    downdraught_velocity_m_s,
)


def test_a_contact_a_second_longer_takes_the_limit_of_the_longer_time():
    assert [burn_threshold_c(seconds) for seconds in (60.0, 60.1, 600.0, 600.1, 28_801.0)] == [51, 48, 48, 43, 43]
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


@pytest.mark.parametrize(
    ("kind", "asymmetry_k", "power", "less"),
    [
        ("warm ceiling", 20.0, -0.64, 5.5),
        ("warm ceiling", 10.0, 1.1, 5.5),
        ("cool wall", 10.0, 3.16, 0.0),
        ("cool wall", 15.0, 1.435, 0.0),
        ("cool ceiling", 10.0, 4.93, 0.0),
        ("cool ceiling", 15.0, 2.43, 0.0),
        ("warm wall", 20.0, 2.68, 3.5),
        ("warm wall", 35.0, 1.9, 3.5),
    ],
)
def test_share_dissatisfied_by_asymmetry(kind: AsymmetryKind, asymmetry_k: float, power: float, less: float) -> None:
    """The powers of e in equations 8 to 11 of ISO 7730, worked by hand."""
    expected = pytest.approx(100.0 / (1.0 + e**power) - less, rel=1e-12)
    assert asymmetry_dissatisfied_percent(asymmetry_k, kind) == expected


@pytest.mark.parametrize(
    ("kind", "limit_k"), [("warm ceiling", 23.0), ("cool wall", 15.0), ("cool ceiling", 15.0), ("warm wall", 35.0)]
)
def test_no_share_is_given_beyond_the_range_of_the_equations(kind: AsymmetryKind, limit_k: float) -> None:
    assert asymmetry_dissatisfied_percent(0.0, kind) < 0.5
    assert asymmetry_dissatisfied_percent(limit_k, kind) > 1.0
    with pytest.raises(ValueError, match=f"must be at most {limit_k:g} for a {kind}"):
        asymmetry_dissatisfied_percent(limit_k + 0.1, kind)
