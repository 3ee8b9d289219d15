"""Elements that two rooms share and only one states: a caution, never refused."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.results.checks.limits import QUOTED
from heatloop.survey.building import Opening, Room, Wall
from heatloop.survey.rules.adjacent_rooms import unmatched_doorways, unmatched_walls, walls_without_adjacent_side
from heatloop.survey.survey import SurveyData
from tests.helpers.paths import DATA, HARBOUR_LOFT

SURVEYS = (
    DATA / "alder-lodge" / "draft.toml",
    DATA / "mill-annexe" / "survey.toml",
    HARBOUR_LOFT / "survey.toml",
)


@pytest.fixture(scope="module")
def lodge() -> SurveyData:
    return hl.read_survey(SURVEYS[0])


def changed(survey: SurveyData, name: str, walls: Callable[[Wall], Wall]) -> SurveyData:
    rooms = [replace(room, walls=tuple(map(walls, room.walls))) if room.name == name else room for room in survey.rooms]
    return replace(survey, rooms=tuple(rooms))


def renamed(old: str, new: str) -> Callable[[Wall], Wall]:
    def wall(given: Wall) -> Wall:
        return replace(given, openings=tuple(replace(o, name=new) if o.name == old else o for o in given.openings))

    return wall


@pytest.mark.parametrize("path", SURVEYS, ids=lambda path: path.parent.name)
def test_surveys_that_agree_raise_no_doubt(path: Path) -> None:
    survey = hl.read_survey(path)
    assert list(unmatched_walls(survey)) == []
    assert list(unmatched_doorways(survey)) == []
    assert list(walls_without_adjacent_side(survey)) == []


def test_a_misspelt_doorway_is_told_on_both_its_sides(lodge: SurveyData) -> None:
    found = list(unmatched_doorways(changed(lodge, "Hall", renamed("dining door", "dinning door"))))
    assert [doubt.subject for doubt in found] == [
        'Kitchen-diner, opening "dining door"',
        'Hall, opening "dinning door"',
    ]
    assert 'check whether it is "dinning door" in "Hall"' in found[0].look
    assert 'check whether it is "dining door" in "Kitchen-diner"' in found[1].look


def test_a_doorway_that_the_other_room_lacks_is_told(lodge: SurveyData) -> None:
    without = changed(lodge, "Study", lambda wall: replace(wall, openings=()))
    (doubt,) = unmatched_doorways(without)
    assert doubt.subject == 'Hall, opening "study door"'
    assert 'it has no opening in "Study"' in doubt.look


def test_windows_and_outer_doors_are_named_once_and_nobody_minds(lodge: SurveyData) -> None:
    names = {o.name for room in lodge.rooms for wall in room.walls for o in wall.openings}
    assert {"sink window", "front door", "garden doors"} <= names
    assert not list(unmatched_doorways(lodge))


def test_a_lone_name_in_a_wall_of_unknown_far_side_is_doubted_only_beside_one_like_it() -> None:
    def room(name: str, doorway: str) -> Room:
        wall = Wall(3.0, openings=(Opening("door", 1.0, 0.8, 2.0, name=doorway),))
        return Room(name, 20.0, walls=(wall, Wall(3.0), Wall(3.0), Wall(3.0)))

    def survey(*rooms: Room) -> SurveyData:
        return replace(hl.read_survey(SURVEYS[1]), rooms=rooms)

    assert not list(unmatched_doorways(survey(room("A", "cellar door"), room("B", "garage gate"))))
    found = list(unmatched_doorways(survey(room("A", "cellar door"), room("B", "celler door"))))
    assert [doubt.subject for doubt in found] == ['A, opening "cellar door"', 'B, opening "celler door"']


def test_a_wall_that_one_room_alone_puts_beside_the_other(lodge: SurveyData) -> None:
    silent = changed(lodge, "Landing", lambda wall: replace(wall, beyond=None) if wall.beyond == "Bathroom" else wall)
    (doubt,) = unmatched_walls(silent)
    assert doubt.subject == 'Bathroom, wall 3, towards "Landing"'
    assert 'no wall of "Landing" has beyond = "Bathroom"' in doubt.look


def test_a_ceiling_whose_upper_room_stands_on_something_else(lodge: SurveyData) -> None:
    rooms = tuple(
        replace(room, floor=replace(room.floor, beyond="outdoors")) if room.name == "Nursery" else room
        for room in lodge.rooms
    )
    (doubt,) = unmatched_walls(replace(lodge, rooms=rooms))
    assert doubt.subject == 'Kitchen-diner, ceiling, towards "Nursery"'
    assert 'the floor of "Nursery" is beyond = "outdoors"' in doubt.look


def test_doubts_are_cautions_of_the_design_and_stop_nothing(lodge: SurveyData) -> None:
    design = hl.size(changed(lodge, "Hall", renamed("dining door", "dinning door")))
    checks = design.checks[design.checks["check"] == "doorway entered in both rooms"]
    assert list(checks["verdict"]) == ["caution", "caution"]
    assert 'Hall, opening "dinning door"' in set(checks["location"])
    assert "dinning door" in str(design)


def test_an_estimate_and_what_is_like_another_are_told_with_the_design(harbour_loft: hl.Design) -> None:
    design = harbour_loft
    quoted = design.checks[design.checks["check"] == QUOTED.check]
    assert quoted[["location", "calculated", "verdict"]].to_numpy().tolist() == [["Attic", 5.5, "caution"]]
    assert "Attic" in str(design)
    assert QUOTED.check in str(design)
    told = design.assumptions["assumption"].tolist()
    assert "Cabin B is copied from Cabin A except indoor_c" in told
    rooms = design.rooms.set_index("room")["is_estimate"]
    assert rooms["Attic"]
    assert rooms.sum() == 1


def test_an_outer_wall_whose_far_side_was_forgotten_is_told(lodge: SurveyData) -> None:
    outer = lodge.room("Living room").walls[8]
    assert outer.beyond == "outdoors"
    silent = changed(lodge, "Living room", lambda wall: replace(wall, beyond=None) if wall == outer else wall)
    (doubt,) = walls_without_adjacent_side(silent)
    assert doubt.subject == "Living room, wall 9"
    assert "its window has no heat loss" in doubt.look
    checks = hl.size(silent).checks
    told = checks[checks["check"] == "adjacent side of a wall with a build-up"]
    assert list(told["location"]) == ["Living room, wall 9"]
    assert list(told["verdict"]) == ["caution"]


def test_a_build_up_alone_wants_a_far_side_and_a_stated_loss_wants_none(lodge: SurveyData) -> None:
    bare = replace(lodge.rooms[0], walls=(Wall(3.0, build_up="brick"), Wall(3.0), Wall(3.0), Wall(3.0)))
    (doubt,) = walls_without_adjacent_side(replace(lodge, rooms=(bare,)))
    assert 'its build-up "brick" has no heat loss' in doubt.look
    assert not list(walls_without_adjacent_side(replace(lodge, rooms=(replace(bare, heat_loss_w=500.0),))))
