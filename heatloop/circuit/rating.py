"""From a catalogue's rating to the constants of the channel equations: the rating is reproduced.

The constant K is whatever makes the channel model give the test's output in the test's own
arrangement, sample length and drop. A there-and-back sample at 75/65/20 with a link of 5 W/(m K)
wants K 3.4 % above output/50^n (check E15); a one-way sample at the same temperatures 0.5 % (check E16).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from heatloop.physics.channels import Runs, divide, solve
from heatloop.physics.emitter import HEATING_EFFECT_FACTOR, RATED_EXCESS_K, one_way_constant, web_link_w_mk
from heatloop.physics.water import Fluid
from heatloop.survey.catalogue import Link, Profile

UNKNOWN_LINK_W_MK = 5.0
"""Taken when a catalogue tells nothing of the web: an aluminium web 1.8 mm thick and 70 mm long."""

TEST_ROOM_C = 20.0
"""Room temperature of the EN 442-2 rating (flow 75, return 65, room 20 degC)."""


@dataclass(frozen=True)
class Characteristic:
    """Constants of a metre of profile: K in W/(m K^n) over all channels, exponent, link in W/(m K)."""

    k_w_mkn: float
    exponent: float
    link_w_mk: float


def link_w_mk(link: Link | None) -> float:
    """Link between neighbouring channels, W/(m K): as stated, from the web, or the usual one."""
    if link is None:
        return UNKNOWN_LINK_W_MK
    if link.w_mk is not None:
        return link.w_mk
    if link.web_thickness_mm is None or link.web_length_mm is None or link.conductivity_w_mk is None:
        return UNKNOWN_LINK_W_MK
    return web_link_w_mk(link.web_thickness_mm, link.web_length_mm, link.conductivity_w_mk, link.webs)


def profile_characteristic(profile: Profile, water: Fluid) -> Characteristic:
    """Constants of a profile standing on the wall, identified from its rating test.

    An unknown arrangement is taken as one-way, the cautious side. A rating that includes a heating
    effect is divided by 1.15.
    """
    rating = profile.rating
    link = link_w_mk(profile.link)
    output_w_m = rating.output_w_m / (HEATING_EFFECT_FACTOR if rating.heating_effect_included else 1.0)
    k = rated_constant(
        output_w_m,
        rating.exponent,
        link,
        channels=len(profile.channels),
        there_and_back=rating.arrangement == "there-and-back",
        drop_k=test_drop_k(profile, water),
    )
    return Characteristic(k, rating.exponent, link)


def sill_characteristic(profile: Profile) -> Characteristic:
    """Constants of a profile laid flat in the floor along glazing, from its sill rating."""
    if profile.sill is None:
        raise ValueError(f"profile {profile.name!r} has no sill rating")
    k = one_way_constant(
        profile.sill.output_w_m, 1.0, profile.sill.exponent, TEST_ROOM_C + 55.0, TEST_ROOM_C + 45.0, TEST_ROOM_C
    )
    return Characteristic(k, profile.sill.exponent, link_w_mk(profile.link))


def test_drop_k(profile: Profile, water: Fluid) -> float:
    """Drop between flow and return in the rating test, K: as stated or from the test's flow."""
    rating = profile.rating
    if rating.flow_kg_s is not None:
        output_w = rating.output_w_m * rating.sample_m
        cp = float(water.heat_capacity_j_kgk(TEST_ROOM_C + RATED_EXCESS_K))
        return output_w / (rating.flow_kg_s * cp)
    return rating.drop_k if rating.drop_k is not None else 10.0


def rated_constant(
    output_w_m: float,
    exponent: float,
    link: float,
    *,
    channels: int,
    there_and_back: bool,
    drop_k: float,
) -> float:
    """K in W/(m K^n) that reproduces `output_w_m` at a mean excess of 50 K with that drop.

    The sample's length does not matter: output and flow grow together. Raises ValueError where no
    constant can give the drop there-and-back (see least_return_ratio).
    """
    flow_c = TEST_ROOM_C + RATED_EXCESS_K + drop_k / 2.0
    return_c = flow_c - drop_k
    if not there_and_back or channels < 2:
        return one_way_constant(output_w_m, 1.0, exponent, flow_c, return_c, TEST_ROOM_C)
    out = (channels + 1) // 2
    carried = np.array([1.0 / out] * out + [1.0 / (channels - out)] * (channels - out))
    capacity = (output_w_m / drop_k * carried)[:, None] * np.ones((1, 1))

    def miss_k(k: float) -> float:
        runs = Runs(
            start=np.array([0, 1]),
            length_m=np.ones(1),
            emission_w_mkn=np.full((channels, 1), k / channels),
            exponent=np.full(1, exponent),
            link_w_mk=np.full((channels - 1, 1), link),
            room_c=np.full(1, TEST_ROOM_C),
            direction=(1,) * out + (-1,) * (channels - out),
        )
        inlet = np.array([flow_c])
        fine, parts = divide(runs, capacity, inlet)
        solved = solve(fine, np.repeat(capacity, parts, axis=1), inlet)
        home = solved.return_c[out:, 0]
        return float(home.mean() - return_c)

    least = output_w_m / RATED_EXCESS_K**exponent
    most = least
    while miss_k(most) > 0:
        most *= 1.5
        if most > 50 * least:
            raise ValueError(f"no output gives a drop of {drop_k:g} K there-and-back with a link of {link:g} W/(m K)")
    if most == least:
        least *= 0.5
    return float(brentq(miss_k, least, most, xtol=1e-13 * most, rtol=1e-13))
