"""Plan of a level: all its rooms with walls."""

from __future__ import annotations

import heatloop as hl
from heatloop.layout.plan_coordinates import rooms_by_storey
from heatloop.report.plans import storey_plan


def test_level_plans_hold_all_rooms_with_walls(design: hl.Design) -> None:
    levels = rooms_by_storey(design.survey, design.layout)
    named = set()
    for level_m, rooms in levels.items():
        figure = storey_plan.level_plan_plot(design, level_m, rooms)
        named |= {text.get_text().split("\n")[0] for text in figure.axes.texts}
        assert figure.alt_text.startswith("Plan of")
    assert {room.room for room in design.layout.rooms if room.geometry} <= named
