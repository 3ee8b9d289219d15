"""The pump of the source against what the design needs of it, however it is controlled."""

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.results.tables.pumps import available_kpa
from tests.helpers.paths import DATA


def pump_check(constant_kpa: float | None, check: str = "head setting of the pump") -> tuple[str, float, float]:
    """Verdict, head and required head of Alder Lodge with its pump at this constant head."""
    survey = hl.read_survey(DATA / "alder-lodge" / "survey.toml")
    assert survey.source.pump is not None
    pump = replace(survey.source.pump, constant_kpa=constant_kpa)
    checks = hl.size(replace(survey, source=replace(survey.source, pump=pump))).frames["checks"]
    (row,) = checks[checks["check"] == check].to_dict("records")
    return row["verdict"], row["calculated"], row["limit"]


def test_a_constant_head_below_what_is_needed_fails_and_one_above_passes(alder_lodge):
    needed_kpa = alder_lodge.summary["pump_head_kpa"]
    verdict, found, wanted = pump_check(0.9 * needed_kpa)
    assert verdict == "fail"
    assert (found, wanted) == pytest.approx((0.9 * needed_kpa, needed_kpa), rel=1e-9)
    assert pump_check(1.5 * needed_kpa)[0] == "pass"


def test_a_pump_at_full_speed_is_held_against_its_curve(alder_lodge):
    verdict, found, _ = pump_check(None, "pump head available")
    assert verdict == "pass"
    assert found > alder_lodge.survey.source.pump.constant_kpa


def test_a_pump_has_no_head_for_a_flow_beyond_its_curve(alder_lodge):
    pump = alder_lodge.survey.source.pump
    end_m3_s = pump.flow_m3_h[-1] / 3600.0
    assert available_kpa(pump, end_m3_s) == pytest.approx(pump.head_kpa[-1])
    assert available_kpa(pump, 5.0 * end_m3_s) == 0.0
