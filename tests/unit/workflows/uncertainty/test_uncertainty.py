"""Uncertainty against closed forms, against houses solved one by one, and the same for a seed."""

from __future__ import annotations

import numpy as np
import pytest

import heatloop as hl
from heatloop.workflows.uncertainty.bands import inputs_of
from heatloop.workflows.uncertainty.response import Response
from tests.helpers.uncertain_site import BANDS, covered, drawn, margins_w


@pytest.fixture(scope="module")
def lodge(alder_lodge):
    return hl.uncertainty(alder_lodge, BANDS, samples=512, seed=3)


def test_deviations_of_all_inputs_give_the_margins_of_the_house_solved_by_itself(alder_lodge):
    """Scenarios with factors on cells against networks of changed paths, ratings identified again.

    The floor section of the Kitchen-diner has the same factor as skirting on the wall, which differs by 0.06 W.
    """
    inputs = inputs_of(alder_lodge.system, BANDS)
    response = Response(alder_lodge.system, inputs)
    truths = [drawn(truth) for truth in range(3)]
    deviations = np.array([[truth[one.kind] for one in inputs] for truth in truths])
    found_w = response.margins_w(response.heat(deviations), deviations)
    for number, truth in enumerate(truths):
        alone_w = margins_w(alder_lodge, truth)
        assert dict(zip(response.rooms, found_w[:, number], strict=True)) == pytest.approx(alone_w, abs=0.1)


def test_without_deviations_the_margins_are_those_of_the_operating_point(alder_lodge, lodge):
    point = alder_lodge.simulate(thermostats=False).rooms.set_index("room")["margin_w"]
    margins = lodge.room_chances.set_index("room")["design_margin_w"]
    assert margins.to_numpy() == pytest.approx(point[margins.index].to_numpy(), abs=1e-3)


@pytest.mark.parametrize("shape", ["even", "triangular", "normal"])
def test_one_linear_input_has_the_range_and_the_chance_of_its_closed_form(mill_annexe, shape):
    """The margin falls in proportion to the loss of the fabric: percentiles and chance follow from the band."""
    found = hl.uncertainty(mill_annexe, {"fabric": hl.Band(-10.0, 30.0, shape)}, samples=2048)
    row = found.room_chances.iloc[0]
    parts = mill_annexe.heat_loss_parts
    fabric_w = parts[~parts["kind"].isin(["air", "reheat"])]["heat_loss_w"].sum()
    point = mill_annexe.simulate(thermostats=False)
    per_percent_w = (fabric_w + point.rooms["back_loss_w"].sum()) / 100.0
    x = np.linspace(-60.0, 90.0, 200_001)
    density = {
        "even": np.where((x >= -10.0) & (x <= 30.0), 1.0, 0.0),
        "triangular": np.maximum(1.0 - np.abs(x - 10.0) / 20.0, 0.0),
        "normal": np.exp(-0.5 * ((x - 10.0) * 1.96 / 20.0) ** 2),
    }[shape]
    below = np.cumsum(density) / density.sum()
    design_w = row["design_margin_w"]
    for column, share in (("low_margin_w", 0.95), ("median_margin_w", 0.5), ("high_margin_w", 0.05)):
        expected_w = design_w - per_percent_w * np.interp(share, below, x)
        assert row[column] == pytest.approx(expected_w, abs=0.3 * per_percent_w), column
    chance = np.interp(design_w / per_percent_w, x, below)
    assert 0.2 < chance < 0.9
    assert row["warm_share"] == pytest.approx(chance, abs=0.004)
    shares = found.input_shares.set_index("room")
    assert shares["first_share"].to_numpy() == pytest.approx([1.0, 1.0], abs=0.01)


def test_two_linear_inputs_share_the_variance_by_their_widths(mill_annexe):
    found = hl.uncertainty(mill_annexe, {"fabric": 10.0, "air": hl.Band(-40.0, 40.0)}, samples=2048)
    parts = mill_annexe.heat_loss_parts
    air_w = parts[parts["kind"] == "air"]["heat_loss_w"].sum()
    fabric_w = parts[~parts["kind"].isin(["air", "reheat"])]["heat_loss_w"].sum()
    fabric_w += mill_annexe.simulate(thermostats=False).rooms["back_loss_w"].sum()
    by = np.array([(10.0 * fabric_w) ** 2, (40.0 * air_w) ** 2])
    shares = found.input_shares[found.input_shares["room"] == "Annexe"].set_index("input")
    assert shares["first_share"]["heat loss through the fabric"] == pytest.approx(by[0] / by.sum(), abs=0.02)
    assert shares["total_share"]["air change"] == pytest.approx(by[1] / by.sum(), abs=0.02)
    spread_w = found.margins_w["Annexe"].std()
    assert spread_w == pytest.approx(np.sqrt(by.sum() / 3.0) / 100.0, rel=0.01)


