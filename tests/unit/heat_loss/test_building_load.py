"""Heat losses by part and kind, the load of the building, and assumptions with their sources."""

from dataclasses import replace

import numpy as np
import pytest

import heatloop as hl
from heatloop.heat_loss.building_load import building_load
from heatloop.heat_loss.rooms import room_losses
from heatloop.layout.build import build_layout
from heatloop.layout.model import floor_areas_m2
from heatloop.report.plots.heat_loss import room_losses_plot
from heatloop.results.tables.heat import LOSS_BY_KIND
from heatloop.survey.building import BuildUp
from heatloop.survey.entry import read_survey
from tests.helpers.paths import DATA

LODGE = DATA / "alder-lodge" / "draft.toml"
KINDS = ["walls", "windows", "doors", "floor", "ceiling", "bridges", "air", "reheat"]


@pytest.fixture(scope="module")
def lodge(alder_draft):
    return alder_draft


def test_parts_add_up_to_the_loss_of_their_room(lodge):
    whole = lodge.heat_loss_parts.groupby("room")["heat_loss_w"].sum()
    rooms = lodge.rooms.set_index("room")
    assert np.allclose(whole[rooms.index], rooms["heat_loss_w"], rtol=1e-12)
    computed = rooms[rooms["loss_source"] == ""]
    by_kind = computed[[column.name for column in LOSS_BY_KIND]]
    assert np.allclose(by_kind.sum(axis=1), computed["heat_loss_w"], rtol=1e-12)
    assert rooms.loc["Study", [column.name for column in LOSS_BY_KIND]].isna().all()


def test_a_part_is_area_times_u_times_factor_times_the_difference(lodge):
    parts = lodge.heat_loss_parts.dropna(subset=["u_w_m2k"])
    indoor_c = lodge.rooms.set_index("room")["indoor_c"][parts["room"]].to_numpy()
    heat_w = parts["area_m2"] * parts["u_w_m2k"] * parts["temperature_factor"] * (indoor_c - -3.0)
    assert np.allclose(heat_w, parts["heat_loss_w"], rtol=1e-12)
    assert set(lodge.heat_loss_parts["kind"]) == {*KINDS, "stated"} - {"reheat"}


def test_a_stated_loss_is_one_row_that_says_by_whom(lodge):
    study = lodge.heat_loss_parts[lodge.heat_loss_parts["room"] == "Study"]
    assert len(study) == 1
    assert study[["kind", "element", "heat_loss_w"]].iloc[0].tolist() == [
        "stated", "room schedule of the heat pump installer, at -3 °C outdoors", 395.0,
    ]  # fmt: skip


def test_the_source_is_held_against_the_building_and_not_the_sum_of_rooms():
    """An air test: half the leaks of all rooms count for the building, and its load is well below the sum."""
    survey = read_survey(LODGE)
    rooms = tuple(replace(room, air_changes_h=None) for room in survey.rooms)
    survey = replace(survey, rooms=rooms, building=replace(survey.building, n50_h=30.0))
    design = hl.size(survey)
    losses = room_losses(survey, floor_areas_m2(build_layout(survey)))
    load = building_load(survey, losses, floor_areas_m2(build_layout(survey)))
    assert design.summary["building_load_w"] == load.total_w
    assert design.summary["heat_loss_w"] == pytest.approx(sum(loss.total_w for loss in losses))
    assert load.total_w < 0.95 * design.summary["heat_loss_w"]
    check = design.checks.set_index("check").loc["source output"]
    assert check["limit"] == pytest.approx(load.total_w / 1000.0)
    texts = design.assumptions[design.assumptions["topic"] == "source"]["assumption"]
    assert any("not with the sum of its rooms" in line for line in texts)


def test_every_assumption_has_a_source_of_its_own(lodge):
    assert not lodge.assumptions["source"].str.contains("see text").any()
    assert (lodge.assumptions["source"].str.len() > 0).all()
    by_text = lodge.assumptions.set_index("assumption")["source"]
    assert "from memory" in by_text["heat capacity of air 0.34 W h/(m3 K)"]
    assert not any(": EN 12831" in text for text in by_text.index)


def test_cautions_of_the_heat_loss_come_first_with_their_room(lodge):
    first = lodge.assumptions.iloc[0]
    assert first["topic"] == "caution, heat loss"
    assert first["assumption"].startswith("Bathroom: heat recovery 70 %")


def test_an_unlikely_u_value_is_a_caution():
    survey = read_survey(LODGE)
    leaky = tuple(BuildUp("window", u_w_m2k=7.0) if b.name == "window" else b for b in survey.build_ups)
    checks = hl.size(replace(survey, build_ups=leaky)).checks
    u_values = checks[checks["check"] == "plausible U-value"].set_index("location")
    assert u_values.loc["Nursery", ["calculated", "verdict"]].tolist() == [7.0, "caution"]
    assert u_values.loc["Hall", "verdict"] == "pass"
    assert "Study" not in u_values.index


def test_a_room_quoted_without_a_loss_is_a_fault_and_no_crash():
    survey = read_survey(LODGE)
    rooms = tuple(
        replace(room, walls=(), heat_loss_w=None, estimated_wall_m=6.0) if room.name == "Box room" else room
        for room in survey.rooms
    )
    with pytest.raises(hl.InputError) as caught:
        hl.size(replace(survey, rooms=rooms, loops=(replace(survey.loops[0], trunk=None),), trunks=()))
    assert 'room "Box room": found no walls to calculate its heat loss, and no heat_loss_w' in str(caught.value)


# --- the picture ---------------------------------------------------------------------------------------


def test_bars_reach_as_far_as_each_room_loses(lodge):
    ax = room_losses_plot(lodge).axes
    rooms = lodge.rooms
    reach = np.zeros(len(rooms))
    for bar in ax.patches:
        reach[round(bar.get_y() + bar.get_height() / 2)] += bar.get_width()
    assert np.allclose(reach, rooms["heat_loss_w"], rtol=1e-9)
    assert [label.get_text() for label in ax.get_yticklabels()] == list(rooms["room"])
    assert ax.get_title(loc="left") == "Largest heat loss: outdoor air, 1395 of 3405 W calculated"
    told = [text.get_text() for text in ax.get_legend().get_texts()]
    assert told == [
        "walls", "windows", "doors", "floor", "ceiling", "thermal bridges", "outdoor air", "stated, not divided",
    ]  # fmt: skip
    hatches = [handle.get_hatch() for handle in ax.get_legend().get_patches()]
    assert len(set(hatches)) == len(hatches)  # distinguishable without colour


def test_the_words_beside_the_picture_tell_it_all(lodge):
    words = room_losses_plot(lodge).alt_text
    assert words.startswith("Largest heat loss: outdoor air, 1395 of 3405 W calculated. Heat losses: Kitchen-diner")
    assert all(room in words for room in lodge.rooms["room"])
