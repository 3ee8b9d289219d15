"""Which channels share by symmetry, and valves at their settings."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from heatloop.hydraulics.model import ArmPath
from heatloop.hydraulics.sizing.trial_solution import _alike, _even, arms_have_valves, effective_length_m
from heatloop.hydraulics.sizing.valve_settings import calculated_setting, thermostatic
from heatloop.physics.ducts import round_duct
from heatloop.survey.catalogue import Catalogue, Valve
from tests.helpers.dwelling import loop_path

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
    assert _alike(arm(directions, *ducts)) is alike


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
