"""A flat of two rooms on an image: traced, saved, completed as its survey file asks, and designed."""

import math
import re

import pytest

import heatloop as hl

images = pytest.importorskip("PIL.Image")
pytest.importorskip("pypdfium2")
pytest.importorskip("anywidget")

PX_PER_M = 100.0
LOUNGE = [(0.0, 0.0), (0.0, 4.0), (5.0, 4.0), (5.0, 0.0)]
BEDROOM = [(5.1, 0.0), (5.1, 4.0), (8.2, 4.0), (8.2, 0.0)]
ANSWERS = {
    "outdoor_c": "-2.0", "flow_temp_c": "55.0", "indoor_c": "20.0", "height_m": "2.4", "u_w_m2k": "0.5",
    "sill_m": "0.8", "length_m": "3.0", "beyond": '"neighbour"',
}  # fmt: skip
"""What is entered for each key that is marked, on any line."""


def clicked(trace, *points):
    for x, y in points:
        trace.act("click", x=100.0 + PX_PER_M * x, y=600.0 - PX_PER_M * y)


@pytest.fixture
def trace(tmp_path):
    images.new("RGB", (1000, 700), "white").save(tmp_path / "flat.png")
    trace = hl.trace_plan(tmp_path / "flat.png", north_deg=90.0)
    clicked(trace, (0.0, -0.5), (8.0, -0.5))
    trace.act("text", text="8.00")
    for name, corners in (("Lounge", LOUNGE), ("Bedroom", BEDROOM)):
        clicked(trace, *corners, corners[0])
        trace.act("text", text=name)
    trace.act("tool", tool="door")
    clicked(trace, (5.0, 1.0), (5.0, 1.84))
    clicked(trace, (0.0, 2.0), (0.0, 2.93))
    trace.act("tool", tool="window")
    clicked(trace, (1.0, 4.0), (2.8, 4.0))
    clicked(trace, (6.0, 4.0), (7.2, 4.0))
    return trace


def test_it_becomes_a_design(trace, tmp_path):
    survey, _ = trace.save(tmp_path / "flat", project="Flat")
    text = survey.read_text(encoding="utf-8")
    asked = set(re.findall(r'(\w+) = "\?"', text))
    assert asked == set(ANSWERS)
    text = text.replace('height_m = "?", sill_m', "height_m = 1.2, sill_m")
    for key, value in ANSWERS.items():
        text = text.replace(f'{key} = "?"', f"{key} = {value}")
    text = text.replace('beyond = "neighbour",', 'beyond = "neighbour", neighbour_c = 18.0,')
    survey.write_text(text, encoding="utf-8")
    design = hl.size(survey)
    assert list(design.rooms["room"]) == ["Lounge", "Bedroom"]
    lounge = design.survey.room("Lounge")
    assert [(wall.length_m, wall.beyond) for wall in lounge.walls] == [
        (4.0, "outdoors"), (5.0, "outdoors"), (4.0, "Bedroom"), (5.0, "outdoors"),
    ]  # fmt: skip
    assert lounge.first_wall_bearing_deg == 90.0
    assert {wall.openings[0].name for wall in lounge.walls if wall.openings} == {None, "Lounge to Bedroom"}
    # by hand: 4 m walls and 2.4 m, less a door of 0.93 by 2.04, at 0.5 W/(m2 K) and 22 K
    parts = design.heat_loss_parts
    first = parts[(parts["room"] == "Lounge") & (parts["element"] == "wall 1")]
    assert first["heat_loss_w"].iloc[0] == pytest.approx((4.0 * 2.4 - 0.93 * 2.04) * 0.5 * 22.0, rel=1e-6)


def test_a_step_by_a_script_is_shown_at_once(trace):
    shown = trace.widget
    assert [room["labels"][0] for room in shown.scene["rooms"]] == ["Lounge", "Bedroom"]
    trace.act("key", key="undo")
    assert len(shown.scene["openings"]) == 3


def test_the_widget_answers_the_page_and_leaves_out_what_makes_no_sense(trace, monkeypatch):
    shown, sent = trace.widget, []
    monkeypatch.setattr(shown, "send", sent.append)
    before = shown.scene
    for message in ("hello", {"event": "format"}, {"event": "move", "x": None}, {"event": "click", "x": "1"}, {}):
        shown._answer(shown, message, [])
    assert shown.scene == before
    assert sent == []
    shown._answer(shown, {"event": "move", "x": 100.0, "y": 300.0, "screen_px": 1.0, "turn": 7}, [])
    assert sent == [{"turn": 7, "point": [100.0, 300.0], "kind": "wall", "words": "on a wall"}]
    shown._answer(shown, {"event": "tool", "tool": "select"}, [])
    assert shown.scene["tool"] == "select"


def test_a_plan_that_lies_askew_has_square_rooms(tmp_path):
    """Turned by 1.4 degrees: the first wall is clicked with Shift, all others are square to it."""
    turn = math.radians(1.4)
    images.new("RGB", (1000, 700), "white").save(tmp_path / "flat.png")
    trace = hl.trace_plan(tmp_path / "flat.png")

    def click(x, y, **more):
        u, v = x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)
        trace.act("click", x=100.0 + PX_PER_M * u, y=600.0 - PX_PER_M * v, **more)

    click(0.0, -0.5)
    click(8.0, -0.5)
    trace.act("text", text="8.00")
    for name, corners in (("Lounge", LOUNGE), ("Bedroom", BEDROOM)):
        for index, (x, y) in enumerate(corners):
            astray = 0.0 if index < 2 else 0.03  # within reach of square
            click(x + astray, y + astray, free=index == 1 and name == "Lounge")
        trace.act("key", key="Enter")
        trace.act("text", text=name)
    for room in trace.rooms:
        assert [wall.turn_deg for wall in room.walls] == [90.0] * 4
        assert room.first_wall_bearing_deg == pytest.approx(360.0 - 1.4, abs=0.02)
    assert {wall.beyond for wall in trace.rooms[0].walls} == {"outdoors", "Bedroom"}
    assert [wall.length_m for wall in trace.rooms[0].walls] == pytest.approx([4.0, 5.03, 4.0, 5.03], abs=0.035)


def test_two_floors_on_one_page_are_levels(trace):
    """The level is typed between them; the same walls on another level take the doors of that level alone."""
    trace.act("level", text="2,6")
    trace.act("tool", tool="room")
    clicked(trace, *LOUNGE, LOUNGE[0])
    trace.act("text", text="Loft")
    trace.act("tool", tool="door")
    clicked(trace, (5.0, 3.0), (5.0, 3.8))
    rooms = {room.name: room for room in trace.rooms}
    assert {name: room.level_m for name, room in rooms.items()} == {"Lounge": 0.0, "Bedroom": 0.0, "Loft": 2.6}
    assert [wall.beyond for wall in rooms["Loft"].walls] == ["outdoors"] * 4
    assert [len(wall.openings) for wall in rooms["Loft"].walls] == [0, 0, 1, 0]
    assert [len(wall.openings) for wall in rooms["Lounge"].walls] == [1, 1, 1, 0]
