"""Pressures accepted on site: none that a check of the design refuses, and one range within reach of the other."""

from __future__ import annotations

import dataclasses
import itertools
import math

import pytest

import heatloop as hl
from heatloop.handover.commissioning.pressure_checks import (
    AcceptedPressures,
    accepted_pressures,
    in_bar,
    in_kpa,
    pressure_checks,
    to_set_kpa,
)
from heatloop.handover.commissioning.pressures import Pressures
from heatloop.physics import pressurisation
from heatloop.survey.water_system import Vessel
from tests.helpers.altered import with_survey

HOUSES = ["alder_lodge", "mill_annexe", "harbour_loft"]


def found_and_running(design: hl.Design, **system: object) -> tuple[Pressures, float]:
    changed = dataclasses.replace(design.survey.system, **system)  # type: ignore[arg-type]
    pack = with_survey(design, system=changed).commissioning()
    return pack.pressures, float(pack.facts["running_kpa"])


def limits_kpa(found: Pressures, precharge_kpa: float) -> tuple[float, float]:
    """Range of the cold fill at that precharge, by the physics."""
    range_kpa = pressurisation.fill_pressures(
        found.vessel_l, found.content_l, found.expansion, precharge_kpa, found.final_kpa
    )
    return range_kpa.min_kpa, range_kpa.max_kpa


def check_consistent(found: Pressures, accepted: AcceptedPressures, running_kpa: float) -> None:
    assert accepted.precharge[0] <= found.precharge_kpa <= accepted.precharge[1]
    assert accepted.fill[0] <= found.fill_kpa <= accepted.fill[1]
    assert accepted.running[0] <= running_kpa <= accepted.running[1] <= found.final_kpa
    gas_kpa_l = found.vessel_l * (found.precharge_kpa + 100.0)
    grown_l = gas_kpa_l / (found.fill_kpa + 100.0) - gas_kpa_l / (running_kpa + 100.0)
    for precharge_kpa, fill_kpa in itertools.product(accepted.precharge, accepted.fill):
        low_kpa, high_kpa = limits_kpa(found, precharge_kpa)
        assert low_kpa - 1e-6 <= fill_kpa <= high_kpa + 1e-6
        as_set = dataclasses.replace(
            found,
            precharge_kpa=precharge_kpa,
            fill_kpa=fill_kpa,
            hot_kpa=pressurisation.hot_pressure_kpa(found.vessel_l, found.expansion_l, precharge_kpa, fill_kpa),
        )
        before = {(row.check, row.location): row.verdict for row in pressure_checks(found)}
        after = {(row.check, row.location): row.verdict for row in pressure_checks(as_set)}
        assert after == before
        warm_kpa = pressurisation.hot_pressure_kpa(found.vessel_l, grown_l, precharge_kpa, fill_kpa)
        assert accepted.running[0] <= warm_kpa <= accepted.running[1]


@pytest.mark.parametrize("house", HOUSES)
def test_what_passes_one_step_passes_the_next_and_the_checks_of_the_design(
    house: str, request: pytest.FixtureRequest
) -> None:
    found, running_kpa = found_and_running(request.getfixturevalue(house))
    check_consistent(found, accepted_pressures(found, running_kpa), running_kpa)


def test_a_vessel_that_is_just_large_enough_leaves_little_to_accept(alder_lodge: hl.Design) -> None:
    found, _ = found_and_running(alder_lodge)
    tight, running_kpa = found_and_running(alder_lodge, vessel=Vessel(volume_l=1.02 * found.min_vessel_l))
    accepted = accepted_pressures(tight, running_kpa)
    check_consistent(tight, accepted, running_kpa)
    assert accepted.precharge[1] - accepted.precharge[0] < 2.0
    assert accepted.fill[1] - accepted.fill[0] < 5.0


def test_a_precharge_above_that_required_is_accepted_down_to_it(alder_lodge: hl.Design) -> None:
    higher, running_kpa = found_and_running(alder_lodge, vessel=Vessel(volume_l=12.0, precharge_kpa=80.0))
    accepted = accepted_pressures(higher, running_kpa)
    check_consistent(higher, accepted, running_kpa)
    assert accepted.precharge == pytest.approx((70.0, 90.0))
    near, running_kpa = found_and_running(alder_lodge, vessel=Vessel(volume_l=12.0, precharge_kpa=60.0))
    assert accepted_pressures(near, running_kpa).precharge == pytest.approx((near.static_kpa + 30.0, 70.0))


def test_a_precharge_below_that_required_is_accepted_as_stated(alder_lodge: hl.Design) -> None:
    low, running_kpa = found_and_running(alder_lodge, vessel=Vessel(volume_l=12.0, precharge_kpa=40.0))
    assert accepted_pressures(low, running_kpa).precharge == pytest.approx((40.0, 50.0))


def test_without_a_fill_pressure_there_is_none_to_accept(alder_lodge: hl.Design) -> None:
    found, running_kpa = found_and_running(alder_lodge, vessel=Vessel(volume_l=1.0))
    accepted = accepted_pressures(found, running_kpa)
    assert all(math.isnan(value) for value in (*accepted.fill, *accepted.running))
    assert in_bar(accepted.fill) == "–"
    assert not math.isnan(accepted.precharge[0])


def test_ranges_are_rounded_inwards() -> None:
    assert in_bar((57.01, 66.99)) == "0.58 to 0.66 bar"
    assert in_kpa((57.01, 66.99)) == "58 to 66 kPa"
    assert in_kpa((57.0, 67.0)) == "57 to 67 kPa"


@pytest.mark.parametrize("precharge_kpa", [None, 40.0, 57.4, 60.0, 80.3])
def test_what_is_to_be_set_lies_within_the_printed_range(alder_lodge: hl.Design, precharge_kpa: float | None) -> None:
    found, running_kpa = found_and_running(alder_lodge, vessel=Vessel(volume_l=12.0, precharge_kpa=precharge_kpa))
    accepted = accepted_pressures(found, running_kpa)
    for designed_kpa, own in (
        (found.precharge_kpa, accepted.precharge),
        (found.fill_kpa, accepted.fill),
        (running_kpa, accepted.running),
    ):
        to_set = to_set_kpa(designed_kpa, own)
        low, high = (float(words) for words in in_kpa(own).removesuffix(" kPa").split(" to "))
        assert low <= to_set <= high
        assert abs(to_set - designed_kpa) <= 1.0
        assert own[0] <= to_set <= own[1]


def test_a_range_without_a_whole_kpa_is_printed_in_tenths() -> None:
    narrow = (57.31, 57.89)
    assert (in_kpa(narrow), in_bar(narrow)) == ("57.4 to 57.8 kPa", "0.574 to 0.578 bar")
    assert to_set_kpa(57.33, narrow) == pytest.approx(57.4)
    assert math.isnan(to_set_kpa(math.nan, narrow))
    assert to_set_kpa(57.33, (math.nan, math.nan)) == 57.33
