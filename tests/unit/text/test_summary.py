"""Values that speak: summaries in a terminal and a notebook, and two designs side by side."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

import heatloop as hl
from heatloop.text.column import plain_description
from heatloop.text.formatting import cell_text
from heatloop.text.summary import FOLDS, WIDTH, Summary, as_html, as_text, grid, grid_lines

HOSTILE = "<script>alert('x')</script>\x1b[2J"


@pytest.fixture(scope="module")
def survey(mill_annexe: hl.Design) -> hl.Survey:
    return mill_annexe.survey


@pytest.fixture(scope="module")
def design(mill_annexe: hl.Design) -> hl.Design:
    return mill_annexe


class Words(HTMLParser):
    def __init__(self, markup: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.headers: list[dict[str, str | None]] = []
        self.words: list[str] = []
        self.feed(markup)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag == "th":
            self.headers.append(dict(attrs))

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def test_values_of_a_column_that_no_table_describes_are_written_by_its_name() -> None:
    assert cell_text(plain_description("flow_temp_c"), 49.96) == "50.0"
    assert cell_text(plain_description("margin_w"), -0.2) == "0"
    assert cell_text(plain_description("flow_l_h"), float("nan")) == "–"
    assert cell_text(plain_description("room"), "a\nb") == "a b"


def test_hostile_names_are_words_in_both_forms() -> None:
    one = grid(
        HOSTILE, [{"room": HOSTILE, "heat_loss_w": 5.0}], [plain_description("room"), plain_description("heat_loss_w")]
    )
    summary_block = Summary(HOSTILE, (HOSTILE,), (one,))
    page = Words(as_html(summary_block))
    assert "script" not in page.tags
    assert "".join(page.words).count("<script>alert('x')</script>") == 4
    assert [h["scope"] for h in page.headers] == ["col", "col", "row"]
    assert "\x1b" not in as_html(summary_block) + as_text(summary_block)


def test_text_fits_a_terminal_and_folds_texts_before_figures() -> None:
    long = "a name that goes on " * 9
    one = grid(
        "Rooms",
        [{"room": long, "note": long, "heat_loss_w": 912.0}],
        [plain_description(name) for name in ("room", "note", "heat_loss_w")],
    )
    lines = as_text(Summary("t", (long,), (one,))).splitlines()
    assert max(map(len, lines)) <= WIDTH
    (figure,) = (line for line in lines if line.endswith(" 912"))
    assert figure.startswith("a name that goes on")
    cells = [line[:45].strip() for line in lines[lines.index(figure) :]]
    assert " ".join(cells) == long.strip()


def test_a_text_longer_than_twelve_lines_of_its_cell_is_cut() -> None:
    endless = "word " * 500
    one = grid("Rooms", [{"room": endless, "note": "short"}], [plain_description(name) for name in ("room", "note")])
    lines = grid_lines(one)
    assert len(lines) == 2 + FOLDS
    assert lines[-1].endswith("…")


def test_a_figure_and_its_unit_stay_on_one_line() -> None:
    for words in range(40):
        text = as_text(Summary("t", ("x " * words + "the pump head is 26.6 kPa at Re 2000 and 14.0 l of 100 % water",)))
        for pair in ("26.6 kPa", "Re 2000", "14.0 l", "100 %"):
            assert pair in text
    assert "\N{NO-BREAK SPACE}" not in text


def test_a_design_tells_verdict_rooms_and_loops_in_both_forms(design: hl.Design) -> None:
    text, page = str(design), Words(design._repr_html_())
    row, loop = design.rooms.iloc[0], design.loops.iloc[0]
    for words in (
        str(design.summary["project"]),
        f"{row['heat_loss_w']:.0f}",
        f"{loop['flow_l_h']:.0f}",
    ):
        assert words in text
        assert words in "".join(page.words)
    assert "Back loss, W" in "".join(page.words)
    assert re.search(r"\bBack\b.*\n.*\bloss,.*\n.*\bW\b", text)
    assert max(map(len, text.splitlines())) <= WIDTH
    assert len(repr(design)) < 120


def test_the_rooms_reported_add_up(alder_draft: hl.Design) -> None:
    """Loss and what is lost behind are taken from the output: the margin, in whole watts. One room has a sill."""
    rooms = next(one for one in alder_draft.summary_block().grids if one.caption == "Rooms")
    places = [
        rooms.headings.index(heading) for heading in ("Heat to rooms, W", "Heat loss, W", "Back loss, W", "Margin, W")
    ]
    for row in rooms.rows:
        output, loss, behind, margin = (int(row[place]) for place in places)
        assert abs(output - loss - behind - margin) <= 2, row[0]


def test_a_survey_and_its_parts_tell_of_themselves(survey: hl.Survey) -> None:
    for room in survey.rooms:
        assert room.name in str(survey)
    for thing in (*survey.catalogue.profiles, *survey.catalogue.pipes):
        assert str(thing).startswith(("Profile ", "Pipe "))
        assert thing.name in thing._repr_html_()
    profile = survey.catalogue.profiles[0]
    assert f"{profile.rating.output_w_m:g} W/m at 50 K" in str(profile)
    assert ("invented" in str(profile).lower()) == profile.invented
