"""What is shown over the picture: labels, marks, questions and figures, as plain values that JSON can hold."""

import json
from dataclasses import replace

import pytest

from heatloop.survey.drawing.outlines import contains_point
from heatloop.survey.tracing.model import ScaleLine, TracedOpening, TracedPage, TracedRoom, Tracing
from heatloop.survey.tracing.session import begin, click, press, with_tool
from heatloop.workflows.tracing.scene import length_words, preview, scene

SCALE = ScaleLine(((0.0, 790.0), (800.0, 790.0)), 8.0, 1.0)
CORNERS = ((100.0, 100.0), (100.0, 700.0), (200.0, 700.0), (200.0, 200.0), (900.0, 200.0), (900.0, 100.0))
ANGLED = TracedRoom("<i>Hall</i>", 0.0, CORNERS, 1.0)
LOFT = TracedRoom("Loft", 5.0, ((500.0, 300.0), (500.0, 600.0), (800.0, 600.0), (800.0, 300.0)), 1.0)
WINDOW = TracedOpening("window", 0.0, ((100.0, 200.0), (100.0, 320.0)), 1.0)
SESSION = begin(Tracing((TracedPage(1, 1000, 800, SCALE, (ANGLED, LOFT), (WINDOW,)),)), (0.0,))


def test_rooms_are_labelled_inside_and_other_levels_named():
    shown = scene(SESSION, "Saved in plan.json")
    angled, loft = shown["rooms"]
    assert angled["labels"] == ["<i>Hall</i>", "13.0 m²"]
    assert contains_point(angled["label_at"], CORNERS)
    assert (loft["labels"], loft["here"]) == (["Loft", "level 5 m", "9.0 m²"], False)
    assert loft["label_at"] == [650.0, 450.0]
    assert shown["openings"][0]["mark"] == "W"
    assert shown["scale"]["label"] == "8.00 m"
    assert shown["figures"] == f"2 rooms, 1 opening. {length_words(SESSION.page)}."
    assert json.loads(json.dumps(shown)) == shown


def test_the_error_is_stated_for_a_length_of_four_metres():
    """By hand in the test of the accuracy: 68 mm."""
    assert length_words(SESSION.page) == "A length of 4 m is right to within 68 mm"
    assert length_words(replace(SESSION.page, scale=None)) == ""
    short = ScaleLine(((0.0, 0.0), (25.0, 0.0)), 1.0, 20.0)
    assert "too short" in length_words(replace(SESSION.page, scale=short, rooms=()))


def test_what_is_asked_for_has_a_label_and_a_value():
    assert scene(SESSION, "")["ask"] is None
    chosen = click(with_tool(SESSION, "select"), (150.0, 600.0), 1.0)
    shown = scene(chosen, "")
    assert (shown["ask"]["label"], shown["ask"]["value"]) == ("Room name", "<i>Hall</i>")
    assert shown["can_delete"]
    assert shown["rooms"][0]["selected"]
    ends = click(click(with_tool(SESSION, "scale"), (100.0, 790.0), 1.0), (500.0, 790.0), 1.0)
    assert scene(ends, "")["ask"]["label"] == "Length, m"


def test_the_first_words_say_what_to_do():
    blank = begin(Tracing((TracedPage(1, 1000, 800),)), (0.0,))
    assert scene(blank, "")["status"].startswith("Begin with the scale")
    assert scene(SESSION, "")["status"].startswith("Click the corners")
    assert scene(press(blank, "undo"), "")["refused"]


@pytest.mark.parametrize(
    ("tool", "points", "at", "words"),
    [
        ("scale", [], (10.0, 10.0), ""),
        ("scale", [(10.0, 10.0)], (310.0, 10.0), "3.00 m"),
        ("room", [(500.0, 700.0)], (700.0, 703.0), "2.00 m, square"),
        ("room", [(300.0, 700.0)], (501.0, 503.0), "2.81 m, at 45 degrees"),
        ("room", [(300.0, 700.0)], (500.0, 600.0), "2.24 m, as clicked"),
        ("window", [], (103.0, 500.0), "on a wall"),
        ("window", [(103.0, 500.0)], (300.0, 620.0), "1.20 m, on a wall"),
        ("door", [], (400.0, 500.0), ""),
        ("select", [], (400.0, 500.0), ""),
    ],
)
def test_a_preview_has_the_length_so_far(tool, points, at, words):
    session = with_tool(SESSION, tool)
    for point in points:
        session = click(session, point, 1.0)
    assert preview(session, at, 1.0, False)["words"] == words
