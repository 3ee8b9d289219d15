"""Output of a profile in the second site model: its constant from its rating test, in channels of this model."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from scipy.optimize import brentq

from tests.helpers.second_site import water
from tests.helpers.second_site.channels import Arm, solve_arm

TEST_C, ROOM_C = 70.0, 20.0
"""Mean water temperature and room of a test (EN 442: 75/65/20)."""


def section(channel):
    """Area in m2 and perimeter in m of a waterway: a circle, or an ellipse by Ramanujan's formula."""
    if channel.bore_mm is not None:
        bore = channel.bore_mm / 1000.0
        return math.pi * bore**2 / 4.0, math.pi * bore
    a, b = channel.width_mm / 2000.0, channel.height_mm / 2000.0
    return math.pi * a * b, math.pi * (3.0 * (a + b) - math.sqrt((3.0 * a + b) * (a + 3.0 * b)))


def link_w_mk(profile):
    """Conduction between neighbouring channels in W/(m K): stated, of a plane web, or 5 where nothing is stated."""
    link = profile.link
    if link is None or (link.w_mk is None and link.web_thickness_mm is None):
        return 5.0
    if link.w_mk is not None:
        return link.w_mk
    return link.webs * link.conductivity_w_mk * link.web_thickness_mm / link.web_length_mm


def directions(count, one_way):
    """Direction of each channel: +1 away from the tails; there and back the larger half, from the top, is outward."""
    outward = count if one_way else (count + 1) // 2
    return np.array([1] * outward + [-1] * (count - outward))


@cache
def emission_w_mkn(profile):
    """Constant of all channels of a metre in W/(m K^n) with which the sample gives its rated output."""
    rating = profile.rating
    assert rating.flow_exponent is None, "a rating by flow is not part of this model"
    output_w = rating.output_w_m * rating.sample_m / (1.15 if rating.heating_effect_included else 1.0)
    flow = rating.flow_kg_s or output_w / (water.HEAT_CAPACITY_J_KGK * rating.drop_k)
    drop_k = output_w / (water.HEAT_CAPACITY_J_KGK * flow)
    count, n = len(profile.channels), 20
    areas, perimeters = (np.array(values) for values in zip(*map(section, profile.channels), strict=True))
    way = directions(count, rating.arrangement != "there-and-back")
    each = np.where(way > 0, flow / (way > 0).sum(), flow / max((way < 0).sum(), 1))
    nothing, room = np.zeros(n), np.full(n, ROOM_C)

    def surplus_w(log_k):
        arm = Arm(
            way, areas, perimeters, np.full(n, rating.sample_m / n), np.full(n, math.exp(log_k)),
            np.full(n, rating.exponent), np.full(n, link_w_mk(profile)), nothing, np.ones(n, bool), np.ones(n),
            np.zeros(n, int), ("",) * n,
        )  # fmt: skip
        return float(solve_arm(arm, each, TEST_C + drop_k / 2.0, room).heat_w.sum()) - output_w

    guess = math.log(rating.output_w_m / (TEST_C - ROOM_C) ** rating.exponent)
    return math.exp(brentq(surplus_w, guess - 0.5, guess + 1.0, xtol=1e-9))
