"""From a catalogue's rating to the constants of the channel equations: the rating is reproduced.

The constant K is whatever makes the channel model give the test's output in the test's own
arrangement, sample length and drop. A there-and-back sample at 75/65/20 with a link of 5 W/(m K)
wants K 3.4 % above output/50^n (check E15); a one-way sample at the same temperatures 0.5 % (check E16).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.optimize import brentq, root_scalar

from heatloop.circuit.heat import GroupHeat, group_arms, mixed_return_c, solve_group
from heatloop.circuit.model import ArmPath, Cell, Characteristic
from heatloop.physics.ducts import Duct, oval_duct, round_duct
from heatloop.physics.emitter import HEATING_EFFECT_FACTOR, RATED_EXCESS_K, one_way_constant, web_link_w_mk
from heatloop.physics.film import TURBULENT_RE
from heatloop.physics.water import Fluid
from heatloop.survey.catalogue import Channel, Link, Profile, Rating

UNKNOWN_LINK_W_MK = 5.0
"""Taken when a catalogue tells nothing of the web: an aluminium web 1.8 mm thick and 70 mm long."""

MOST_LINK_W_MK = 60.0

TEST_ROOM_C = 20.0
"""Room temperature of the EN 442-2 rating (flow 75, return 65, room 20 degC)."""


def link_w_mk(link: Link | None) -> float:
    """Link between neighbouring channels, W/(m K): as stated, from the web, or the usual one."""
    if link is None:
        return UNKNOWN_LINK_W_MK
    if link.w_mk is not None:
        return link.w_mk
    if link.second_test is not None:
        raise ValueError("the link of a profile with a second test comes from link_from_two_tests")
    if link.web_thickness_mm is None or link.web_length_mm is None or link.conductivity_w_mk is None:
        return UNKNOWN_LINK_W_MK
    return web_link_w_mk(link.web_thickness_mm, link.web_length_mm, link.conductivity_w_mk, link.webs)


@dataclass(frozen=True)
class Test:
    """A rating test: output per metre, the sample and how water ran through it.

    `drop_k` is between flow and return around a mean of `excess_k` above the room at 20 degC; `directions`
    and `ducts` are those of the channels; `film` whether the water film is part of the model.
    """

    __test__ = False

    output_w_m: float
    drop_k: float
    sample_m: float
    directions: tuple[int, ...]
    ducts: tuple[Duct, ...]
    excess_k: float = RATED_EXCESS_K
    film: bool = True


def channel_duct(channel: Channel) -> Duct:
    """The waterway of a profile's channel: round by its bore or oval by its axes."""
    if channel.bore_mm is not None:
        return round_duct(channel.bore_mm / 1000.0)
    if channel.width_mm is None or channel.height_mm is None:
        raise ValueError("a channel wants bore_mm, or width_mm and height_mm")
    return oval_duct(channel.width_mm / 1000.0, channel.height_mm / 1000.0)


def there_and_back(channels: int) -> tuple[int, ...]:
    """Directions of channels that go out and come home: the greater half of three goes out."""
    if channels < 2:
        raise ValueError("a profile with one channel cannot run there-and-back")
    out = (channels + 1) // 2
    return (1,) * out + (-1,) * (channels - out)


def profile_characteristic(profile: Profile, water: Fluid, film: bool = True) -> Characteristic:
    """Constants of a profile standing on the wall, identified from its rating test.

    An unknown arrangement is taken as one-way, the cautious side. A rating that includes a heating
    effect is divided by 1.15.
    """
    rating = profile.rating
    film = film and rating.flow_exponent is None
    test = rating_test(profile, water, film)
    link = profile_link_w_mk(profile, test, water)
    k = rated_constant(test, rating.exponent, link, water)
    if rating.flow_exponent is None:
        return Characteristic(k, rating.exponent, link)
    return Characteristic(k, rating.exponent, link, rating.flow_exponent, flow_of_test_kg_s(test, water))


def profile_link_w_mk(profile: Profile, test: Test, water: Fluid) -> float:
    """Link of a profile, W/(m K): stated, from its web, from a second test, or the usual one."""
    if profile.link is None or profile.link.second_test is None:
        return link_w_mk(profile.link)
    second = replace(test, output_w_m=profile.link.second_test.output_w_m, drop_k=profile.link.second_test.drop_k)
    return link_from_two_tests(test, second, profile.rating.exponent, water)


