"""The label sheet: one label a piece with its gap, names harmless, pages that print."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import pytest

from heatloop.handover.second_fix.fixing_steps import FixingStep, fixing_order, fixing_steps
from heatloop.report.documents.labels import LabelPaper, label_sheet, labels_body
from tests.helpers.browser import Browser
from tests.helpers.handed import Handed
from tests.helpers.html_page import HtmlPage
from tests.helpers.printed import printed_pages

STEP = FixingStep(
    1, "Hall 5", "Hall", 5, "wall", "Hall and study", "two-channel 140", 408.0, "crossing", "inside corner", "right",
    "", (2.0, 1.5, 1.0),
)  # fmt: skip


def test_a_label_says_what_where_how_long_which_end_first_and_the_gap(nine_rooms: Handed) -> None:
    words = HtmlPage(labels_body([STEP], nine_rooms.control, LabelPaper()).markup).text.replace("\xa0", " ")
    for part in (
        "Hall 5",
        "Hall, wall 5 · two-channel 140",
        "408 mm",
        "◄ crossing",
        "inside corner ►",
        "Alder-Lodge-LB-01",
    ):
        assert part in words
    assert "1 · Hall 5" in words
    both = labels_body([dataclasses.replace(STEP, walls=(2, 3))], nine_rooms.control, LabelPaper()).markup
    assert "Hall, walls 2 + 3" in HtmlPage(both).text
    assert "Fix the left-hand end first. Leave the gap at the right." in words
    assert "Gap at the right, mm: 2.0 at 5 °C, 1.5 at 15 °C, 1.0 at 25 °C (temperature of the profile)" in words


def test_a_gap_that_cannot_be_is_a_dash_and_a_piece_without_one_says_so() -> None:
    assert "2.0 at 5 °C, 1.5 at 15 °C, – at 25 °C" in dataclasses.replace(
        STEP, gaps_mm=(2.0, 1.5, math.nan)
    ).gap_words.replace("\xa0", " ")
    held = dataclasses.replace(STEP, free_end="", gaps_mm=())
    assert held.gap_words == "No gap at this piece."
    assert held.first == "Fix either end first. No gap at this piece."


def test_a_piece_over_two_walls_names_both(nine_rooms: Handed) -> None:
    steps = {step.label: step for step in fixing_steps(nine_rooms.parts)}
    assert (steps["Living room 2"].name, steps["Living room 2"].wall_words) == ("6 · Living room 2", "walls 2 + 3")
    assert steps["Living room 6"].wall_words == "wall 6"
    pieces = {placed.piece.label: placed.piece for placed in nine_rooms.parts.standings}
    for label, step in steps.items():
        assert set(step.walls) == {segment.wall for segment in pieces[label].segments}
        assert step.walls[0] == step.wall


@pytest.mark.parametrize(
    ("free", "start"), [("left", "the right-hand"), ("right", "the left-hand"), ("both", "its middle"), ("", "either")]
)
def test_the_held_end_comes_first(free: str, start: str) -> None:
    assert fixing_order(free).startswith(f"Fix {start}")


def test_gaps_are_those_of_the_straight_at_its_free_end(nine_rooms: Handed) -> None:
    steps = fixing_steps(nine_rooms.parts)
    gaps = nine_rooms.parts.expansion_gaps.set_index("straight_length")
    free = [step for step in steps if step.free_end]
    assert len(free) == len(gaps)
    for step in free:
        assert step.gaps_mm == tuple(gaps.loc[step.label, [f"gap_at_{t}_c_mm" for t in (5, 15, 25)]])


def test_one_label_a_piece_on_as_many_sheets_as_it_takes(nine_rooms: Handed, tmp_path: Path, browser: Browser) -> None:
    page = label_sheet(nine_rooms.parts, nine_rooms.control)
    assert [sheet.count("<article") for sheet in page.split('<section class="sheet">')[1:]] == [24, 12]
    assert "36 pieces" in page
    assert len(printed_pages(page, tmp_path, browser)) == 2


def test_names_are_escaped_and_nothing_is_loaded(nine_rooms: Handed) -> None:
    nasty = '<script>alert("x")</script> & \x1b[31m\n"'
    step = dataclasses.replace(STEP, label=nasty, room=nasty, loop=nasty, left_end=nasty, profile=nasty, mounting=nasty)
    page = labels_body([step], nine_rooms.control, LabelPaper()).markup
    assert "<script" not in page
    assert "\x1b" not in page
    assert "&lt;script&gt;" in page


def test_nothing_to_label(nine_rooms: Handed) -> None:
    assert "nothing to label" in labels_body([], nine_rooms.control, LabelPaper()).markup


def test_paper_that_does_not_hold_its_labels_is_refused(nine_rooms: Handed) -> None:
    with pytest.raises(ValueError, match="across a page of 210 mm"):
        labels_body([STEP], nine_rooms.control, LabelPaper(columns=4))
    with pytest.raises(ValueError, match="down a page of 297 mm"):
        labels_body([STEP], nine_rooms.control, LabelPaper(rows=9))
