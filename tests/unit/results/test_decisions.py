"""Results of studies: their tables are described, and a copy of a table is one's own."""

from __future__ import annotations

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.survey.read import read_year
from tests.helpers.paths import DATA


@pytest.fixture(scope="module")
def results(mill_annexe):
    year = read_year(DATA / "mill-annexe" / "year.toml")
    return [
        hl.lowest_flow_temperature(mill_annexe, presettings="kept"),
        hl.weather_curve(mill_annexe, [-4.0, 10.0]),
        hl.yearly_energy(mill_annexe, replace(year, bins=year.bins[:1])),
        hl.uncertainty(mill_annexe, {"fabric": 10.0}, samples=64),
    ]


def test_tables_hold_the_columns_of_their_descriptions_and_names_of_their_own(results):
    names = [name for result in results for name in result.frames]
    assert len(names) == len(set(names))
    for result in results:
        described = type(result).descriptions()
        assert set(result.frames) == set(described)
        for name, frame in result.frames.items():
            assert list(frame.columns) == described[name].names
            assert getattr(result, name).equals(frame)
        assert set(result.facts) == {column.name for column in result.summary_columns}


def test_a_result_is_short_in_a_list_and_a_table_in_a_notebook(results):
    assert [repr(result) for result in results] == [
        "<LowestFlowTemperature of 'Mill Annexe': 67 °C, Annexe>",
        "<WeatherCurve of 'Mill Annexe': 2 outdoor temperatures>",
        "<YearlyEnergy of 'Mill Annexe': 1 outdoor temperature>",
        "<Uncertainty of 'Mill Annexe': 64 samples>",
    ]
    for result in results:
        assert "<table" in result._repr_html_()
