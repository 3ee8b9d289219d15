"""The label sheet: one label a piece, names harmless, pages that print."""

from __future__ import annotations

import html
import re

import pandas as pd
import pytest

from heatloop.handover.second_fix.labels import LabelPaper, fixing_order, label_sheet


def _pieces(count: int = 1, **changes: object) -> pd.DataFrame:
    row = {
        "loop": "Hall and study", "arm": 1, "label": "Hall 5", "room": "Hall", "wall": 5, "wall_length_m": 0.5,
        "cut_length_mm": 408.0, "left_end": "crossing", "right_end": "inside corner", "free_end": "right",
        "profile": "two-channel 140", "mounting": "wall",
    }  # fmt: skip
    return pd.DataFrame([{**row, "label": f"Hall 5{n}" if count > 1 else "Hall 5", **changes} for n in range(count)])


def _words(page: str) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", page.split("</style>")[1]))


def test_a_label_says_what_where_how_long_and_which_end_first() -> None:
    words = _words(label_sheet(_pieces(), "Alder Lodge"))
    for part in ("Hall 5", "Hall, wall 5", "408 mm", "◄ crossing", "inside corner ►", "Alder Lodge"):
        assert part in words
    assert "Left-hand end first. Leave the gap at the right." in words


@pytest.mark.parametrize(
    ("free", "start"), [("left", "Right-hand"), ("right", "Left-hand"), ("both", "Fix its middle"), ("", "Either")]
)
def test_the_held_end_comes_first(free: str, start: str) -> None:
    assert fixing_order(free).startswith(start)


def test_one_label_a_piece_on_as_many_sheets_as_it_takes() -> None:
    page = label_sheet(_pieces(25), "Job")
    assert page.count('<article class="label">') == 25
    assert [sheet.count("<article") for sheet in page.split('<section class="sheet">')[1:]] == [24, 1]
    assert "25 pieces" in page


def test_names_are_escaped_and_nothing_is_loaded() -> None:
    nasty = '<script>alert("x")</script> & \x1b[31m\n"'
    page = label_sheet(_pieces(label=nasty, room=nasty, loop=nasty, left_end=nasty, profile=nasty, laid=nasty), nasty)
    assert "<script" not in page
    assert "\x1b" not in page
    assert "&lt;script&gt;" in page
    assert "default-src 'none'" in page
    assert "http://" not in page
    assert "src=" not in page.split("</style>")[1]


def test_a_piece_in_the_floor_says_so() -> None:
    assert "Hall, wall 5, sill: garden doors" in _words(label_sheet(_pieces(mounting="sill: garden doors"), "Job"))


def test_columns_beyond_the_needed_ones_may_be_absent() -> None:
    bare = _pieces()[["label", "room", "wall", "cut_length_mm"]]
    words = _words(label_sheet(bare, "Job"))
    assert "408 mm" in words
    assert "first" not in words
    with pytest.raises(ValueError, match="no column wall, cut_length_mm"):
        label_sheet(bare[["label", "room"]], "Job")


def test_nothing_to_label() -> None:
    assert "nothing to label" in label_sheet(_pieces().iloc[:0], "Job")


def test_paper_that_does_not_hold_its_labels_is_refused() -> None:
    with pytest.raises(ValueError, match="across a page of 210 mm"):
        label_sheet(_pieces(), "Job", LabelPaper(columns=4))
    with pytest.raises(ValueError, match="down a page of 297 mm"):
        label_sheet(_pieces(), "Job", LabelPaper(rows=9))
    two = label_sheet(_pieces(3), "Job", LabelPaper(columns=1, rows=2, label_width_mm=100.0, label_height_mm=60.0))
    assert two.count('<section class="sheet">') == 2
