"""Heat losses by part and kind, the load of the building, and assumptions with their sources."""

from __future__ import annotations

import re
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
from heatloop.survey.building import (
    Building,
    BuildUp,
    Opening,
    Room,
    Wall,
)
from heatloop.survey.entry import read_survey
from tests.helpers.heat_loss_survey import survey_of
from tests.helpers.paths import DATA

LODGE = DATA / "alder-lodge" / "draft.toml"
KINDS = ["walls", "windows", "doors", "floor", "ceiling", "bridges", "air", "reheat"]
AREAS = {"Warm": 10.0, "Cool": 10.0}


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
    losses_w = sum(design.summary[key] for key in ("back_loss_w", "pipe_loss_w", "trunk_loss_w", "downward_loss_w"))
    assert check["limit"] == pytest.approx((load.total_w + losses_w) / 1000.0)
    texts = design.assumptions[design.assumptions["topic"] == "source"]["assumption"]
    assert any("not with the sum of its rooms" in line for line in texts)


def test_every_assumption_has_a_source_of_its_own(lodge):
    assert not lodge.assumptions["source"].str.contains("see text").any()
    assert (lodge.assumptions["source"].str.len() > 0).all()
    by_text = lodge.assumptions.set_index("assumption")["source"]
    assert "from memory" in by_text["heat capacity of air 0.34 W h/(m³ K)"]
    assert not any(": EN 12831" in text for text in by_text.index)


def test_cautions_of_the_heat_loss_come_first_with_their_room(lodge):
    first = lodge.assumptions.iloc[0]
    assert first["topic"] == "heat loss, to be confirmed"
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


def test_bars_reach_as_far_as_each_room_loses(lodge):
    ax = room_losses_plot(lodge).axes
    rooms = lodge.rooms
    reach = np.zeros(len(rooms))
    for bar in ax.patches:
        reach[round(bar.get_y() + bar.get_height() / 2)] += bar.get_width()
    assert np.allclose(reach, rooms["heat_loss_w"], rtol=1e-9)
    assert [label.get_text() for label in ax.get_yticklabels()] == list(rooms["room"])
    assert (
        ax.get_title(loc="left") == "Largest heat loss: ventilation, 1395 W of 3405 W (stated heat losses not included)"
    )
    told = [text.get_text() for text in ax.get_legend().get_texts()]
    assert told == [
        "walls", "windows", "doors", "floor", "ceiling", "thermal bridges", "ventilation", "stated, not divided",
    ]  # fmt: skip
    hatches = [handle.get_hatch() for handle in ax.get_legend().get_patches()]
    assert len(set(hatches)) == len(hatches)  # distinguishable without colour


def test_the_words_beside_the_picture_tell_it_all(lodge):
    words = room_losses_plot(lodge).alt_text
    assert words.startswith(
        "Largest heat loss: ventilation, 1395 W of 3405 W (stated heat losses not included). Heat losses: Kitchen-diner"
    )
    assert all(room in words for room in lodge.rooms["room"])


def two_rooms(**keys: object) -> tuple[Room, Room]:
    """A warm and a cool room side by side, each with an outside wall."""
    walls = {
        name: (
            Wall(4.0, beyond="outdoors", build_up="wall"),
            Wall(4.0, beyond=other, build_up="inner"),
            Wall(1.0),
        )
        for name, other in (("Warm", "Cool"), ("Cool", "Warm"))
    }
    warm = Room("Warm", 22.0, 2.5, walls=walls["Warm"], **keys)  # type: ignore[arg-type]
    cool = Room("Cool", 18.0, 2.5, walls=walls["Cool"], **keys)  # type: ignore[arg-type]
    return warm, cool


def test_heat_between_rooms_is_not_load_of_the_building() -> None:
    survey = survey_of(*two_rooms(air_changes_h=0.0))
    losses = room_losses(survey, AREAS)
    load = building_load(survey, losses, AREAS)
    assert load.transmission_w == pytest.approx(10.0 * 0.5 * (27.0 + 23.0))
    assert load.between_rooms_w == pytest.approx(0.0)
    assert load.sum_of_rooms_w == pytest.approx(sum(loss.total_w for loss in losses))


