"""Constants from rating tests: a rating is reproduced, a link is found again, factors and exponents count."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

import heatloop as hl
from heatloop.hydraulics.heat.arm_groups import group_similar_arms
from heatloop.hydraulics.heat.channel_heat import solve_group
from heatloop.hydraulics.heat.profile_rating import RatingTest, flow_of_test_kg_s, link_from_two_tests, rated_constant
from heatloop.hydraulics.model import ArmPath, Cell, Characteristic
from heatloop.physics.ducts import oval_duct, round_duct
from heatloop.physics.heat_transfer import TURBULENT_RE
from heatloop.physics.water import plain_water
from heatloop.survey.profiles import OutputFactor
from tests.helpers.paths import DATA

WATER = plain_water()
BORE = round_duct(0.013)
OVAL = oval_duct(0.020, 0.010)
LODGE = DATA / "alder-lodge" / "draft.toml"


def sample_output_w_m(test, k, exponent, link, length_m):
    """Output of `length_m` of sample at the test's flow temperature, with the flow that the output needs."""
    flow = flow_of_test_kg_s(replace(test, sample_m=length_m), WATER)
    sign = np.asarray(test.directions)
    share = 1.0 / np.where(sign > 0, (sign > 0).sum(), max((sign < 0).sum(), 1))
    cell = Cell("", 20.0, length_m, Characteristic(k, exponent, link), 1.0, "", film=test.film)
    group = group_similar_arms([ArmPath(test.directions, test.ducts, (cell,), ((),) * sign.size)])[0]
    group = replace(group, min_film_re=np.array([TURBULENT_RE]))
    flow_c = 70.0 + test.drop_k / 2.0
    solved = solve_group(group, (flow * share)[:, None], np.array([flow_c]), WATER)
    ends = WATER.enthalpy_j_kg(np.array([flow_c, solved.joined_c[0]]))
    return flow * (ends[0] - ends[1]) / length_m


@pytest.mark.parametrize("film", [False, True])
@pytest.mark.parametrize(
    ("directions", "ducts"),
    [
        ((1, 1), (BORE, BORE)),
        ((1, -1), (BORE, BORE)),
        ((1, 1, -1), (OVAL,) * 3),
        ((1, 1, 1), (OVAL,) * 3),
        ((1, -1), (BORE, OVAL)),
    ],
)
def test_the_rating_is_reproduced_in_the_arrangement_of_the_test(directions, ducts, film):
    test = RatingTest(150.0, 10.0, 3.0, directions, ducts, film=film)
    k = rated_constant(test, 1.28, 5.0, WATER)
    assert sample_output_w_m(test, k, 1.28, 5.0, 3.0) == pytest.approx(150.0, rel=1e-9)


def test_without_film_the_length_of_the_sample_does_not_matter():
    test = RatingTest(150.0, 10.0, 3.0, (1, -1), (BORE, BORE), film=False)
    k = rated_constant(test, 1.28, 5.0, WATER)
    assert rated_constant(replace(test, sample_m=1.0), 1.28, 5.0, WATER) == pytest.approx(k, rel=1e-10)


def test_a_film_in_the_test_wants_a_greater_constant():
    plain = RatingTest(150.0, 10.0, 3.0, (1, -1), (BORE, BORE), film=False)
    with_film = rated_constant(replace(plain, film=True), 1.28, 5.0, WATER)
    assert 1.01 < with_film / rated_constant(plain, 1.28, 5.0, WATER) < 1.08


@pytest.mark.parametrize("link", [0.5, 5.0, 9.0])
@pytest.mark.parametrize("film", [False, True])
def test_link_and_constant_are_found_again_from_two_tests(link, film):
    """Two tests made up with a known link: the second at a third of the flow."""
    first = RatingTest(150.0, 8.0, 4.0, (1, -1), (BORE, BORE), film=film)
    k = rated_constant(first, 1.28, link, WATER)

    def miss(output_w_m):
        return rated_constant(replace(first, output_w_m=output_w_m, drop_k=22.0), 1.28, link, WATER) - k

    # what the same sample gives at a drop of 22 K around the same mean
    second = replace(first, output_w_m=brentq(miss, 60.0, 160.0, rtol=1e-12), drop_k=22.0)
    assert link_from_two_tests(first, second, 1.28, WATER) == pytest.approx(link, abs=1e-3)


def test_two_tests_that_no_link_explains_are_refused():
    first = RatingTest(150.0, 8.0, 4.0, (1, -1), (BORE, BORE), film=False)
    with pytest.raises(ValueError, match="no link from 0 to 60"):
        link_from_two_tests(first, replace(first, output_w_m=190.0, drop_k=22.0), 1.28, WATER)
    with pytest.raises(ValueError, match="must differ by at least a tenth"):
        link_from_two_tests(first, replace(first, drop_k=8.2), 1.28, WATER)


def with_profile(survey, **changes):
    """The survey with every profile of its catalogue changed so."""
    profiles = tuple(replace(profile, **changes) for profile in survey.catalogue.profiles)
    return replace(survey, catalogue=replace(survey.catalogue, profiles=profiles))


def test_finish_and_cover_lessen_the_output():
    survey = with_profile(
        hl.read_survey(LODGE), finishes=(OutputFactor("bright", 0.9),), covers=(OutputFactor("grille", 0.8),)
    )
    plain = hl.size(survey).loops.set_index("loop")
    loops = tuple(replace(loop, finish="bright", cover="grille") for loop in survey.loops)
    dressed = hl.size(replace(survey, loops=loops)).loops.set_index("loop")
    ratio = dressed["heat_to_rooms_w"] / plain["heat_to_rooms_w"]
    # the sill has neither finish nor cover; where the metal gives less, the film matters less
    assert ((ratio > 0.70) & (ratio < 0.78)).all()


def test_a_reduced_flow_exponent_stands_instead_of_the_film():
    survey = hl.read_survey(LODGE)
    rating = survey.catalogue.profiles[0].rating
    without_film = replace(survey, project=replace(survey.project, water_film=False))
    plain = hl.size(without_film)
    exponents = with_profile(survey, rating=replace(rating, flow_exponent=1e-12))
    near_zero = hl.size(exponents)
    assert near_zero.summary["heat_to_rooms_w"] == pytest.approx(plain.summary["heat_to_rooms_w"], rel=1e-6)
    bent = hl.size(with_profile(survey, rating=replace(rating, flow_exponent=0.04)))
    texts = list(bent.assumptions["assumption"])
    assert any("output varies with flow to the power 0.04" in text for text in texts)
    assert not any(text.startswith("heat transfer from water to metal") for text in texts)
    for one, other in zip(bent.operation.arms, plain.operation.arms, strict=True):
        assert one.emitted_w.sum() != pytest.approx(other.emitted_w.sum(), rel=1e-4)
