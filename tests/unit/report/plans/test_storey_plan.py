"""Plan of a level: all its rooms with walls."""

from __future__ import annotations

from collections import Counter

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


def test_every_loop_has_its_number_at_its_valve_end_and_in_the_legend(design: hl.Design) -> None:
    drawn, listed = [], []
    for level_m, rooms in rooms_by_storey(design.survey, design.layout).items():
        ax = storey_plan.level_plan_plot(design, level_m, rooms).axes
        drawn += [text.get_text() for text in ax.texts if text.get_text().isdigit()]
        legend = ax.get_legend()
        listed += [] if legend is None else [text.get_text() for text in legend.get_texts()]
    ends = {1: 1, 2: 1, 3: 2, 4: 1, 5: 1}  # loop 3 is one-way and ends in another room
    assert Counter(drawn) == {str(place): count for place, count in ends.items()}
    for place, loop in enumerate(design.layout.loops, start=1):
        assert f"{place} {loop.loop}" in listed
