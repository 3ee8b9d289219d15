"""Channels that join mix by enthalpy, so that what the water gives is what the walls emit."""

import numpy as np
import pytest

from heatloop.hydraulics.heat.arm_groups import group_similar_arms
from heatloop.hydraulics.heat.channel_heat import solve_group
from heatloop.hydraulics.model import ArmPath, Cell, Characteristic
from heatloop.physics.ducts import round_duct
from heatloop.physics.water import plain_water

WATER = plain_water()
ROOMS = ((20.0, 3.0), (18.0, 4.0))
LAW = Characteristic(1.6, 1.3, 4.0)


def solved_arm(directions, flow, film, inlet_c):
    cells = tuple(
        Cell("Room", room_c, length, LAW, 1.0, "", film=film) for room_c, length in ((20.0, 3.0), (18.0, 4.0))
    )
    ducts = tuple(round_duct(bore) for bore in (0.013, 0.010, 0.013))
    group = group_similar_arms([ArmPath(directions, ducts, cells, ((),) * 3)])[0]
    return solve_group(group, np.array(flow)[:, None], np.array([inlet_c]), WATER)


@pytest.mark.parametrize("film", [False, True])
@pytest.mark.parametrize("inlet_c", [35.0, 55.0, 80.0])
@pytest.mark.parametrize(
    ("directions", "flow"),
    [
        ((1, 1, -1), [0.0007, 0.0060, 0.0067]),
        ((1, -1, 1), [0.002, 0.0035, 0.0015]),
        ((1, 1, 1), [0.002, 0.0008, 0.006]),
    ],
)
def test_what_unlike_channels_bring_together_is_what_goes_on(directions, flow, inlet_c, film):
    solved = solved_arm(directions, flow, film, inlet_c)
    mass = np.array([f for f, sign in zip(flow, directions, strict=True) if sign > 0])
    emitted_w = solved.channels.emitted_w.sum()
    given_w = mass.sum() * (WATER.enthalpy_j_kg(np.array([inlet_c])) - WATER.enthalpy_j_kg(solved.joined_c))[0]
    assert given_w == pytest.approx(emitted_w, rel=1e-11)
    out = np.array(directions) > 0
    far_c = solved.channels.temp_c[:, -1]
    assert np.ptp(far_c[out]) > 0.1  # else there would be nothing to mix
    if not out.all():
        brought = mass @ WATER.enthalpy_j_kg(far_c[out])
        assert mass.sum() * WATER.enthalpy_j_kg(far_c[~out])[0] == pytest.approx(brought, rel=1e-12)
