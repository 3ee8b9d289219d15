"""Figures and tables of the water side: schematic, pump curve, rooms with a sensor in another room, errors of arms."""

from dataclasses import replace

import matplotlib.pyplot as plt
import numpy as np
import pytest

import heatloop as hl
from heatloop.report.pages.captions import sensors_caption
from heatloop.report.plots.water import network, pump_curve
from heatloop.survey.water_system import Antifreeze, Bypass


@pytest.fixture(scope="module")
def design(alder_draft):
    return alder_draft


@pytest.fixture(scope="module")
def loft(harbour_loft):
    return harbour_loft


@pytest.fixture(autouse=True)
def closed():
    yield
    plt.close("all")


def texts(ax):
    return [text.get_text() for text in ax.texts]


def test_the_schematic_has_source_trunks_bypasses_and_loops_in_their_places(design):
    survey = replace(design.survey, bypasses=(Bypass("relief", 0.1, "upstairs"), Bypass("spill", 0.5, None, 80.0)))
    other = hl.size(survey)
    figure = network.network_schematic(other)
    told = texts(figure.axes)
    names = [words for words in told if "kPa" not in words and "shut" not in words]
    assert names == [
        "heat pump", "Bypass spill", "ground floor  (trunk)", "Living room", "Kitchen", "Hall and study",
        "upstairs  (trunk)", "Nursery and bathroom", "Bedrooms  (index loop)", "Bypass relief",
    ]  # fmt: skip
    assert "shut at the design condition" in told
    row = other.loops.set_index("loop").loc["Kitchen"]
    assert any(
        f"{row['flow_l_h']:.0f} l/h" in words and f"{row['available_pressure_kpa']:.1f} kPa" in words for words in told
    )
    assert all(words in figure.alt_text for words in ("Kitchen", "upstairs", "Bypass relief"))


def test_no_words_of_the_schematic_lie_over_others(design):
    ax = network.network_schematic(design).axes
    ax.figure.canvas.draw()
    boxes = [text.get_window_extent() for text in ax.texts]
    for i, one in enumerate(boxes):
        assert ax.figure.bbox.x0 <= one.x0
        assert one.x1 <= ax.figure.bbox.x1
        assert not any(one.overlaps(other) for other in boxes[i + 1 :])


@pytest.mark.parametrize("name", ["design", "loft"])
def test_pump_and_system_meet_where_the_pump_works(name, request):
    design = request.getfixturevalue(name)
    points = design.tables["pump_curves"]
    for pump in design.pumps.to_dict("records"):
        own = points[points["pump"] == pump["pump"]].groupby("curve", sort=False)
        system, as_set = own.get_group("system"), own.get_group("pump as set")
        assert np.interp(pump["flow_l_h"], as_set["flow_l_h"], as_set["head_kpa"]) == pytest.approx(
            pump["head_kpa"], rel=1e-6
        )
        at_duty = system.iloc[(system["head_kpa"] - pump["head_kpa"]).abs().argmin()]
        assert at_duty["flow_l_h"] == pytest.approx(pump["flow_l_h"], rel=1e-6)
        assert (np.diff(system["flow_l_h"]) > 0.0).all()
        assert pump_curve.pump_curves(design, pump["pump"]).axes.get_title(loc="left").endswith(pump["control"])


def test_a_pump_that_is_not_there_is_named(design):
    with pytest.raises(KeyError, match="no pump is called 'attic'"):
        pump_curve.pump_curves(design, "attic")


def test_a_room_on_another_rooms_sensor_is_cautioned_by_what_rating_finds(design):
    row = design.remote_sensors.set_index("room").loc["Bathroom"]
    rated = hl.simulate(design).rooms.set_index("room").loc["Bathroom"]
    assert row["sensor_room"] == "Nursery"
    assert row["margin_w"] == pytest.approx(rated["margin_w"], abs=0.1)
    assert design.rooms.set_index("room").loc["Bathroom", "margin_w"] > 0.0 > row["margin_w"]
    name = "room controlled by a sensor in another room"
    checks = design.checks[design.checks["check"] == name].set_index("location")
    assert checks.loc["Bathroom, controlled by the sensor in Nursery", "verdict"] == "caution"
    assert checks.loc["Landing, controlled by the sensor in Main bedroom", "verdict"] == "pass"
    assert "Bathroom by 16 W" in sensors_caption(design.remote_sensors)


def test_an_arm_that_strays_is_cautioned_though_its_loop_does_not(design):
    checks = design.checks[design.checks["check"] == "flow error at the nearest settings"].set_index("location")
    assert checks.loc["Living room", "verdict"] == "pass"
    arm = design.valves[(design.valves["loop"] == "Living room") & (design.valves["arm"] == 2)].iloc[0]
    assert checks.loc["Living room, arm 2", "calculated"] == pytest.approx(abs(arm["flow_error_percent"]))
    assert checks.loc["Living room, arm 2", "verdict"] == "caution"


def test_the_setting_of_the_pump_and_the_effect_of_antifreeze_are_told(design):
    assert design.summary["pump_control"] == design.pumps["control"].iloc[0]
    assert f"setting: {design.summary['pump_control']}; available head" in " ".join(str(design).split())
    glycol = Antifreeze("propylene glycol", percent_by_volume=25.0)
    other = hl.size(replace(design.survey, project=replace(design.survey.project, antifreeze=glycol)))
    assert f"With plain water instead of antifreeze: {design.summary['pump_flow_l_h']:.0f} l/h" in " ".join(
        str(other).split()
    )
