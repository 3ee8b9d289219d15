"""Channels that join mix by enthalpy, so that what the water gives is what the walls emit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.heat import channel_heat
from heatloop.hydraulics.heat.arm_groups import group_similar_arms
from heatloop.hydraulics.heat.channel_heat import GroupSolution, arm_results, solve_group
from heatloop.hydraulics.model import ArmPath, Cell, Characteristic
from heatloop.physics.channels.grid import ChannelSolution
from heatloop.physics.ducts import round_duct
from heatloop.physics.water import plain_water
from tests.helpers.dwelling import loop_path

WATER = plain_water()
ROOMS = ((20.0, 3.0), (18.0, 4.0))
LAW = Characteristic(1.6, 1.3, 4.0)
PATHS = [
    loop_path("a", None, 1.0, pieces=3, rooms_c=(20.0, 18.0, 22.0)),
    loop_path("b", None, 2.0, pieces=5),
]
ARMS = [path.arms[0] for path in PATHS]
FLOW = np.array([[0.02, 0.03], [0.02, 0.03]])
INLET_C = np.array([50.0, 60.0])


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


def solved() -> GroupSolution:
    (group,) = group_similar_arms(ARMS)
    return solve_group(group, FLOW, INLET_C, WATER)


@pytest.mark.parametrize("rounds", [1, 2])
def test_cells_divided_again_give_the_same_heat(rounds: int, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = solved()
    draw = np.random.default_rng(1)
    left = [rounds]

    def cut(channels: ChannelSolution) -> np.ndarray | None:
        if not left[0]:
            return None
        left[0] -= 1
        return draw.integers(1, 4, channels.middle_c.shape[1])

    monkeypatch.setattr(channel_heat, "refinement_needed", cut)
    finer = solved()
    assert finer.parts.sum() > plain.parts.sum()
    assert finer.parts.size == plain.parts.size
    assert finer.joined_c == pytest.approx(plain.joined_c, abs=2e-6)
    for ours, theirs in zip(arm_results(finer), arm_results(plain), strict=True):
        assert ours.emitted_w == pytest.approx(theirs.emitted_w, rel=1e-6)
        assert ours.return_c == pytest.approx(theirs.return_c, abs=2e-6)


def test_a_solve_from_another_at_a_hair_more_flow_is_that_from_nothing() -> None:
    (group,) = group_similar_arms(ARMS)
    fresh = solve_group(group, FLOW, INLET_C, WATER)
    before = solve_group(group, FLOW * 1.001, INLET_C, WATER)
    again = solve_group(group, FLOW, INLET_C, WATER, before)
    assert again.joined_c == pytest.approx(fresh.joined_c, abs=1e-8)
    longer = [
        replace(arm, cells=tuple(replace(cell, length_m=3.0 * cell.length_m) for cell in arm.cells)) for arm in ARMS
    ]
    (other,) = group_similar_arms(longer)
    assert solve_group(other, FLOW, INLET_C, WATER).joined_c.max() < fresh.joined_c.min()
