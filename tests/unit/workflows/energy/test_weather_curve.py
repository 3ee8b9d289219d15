"""The weather curve: each flow temperature is the one at which the operating point has just enough heat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import heatloop as hl
from heatloop.physics.weather_compensation import temperatures_at_share
from heatloop.workflows.energy.weather_curve import WeatherLosses
from tests.helpers.paths import DATA


@pytest.fixture(scope="module")
def curve(alder_lodge):
    return hl.weather_curve(alder_lodge)


def test_at_each_flow_temperature_the_operating_point_has_no_margin_in_the_named_room(alder_lodge, curve):
    """Another way to the same state: one coupled solve with its tables instead of many in a batch."""
    for row in curve.weather_curve.iloc[[0, 2]].itertuples():
        point = alder_lodge.simulate(outdoor_c=row.outdoor_c, flow_temp_c=row.flow_temp_c, thermostats=False)
        margins = point.rooms.set_index("room")["margin_w"]
        assert margins.idxmin() == row.room
        assert margins.min() == pytest.approx(0.0, abs=0.02)
        assert point.summary["return_temp_c"] == pytest.approx(row.return_temp_c, abs=0.001)


def test_each_room_has_its_own_flow_temperature_and_the_system_that_of_the_highest(alder_lodge, curve):
    rooms = curve.room_flow_temps
    highest = rooms.groupby("outdoor_c")["flow_temp_c"].max()
    assert curve.weather_curve["flow_temp_c"].to_numpy() == pytest.approx(highest.to_numpy())
    assert (rooms["below_curve_k"].dropna() >= 0.0).all()
    assert (rooms[rooms["below_curve_k"] == 0.0].groupby("outdoor_c").size() == 1).all()
    row = rooms[(rooms["room"] == "Bathroom") & (rooms["outdoor_c"] == 5.0)].iloc[0]
    point = alder_lodge.simulate(outdoor_c=5.0, flow_temp_c=row.flow_temp_c, thermostats=False)
    assert point.rooms.set_index("room").loc["Bathroom", "margin_w"] == pytest.approx(0.0, abs=0.02)


def test_the_curve_falls_with_the_weather_and_follows_the_closed_form(curve):
    assert (np.diff(curve.weather_curve["flow_temp_c"]) < 0.0).all()
    rooms = curve.room_flow_temps
    assert rooms["formula_difference_k"].abs().max() < 0.3, "nearly constant flow"
    row = rooms[(rooms["room"] == "Study") & (rooms["outdoor_c"] == 5.0)].iloc[0]
    first = rooms[(rooms["room"] == "Study") & (rooms["outdoor_c"] == -3.0)].iloc[0]
    back_c = curve.weather_curve["return_temp_c"].iloc[0]  # the Study determines the first row
    by_hand = temperatures_at_share(row.heat_loss_w / first.heat_loss_w, 20.0, first.flow_temp_c, back_c, 1.3)
    assert row.formula_flow_temp_c == pytest.approx(by_hand.flow_c, abs=0.3)


def test_a_room_that_needs_no_heat_and_a_room_that_stays_cold_have_no_flow_temperature(harbour_loft):
    curve = hl.weather_curve(harbour_loft, [-4.0, 15.0, 20.0])
    rooms = curve.room_flow_temps.set_index(["room", "outdoor_c"])
    assert np.isnan(rooms.loc[("Saloon", -4.0), "flow_temp_c"])
    assert curve.summary["short_rooms"] == "Saloon and Attic"
    assert "Short of heat even at 55 °C at the coldest: Saloon and Attic." in str(curve)
    assert rooms.loc[("Saloon", 15.0), "flow_temp_c"] < 55.0
    assert rooms.loc[("Cabin B", 20.0), "heat_loss_w"] < 0.0
    assert np.isnan(rooms.loc[("Cabin B", 20.0), "flow_temp_c"])


@pytest.mark.parametrize("outdoor_c", [-11.0, 2.0, 14.0])
def test_losses_by_weather_are_those_of_another_outdoor_temperature(alder_lodge, outdoor_c):
    """Stated losses included: by the operating point, which calculates every element again."""
    losses = WeatherLosses.of(alder_lodge.system).at(outdoor_c)
    rooms = alder_lodge.simulate(outdoor_c=outdoor_c, thermostats=False).rooms.set_index("room")["heat_loss_w"]
    assert losses == pytest.approx(rooms.to_dict(), rel=1e-9)


def test_between_rows_the_curve_is_straight_and_outside_unknown(curve):
    at = curve.weather_curve.set_index("outdoor_c")["flow_temp_c"]
    assert curve.flow_temp_c(2.5) == pytest.approx((at[0.0] + at[5.0]) / 2.0)
    assert curve.flow_temp_c(-3.0) == at[-3.0]
    assert np.isnan(curve.flow_temp_c(-3.1))
    assert np.isnan(curve.flow_temp_c(15.1))
    assert curve.summary["slope"] == pytest.approx((at[-3.0] - at[15.0]) / 18.0)


def test_a_survey_or_its_file_is_sized_first(mill_annexe):
    of_file = hl.weather_curve(DATA / "mill-annexe" / "survey.toml", [0.0])
    of_design = hl.weather_curve(mill_annexe, [0.0])
    assert of_file.weather_curve.equals(of_design.weather_curve)


@pytest.mark.parametrize(
    ("outdoor_c", "words"),
    [
        ([], "outdoor_c: found []; required: a list of outdoor temperatures in °C"),
        ("cold", "a list of outdoor temperatures in °C"),
        ([5.0, 41.0, float("nan")], r"outdoor_c, number 2: found 41.0; required: -60 to 40 °C\n.*number 3: found nan"),
    ],
)
def test_outdoor_temperatures_that_cannot_be_are_listed(mill_annexe, outdoor_c, words):
    with pytest.raises(hl.InputError, match=words.replace("[]", r"\[\]")):
        hl.weather_curve(mill_annexe, outdoor_c)


def test_a_source_with_a_lower_maximum_ends_the_curve_earlier(mill_annexe):
    survey = mill_annexe.survey
    cooler = replace(survey, source=replace(survey.source, max_flow_temp_c=70.0))
    curve = hl.weather_curve(mill_annexe.resize(cooler), [-12.0, 10.0])
    assert np.isnan(curve.weather_curve["flow_temp_c"].iloc[0])
    assert curve.weather_curve["flow_temp_c"].iloc[1] < 70.0
