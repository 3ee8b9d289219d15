"""What the page reports is taken as it is meant, or refused; a point outside the picture is held to its edge."""

import pytest

from heatloop.survey.tracing.model import TracedPage, Tracing
from heatloop.survey.tracing.session import begin
from heatloop.workflows.tracing.events import after, position

SESSION = begin(Tracing((TracedPage(1, 1000, 800),)), (0.0,))


def test_a_point_outside_is_held_to_the_edge():
    assert position(SESSION, {"x": -5, "y": 900.0, "screen_px": 2}) == (0.0, 800.0, 2.0, False)
    assert position(SESSION, {"x": 5, "y": 6, "free": True}) == (5.0, 6.0, 1.0, True)


def test_each_event_is_a_step():
    session = SESSION
    for event, values in (
        ("click", {"x": 100, "y": 100}), ("click", {"x": 900, "y": 100}), ("text", {"text": "8"}),
        ("tool", {"tool": "select"}), ("level", {"text": "2.6"}), ("key", {"key": "undo"}), ("page", {"index": 0}),
    ):  # fmt: skip
        session = after(session, event, values)
    assert session.page.scale is None
    assert session.levels_m == (2.6,)
    assert session.tool == "scale"


@pytest.mark.parametrize(
    ("event", "values"),
    [
        ("click", {"x": "1", "y": 2}), ("click", {"x": float("nan"), "y": 2}), ("click", {}),
        ("click", {"x": 1, "y": 2, "screen_px": 0}), ("click", {"x": 1, "y": 2, "screen_px": True}),
        ("key", {"key": "F5"}), ("key", {}), ("tool", {"tool": "saw"}), ("page", {"index": 1}),
        ("page", {"index": "0"}), ("text", {"text": 5}), ("text", {}), ("level", {}), ("open", {"text": "x"}),
    ],
)  # fmt: skip
def test_an_event_that_does_not_exist_is_refused(event, values):
    with pytest.raises(ValueError, match=r".+"):
        after(SESSION, event, values)
