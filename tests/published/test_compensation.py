"""Weather compensation, sources in data/published/compensation.csv; limits and round trips beside it."""

import pytest

from heatloop.physics.weather_compensation import (
    compensated_temperatures,
    curve_slope,
    load_share,
    straight_curve_c,
    temperatures_at_share,
)
from tests.helpers.published import replayed

DESIGN = {
    "indoor_c": 20.0,
    "design_outdoor_c": -3.0,
    "design_flow_c": 55.0,
    "design_return_c": 45.0,
    "exponent": 1.3,
}


def flow_of_55_47_c(outdoor_c):
    return compensated_temperatures(20.0, outdoor_c, -10.0, 55.0, 47.0, 1.3).flow_c


def lowest_flow_c(share):
    """A room that requires a share of a rating at 50 K: the excess of the share, with a constant drop of 5 K."""
    rated = temperatures_at_share(share, 20.0, 70.0, 70.0, 1.3)
    return rated.flow_c + 5.0 / 2.0


QUANTITIES = {
    "curve_slope": curve_slope,
    "straight_curve_c": lambda outdoor_c: straight_curve_c(outdoor_c, (-18.0, 82.0), (18.0, 60.0)),
    "flow_of_55_47_c": flow_of_55_47_c,
    "lowest_flow_c": lowest_flow_c,
    "flow_c": lambda outdoor_c: compensated_temperatures(outdoor_c=outdoor_c, **DESIGN).flow_c,
    "return_c": lambda outdoor_c: compensated_temperatures(outdoor_c=outdoor_c, **DESIGN).return_c,
}

test_published_row = replayed("compensation", __name__, QUANTITIES)


def test_design_weather_gives_the_design_and_warm_weather_nothing():
    cold = compensated_temperatures(outdoor_c=-3.0, **DESIGN)
    assert (cold.share, cold.flow_c, cold.return_c) == pytest.approx((1.0, 55.0, 45.0))
    for outdoor_c in (20.0, 25.0):
        warm = compensated_temperatures(outdoor_c=outdoor_c, **DESIGN)
        assert (warm.share, warm.flow_c, warm.return_c) == (0.0, 20.0, 20.0)


@pytest.mark.parametrize("exponent", [1.0, 1.28, 1.45])
@pytest.mark.parametrize("outdoor_c", [-8.0, 2.0, 12.0])
def test_water_gives_what_the_emitter_and_the_room_take(exponent, outdoor_c):
    """Three shares that must be one: of the drop at constant flow, of the emission, of the room's loss."""
    got = compensated_temperatures(outdoor_c=outdoor_c, **{**DESIGN, "exponent": exponent})
    excess = ((got.flow_c + got.return_c) / 2.0 - 20.0) / 30.0
    assert (got.flow_c - got.return_c) / 10.0 == pytest.approx(got.share)
    assert excess**exponent == pytest.approx(got.share)
    assert (20.0 - outdoor_c) / 23.0 == pytest.approx(got.share)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"design_outdoor_c": 20.0}, "design_outdoor_c = 20: must be below indoor_c, 20"),
        ({"exponent": 0.9}, "exponent = 0.9: must be 1 or above"),
        ({"design_return_c": 20.0}, "design_return_c = 20: must be above indoor_c, 20"),
        ({"design_return_c": 19.0}, "design_return_c = 19: must be above indoor_c, 20"),
        ({"design_return_c": 56.0}, "at most design_flow_c, 55"),
    ],
)
def test_what_cannot_be_is_told(change, words):
    with pytest.raises(ValueError, match=words):
        compensated_temperatures(outdoor_c=5.0, **{**DESIGN, **change})


def test_a_return_as_warm_as_the_flow_is_a_flow_without_end():
    got = compensated_temperatures(outdoor_c=8.5, **{**DESIGN, "design_return_c": 55.0, "exponent": 1.0})
    assert (got.flow_c, got.return_c) == pytest.approx((37.5, 37.5))


def test_load_share_by_hand():
    assert load_share(21.0, 6.0, -4.0) == pytest.approx(15.0 / 25.0)
    assert load_share(21.0, 20.75, 20.5) == pytest.approx(0.5)


def test_a_straight_curve_ends_at_its_points_and_needs_two():
    assert straight_curve_c(-30.0, (-18.0, 82.0), (18.0, 60.0)) == 82.0
    assert straight_curve_c(25.0, (-18.0, 82.0), (18.0, 60.0)) == 60.0
    with pytest.raises(ValueError, match="cold point at 18 °C: must be below the mild point, 18 °C"):
        straight_curve_c(0.0, (18.0, 82.0), (18.0, 60.0))
    with pytest.raises(ValueError, match="must be below indoor_c, 20"):
        curve_slope(65.0, 20.0, 20.0)


def test_a_share_below_nothing_is_refused():
    with pytest.raises(ValueError, match=r"share = -0\.1: must be 0 or above"):
        temperatures_at_share(-0.1, 20.0, 55.0, 45.0, 1.3)
