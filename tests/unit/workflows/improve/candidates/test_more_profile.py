"""Runs are extended only along free wall, step by step, and never past what stops them."""

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.layout.build import build_layout
from heatloop.workflows.improve.candidates.more_profile import longer_runs
from heatloop.workflows.improve.remedy import with_remedies
from tests.helpers.estimated_rooms import CATALOGUE, ROOMS
from tests.helpers.paths import DATA


@pytest.fixture(scope="module")
def draft():
    return hl.read_survey(DATA / "alder-lodge" / "draft.toml")


@pytest.mark.parametrize("name", ["Kitchen-diner", "Living room", "Hall", "Study", "Main bedroom"])
def test_every_step_can_be_laid_and_is_longer_than_the_one_before(draft, name):
    room = draft.room(name)
    present = build_layout(draft).room(name)
    families = list(longer_runs(draft, room))
    for family in families:
        lengths_m = [build_layout(with_remedies(draft, [remedy])).room(name).heated_length_m for remedy in family]
        assert lengths_m == sorted(lengths_m)
        assert present.heated_length_m < lengths_m[0]
        assert lengths_m[-1] - present.heated_length_m <= present.spare_wall_m + 0.5  # joints that are heated count
    assert bool(families) == (present.spare_wall_m > 0.2)


def test_the_walls_and_the_greatest_length_are_named(draft):
    (family,) = longer_runs(draft, draft.room("Study"))
    assert family[0].words == "0.2 m more profile on wall 1 of Study; at most 1.9 m there"
    assert family[-1].words == "1.9 m more profile on wall 1 of Study; at most 1.9 m there"
    assert family[-1].assumed.startswith("the return pipe of the tails is as long as before")


def test_a_room_before_its_survey_gets_no_more_than_its_wall():
    shorter = hl.survey_from_schedule(ROOMS.assign(estimated_wall_m=[6.0, 4.8]), CATALOGUE, -3.0, 50.0)
    room = replace(shorter.rooms[0], estimated_wall_m=9.2)
    survey = replace(shorter, rooms=(room, *shorter.rooms[1:]))
    (family,) = longer_runs(survey, room)
    longest = with_remedies(survey, [family[-1]])
    held_m = build_layout(longest).room(room.name).heated_length_m
    assert held_m <= room.estimated_wall_m
    assert room.estimated_wall_m - held_m < 0.1
