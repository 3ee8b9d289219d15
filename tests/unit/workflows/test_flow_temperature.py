"""The lowest flow temperature is the lowest, and a source that is too cold is named."""

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.findings.input_errors import InputError
from heatloop.workflows.flow_temperature import _Sizes, lowest_flow_temperature
from tests.helpers.flow_temperature_scan import is_scanned, scanned_c
from tests.helpers.paths import DATA
from tests.helpers.random_systems import random_survey
from tests.helpers.survey_parts import part_of, with_project


@pytest.fixture(scope="module")
def annexe():
    return hl.read_survey(DATA / "mill-annexe" / "survey.toml")


@pytest.fixture(scope="module")
def lodge():
    return hl.read_survey(DATA / "alder-lodge" / "draft.toml")


def with_greatest(survey, max_temp_c):
    flow_temp_c = min(survey.project.flow_temp_c, max_temp_c)
    source = replace(survey.source, max_flow_temp_c=max_temp_c)
    return replace(with_project(survey, flow_temp_c=flow_temp_c), source=source)


def min_margin_w(design):
    rooms = design.rooms
    return rooms[rooms["heated_length_m"] > 0]["margin_w"].min()


@pytest.fixture(scope="module")
def lowest(lodge):
    return lowest_flow_temperature(part_of(lodge, "Bedrooms"))


def test_a_tenth_of_a_kelvin_less_leaves_a_room_cold(lodge, lowest):
    assert lowest.flow_temp_c == round(lowest.flow_temp_c, 1)
    assert min_margin_w(lowest.design) >= -0.01
    colder = hl.size(part_of(lodge, "Bedrooms").with_flow_temp(lowest.flow_temp_c - 0.1))
    assert min_margin_w(colder) < -0.01


def test_the_room_that_decides_is_named_and_the_design_is_the_one_at_that_temperature(lowest):
    rooms = lowest.design.rooms.set_index("room")
    assert rooms.loc[lowest.room, "margin_w"] == min_margin_w(lowest.design)
    assert lowest.design.summary["flow_temp_c"] == lowest.flow_temp_c


def test_sizing_by_loss_ends_on_the_temperature_at_which_the_flow_is_greatest(annexe):
    """Sized by loss, flow rises to the one with a drop of 2 K: so it is the answer of sizing for 2 K."""
    survey = with_greatest(annexe, 59.05)
    by_loss = lowest_flow_temperature(with_project(survey, size_by="loss"), min_flow_temp_c=58.75)
    by_drop = lowest_flow_temperature(with_project(survey, delta_t_k=2.0), min_flow_temp_c=58.75)
    assert by_loss.flow_temp_c == pytest.approx(by_drop.flow_temp_c, abs=0.11)


def test_water_that_cannot_give_its_drop_is_too_cold_and_no_fault(annexe):
    """At 25 °C a drop of 15 K would end below the room."""
    assert lowest_flow_temperature(annexe, min_flow_temp_c=25.0).flow_temp_c > 60.0


def test_water_for_which_sizing_finds_no_flow_is_too_cold(annexe, monkeypatch):
    def never_ends(survey, initial_guess):
        raise ArithmeticError('loop "Annexe": its flow did not converge in 60 steps')

    monkeypatch.setattr("heatloop.workflows.flow_temperature.sized_system", never_ends)
    assert _Sizes(annexe).spare_w(30.0) == -float("inf")


def test_where_the_least_is_warm_enough_it_is_the_answer(lodge):
    assert lowest_flow_temperature(part_of(lodge, "Bedrooms"), min_flow_temp_c=54.0).flow_temp_c == 54.0


def test_a_source_that_is_too_cold_is_said_in_one_line(lodge):
    survey = with_greatest(part_of(lodge, "Kitchen"), 50.0)
    with pytest.raises(InputError) as caught:
        lowest_flow_temperature(survey)
    short_w = -hl.size(survey).rooms.set_index("room").loc["Kitchen-diner", "margin_w"]
    assert str(caught.value) == (
        f"{survey.path}: source, max_flow_temp_c: found 50 °C, at which Kitchen-diner is "
        f"{short_w:.0f} W short; required: a warmer source, more skirting in that room or a smaller heat loss"
    )


