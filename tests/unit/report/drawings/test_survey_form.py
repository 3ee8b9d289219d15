"""Survey forms: nothing touches or leaves its field, fields follow the survey, plans are to scale."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, pairwise
from pathlib import Path

import pytest

import heatloop as hl
from heatloop.report.drawings.geometry import DrawingSheet, Line
from heatloop.report.drawings.survey_form.sheets import FRAME, HEADER, SQUARES
from heatloop.report.drawings.survey_form.squares import useful_diagonals
from heatloop.report.drawings.survey_form.tables import CHECKED_WALLS, DIAGONALS, OBSTACLES, OPENINGS, READ, WALLS
from heatloop.survey.building import Obstacle, Opening, Room, Wall
from heatloop.survey.workbook.sheets import SURVEY_SHEETS
from tests.helpers.paths import DATA
from tests.helpers.repository_surveys import SURVEYS, name_of

LODGE = DATA / "alder-lodge" / "survey.toml"


def faults(sheet: DrawingSheet) -> Iterator[str]:
    """Texts that touch each other, a ruled line or the edge, and texts that are too small to read."""
    for words in sheet.words:
        west, south, east, north = words.box.bounds
        if west < FRAME.west - 0.01 or south < FRAME.south or east > FRAME.east + 0.01 or north > FRAME.north:
            yield f"{words.text!r} is outside the frame"
        if words.height_mm < 2.5:
            yield f"{words.text!r} is {words.height_mm} mm high"
    for one, other in combinations(sheet.words, 2):
        if one.box.touches(other.box):
            yield f"{one.text!r} and {other.text!r} touch"
    ruled = [one for one in sheet.primitives if isinstance(one, Line) and one.layer != "HL-NOTE"]
    for words in sheet.words:
        if any(words.box.is_cut_by(a, b) for line in ruled for a, b in pairwise(line.points)):
            yield f"{words.text!r} stands on a line"


@pytest.mark.parametrize("path", SURVEYS, ids=name_of)
def test_nothing_touches_on_the_sheets_of_a_survey(path: Path) -> None:
    forms = hl.form(path)
    assert [fault for sheet in forms.sheets for fault in faults(sheet)] == []
    assert len(forms.sheets) == len(hl.read_survey(path).rooms)


def test_nothing_touches_or_is_shortened_on_blank_sheets() -> None:
    forms = hl.form(rooms=12)
    assert [fault for sheet in forms.sheets for fault in faults(sheet)] == []
    assert not any("…" in words.text for sheet in forms.sheets for words in sheet.words)
    assert [f"page {n} of 12" in {words.text for words in sheet.words} for n, sheet in enumerate(forms.sheets, 1)] == (
        [True] * 12
    )


def test_names_take_two_lines_before_they_are_shortened() -> None:
    """Of the house of nine rooms only the name of one door is shortened, whose last two words fit on no line."""
    sheets = hl.form(LODGE).sheets
    texts = [words.text for sheet in sheets for words in sheet.words]
    assert {"outer", "wall", "Kitchen-", "diner", "garden", "doors"} <= set(texts)
    assert "Living room, upper floor" in texts
    assert {"living room", "door"} <= set(texts)
    shortened = {text for text in texts if "…" in text}
    assert len(shortened) <= 1
    assert all(text.startswith("bedroo") for text in shortened)


def test_words_of_the_file_format_are_whole() -> None:
    """What may be beyond a wall, and the kinds of openings."""
    room = Room("Den", 20.0, walls=tuple(
        Wall(4.0, beyond=beyond, openings=(Opening(kind, 0.5, 1.0, 1.2),))
        for beyond, kind in (("neighbour", "window"), ("outdoors", "glazed door"), ("ground", "door"))
    ))  # fmt: skip
    (sheet,) = hl.form(replace(hl.read_survey(LODGE), rooms=(room,), loops=())).sheets
    texts = {words.text for words in sheet.words}
    assert {"neighbour", "outdoors", "ground", "window", "glazed", "door"} <= texts


def test_names_of_any_length_are_shortened_to_their_fields() -> None:
    room = Room(
        "The long gallery above the carriage entrance of the former stables", 21.0, 12.345, walls=tuple(
            Wall(10.0 + n, turn_deg=-134.5, beyond="a store with a very long name", build_up="solid brick with lime",
                 openings=(Opening("window with a wide frame", 0.1, 11.25, 10.55, 12.35, name="window to the court"),))
            for n in range(7)
        ),
    )  # fmt: skip
    survey = hl.read_survey(LODGE)
    forms = hl.form(replace(survey, rooms=(room,), loops=()))
    assert [fault for sheet in forms.sheets for fault in faults(sheet)] == []


def test_columns_are_in_the_order_of_the_workbook() -> None:
    sheets = {sheet.title: sheet.headings for sheet in SURVEY_SHEETS.sheets}
    for title, table in (
        ("Walls", WALLS), ("Walls", CHECKED_WALLS), ("Openings", OPENINGS), ("Obstacles", OBSTACLES),
        ("Diagonals", DIAGONALS),
    ):  # fmt: skip
        order = [heading.lower() for heading in sheets[title]]
        places = [order.index(column.key) for column in table.columns if column.key != READ]
        assert places == sorted(places), title
    rooms = [heading.partition(".")[0] for heading in sheets["Rooms"]]
    places = [rooms.index(key) for key, _, _ in HEADER[1]]
    assert places == sorted(places)


def test_a_plan_is_to_scale_on_the_squares() -> None:
    """Hall, 3.40 m by 2.90 m, at 1:50: 68 mm by 58 mm, its first corner on a crossing of the squares."""
    forms = hl.form(LODGE)
    sheet = next(one for one in forms.sheets if one.rooms == ("Hall",))
    assert any(words.text.startswith("Plan 1:50: a square is 0.25 m") for words in sheet.words)
    points = [point for one in sheet.plan if getattr(one, "layer", "") == "HL-WALL" and isinstance(one, Line)
              for point in one.points]  # fmt: skip
    xs, ys = zip(*points, strict=True)
    assert (max(xs) - min(xs), max(ys) - min(ys)) == pytest.approx((68.0, 58.0), abs=0.01)
    first = points[0]
    for value, low in zip(first, (SQUARES.west, SQUARES.south), strict=True):
        assert (value - low) % 5.0 == pytest.approx(0.0, abs=1e-6) or (value - low) % 5.0 == pytest.approx(5.0)


def test_every_row_of_a_large_room_stands_on_one_of_its_sheets() -> None:
    walls = tuple(
        Wall(1.0 + n / 100.0, turn_deg=90.0 if n % 4 else 0.0, openings=(Opening("door", 0.1, 0.5, 2.0),),
             obstacles=(Obstacle("units", 0.2, 0.3),))
        for n in range(23)
    )  # fmt: skip
    survey = hl.read_survey(LODGE)
    forms = hl.form(replace(survey, rooms=(Room("Great hall", 20.0, walls=walls),), loops=()))
    assert len(forms.sheets) == 5  # 23 obstacles, five on each
    texts = [words.text for sheet in forms.sheets for words in sheet.words]
    for number in range(23):
        assert f"{1.0 + number / 100.0:.2f}" in texts
    assert [fault for sheet in forms.sheets for fault in faults(sheet)] == []
    assert "Survey form: Great hall, part 2 of 5" in texts


def test_diagonals_to_take_are_those_that_a_tape_can_follow() -> None:
    """In an L the corners at the ends of its arms do not see each other: the outside corner (4) stands between."""
    corners = [(0.0, 0.0), (0.0, 6.0), (2.0, 6.0), (2.0, 2.0), (5.0, 2.0), (5.0, 0.0)]
    found = useful_diagonals([*corners, corners[0]])
    assert len(found) == 4
    assert (3, 5) not in found
    assert (3, 6) not in found
    longest = max(math.dist(corners[a - 1], corners[b - 1]) for a, b in found)
    assert longest == pytest.approx(math.dist(corners[0], corners[2]))


def test_taped_diagonals_stand_on_the_form() -> None:
    survey = hl.read_survey(LODGE)
    hall = survey.room("Hall")
    taped = replace(hall, diagonals=(hl.build.diagonal(1, 3, 4.47),))
    forms = hl.form(replace(survey, rooms=(taped,), loops=()))
    assert "4.47" in {words.text for words in forms.sheets[0].words}


def test_the_pdf_is_a4_with_a_title_and_its_text_can_be_searched(tmp_path: Path) -> None:
    path = hl.form(LODGE).save(tmp_path / "forms.pdf")
    held = path.read_bytes()
    sizes = re.findall(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", held)
    assert len(sizes) == 9
    for wide, high in sizes:
        assert (float(wide) / 72.0 * 25.4, float(high) / 72.0 * 25.4) == pytest.approx((210.0, 297.0), abs=0.01)
    assert b"/Title (Alder Lodge: survey forms)" in held
    with pytest.raises(hl.InputError, match=r"ends in \.pdf"):
        hl.form(rooms=1).save(tmp_path / "forms.png")


@pytest.mark.parametrize("given", [0, 201, True, 2.5, "4"])
def test_a_number_of_sheets_that_is_none_is_refused(given: object) -> None:
    with pytest.raises(hl.InputError, match="a whole number, 1 to 200"):
        hl.form(rooms=given)  # type: ignore[arg-type]


def test_large_plans_have_a_page_of_their_own_with_lengths() -> None:
    """Kitchen-diner, 4.81 m by 7.60 m: 1:100 beside its tables, 1:50 on a page of squares."""
    forms = hl.form(LODGE, large_plans=True)
    pages = [sheet for sheet in forms.sheets if sheet.template == "plan"]
    assert len(forms.sheets) == 9 + len(pages)
    kitchen = next(sheet for sheet in pages if sheet.rooms == ("Kitchen-diner",))
    texts = {words.text for words in kitchen.words}
    assert {"1: 7.60", "2: 2.90", "3: 3.01", "4: 1.90", "5: 4.60", "6: 4.81"} <= texts
    assert any(text.startswith("Plan 1:50: a square is 0.25 m") for text in texts)
    assert not any(sheet.rooms == ("Hall",) for sheet in pages)  # 1:50 beside its tables
    assert [fault for sheet in forms.sheets for fault in faults(sheet)] == []
    assert {f"page {n} of {len(forms.sheets)}" for n in range(1, len(forms.sheets) + 1)} <= {
        words.text for sheet in forms.sheets for words in sheet.words
    }
