"""Frost: water that freezes above what its pipes can meet is a caution, with the freezing curve as its source."""

from __future__ import annotations

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.findings.limits import CheckResult
from heatloop.hydraulics.from_survey import water_freezes_at_c
from heatloop.results.checks.frost_checks import frost_checks
from heatloop.survey.entry import read_survey
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import Antifreeze
from tests.helpers.paths import DATA, HARBOUR_LOFT

LOFT = HARBOUR_LOFT / "survey.toml"


@pytest.fixture(scope="module")
def loft() -> SurveyData:
    return read_survey(LOFT)


def with_water(survey: SurveyData, antifreeze: Antifreeze | None, outdoor_c: float = -7.0) -> SurveyData:
    project = replace(survey.project, antifreeze=antifreeze, outdoor_c=outdoor_c)
    return replace(survey, project=project, source=replace(survey.source, outdoor_pipes=True))


def only(survey: SurveyData) -> CheckResult:
    (row,) = frost_checks(survey)
    return row


def test_no_row_where_no_pipe_is_said_to_be_in_the_cold(loft: SurveyData) -> None:
    assert not list(frost_checks(loft))
    assert not list(frost_checks(read_survey(DATA / "alder-lodge" / "survey.toml")))


@pytest.mark.parametrize(("percent", "verdict"), [(None, "caution"), (15.0, "caution"), (20.0, "pass"), (30.0, "pass")])
def test_pipes_outdoors_are_held_against_the_design_day(loft: SurveyData, percent: float | None, verdict: str) -> None:
    """Propylene glycol for -7 °C: 15 per cent by volume protect to about -5, 20 to about -7 (Melinder)."""
    antifreeze = None if percent is None else Antifreeze("propylene glycol", percent_by_volume=percent)
    row = only(with_water(loft, antifreeze))
    assert (row.verdict, row.limit, row.location) == (verdict, -7.0, "heat pump, pipes outdoors")
    assert "Melinder" in row.source
    assert bool(row.recommendation) == (verdict == "caution")


def test_by_mass_and_by_volume_agree(loft: SurveyData) -> None:
    by_mass = water_freezes_at_c(with_water(loft, Antifreeze("ethylene glycol", mass_fraction=0.3)))
    by_volume = water_freezes_at_c(with_water(loft, Antifreeze("ethylene glycol", percent_by_volume=27.76)))
    assert by_mass == pytest.approx(-14.58, abs=0.01)
    assert by_volume == pytest.approx(by_mass, abs=0.1)


def test_a_design_day_just_at_the_freezing_point_passes(loft: SurveyData) -> None:
    freezing_c = water_freezes_at_c(with_water(loft, Antifreeze("ethylene glycol", mass_fraction=0.3)))
    row = only(with_water(loft, Antifreeze("ethylene glycol", mass_fraction=0.3), outdoor_c=freezing_c))
    assert row.verdict == "pass"


def test_unheated_spaces_and_trunks_in_the_cold(loft: SurveyData) -> None:
    """The store stands at 0.6 of the way from its coolest room to outdoors."""
    (store,) = loft.spaces
    coolest_c = min(room.indoor_c for room in loft.rooms)
    expected_c = coolest_c - 0.6 * (coolest_c - loft.project.outdoor_c)
    found = only(replace(loft, spaces=(replace(store, heating_pipes=True),)))
    assert (found.location, found.limit, found.verdict) == ("pipes through Store", pytest.approx(expected_c), "pass")
    frozen = only(replace(loft, spaces=(replace(store, temp_c=-2.0, temperature_factor=None, heating_pipes=True),)))
    assert (frozen.limit, frozen.verdict) == (-2.0, "caution")
    trunk = loft.trunks[0]
    cold = replace(loft, trunks=(replace(trunk, around_c=-1.0), *loft.trunks[1:]))
    assert (only(cold).location, only(cold).verdict) == (f"trunk {trunk.name}", "caution")
    mild = replace(loft, trunks=(replace(trunk, around_c=12.0), *loft.trunks[1:]))
    assert not list(frost_checks(mild))


def test_the_keys_of_the_file_reach_the_checks_of_a_design(tmp_path) -> None:  # type: ignore[no-untyped-def]
    text = LOFT.read_text(encoding="utf-8").replace('kind = "heat pump"', 'kind = "heat pump"\noutdoor_pipes = true', 1)
    text = text.replace('name = "Store"', 'name = "Store"\nheating_pipes = true', 1)
    (tmp_path / "survey.toml").write_text(text, encoding="utf-8")
    (tmp_path / "catalogue.toml").write_text((HARBOUR_LOFT / "catalogue.toml").read_text(encoding="utf-8"))
    checks = hl.size(tmp_path / "survey.toml").checks
    rows = checks[checks["check"] == "freezing temperature of the water"].set_index("location")
    assert rows["verdict"].to_dict() == {"heat pump, pipes outdoors": "caution", "pipes through Store": "pass"}
