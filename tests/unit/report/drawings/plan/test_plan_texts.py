"""What is written on a plan is inside its field."""

from __future__ import annotations

import heatloop as hl
from heatloop.layout.plan_coordinates import rooms_by_storey
from heatloop.report.drawings.geometry import PlanWindow, Words
from heatloop.report.drawings.plan.level_plan import level_bounds_m, level_on_paper
from heatloop.report.drawings.plan.plan_texts import plan_texts

SCALE, EDGE_MM = 100, 2.0


def test_rings_are_inside_the_field_and_every_room_is_named(alder_lodge: hl.Design) -> None:
    """At 1:100 some rings have no place in their rooms; beyond the field there is always one. Texts of the walls of the
    study leave no place for its name, unless one is kept."""
    fix = alder_lodge.first_fix()
    numbers = {room.name: place for place, room in enumerate(fix.survey.rooms, start=1)}
    crowded = 0
    for rooms in rooms_by_storey(fix.survey, fix.layout).values():
        west, south, east, north = level_bounds_m(fix, rooms)
        wide, high = (1000.0 * (b - a) / SCALE for a, b in ((west, east), (south, north)))
        level = level_on_paper(fix, rooms, PlanWindow(SCALE, (west, south), (EDGE_MM, EDGE_MM)))
        field = (0.0, 0.0, wide + 2.0 * EDGE_MM, high + 2.0 * EDGE_MM)
        texts = plan_texts(level, field, numbers)
        crowded += len(texts.crowded)
        named = {one.text for one in texts.primitives if isinstance(one, Words) and one.layer == "HL-ROOM"}
        assert named == {f"[{texts.unnamed[name]}]" if name in texts.unnamed else name for name in rooms}
        for words in (one for one in texts.primitives if isinstance(one, Words)):
            left, low, right, top = words.box.bounds
            assert min(left, low) >= 0.0, words.text
            assert right <= field[2], words.text
            assert top <= field[3], words.text
    assert crowded
