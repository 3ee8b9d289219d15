"""Floor sections: the downward loss is given by the water and not received by the room."""

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.survey.entry import read_survey
from tests.helpers.paths import DATA

LODGE = DATA / "alder-lodge" / "draft.toml"


def with_sill(survey, **changes):
    """The survey with other values of the sill rating of its profile."""
    profiles = tuple(
        replace(profile, floor_section=replace(profile.floor_section, **changes)) if profile.floor_section else profile
        for profile in survey.catalogue.profiles
    )
    return replace(survey, catalogue=replace(survey.catalogue, profiles=profiles))


@pytest.fixture(scope="module")
def lodge():
    return read_survey(LODGE)


@pytest.fixture(scope="module")
def plain(lodge):
    return hl.size(with_sill(lodge, downward_loss_w_mk=0.0))


@pytest.fixture(scope="module")
def losing(lodge):
    return hl.size(with_sill(lodge, downward_loss_w_mk=0.5))


def test_what_goes_down_is_given_by_the_water_and_not_got_by_the_room(plain, losing):
    assert losing.summary["residual_energy"] <= 1e-9
    assert losing.loops["temperature_drop_k"].to_numpy() == pytest.approx(
        plain.loops["temperature_drop_k"].to_numpy(), abs=1e-6
    )
    loops, rooms = (frame.set_index(key) for frame, key in ((losing.loops, "loop"), (losing.rooms, "room")))
    down = rooms["downward_loss_w"]["Kitchen-diner"]
    assert loops["downward_loss_w"]["Kitchen"] == pytest.approx(down, rel=1e-12)
    assert (rooms["downward_loss_w"].drop("Kitchen-diner") == 0.0).all()
    assert (plain.rooms["downward_loss_w"] == 0.0).all()
    # 2.4 m less two transitions of 65 mm, half a watt a metre and kelvin
    along = losing.temperature_profile
    sill = losing.elements.loc[losing.elements["kind"] == "floor section", "label"].iloc[0]
    excess_k = along.loc[along["label"] == sill, "surface_temp_c"].mean() - 20.0
    assert down == pytest.approx(0.5 * 2.27 * excess_k, rel=0.02)
    # the loop needs more water for it
    before = plain.loops.set_index("loop")["flow_l_h"]["Kitchen"]
    assert loops["flow_l_h"]["Kitchen"] > before
    given = loops["heat_to_rooms_w"]["Kitchen"] + loops["pipe_loss_w"]["Kitchen"] + down
    assert loops["flow_l_h"]["Kitchen"] / before == pytest.approx(
        given / plain.loops.set_index("loop")[["heat_to_rooms_w", "pipe_loss_w"]].loc["Kitchen"].sum(), rel=1e-4
    )


def test_sizing_by_loss_counts_what_goes_down(lodge):
    survey = with_sill(lodge, downward_loss_w_mk=2.0)
    rooms = tuple(
        replace(room, heat_loss_w=720.0, heat_loss_source="a test") if room.name == "Kitchen-diner" else room
        for room in survey.rooms
    )
    survey = replace(survey, rooms=rooms, project=replace(survey.project, size_by="loss"))
    kitchen = hl.size(survey).rooms.set_index("room").loc["Kitchen-diner"]
    assert kitchen["downward_loss_w"] > 50.0
    assert kitchen["margin_w"] == pytest.approx(0.0, abs=1e-3)