def test_a_search_without_room_is_refused(annexe):
    with pytest.raises(InputError, match=r"min_flow_temp_c: found 82; required: below 82 °C"):
        lowest_flow_temperature(annexe, min_flow_temp_c=82.0)


def test_a_loop_with_its_own_temperature_gets_no_more_than_the_source_gives(annexe):
    own = replace(annexe, loops=(replace(annexe.loops[0], flow_temp_c=55.0),))
    assert own.with_flow_temp(60.0).loops[0].flow_temp_c == 55.0
    assert own.with_flow_temp(50.0).loops[0].flow_temp_c == 50.0
    assert annexe.with_flow_temp(50.0).loops[0].flow_temp_c is None


@pytest.mark.parametrize(("seed", "size_by"), [(2, "drop"), pytest.param(5, "loss", marks=pytest.mark.long)])
def test_a_scan_of_fresh_sizes_finds_the_same_temperature(seed, size_by):
    """Those of 200 random surveys, a third of them sized by loss: `python -m tests.long lowest`."""
    survey = with_project(random_survey(seed), size_by=size_by)
    found = lowest_flow_temperature(survey, min_flow_temp_c=50.0)
    assert found.flow_temp_c == pytest.approx(round(found.flow_temp_c, 1), abs=1e-9)
    assert is_scanned(survey, 50.0, found.flow_temp_c)


def test_a_scan_ends_at_no_other_temperature(annexe):
    assert scanned_c(annexe, 66.0, 90.0) == 68.3
    assert [is_scanned(annexe, 66.0, found_c) for found_c in (68.2, 68.3, 68.4)] == [False, True, False]


@pytest.fixture(scope="module")
def kept(alder_lodge):
    return lowest_flow_temperature(alder_lodge, presettings="kept")


def test_with_kept_presettings_the_operating_point_is_warm_there_and_cold_a_tenth_below(alder_lodge, kept):
    assert kept.design is alder_lodge
    assert kept.presettings == kept.summary["presettings"] == "kept"
    at = [alder_lodge.simulate(flow_temp_c=kept.flow_temp_c - less, thermostats=False) for less in (0.0, 0.1)]
    margins = [point.rooms.set_index("room").loc[kept.room, "margin_w"] for point in at]
    assert margins[1] < -0.01 <= margins[0]
    assert kept.margins["margin_w"].iloc[0] == pytest.approx(margins[0], abs=0.02)
    assert at[0].rooms["margin_w"].min() == margins[0]


def test_the_margins_are_those_of_the_design_and_the_presettings_are_said(lowest, kept):
    rooms = lowest.design.rooms.set_index("room")
    for row in lowest.margins.itertuples():
        assert row.margin_w == pytest.approx(rooms.loc[row.room, "margin_w"])
    assert lowest.room == lowest.margins["room"].iloc[0]
    assert "Valves set anew (presettings: resized)." in str(lowest)
    assert "Valves kept (presettings: kept)." in str(kept)
    assert f"{kept.flow_temp_c:.1f} °C (rounded up to 0.1 °C), determined by {kept.room}" in str(kept)


def test_kept_presettings_keep_to_the_limits_of_the_search(alder_lodge, harbour_loft):
    assert lowest_flow_temperature(alder_lodge, 49.25, "kept").flow_temp_c == 49.25
    with pytest.raises(InputError, match=r"source, max_flow_temp_c: found 55 °C, at which Saloon is \d+ W short"):
        lowest_flow_temperature(harbour_loft, presettings="kept")


def test_other_presettings_are_refused_beside_other_faults(annexe):
    with pytest.raises(InputError) as caught:
        lowest_flow_temperature(annexe, float("nan"), "as found")
    assert str(caught.value).splitlines() == [
        "lowest_flow_temperature: min_flow_temp_c: found nan; required: a number in °C",
        'lowest_flow_temperature: presettings: found "as found"; required: "resized" or "kept"',
    ]
