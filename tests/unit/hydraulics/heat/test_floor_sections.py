"""Floor sections: downward loss and surface temperature."""

from dataclasses import replace

import numpy as np
import pytest

import heatloop as hl
from heatloop.physics.channels.accuracy import emission_check_w
from heatloop.physics.channels.grid import ChannelRuns, subdivide
from heatloop.physics.channels.solver import solve_channels
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


def test_a_linear_run_with_loss_against_its_closed_form():
    """Exponent 1: the outlet is an exponential in K + l, and the loss takes its share l / (K + l)."""
    k, loss, length, capacity = 1.2, 0.3, 8.0, 60.0
    run = ChannelRuns(
        start=np.array([0, 1]),
        length_m=np.array([length]),
        emission_w_mkn=np.array([[k]]),
        exponent=np.array([1.0]),
        link_w_mk=np.zeros((0, 1)),
        room_c=np.array([20.0]),
        direction=(1,),
        loss_w_mk=np.array([[loss]]),
    )
    inlet = np.array([50.0])
    fine, parts = subdivide(run, np.full((1, 1), capacity), inlet)
    solved = solve_channels(fine, np.full((1, int(parts.sum())), capacity), inlet)
    excess = 30.0 * np.exp(-(k + loss) * length / capacity)
    assert solved.return_c[0, 0] == pytest.approx(20.0 + excess, abs=1e-9)
    given = capacity * (30.0 - excess)
    assert solved.emitted_w.sum() == pytest.approx(given, rel=1e-10)
    assert solved.lost_w.sum() == pytest.approx(given * loss / (k + loss), rel=1e-9)
    assert emission_check_w(solved)[0] == pytest.approx(given, rel=1e-9)


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
