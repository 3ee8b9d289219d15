"""The rating of an entry as a test: drop, flow, Reynolds number, arrangement and what is divided out, by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from heatloop.hydraulics.heat.profile_rating import (
    RatingInterpretation,
    RatingTest,
    drop_of_test_k,
    flow_of_test_kg_s,
    link_from_two_tests,
    profile_link_w_mk,
    rating_test,
    reynolds_of_test,
)
from heatloop.physics.ducts import round_duct
from heatloop.physics.water import plain_water
from heatloop.survey.profiles import Channel, ChannelCoupling, OutputRating, Profile, SecondTest

WATER = plain_water()
RATING = OutputRating(150.0, 1.28, sample_m=4.0)
PROFILE = Profile("p", 130.0, 28.0, (Channel(13.0), Channel(10.0)), RATING, (4.0,))
BORES = (round_duct(0.013), round_duct(0.010))


def test_the_drop_is_stated_or_follows_from_the_flow_or_is_ten_kelvin() -> None:
    assert drop_of_test_k(RATING, WATER) == 10.0
    assert drop_of_test_k(replace(RATING, drop_k=None), WATER) == 10.0
    assert drop_of_test_k(replace(RATING, drop_k=8.0), WATER) == 8.0
    cp = float(WATER.heat_capacity_j_kgk(70.0))
    assert drop_of_test_k(replace(RATING, flow_kg_s=0.03), WATER) == pytest.approx(600.0 / (0.03 * cp))


def test_the_flow_carries_the_output_at_the_drop_about_seventy_degrees() -> None:
    test = RatingTest(150.0, 10.0, 4.0, (1, 1), BORES, film=False)
    heat = float(WATER.enthalpy_j_kg(75.0) - WATER.enthalpy_j_kg(65.0))
    assert flow_of_test_kg_s(test, WATER) == pytest.approx(600.0 / heat)
    wider = replace(test, drop_k=20.0)
    assert flow_of_test_kg_s(wider, WATER) == pytest.approx(
        600.0 / float(WATER.enthalpy_j_kg(80.0) - WATER.enthalpy_j_kg(60.0))
    )


@pytest.mark.parametrize(("directions", "shares"), [((1, 1), (0.5, 0.5)), ((1, -1), (1.0, 1.0))])
def test_the_least_reynolds_number_is_that_of_the_wider_bore(
    directions: tuple[int, ...], shares: tuple[float, ...]
) -> None:
    """4 m / (pi d mu) at 70 °C; channels side by side share the flow alike."""
    test = RatingTest(150.0, 10.0, 4.0, directions, BORES, film=False)
    flow, viscosity = flow_of_test_kg_s(test, WATER), float(WATER.viscosity_pa_s(70.0))
    by_hand = [
        4.0 * share * flow / (math.pi * bore * viscosity) for share, bore in zip(shares, (0.013, 0.010), strict=True)
    ]
    assert reynolds_of_test(test, WATER) == pytest.approx(min(by_hand))
    assert min(by_hand) == by_hand[0]


@pytest.mark.parametrize(
    ("arrangement", "channels", "directions"),
    [
        ("there-and-back", 2, (1, -1)),
        ("there-and-back", 1, (1,)),
        ("one-way", 2, (1, 1)),
        (None, 3, (1, 1, 1)),
    ],
)
def test_a_sample_is_run_as_its_report_says_or_one_way(
    arrangement: str | None, channels: int, directions: tuple[int, ...]
) -> None:
    rating = replace(RATING, arrangement=arrangement)
    profile = replace(PROFILE, channels=(Channel(13.0),) * channels, rating=rating)
    assert rating_test(profile, WATER).directions == directions


def test_a_heating_effect_is_divided_out_and_a_factor_multiplied_in() -> None:
    included = replace(PROFILE, rating=replace(RATING, heating_effect_included=True))
    assert rating_test(PROFILE, WATER).output_w_m == 150.0
    assert rating_test(included, WATER).output_w_m == pytest.approx(150.0 / 1.15)
    less = RatingInterpretation(output_factor=0.96)
    assert rating_test(included, WATER, reading=less).output_w_m == pytest.approx(150.0 / 1.15 * 0.96)
    test = rating_test(PROFILE, WATER, film=False)
    assert (test.sample_m, test.drop_k, test.film) == (4.0, 10.0, False)
    assert [duct.hydraulic_diameter_m for duct in test.ducts] == pytest.approx([0.013, 0.010])


def test_a_link_is_read_then_stated_then_that_of_its_web_then_the_usual_one() -> None:
    test = rating_test(PROFILE, WATER)

    def link(coupling: ChannelCoupling | None, read: float | None = None) -> float:
        reading = RatingInterpretation(link_w_mk=read)
        return profile_link_w_mk(replace(PROFILE, link=coupling), test, WATER, reading)

    assert link(ChannelCoupling(w_mk=7.0), read=3.0) == 3.0
    assert link(ChannelCoupling(w_mk=7.0)) == 7.0
    web = ChannelCoupling(web_thickness_mm=2.0, web_length_mm=50.0, conductivity_w_mk=200.0)
    assert link(web) == pytest.approx(200.0 * 2.0 / 50.0)
    assert link(None) == 5.0


@pytest.mark.parametrize(("drop_k", "enough"), [(9.1, False), (10.9, False), (11.0, True), (9.0, True)])
def test_two_tests_must_differ_by_a_tenth_in_their_drop(drop_k: float, enough: bool) -> None:
    first = RatingTest(150.0, 10.0, 4.0, (1, -1), (BORES[0],) * 2, film=False)
    second = replace(first, drop_k=drop_k)
    with pytest.raises(ValueError, match="no link" if enough else "must differ by at least a tenth"):
        link_from_two_tests(first, replace(second, output_w_m=300.0), 1.28, WATER)


def test_the_second_test_of_a_profile_is_named_after_the_first() -> None:
    """Its rating is at a drop of 10 K; the message has both drops in this order."""
    coupling = ChannelCoupling(second_test=SecondTest(150.0, 10.5))
    with pytest.raises(ValueError, match=r"the two tests have drops of 10 and 10\.5 K"):
        profile_link_w_mk(replace(PROFILE, link=coupling), rating_test(PROFILE, WATER), WATER)
