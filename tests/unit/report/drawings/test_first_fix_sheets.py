"""First-fix sheets: nothing touches, every pipe is there once, and the choice of scale and template."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings

import heatloop as hl
from heatloop.handover.first_fix.plan import FirstFixResult, plan_first_fix
from heatloop.report.control.control import document_control
from heatloop.report.drawings.first_fix_sheets import first_fix_sheets
from heatloop.report.drawings.geometry import (
    Box,
    DrawingSheet,
    Line,
    PlanWindow,
    Words,
    fitting,
    text_width_mm,
    wrapped,
)
from heatloop.report.drawings.sheet_frame import plan_foot
from heatloop.survey.building import Room
from heatloop.survey.documents.document import Document, Revision
from heatloop.survey.documents.first_fix import FirstFixBasis
from heatloop.survey.loops import RouteWalls
from tests.helpers.first_fixes import first_fix_of
from tests.helpers.handed import Handed
from tests.helpers.many_rooms import house_of_twenty_rooms
from tests.helpers.random_rooms import cases, laid, survey_of
from tests.helpers.random_systems import random_survey
from tests.helpers.sheet_faults import sheet_faults, straight_faults

DAY = dt.date(2026, 11, 29)


def _sheets(first_fix: FirstFixResult) -> tuple[DrawingSheet, ...]:
    return first_fix_sheets(first_fix, document_control(first_fix.survey, None, made_on=DAY))


@pytest.fixture(scope="module")
def lodge(alder_draft: hl.Design) -> FirstFixResult:
    return first_fix_of(alder_draft.survey)


@pytest.fixture(scope="module")
def lodge_sheets(lodge: FirstFixResult) -> tuple[DrawingSheet, ...]:
    return _sheets(lodge)


def test_the_demonstration_house_stands_on_two_sheets_at_1_to_50(
    lodge: FirstFixResult, lodge_sheets: tuple[DrawingSheet, ...]
) -> None:
    assert sheet_faults(lodge, lodge_sheets) == []
    assert straight_faults(lodge.survey, lodge) == []
    assert [(sheet.template, sheet.window.scale) for sheet in lodge_sheets if sheet.window] == [("T", 50), ("T", 50)]
    assert [(sheet.number, sheet.of) for sheet in lodge_sheets] == [(1, 2), (2, 2)]


@pytest.mark.parametrize("name", ["mill_annexe", "harbour_loft"])
def test_nothing_touches_on_the_sheets_of_the_other_jobs(name: str, request: pytest.FixtureRequest) -> None:
    fix = request.getfixturevalue(name).first_fix()
    assert sheet_faults(fix, fix.sheets()) == []  # with the warning of its verdict
    assert straight_faults(fix.survey, fix) == []


@pytest.mark.long
def test_twenty_rooms_stand_on_at_most_four_sheets() -> None:
    fix = first_fix_of(house_of_twenty_rooms())
    found = _sheets(fix)
    assert sheet_faults(fix, found) == []
    assert len(found) <= 4
    assert {room for sheet in found for room in sheet.rooms} == {room.name for room in fix.survey.rooms}


@pytest.mark.long
def test_a_level_with_two_crowded_halls_has_every_ring_inside_the_frame(twenty_rooms: Handed) -> None:
    found = twenty_rooms.first_fix.sheets()
    assert sheet_faults(twenty_rooms.first_fix, found) == []
    assert len(found) <= 4


@pytest.mark.parametrize("seed", [3, 29, *(pytest.param(seed, marks=pytest.mark.long) for seed in (11, 40))])
def test_nothing_touches_on_random_plans(seed: int) -> None:
    fix = first_fix_of(random_survey(seed))
    assert sheet_faults(fix, _sheets(fix)) == []
    assert straight_faults(fix.survey, fix) == []


def test_a_level_too_large_for_one_sheet_is_parted_between_rooms() -> None:
    survey = house_of_twenty_rooms()
    rooms = tuple(
        replace(
            room,
            walls=tuple(
                replace(wall, length_m=wall.length_m * 3.0, openings=tuple(replace(o, start_m=o.start_m * 3.0) for o in
                        wall.openings))
                for wall in room.walls
            ),
        )
        for room in survey.rooms[:10]
    )  # fmt: skip
    fix = first_fix_of(replace(survey, rooms=rooms, loops=survey.loops[:10]))
    found = _sheets(fix)
    plans = [sheet for sheet in found if sheet.window]
    assert len(plans) > 1
    shown = [room for sheet in plans for room in sheet.rooms]
    assert sorted(shown) == sorted(room.name for room in rooms)
    assert all(sheet.window.scale <= 100 for sheet in plans if sheet.window)
    assert sheet_faults(fix, found) == []
    assert all(any(words.text.startswith("Key plan") for words in sheet.words) for sheet in plans)
    beyond = {
        sheet.number: {int(n) for words in sheet.words if words.text.startswith("continues") for n in
                       re.findall(r"\d+", words.text)}
        for sheet in plans
    }  # fmt: skip
    assert all(beyond.values()), "every part of this level has another beside it"
    assert all(number in beyond[other] for number, others in beyond.items() for other in others)
    for sheet in plans:
        chains = [one for one in sheet.paper if isinstance(one, Line) and one.dash == "chain"]
        assert len(chains) == sum(words.text.startswith("continues") for words in sheet.words)


def test_finishes_stand_on_the_sheet_or_a_blank_does(
    lodge: FirstFixResult, lodge_sheets: tuple[DrawingSheet, ...]
) -> None:
    blank = " ".join(words.text for words in lodge_sheets[0].words if words.layer == "HL-NOTE")
    assert "walls _____ mm, floors _____ mm" in blank
    known = replace(lodge.survey, first_fix=FirstFixBasis(wall_finish_mm=15.0, floor_finish_mm=20.0))
    fix = first_fix_of(known)
    found = _sheets(fix)
    told = " ".join(words.text for words in found[0].words if words.layer == "HL-NOTE")
    assert "walls 15 mm, floors 20 mm" in told
    table = [words.text for words in found[0].words if words.layer == "HL-TABLE"]
    assert "548" in table  # position 2a: 563 from the finished corner, which is an outside one
    assert sheet_faults(fix, found) == []


def test_title_block_revisions_warning_and_hostile_names_stand_on_the_sheets(lodge: FirstFixResult) -> None:
    document = Document(
        job="24-117", client="M. and J. Sample", site_address=("1 Invented Lane", "Exampleton"),
        owner="Example Heating", prepared_by="A. Draughter", status="for comment", issued_on=DAY,
        revisions=(Revision("P01", dt.date(2026, 11, 12), "first issue"), Revision("P02", DAY, "bay measured again")),
    )  # fmt: skip
    names = {
        "Hall": "$x^2$ & <b>",
        "Study": "Überaus langer Name eines Zimmers, der nirgends hineinpasst, so breit er auch ist",
    }
    survey = lodge.survey
    rooms = tuple(replace(room, name=names.get(room.name, room.name)) for room in survey.rooms)
    loops = tuple(
        replace(loop, arms=tuple(
            tuple(replace(i, room=names.get(i.room, i.room)) if hasattr(i, "walls") else i for i in arm)
            for arm in loop.arms
        ))
        for loop in survey.loops
    )  # fmt: skip
    fix = first_fix_of(replace(survey, rooms=rooms, loops=loops, document=document))
    found = _sheets(fix)
    assert sheet_faults(fix, found) == []
    written = " ".join(words.text for sheet in found for words in sheet.words)
    assert "$x^2$ & <b>" in written
    assert "[4] Überaus langer Name" in written  # the fourth room of the survey has a number in place of its name
    for sheet in found:
        texts = {words.text for words in sheet.words}
        for text in (
            "24-117-FF-01",
            "P02",
            "2026-11-29",
            "Example Heating",
            "For comment",
            f"{sheet.number} / {len(found)}",
        ):
            assert text in texts
        assert "M. and J. Sample, 1 Invented Lane, Exampleton" in texts
        assert any(text.startswith("NOT FOR CONSTRUCTION") for text in texts)
        assert any("bay measured again" in text for text in texts)


def test_texts_are_measured_by_their_font() -> None:
    assert text_width_mm("H") < text_width_mm("HH") < text_width_mm("HH", bold=True)
    assert fitting("Kitchen-diner", 100.0) == "Kitchen-diner"
    short = fitting("Kitchen-diner", 15.0)
    assert short.endswith("…")
    assert text_width_mm(short) <= 15.0
    lines = wrapped("one two three four five six", 22.0)
    assert " ".join(lines) == "one two three four five six"
    assert all(text_width_mm(line) <= 22.0 for line in lines)
    capital = Words("", (0.0, 0.0), "H", 2.5).box.bounds
    assert capital[3] - capital[1] == pytest.approx(2.5, abs=0.02)


def test_boxes_touch_when_they_overlap_and_not_when_they_have_an_edge_in_common() -> None:
    square = Box(((0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)))
    beside = Box(((2.0, 0.0), (3.0, 0.0), (3.0, 2.0), (2.0, 2.0)))
    turned = Box(((2.0, 1.0), (3.0, 2.0), (2.0, 3.0), (1.0, 2.0)))  # its lower left side cuts the corner
    far = Box(((2.6, 1.6), (3.6, 2.6), (2.6, 3.6), (1.6, 2.6)))  # the same, 0.14 mm clear of it
    assert not square.touches(beside)
    assert square.touches(turned)
    assert not square.touches(far)
    assert square.is_cut_by((-1.0, 1.0), (3.0, 1.2))
    assert not square.is_cut_by((1.5, 3.0), (3.0, 1.5))


def test_the_words_below_a_plan_end_within_its_field() -> None:
    """At 1:20 the bar of a metre is the longest and leaves room for one part of them on a line."""
    for scale, lines in ((20, 2), (50, 1)):
        window = PlanWindow(scale, (0.0, 0.0), (0.0, 0.0))
        words = [one for one in plan_foot(window, 26.0, 227.0, 123.0) if isinstance(one, Words) and len(one.text) > 4]
        assert len(words) == lines
        assert max(one.box.bounds[2] for one in words) <= 227.0
        assert min(one.box.bounds[1] for one in words) > 118.5


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(case=cases())
def test_nothing_touches_in_rooms_of_any_shape(case: tuple[Room, RouteWalls]) -> None:
    """Bays, corners out of square, walls written in two parts, doors and fittings anywhere."""
    survey = survey_of(*case)
    layout = laid(survey)
    if layout is None:
        return
    fix = plan_first_fix(survey, layout)
    assert sheet_faults(fix, _sheets(fix)) == []
    assert straight_faults(survey, fix) == []
