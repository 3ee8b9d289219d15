"""The energy of a year: sums by hand from operating points, and the temperatures that a year file lacks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import heatloop as hl
from heatloop.physics.yearly.seasonal import part_load_efficiency
from heatloop.survey.read import read_year
from heatloop.workflows.energy.weather_curve import WeatherLosses
from tests.helpers.paths import DATA

LODGE, MILL = DATA / "alder-lodge" / "year.toml", DATA / "mill-annexe" / "year.toml"


def some_bins(file, *outdoor_c):
    """A year file with the bins at these outdoor temperatures alone."""
    year = read_year(file)
    return replace(year, bins=tuple(one for one in year.bins if one.outdoor_c in outdoor_c))


@pytest.fixture(scope="module")
def lodge_year(alder_lodge):
    return hl.yearly_energy(alder_lodge, some_bins(LODGE, 0.0, 15.0, 18.0))


def test_each_bin_is_the_operating_point_at_its_weather(alder_lodge):
    """Without gains, the heat from the source is that of the operating point with its thermostats, by another call."""
    bins = hl.yearly_energy(alder_lodge, replace(some_bins(LODGE, 6.0), base_c=None))
    for row in bins.year_bins.itertuples():
        point = alder_lodge.simulate(outdoor_c=row.outdoor_c, flow_temp_c=row.flow_temp_c)
        assert row.source_heat_w == pytest.approx(point.summary["source_heat_w"], rel=2e-3)
        assert row.net_heat_to_rooms_w == pytest.approx(point.summary["net_heat_to_rooms_w"], rel=2e-3)
        assert row.heat_required_w == pytest.approx(point.summary["heat_loss_w"])


def test_heat_energy_and_cost_of_a_bin_by_hand(alder_lodge, lodge_year):
    rows = lodge_year.year_bins.set_index("outdoor_c")
    row = rows.loc[0.0]
    losses = WeatherLosses.of(alder_lodge.system)
    gains = losses.at(15.0)
    by_room = (max(loss_w - max(gains[room], 0.0), 0.0) for room, loss_w in losses.at(0.0).items())
    assert row.heat_required_w == pytest.approx(sum(by_room))
    assert row.source_heat_w == pytest.approx(row.net_heat_to_rooms_w + row.back_loss_w + row.pipe_loss_w)
    assert row.source_heat_kwh == pytest.approx(row.source_heat_w * 380.0 / 1000.0)
    flow = (row.flow_temp_c - 35.0) / 10.0
    cold, mild = 2.9 + (2.3 - 2.9) * flow, 3.7 + (2.9 - 3.7) * flow
    most_kw = (4.6 - 0.2 * flow) + ((5.3 - 0.2 * flow) - (4.6 - 0.2 * flow)) * 7.0 / 9.0
    ratio = row.source_heat_w / 1000.0 / most_kw
    cop = part_load_efficiency(cold + (mild - cold) * 7.0 / 9.0, ratio, 0.9)
    assert 35.0 < row.flow_temp_c < 45.0
    assert row.load_ratio == pytest.approx(ratio)
    assert row.efficiency == pytest.approx(float(cop))
    assert row.energy_kwh == pytest.approx(row.source_heat_kwh / float(cop))
    assert row.cost == pytest.approx(0.30 * row.energy_kwh)


def test_the_key_figures_are_the_sums(lodge_year):
    rows, summary = lodge_year.year_bins, lodge_year.summary
    heated = rows["source_heat_w"] > 0.0
    assert rows[~heated]["outdoor_c"].min() == 15.0, "at the base temperature no heat is required"
    assert rows[~heated]["flow_temp_c"].isna().all()
    standby_kwh = 0.012 * rows[~heated]["hours"].sum()
    assert summary["standby_energy_kwh"] == pytest.approx(standby_kwh)
    assert summary["cost"] == pytest.approx(rows["cost"].sum() + 0.30 * standby_kwh)
    assert summary["source_heat_kwh"] == pytest.approx(summary["net_heat_to_rooms_kwh"] + summary["loss_kwh"])
    energy_kwh = rows["energy_kwh"].sum() + standby_kwh
    assert summary["seasonal_performance"] == pytest.approx(rows["source_heat_kwh"].sum() / energy_kwh)
    by_hand = sum(max(15.0 - row.outdoor_c, 0.0) * row.hours for row in rows.itertuples()) / 24.0
    assert summary["degree_days"] == pytest.approx(by_hand)
    assert summary["heating_hours"] == rows[heated]["hours"].sum()
    assert np.isnan(summary["bivalent_c"])


def test_a_constant_flow_temperature_costs_more_than_the_curve(mill_annexe):
    by_curve, constant = (hl.yearly_energy(mill_annexe, some_bins(MILL, 5.0), at) for at in (None, 70.0))
    assert constant.summary["flow_temperature"] == "constant, 70 °C"
    assert constant.summary["mean_flow_temp_c"] == pytest.approx(70.0)
    assert constant.summary["cost"] > 1.01 * by_curve.summary["cost"]
    survey = mill_annexe.survey
    weather = replace(survey.system.weather, compensated=False)
    without = mill_annexe.resize(replace(survey, system=replace(survey.system, weather=weather)))
    found = hl.yearly_energy(without, some_bins(MILL, 5.0))
    assert found.summary["cost"] == pytest.approx(constant.summary["cost"])


def test_many_bins_are_close_to_those_that_are_solved(mill_annexe, monkeypatch):
    """Thirteen bins, of which five temperatures are solved, against two bins solved by themselves."""
    monkeypatch.setattr("heatloop.workflows.energy.yearly_energy.MAX_SOLVED", 5)
    year = read_year(MILL)
    one_kelvin = tuple(replace(year.bins[0], outdoor_c=float(at), hours=100.0) for at in range(-4, 9))
    some = tuple(one for one in one_kelvin if one.outdoor_c in (-3.0, 6.0))
    many = hl.yearly_energy(mill_annexe, replace(year, bins=one_kelvin)).year_bins.set_index("outdoor_c")
    few = hl.yearly_energy(mill_annexe, replace(year, bins=some)).year_bins.set_index("outdoor_c")
    assert many.loc[few.index, "source_heat_w"].to_numpy() == pytest.approx(few["source_heat_w"].to_numpy(), rel=5e-3)
    assert many.loc[few.index, "flow_temp_c"].to_numpy() == pytest.approx(few["flow_temp_c"].to_numpy(), abs=1e-3)


def test_rooms_that_stay_cold_are_short_and_the_summary_states_it(harbour_loft):
    """The Saloon and the Attic are short at every flow temperature of the source, which is then at its maximum."""
    year = replace(some_bins(MILL, 0.0), base_c=None)
    row = (found := hl.yearly_energy(harbour_loft, year)).year_bins.iloc[0]
    assert row["flow_temp_c"] == 55.0
    point = harbour_loft.simulate(outdoor_c=0.0, flow_temp_c=55.0).rooms
    short_w = -point[(point["margin_w"] < 0.0) & point["room"].isin(harbour_loft.survey.heated_rooms)]["margin_w"].sum()
    assert row["shortage_w"] == pytest.approx(short_w, rel=1e-2)
    assert found.summary["max_shortage_w"] == row["shortage_w"]
    assert f"Rooms are short of heat: {short_w:.0f} W at 0.0 °C outdoors." in " ".join(str(found).split())


def test_a_source_that_is_too_small_has_a_bivalent_point_and_a_backup_or_a_lack(mill_annexe):
    year = some_bins(MILL, -4.0, 5.0)
    points = tuple(replace(point, capacity_kw=1.0) for point in year.performance)
    lacking = hl.yearly_energy(mill_annexe, replace(year, performance=points))
    helped = hl.yearly_energy(
        mill_annexe, replace(year, performance=points, backup_efficiency=0.5, backup_price_per_kwh=0.4)
    )
    short_kwh = lacking.summary["uncovered_heat_kwh"]
    assert short_kwh > 0.0
    assert f"{short_kwh:.0f} kWh are not covered: rooms stay colder." in " ".join(str(lacking).split())
    assert helped.summary["uncovered_heat_kwh"] == 0.0
    assert helped.summary["backup_energy_kwh"] == pytest.approx(short_kwh / 0.5)
    assert helped.summary["cost"] - lacking.summary["cost"] == pytest.approx(0.4 * short_kwh / 0.5)
    assert "the backup gives the rest." in " ".join(str(helped).split())
    rows = lacking.year_bins
    at_c = lacking.summary["bivalent_c"]
    source_w = np.interp(at_c, rows["outdoor_c"], rows["source_heat_w"])
    assert source_w == pytest.approx(1000.0)


def test_a_year_that_the_table_of_the_source_does_not_cover_is_refused(mill_annexe):
    year = some_bins(MILL, -4.0)
    mild = tuple(replace(point, outdoor_c=0.0, flow_temp_c=point.flow_temp_c - 20.0) for point in year.performance)
    with pytest.raises(hl.InputError) as caught:
        hl.yearly_energy(mill_annexe, replace(year, performance=mild))
    first, second = str(caught.value).splitlines()
    assert first == (
        f"{MILL}: performance: found rows from 0 °C outdoors; required: rows from -4 °C outdoors on, the coldest hours "
        "with heating"
    )
    assert second.startswith(
        f"{MILL}: performance: found rows up to a flow temperature of 60 °C; required: rows up to "
    )


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((3,), "year: found 3; required: the path of a year file"),
        ((MILL, "hot"), 'flow_temp_c: found "hot"; required: a number in °C'),
        ((MILL, 21.0), "flow_temp_c: found 21; required: above 21, the warmest room, and at most"),
    ],
)
def test_wrong_arguments_are_one_line(mill_annexe, arguments, words):
    with pytest.raises(hl.InputError, match=words):
        hl.yearly_energy(mill_annexe, *arguments)
