"""Build-ups of outer elements improve step by step down to a limit; low window boards are raised to the profile."""

from dataclasses import replace

import pytest

import heatloop as hl
from heatloop.layout.build import build_layout
from heatloop.survey.entry import survey_from
from heatloop.workflows.improve.candidates.building import (
    ADDED,
    better_build_ups,
    better_glazing,
    higher_window_boards,
)
from heatloop.workflows.improve.remedy import with_remedies
from tests.helpers.paths import DATA


@pytest.fixture(scope="module")
def draft():
    return hl.read_survey(DATA / "alder-lodge" / "draft.toml")


def test_outer_build_ups_of_a_room_and_no_others(draft):
    names = [family[0].where for family in better_build_ups(draft, draft.room("Kitchen-diner"))]
    assert names == ["build-up window", "build-up garden doors", "build-up outer wall"]
    upstairs = [family[0].where for family in better_build_ups(draft, draft.room("Landing"))]
    assert "build-up loft" in upstairs  # towards the roof space


def test_u_values_fall_and_insulation_grows(draft):
    room = draft.room("Nursery")
    for family in better_build_ups(draft, room):
        name = family[0].where.removeprefix("build-up ")
        held = [survey_from("test", with_remedies(draft, [remedy])).build_up(name) for remedy in family]
        assert all(remedy.other_work for remedy in family)
        if held[0].layers:
            added = [build_up.layers[-1] for build_up in held]
            assert {layer.material for layer in added} == {ADDED}
            assert [layer.thickness_m for layer in added] == pytest.approx([0.02 * n for n in range(1, 11)])
            assert held[0].layers[:-1] == draft.build_up(name).layers
        else:
            values = [build_up.u_w_m2k for build_up in held]
            assert values == sorted(values, reverse=True)
            assert (values[0], values[-1]) == (1.2, 0.7)


def test_a_window_by_its_parts_gets_better_glass():
    mill = hl.read_survey(DATA / "mill-annexe" / "survey.toml")
    (family,) = better_glazing(mill, "window")
    glass = [with_remedies(mill, [remedy]).build_up("window").window.glass_u_w_m2k for remedy in family]
    assert glass == pytest.approx([1.1, 1.0, 0.9, 0.8, 0.7, 0.6, 0.5])
    assert not list(better_glazing(mill, "no such build-up"))
    assert not list(better_glazing(mill, None))


def test_a_low_window_board_is_raised_to_the_profile_and_the_run_passes_below(draft):
    room = draft.room("Kitchen-diner")
    assert not list(higher_window_boards(draft, room))
    wall = room.walls[0]
    low = replace(wall.openings[0], sill_m=0.10)
    walls = (replace(wall, openings=(low, *wall.openings[1:])), *room.walls[1:])
    survey = draft.with_room(replace(room, walls=walls))
    ((remedy,),) = higher_window_boards(survey, survey.room("Kitchen-diner"))
    changed = survey_from("test", with_remedies(survey, [remedy]))
    opening = changed.room("Kitchen-diner").walls[0].openings[0]
    assert opening.sill_m == pytest.approx(0.155)  # height of the profile and its clearance
    assert opening.sill_m + opening.height_m == pytest.approx(low.sill_m + low.height_m)
    before_m, after_m = (build_layout(one).room("Kitchen-diner").heated_length_m for one in (survey, changed))
    assert after_m == pytest.approx(before_m + low.width_m, abs=0.2)