def test_heat_towards_a_stated_room_stays() -> None:
    warm, cool = two_rooms(air_changes_h=0.0)
    stated = replace(cool, walls=(), heat_loss_w=300.0)
    survey = survey_of(warm, stated)
    load = building_load(survey, room_losses(survey, AREAS), AREAS)
    assert load.total_w == pytest.approx(10.0 * 0.5 * 27.0 + 10.0 * 2.0 * 4.0 + 300.0)
    assert load.stated_w == 300.0
    (note,) = [note for note in load.assumptions if "stated loss" in note.text]
    assert note.text == "building load: rooms with a stated loss are counted with that loss"


def test_least_rates_govern_the_building_unless_half_the_leaks_exceed_them() -> None:
    window = Opening("window", 0.5, 1.0, 1.0, build_up="glass")
    rooms = tuple(
        replace(room, walls=(replace(room.walls[0], openings=(window,)), *room.walls[1:])) for room in two_rooms()
    )
    for n50, flow_m3_h in ((5.0, 12.5), (25.0, 0.5 * 2.0 * 25.0 * 25.0 * 0.03)):
        building = Building(n50_h=n50, shielding="none", thermal_bridge_w_m2k=0.0)
        survey = survey_of(*rooms, building=building)
        load = building_load(survey, room_losses(survey, AREAS), AREAS)
        assert load.air_w == pytest.approx(0.34 * flow_m3_h * (27.0 + 23.0))


def test_stated_air_without_a_split_counts_in_full_and_says_so() -> None:
    survey = survey_of(*two_rooms(air_changes_h=1.0))
    load = building_load(survey, room_losses(survey, AREAS), AREAS)
    assert load.air_w == pytest.approx(0.34 * 25.0 * 50.0)
    assert any("counted in full" in str(line) for line in load.assumptions)


@pytest.mark.parametrize(
    ("keys", "half", "in_full"),
    [
        ({"air_changes_h": 1.0}, False, True),
        ({"air_changes_h": 1.0, "infiltration_changes_h": 0.01}, True, False),
        ({"air_changes_h": None}, False, False),
        ({"air_changes_h": None, "infiltration_changes_h": 0.01}, True, False),
    ],
)
def test_what_of_the_air_counts_for_the_building_is_said(keys: dict[str, object], half: bool, in_full: bool) -> None:
    """A hundredth of a change is a quarter of a cubic metre an hour of leaks."""
    survey = survey_of(*two_rooms(**keys))
    lines = [str(line) for line in building_load(survey, room_losses(survey, AREAS), AREAS).assumptions]
    assert any("infiltration of several rooms counts" in line for line in lines) is half
    assert any("counted in full" in line for line in lines) is in_full


def test_a_house_that_loses_next_to_nothing_has_its_share_of_change_too() -> None:
    """0.5 m² of U 0.5 at 25 K and as much at 21 K: some eleven watts; in watts below one as well."""
    small = tuple(
        replace(room, walls=(Wall(width_m, beyond="outdoors", build_up="wall"), Wall(1.0)), air_changes_h=0.0)
        for room, width_m in zip(two_rooms(), (0.02, 0.01), strict=True)
    )
    survey = survey_of(*small)
    losses = room_losses(survey, AREAS)
    assert 0.0 < sum(loss.total_w for loss in losses) < 1.0
    lines = [str(line) for line in building_load(survey, losses, AREAS).assumptions]
    (line,) = [line for line in lines if "heat loss calculated with " in line]
    assert re.search(r"it would be \d+ W \(\d+ % of the heat losses calculated here\) higher", line)


def test_recovery_works_on_the_supply_of_the_building() -> None:
    keys = {"air_changes_h": 1.0, "infiltration_changes_h": 0.4, "heat_recovery": 0.75}
    survey = survey_of(*two_rooms(**keys))
    load = building_load(survey, room_losses(survey, AREAS), AREAS)
    assert load.air_w == pytest.approx(0.34 * 25.0 * (0.2 + 0.6 * 0.25) * 50.0)
