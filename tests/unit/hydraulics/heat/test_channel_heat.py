"""Channels that join mix by enthalpy, so that what the water gives is what the walls emit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.heat import channel_heat
from heatloop.hydraulics.heat.arm_groups import group_similar_arms, repeat_group
from heatloop.hydraulics.heat.arm_results import arm_results
from heatloop.hydraulics.heat.channel_heat import GroupSolution, solve_group, solve_group_temperatures
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


@pytest.mark.parametrize("directions", [(1,), (1, -1), (1, 1), (1, 1, -1)])
def test_a_solution_that_starts_from_itself_takes_one_step_and_stays(directions: tuple[int, ...]) -> None:
    """Water, film, heat capacity and the mixing at the far end all start where they ended."""
    cells = tuple(Cell("Room", room_c, length, LAW, 1.0, "", film=True) for room_c, length in ROOMS)
    ducts = (round_duct(0.013), round_duct(0.010), round_duct(0.013))[: len(directions)]
    (group,) = group_similar_arms([ArmPath(directions, ducts, cells, ((),) * len(directions))])
    sign = np.array(directions)
    flow = np.where(sign > 0, 0.01 * np.arange(1, sign.size + 1), 0.01 * np.arange(1, sign.size + 1)[sign > 0].sum())
    before = solve_group(group, flow[:, None], np.array([60.0]), WATER)
    again = solve_group_temperatures(group, flow[:, None], np.array([60.0]), WATER, before, 1e-6)
    assert again.joined_c == pytest.approx(before.joined_c, abs=1e-9)
    cooler = solve_group(group, flow[:, None], np.array([55.0]), WATER, before)
    fresh = solve_group(group, flow[:, None], np.array([55.0]), WATER)
    assert cooler.joined_c == pytest.approx(fresh.joined_c, abs=1e-9)
    assert cooler.channels.iterations <= fresh.channels.iterations


def test_a_solution_in_other_cells_and_more_runs_starts_from_the_nearest_cells() -> None:
    """At a third of the flow cells are divided; two repetitions start from one."""
    (group,) = group_similar_arms(ARMS)
    before = solve_group(group, FLOW, INLET_C, WATER)
    slower = solve_group(group, FLOW / 8.0, INLET_C, WATER, before)
    fresh = solve_group(group, FLOW / 8.0, INLET_C, WATER)
    assert slower.parts.sum() > before.parts.sum()
    assert slower.joined_c == pytest.approx(fresh.joined_c, abs=1e-9)
    twice = repeat_group(group, 2)
    both = solve_group(twice, np.tile(FLOW, 2), np.tile(INLET_C, 2), WATER, before)
    assert both.joined_c == pytest.approx(np.tile(before.joined_c, 2), abs=1e-9)


@pytest.mark.parametrize("directions", [(1,), (1, -1), (1, 1, -1)])
@pytest.mark.parametrize("flow_kg_s", [0.05, 0.003], ids=["whole cells", "divided cells"])
def test_means_of_cells_are_those_at_which_they_emit(directions: tuple[int, ...], flow_kg_s: float) -> None:
    """Exponent 1: what a cell emits is its constant times its length times the excess of its mean wall, film or not."""
    law, lengths, rooms = Characteristic(1.4, 1.0, 3.0), (0.4, 2.5, 1.7), (20.0, 17.0, 22.0)
    duct = round_duct(0.013)
    for film in (False, True):
        arms = [
            ArmPath(
                directions,
                (duct,) * len(directions),
                tuple(
                    Cell("Room", room_c, stretch * length, law, 0.8, "", film=film, downward_loss_w_mk=loss)
                    for room_c, length, loss in zip(rooms, lengths, (0.0, 0.3, 0.0), strict=True)
                ),
                ((),) * len(directions),
            )
            for stretch in (1.0, 1.6)
        ]
        (group,) = group_similar_arms(arms)
        shares = np.array([[flow_kg_s / sum(d == sign for d in directions)] * 2 for sign in directions])
        found = solve_group(group, shares, np.array([60.0, 45.0]), WATER)
        for arm, heat in zip(arms, arm_results(found), strict=True):
            whole_m = np.array([cell.length_m for cell in arm.cells])
            excess_k = heat.wall_c - np.array(rooms)
            down_w_mk = np.array([cell.downward_loss_w_mk for cell in arm.cells])
            assert heat.emitted_w.sum(axis=0) == pytest.approx((1.4 * 0.8 + down_w_mk) * whole_m * excess_k, rel=3e-3)
            assert heat.lost_w == pytest.approx(down_w_mk * whole_m * excess_k, rel=3e-3)
            if film:
                assert (heat.mean_c.mean(axis=0) > heat.wall_c + 0.1).all()
            else:
                assert heat.mean_c.mean(axis=0) == pytest.approx(heat.wall_c, abs=0.1)
                assert heat.surface_c == pytest.approx(heat.node_c, abs=1e-12)
            assert heat.fine_x_m[[0, -1]] == pytest.approx([0.0, whole_m.sum()])
            assert heat.fine_c[:, [0, -1]].tolist() == heat.node_c[:, [0, -1]].tolist()
            at = [int(np.argmin(np.abs(heat.fine_x_m - x))) for x in np.concatenate([[0.0], np.cumsum(whole_m)])]
            assert heat.fine_c[:, at].tolist() == heat.node_c.tolist()
            assert heat.check_w == pytest.approx(heat.emitted_w.sum(), rel=1e-8)
            assert heat.given_w == pytest.approx(heat.emitted_w.sum(), rel=1e-8)
