"""The plan of a survey that is being entered: nothing touches, gaps as taped, faults numbered on their rooms."""

from __future__ import annotations

import tomllib
from itertools import combinations, pairwise
from typing import Any
from xml.etree import ElementTree

import pytest

import heatloop as hl
from heatloop.report.drawings.geometry import Box, centred_box
from heatloop.report.drawings.survey_plan.level import DISC_MM, LevelPicture
from heatloop.report.drawings.survey_plan.picture import SurveyPlan
from heatloop.survey.read import read_draft
from heatloop.workflows.surveying import plan as plan_module
from tests.helpers.paths import DATA, HARBOUR_LOFT
from tests.helpers.repository_surveys import SURVEYS, name_of

LODGE = DATA / "alder-lodge" / "survey.toml"


def tables(path: Any = LODGE) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def room(held: dict[str, Any], name: str) -> Any:
    return next(one for one in held["room"] if one["name"] == name)


def drawn(held: dict[str, Any], path: Any = LODGE) -> SurveyPlan:
    return plan_module._drawn(read_draft(held, path), "survey.toml")


def boxes(level: LevelPicture) -> list[tuple[str, Box]]:
    found = [(words.text, words.box) for one in level.rooms for words in one.words]
    discs = [disc for one in level.rooms for disc in one.discs]
    return found + [
        (f"disc {one.number}", centred_box(one.at, (1.0, 0.0), (0.0, 1.0), DISC_MM, DISC_MM)) for one in discs
    ]


def collisions(level: LevelPicture) -> list[str]:
    """Texts and discs that touch each other, a wall or an obstacle."""
    found = boxes(level)
    faults = [f"{a} and {b} touch" for (a, one), (b, other) in combinations(found, 2) if one.touches(other)]
    for one in level.rooms:
        walls = list(pairwise(one.path))
        faults += [f"{text} on a wall" for text, box in found if any(box.is_cut_by(a, b) for a, b in walls)]
        faults += [f"{text} on an obstacle" for text, box in found if any(box.touches(Box(o)) for o in one.obstacles)]
    return faults


@pytest.mark.parametrize("path", SURVEYS, ids=name_of)
def test_nothing_touches_and_every_room_with_walls_is_drawn(path: Any) -> None:
    found = hl.plan(path)
    assert [collisions(level) for level in found.levels] == [[] for _ in found.levels]
    names = {one.room.name for level in found.levels for one in level.rooms}
    assert names == {one.name for one in hl.read_survey(path).rooms if one.walls}
    assert found.issues == ()


def test_rooms_are_drawn_before_any_loop_exists() -> None:
    held = tables()
    del held["loop"]
    found = drawn(held)
    assert found.issues == ()
    assert found.room_count == 9


def test_a_room_that_does_not_close_is_drawn_as_taped() -> None:
    """2.81 m entered as 3.32 m: the last wall of the study ends 510 mm too far, and 10 mm that it was open before."""
    held = tables()
    room(held, "Study")["walls"][3]["length_m"] = 3.32
    found = drawn(held)
    study = next(one for level in found.levels for one in level.rooms if one.room.name == "Study")
    assert not study.room.closes
    assert study.room.gap_m == pytest.approx(0.52, abs=1e-9)
    (x0, y0), (x1, y1) = study.room.path_m[-2:]
    assert (x1 - x0, y1 - y0) == pytest.approx((-3.32, 0.0), abs=1e-9)
    assert study.openings == ()
    assert study.faults == (1,)
    assert [disc.number for disc in study.discs] == [1]
    assert "Study does not close: 520 mm open." in found.alt_text
    assert b"520 mm open" in found.svg()
    assert not any(collisions(level) for level in found.levels)


def test_faults_are_numbered_on_their_rooms_and_listed() -> None:
    held = tables()
    del held["loop"]
    room(held, "Living room")["walls"][0]["openings"][0]["start_m"] = 12.0
    room(held, "Hall")["floor"]["beyond"] = "Studdy"
    room(held, "Bathroom")["walls"][0]["length_m"] = "?"
    held["project"]["outdoor_c"] = "cold"
    found = drawn(held)
    by_place = {issue.place: number for number, issue in enumerate(found.issues, start=1)}
    on_rooms = {one.room.name: one.faults for level in found.levels for one in level.rooms if one.faults}
    assert on_rooms == {
        "Living room": (by_place['room "Living room", wall 1, opening "double doors", start_m'],),
        "Hall": (by_place['room "Hall", floor, beyond'],),
    }
    assert found.notes == ("Not drawn, because lengths of walls are missing: Bathroom.",)
    page = found.html()
    assert page.count("<li value=") == len(found.issues) == 4
    assert "found &#34;Studdy&#34;; required" in page
    assert not any(collisions(level) for level in found.levels)


