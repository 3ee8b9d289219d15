"""Which channels share by symmetry, and valves at their settings."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.model import ArmPath
from heatloop.hydraulics.sizing.flows import (
    _mean_excess_k,
    _rounded_down_k,
)
from heatloop.hydraulics.sizing.trial_solution import (
    TrialSolution,
    _even,
    arms_have_valves,
    channels_share_equally,
    effective_length_m,
    loops_network,
)
from heatloop.hydraulics.sizing.valve_settings import calculated_setting, thermostatic
from heatloop.physics.ducts import round_duct
from heatloop.physics.water import plain_water
from heatloop.survey.catalogue import Catalogue, Valve
from tests.helpers.dwelling import loop_path, two_loops

NARROW, WIDE = round_duct(0.010), round_duct(0.013)
ARM = loop_path("a", None, 1.0).arms[0]


def arm(directions: tuple[int, ...], *ducts: object) -> ArmPath:
    return replace(ARM, directions=directions, ducts=ducts or (WIDE,) * len(directions))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("directions", "ducts", "alike"),
    [
        ((1,), (), True),
        ((1, -1), (), True),
        ((1, -1), (WIDE, NARROW), True),
        ((1, 1), (), True),
        ((1, 1), (WIDE, NARROW), False),
        ((1, 1, 1), (WIDE, WIDE, NARROW), False),
        ((1, 1, -1), (), False),
        ((1, -1, -1), (), False),
        ((1, 1, -1, -1), (), False),
    ],
)
def test_parallel_channels_share_by_symmetry_where_they_are_alike_and_one_way(
    directions: tuple[int, ...], ducts: tuple[object, ...], alike: bool
) -> None:
    assert channels_share_equally(arm(directions, *ducts)) is alike


def test_even_parts_add_up_to_one_each_way() -> None:
    assert _even((1,)).tolist() == [1.0]
    assert _even((1, -1)).tolist() == [1.0, 1.0]
    assert _even((1, 1, -1)).tolist() == [0.5, 0.5, 1.0]
    assert _even((1, -1, -1)).tolist() == [1.0, 0.5, 0.5]
    assert _even((1, 1, 1)) == pytest.approx([1.0 / 3.0] * 3)


def test_arms_have_valves_where_each_has_one() -> None:
    path = loop_path("a", None, 1.0)
    valve = path.tail_return[0]
    ours, theirs = replace(ARM, flow_valve=(valve,)), replace(ARM, return_valve=(valve,))
    assert arms_have_valves(replace(path, arms=(ours, theirs)))
    assert not arms_have_valves(replace(path, arms=(ours, ARM)))
    assert not arms_have_valves(path)


def test_effective_length_counts_skirting_by_its_factor_room_by_room() -> None:
    cells = (
        replace(ARM.cells[0], room="A", length_m=2.0, factor=1.0),
        replace(ARM.cells[0], room="A", length_m=1.5, factor=0.6),
        replace(ARM.cells[0], room="B", length_m=3.0, factor=1.0),
        replace(ARM.cells[0], room="B", length_m=4.0, factor=1.0, skirting=False),
    )
    found = effective_length_m([replace(ARM, cells=cells[:2]), replace(ARM, cells=cells[2:])])
    assert found == pytest.approx({"A": 2.9, "B": 3.0})


def test_a_valve_closes_by_itself_where_its_kv_fully_open_is_stated() -> None:
    valves = (Valve("lockshield", (0.1, 0.5)), Valve("thermostatic", (0.1, 0.5), kvs_m3_h=0.8))
    stock = Catalogue((), (), (), (), valves)
    assert [thermostatic(stock, name) for name in ("lockshield", "thermostatic", None)] == [False, True, False]


def test_a_calculated_setting_begins_at_the_smallest_kv() -> None:
    valve = Valve("v", (0.1, 0.3, 0.9))
    assert calculated_setting(0.1, valve) == 1.0
    assert math.isnan(calculated_setting(float(np.nextafter(0.1, 0.0)), valve))
    assert 1.0 < calculated_setting(0.2, valve) < 2.0 < calculated_setting(0.6, valve) < 3.0


# --- first flows -------------------------------------------------------------------------------------------


def test_the_mean_excess_is_that_of_the_mean_water_over_rooms_by_length() -> None:
    found = _mean_excess_k(two_loops(), np.array([8.0, 6.0]))
    assert found == pytest.approx([50.0 - 4.0 - (2.0 * 20.0 + 4.0 * 15.0) / 6.0, 40.0 - 3.0 - 20.0])
    cool = two_loops()
    cool.supply = np.array([18.0, 20.5])
    assert _mean_excess_k(cool, np.array([8.0, 6.0])).tolist() == [1.0, 1.0]


@pytest.mark.parametrize(
    ("drop_k", "rounded_k"),
    [(7.19, 7.1), (7.0, 7.0), (1.05, 1.0), (0.567, 0.56), (0.0567, 0.0), (12.99, 12.9)],
)
def test_a_drop_is_rounded_down_to_tenths_or_two_figures(drop_k: float, rounded_k: float) -> None:
    assert _rounded_down_k(drop_k) == pytest.approx(rounded_k)
    assert _rounded_down_k(drop_k) <= drop_k


def test_units_are_arms_with_valves_or_whole_loops() -> None:
    path = loop_path("a", None, 1.0)
    valved = replace(ARM, return_valve=(path.tail_return[0],))
    longer = replace(valved, cells=valved.cells + valved.cells)
    trial = TrialSolution(
        loops_network([replace(path, arms=(valved, longer)), path]), np.array([50.0, 50.0]), plain_water()
    )
    assert [(unit.loop, unit.arms, part) for unit, part in zip(trial.units, trial.part, strict=True)] == [
        (0, (0,), pytest.approx(1.0 / 3.0)),
        (0, (1,), pytest.approx(2.0 / 3.0)),
        (1, (2,), 1.0),
    ]
    assert trial.arm_flows(np.array([0.01, 0.02, 0.03])) == pytest.approx([0.01, 0.02, 0.03])


def test_temperatures_of_groups_solved_before_are_a_start_where_the_cells_are_the_same() -> None:
    trial, flow = two_loops(), np.array([0.01, 0.02])
    known = trial.heat(flow)
    again = two_loops()
    again.start_from(known)
    assert [one is other for one, other in zip(again.initial_guess, known, strict=True)] == [True] * len(known)
    cooler = TrialSolution(
        loops_network([loop_path("a", None, 1.0, pieces=6)] * 2), np.array([50.0, 40.0]), plain_water()
    )
    cooler.start_from(known)
    assert list(cooler.initial_guess) == [None] * len(known)
    for heat, fresh in zip(again.heat(flow), known, strict=True):
        assert heat.joined_c == pytest.approx(fresh.joined_c, abs=1e-8)