def link_from_two_tests(first: Test, second: Test, exponent: float, water: Fluid) -> float:
    """The link, W/(m K), with which two tests of one sample at different flow want the same constant.

    A there-and-back sample gives less as its flow falls, and more so the stronger the link. Searched from 0
    to MOST_LINK_W_MK; ValueError where the tests agree with no link in that range, or differ in drop by
    less than a tenth.
    """
    if abs(first.drop_k - second.drop_k) < 0.1 * first.drop_k:
        raise ValueError(f"the two tests have drops of {first.drop_k:g} and {second.drop_k:g} K: too close to tell")

    def apart(link: float) -> float:
        constants = [rated_constant(test, exponent, link, water) for test in (first, second)]
        return constants[0] / constants[1] - 1.0

    # the ratio may come back to one at a much stronger link: the weakest that fits is taken
    tried = [0.0, 1.0, 2.0, 4.0, 7.0, 11.0, 16.0, 24.0, 36.0, MOST_LINK_W_MK]
    found = [apart(link) for link in tried]
    for (low, high), (at_low, at_high) in zip(pairwise(tried), pairwise(found), strict=True):
        if at_low * at_high <= 0.0:
            return float(brentq(apart, low, high, xtol=1e-6))
    raise ValueError(
        f"no link from 0 to {MOST_LINK_W_MK:g} W/(m K) lets one constant give both {first.output_w_m:g} W/m "
        f"at a drop of {first.drop_k:g} K and {second.output_w_m:g} W/m at {second.drop_k:g} K"
    )


def flow_of_test_kg_s(test: Test, water: Fluid) -> float:
    """Flow through the sample that carries the test's output at its drop, by enthalpy, kg/s."""
    flow_c = TEST_ROOM_C + test.excess_k + test.drop_k / 2.0
    ends = water.enthalpy_j_kg(np.array([flow_c, flow_c - test.drop_k]))
    return test.output_w_m * test.sample_m / float(ends[0] - ends[1])


def rating_test(profile: Profile, water: Fluid, film: bool = True) -> Test:
    """The rating of a catalogue entry as a test of the channel model."""
    rating = profile.rating
    output_w_m = rating.output_w_m / (HEATING_EFFECT_FACTOR if rating.heating_effect_included else 1.0)
    count = len(profile.channels)
    turned = rating.arrangement == "there-and-back" and count > 1
    return Test(
        output_w_m=output_w_m,
        drop_k=drop_of_test_k(rating, water),
        sample_m=rating.sample_m,
        directions=there_and_back(count) if turned else (1,) * count,
        ducts=tuple(channel_duct(channel) for channel in profile.channels),
        film=film,
    )


def sill_characteristic(profile: Profile, water: Fluid, film: bool = True) -> Characteristic:
    """Constants of a profile laid flat in the floor along glazing, from its sill rating (same test)."""
    if profile.sill is None:
        raise ValueError(f"profile {profile.name!r} has no sill rating")
    test = rating_test(profile, water, film and profile.rating.flow_exponent is None)
    link = profile_link_w_mk(profile, test, water)
    test = replace(test, output_w_m=profile.sill.output_w_m)
    return Characteristic(rated_constant(test, profile.sill.exponent, link, water), profile.sill.exponent, link)


def drop_of_test_k(rating: Rating, water: Fluid) -> float:
    """Drop between flow and return in the rating test, K: as stated or from the test's flow."""
    if rating.flow_kg_s is not None:
        cp = float(water.heat_capacity_j_kgk(TEST_ROOM_C + RATED_EXCESS_K))
        return rating.output_w_m * rating.sample_m / (rating.flow_kg_s * cp)
    return rating.drop_k if rating.drop_k is not None else 10.0


def rated_constant(test: Test, exponent: float, link: float, water: Fluid) -> float:
    """K in W/(m K^n) with which the channel model gives the test's output in the test's own arrangement.

    The flow is the one that carries the test's output at the test's drop, by enthalpy. Without film the
    sample's length does not matter: output and flow grow together. With it the film is taken as good as
    turbulent, whatever the flow of the test: a weak film there would promise more heat elsewhere, and in
    slow flow buoyancy makes it better than the laminar value. Raises ValueError where no constant can give
    the drop (see least_return_ratio).
    """
    flow_c = TEST_ROOM_C + test.excess_k + test.drop_k / 2.0
    return_c = flow_c - test.drop_k
    plain = one_way_constant(test.output_w_m, 1.0, exponent, flow_c, return_c, TEST_ROOM_C)
    flow = flow_of_test_kg_s(test, water)
    sign = np.asarray(test.directions)
    share = 1.0 / np.where(sign > 0, (sign > 0).sum(), max(int((sign < 0).sum()), 1))
    near: GroupHeat | None = None

    def miss_k(k: float) -> float:
        nonlocal near
        sample = Cell("", TEST_ROOM_C, test.sample_m, Characteristic(k, exponent, link), 1.0, "", film=test.film)
        group = group_arms([ArmPath(test.directions, test.ducts, (sample,), ((),) * len(test.directions))])[0]
        near = solve_group(
            group, (flow * share)[:, None], np.array([flow_c]), water, near, tolerance_k=1e-10, least_re=TURBULENT_RE
        )
        return float(mixed_return_c(near)[0] - return_c)

    found = root_scalar(miss_k, x0=plain, x1=1.1 * plain, method="secant", xtol=1e-13 * plain, rtol=1e-13, maxiter=40)
    if not found.converged or not 0.0 < found.root < 100.0 * plain:
        raise ValueError(
            f"no output gives a drop of {test.drop_k:g} K in the rating test with a link of {link:g} W/(m K)"
        )
    return float(found.root)