def test_a_fault_of_a_wall_has_its_number_beside_that_wall() -> None:
    held = tables()
    room(held, "Main bedroom")["walls"][0]["beyond"] = "Nowhere"
    found = drawn(held)
    picture = next(one for level in found.levels for one in level.rooms if one.room.name == "Main bedroom")
    (disc,) = picture.discs
    (ax, ay), (bx, by) = picture.path[:2]
    assert ax == pytest.approx(bx)
    assert 0.0 < disc.at[0] - ax < 8.0
    assert min(ay, by) < disc.at[1] < max(ay, by)


def test_rooms_without_a_name_or_with_the_same_name_are_drawn() -> None:
    held = tables()
    held["room"][1]["name"] = held["room"][0]["name"]
    del held["room"][2]["name"]
    found = drawn(held)
    assert found.room_count == 9
    assert any(words.text == "room 3" for level in found.levels for one in level.rooms for words in one.words)


def test_a_room_that_doubles_back_and_one_that_turns_wrongly_are_drawn() -> None:
    held = tables()
    room(held, "Hall")["walls"][1]["turn_deg"] = -90
    room(held, "Study")["walls"][2]["turn_deg"] = 179.0
    found = drawn(held)
    assert found.room_count == 9
    ElementTree.fromstring(found.svg())


def test_the_picture_is_xml_whatever_names_hold() -> None:
    held = tables()
    held["project"]["name"] = "A <b>&\"' lodge\x07"
    room(held, "Hall")["name"] = "<script>alert(1)</script> & a hall with a name as long as a corridor of a hotel"
    found = drawn(held)
    root = ElementTree.fromstring(found.svg())
    assert root.attrib["role"] == "img"
    assert root.attrib["aria-label"] == found.alt_text
    assert "<script>alert" not in found.html()
    assert "<script>alert" not in found.news("", "1", ended=True)


def test_corners_follow_the_diagonals() -> None:
    """The parallelogram of 4 m by 3 m with an inside angle of 88 degrees: 12 sin 88."""
    held = tables(HARBOUR_LOFT / "survey.toml")
    one = room(held, "Cabin B")
    one["walls"] = [{"length_m": length} for length in (4.0, 3.0, 4.0, 3.0)]
    one["diagonals"] = [
        {"from_corner": 1, "to_corner": 3, "length_m": 4.916}, {"from_corner": 2, "to_corner": 4, "length_m": 5.0837}
    ]  # fmt: skip
    found = drawn(held, HARBOUR_LOFT / "survey.toml")
    picture = next(one for level in found.levels for one in level.rooms if one.room.name == "Cabin B")
    assert picture.room.closes
    assert picture.room.floor_area_m2 == pytest.approx(11.9927, abs=0.002)
    assert picture.diagonals == ((picture.path[0], picture.path[2]), (picture.path[1], picture.path[3]))
    assert {"1\u20133: 4916", "2\u20134: 5084"} <= {words.text for words in picture.words}
    assert found.svg().count(b'stroke-dasharray="2 1"') == 2
    assert [collisions(level) for level in found.levels] == [[] for _ in found.levels]


def test_diagonals_of_a_room_that_does_not_close_are_drawn_between_its_corners_as_taped() -> None:
    held = tables()
    study = room(held, "Study")
    study["walls"][3]["length_m"] = 3.32
    study["diagonals"] = [
        {"from_corner": 1, "to_corner": 3, "length_m": 3.94}, {"from_corner": 2, "to_corner": 9, "length_m": 4.0}
    ]  # fmt: skip
    found = drawn(held)
    picture = next(one for level in found.levels for one in level.rooms if one.room.name == "Study")
    assert not picture.room.closes
    assert picture.diagonals == ((picture.path[0], picture.path[2]),)
    assert not any(collisions(level) for level in found.levels)


def test_a_notebook_shows_picture_and_list(tmp_path: Any) -> None:
    found = hl.plan(LODGE)
    assert found._repr_html_().count("<svg") == 1
    assert repr(found) == "<SurveyPlan: Plan of Alder Lodge: 9 rooms, no errors>"
    assert found.save(tmp_path / "a.svg").read_bytes() == found.svg()
    assert found.save(tmp_path / "a.html").read_text(encoding="utf-8").startswith("<!doctype html>")
    with pytest.raises(hl.InputError, match=r"ends in \.svg or \.html"):
        found.save(tmp_path / "a.png")