def test_ranges_of_90_percent_cover_houses_as_built(alder_lodge, lodge):
    """A seeded part, with bounds for so few; all, with closer bounds, in `python -m tests.long uncertainty`."""
    counts = covered(alder_lodge, lodge, range(10))
    assert 0.74 <= sum(counts.values()) / (10 * len(counts)) <= 0.98


def test_the_same_seed_gives_the_same_samples_and_another_seed_nearly_the_same_chances(mill_annexe):
    bands = {"rating": 8.0, "fabric": hl.Band(-10.0, 20.0)}
    one, same, other = (hl.uncertainty(mill_annexe, bands, samples=128, seed=seed) for seed in (1, 1, 2))
    assert one.margins_w.equals(same.margins_w)
    assert one.input_shares.equals(same.input_shares)
    assert not one.margins_w.equals(other.margins_w)
    assert one.summary["all_warm_share"] == pytest.approx(other.summary["all_warm_share"], abs=0.04)


def test_each_room_loop_and_valve_may_vary_by_itself(mill_annexe, alder_lodge):
    inputs = inputs_of(alder_lodge.system, {"setting": hl.Band(-0.5, 0.5, each=True), "air": 20.0})
    names = [one.name for one in inputs]
    assert len(names) == 10
    assert "valve setting, Living room, return, arm 2" in names
    assert names[-1] == "air change"
    alone = inputs_of(mill_annexe.system, {"rating": hl.Band(-5.0, 5.0, each=True)})
    assert [one.name for one in alone] == ["rating of the profile"], "the only profile needs no name"


def test_one_valve_by_itself_gives_the_operating_point_with_that_setting(alder_lodge):
    """The other valves keep their settings, and a setting beyond the table of its valve is the last one."""
    inputs = inputs_of(alder_lodge.system, {"setting": hl.Band(-0.5, 0.5, each=True)})
    response = Response(alder_lodge.system, inputs)
    column = [one.name for one in inputs].index("valve setting, Living room, return, arm 2")
    (place,) = inputs[column].items
    setting = alder_lodge.system.settings[place].setting
    deviations = np.zeros((2, len(inputs)))
    deviations[:, column] = -0.5, 50.0
    margins = response.margins_w(response.heat(deviations), deviations)
    valve = alder_lodge.system.achieved.network.locations[place].element.valve
    last = len(alder_lodge.survey.catalogue.valve(valve).kv_m3_h)
    for number, at in enumerate((setting - 0.5, last)):
        point = alder_lodge.simulate(settings={("Living room", "return", 2): at}, thermostats=False)
        expected_w = point.rooms.set_index("room")["margin_w"][response.rooms]
        assert margins[:, number] == pytest.approx(expected_w.to_numpy(), abs=1e-3)


def test_counts_are_those_of_the_solutions(mill_annexe):
    found = hl.uncertainty(mill_annexe, {"rating": 5.0, "fabric": 5.0, "flow_temp_c": 1.0}, samples=100)
    assert found.summary["samples"] == 128
    assert found.summary["solved"] == 128 + 2 * 64, "the fabric does not change the water"
    assert found.margins_w.shape == (128, 1)
    assert len(found.input_shares) == 2 * 3
    assert "All rooms are warm in" in str(found)


@pytest.mark.parametrize(
    ("arguments", "lines"),
    [
        (({}, 1024, 0), ["bands: found {}; required: bands by the name of the input: fabric, air, outdoor_c, "
                         "flow_temp_c, rating, length, setting"]),
        (({"fabrik": 5.0, "air": -3.0, "rating": hl.Band(5.0, -5.0, "round")}, 1024, 0), [
            'bands: found "fabrik"; required: an input; the nearest is "fabric"',
            'bands, "air": found -3.0; required: a number in %, more than 0 and at most 90, or a Band',
            'bands, "rating": found 5.0 to -5.0; required: a low end below the high end, from -60 to 100 %',
            'bands, "rating", shape: found "round"; required: "even", "normal" or "triangular"',
        ]),
        (({"air": 5.0}, 8, -1), [
            "samples: found 8; required: a whole number from 16 to 65536",
            "seed: found -1; required: a whole number from 0 to 4294967295",
        ]),
    ],
)  # fmt: skip
def test_all_faults_of_the_arguments_are_listed(mill_annexe, arguments, lines):
    with pytest.raises(hl.InputError) as caught:
        hl.uncertainty(mill_annexe, *arguments)
    assert str(caught.value).splitlines() == [f"uncertainty: {line}" for line in lines]
