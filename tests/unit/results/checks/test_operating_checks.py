"""Checks of an operating point: each from its own tables, with their scope, and nothing about readiness."""

from __future__ import annotations

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.findings.limits import TOUCH, TOUCH_C
from heatloop.results.checks.limits import (
    MAX_VELOCITY_M_S,
    PUMP_RANGE,
    QUIET,
    SOURCE_FLOW,
    VELOCITY,
)
from heatloop.results.checks.operating_checks import SCOPE, SOURCE_HERE, WARM_HERE


@pytest.fixture(scope="module")
def cool(alder_lodge: hl.Design) -> hl.OperatingPoint:
    return hl.simulate(alder_lodge, flow_temp_c=40.0)


def test_the_rooms_that_fail_are_those_that_are_not_warm(cool: hl.OperatingPoint) -> None:
    rows = cool.checks[cool.checks["check"] == WARM_HERE.check].set_index("location")
    rooms = cool.rooms.set_index("room")
    assert set(rows.index) == set(rooms.index)
    assert set(rows.index[rows["verdict"] == "fail"]) == set(rooms.index[~rooms["is_warm"]])
    assert rows["calculated"].to_dict() == rooms["coverage"].to_dict()
    assert cool.summary["rooms_below_temperature"] == (rows["verdict"] == "fail").sum() > 0


def test_velocities_are_those_of_the_loops_and_too_fast_water_fails(alder_lodge: hl.Design) -> None:
    survey = replace(alder_lodge.survey, source=replace(alder_lodge.survey.source, pump=None))
    fast = hl.simulate(hl.size(survey), pump_head_kpa=150.0, thermostats=False)
    rows = fast.checks[fast.checks["check"] == VELOCITY.check].set_index("location")
    for loop in fast.loops.to_dict("records"):
        assert rows.loc[loop["loop"], "calculated"] == loop["max_velocity_m_s"]
        assert (rows.loc[loop["loop"], "verdict"] == "fail") == (loop["max_velocity_m_s"] > MAX_VELOCITY_M_S)
    assert "fail" in set(rows["verdict"])


def test_valves_are_held_against_their_own_limit(alder_lodge: hl.Design) -> None:
    catalogue = alder_lodge.survey.catalogue
    quiet = tuple(replace(valve, max_dp_kpa=0.05) for valve in catalogue.valves)
    survey = replace(alder_lodge.survey, catalogue=replace(catalogue, valves=quiet))
    point = hl.simulate(hl.size(survey))
    rows = point.checks[point.checks["check"] == QUIET.check]
    assert sorted(rows["calculated"]) == sorted(point.valves["pressure_drop_kpa"])
    assert (rows["limit"] == 0.05).all()
    assert "fail" in set(rows["verdict"])


def test_surfaces_of_vulnerable_rooms(alder_lodge: hl.Design) -> None:
    rooms = tuple(replace(room, vulnerable=room.name == "Nursery") for room in alder_lodge.survey.rooms)
    point = hl.simulate(hl.size(replace(alder_lodge.survey, rooms=rooms)))
    (row,) = point.checks[point.checks["check"] == TOUCH.check].to_dict("records")
    along = point.temperature_profile
    assert row["location"] == "Nursery"
    assert row["calculated"] == along["surface_temp_c"][along["room"] == "Nursery"].max()
    assert row["limit"] == TOUCH_C


def test_the_source_and_its_pump(alder_lodge: hl.Design) -> None:
    pump = hl.build.pump(flow_m3_h=(0.0, 0.1, 0.3), head_kpa=(60.0, 50.0, 20.0))
    source = replace(alder_lodge.survey.source, output_kw=1.0, min_flow_l_h=2000.0, pump=pump)
    point = hl.simulate(hl.size(replace(alder_lodge.survey, source=source)))
    rows = point.checks.set_index("check")
    for limit, key, factor in (
        (SOURCE_HERE, "source_heat_w", 1e-3), (SOURCE_FLOW, "source_flow_l_h", 1.0),
        (PUMP_RANGE, "source_flow_l_h", 1.0),
    ):  # fmt: skip
        assert rows.loc[limit.check, "calculated"] == pytest.approx(point.summary[key] * factor, rel=1e-12)
        assert rows.loc[limit.check, "verdict"] != "pass"


def test_the_summary_states_scope_and_failed_checks_and_no_readiness(
    alder_lodge: hl.Design, cool: hl.OperatingPoint
) -> None:
    text = " ".join(str(cool).split())
    assert cool.scope == SCOPE
    assert all(part in text for part in SCOPE)
    assert "8 failed checks" in text
    assert "Not ready for installation" not in text
    assert "Failed checks" in text
    warm = " ".join(str(hl.simulate(alder_lodge, flow_temp_c=60.0)).split())
    assert "failed checks" not in warm
