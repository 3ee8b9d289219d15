"""A level on the page: the lines of the drawing, and symbols and labels that cover nothing."""

from __future__ import annotations

from itertools import combinations

import pytest

from heatloop.handover.first_fix.plan import FirstFixResult, plan_first_fix
from heatloop.layout.build import build_layout
from heatloop.layout.model import LoopLayout, Piece
from heatloop.layout.plan_coordinates import rooms_by_storey
from heatloop.report.drawings.geometry import Box, Line, PlanWindow, centred_box
from heatloop.report.drawings.plan.level_plan import level_bounds_m, level_on_paper
from heatloop.report.drawings.plan.page_plan import (
    DOT_PX,
    EDGE_MM,
    SCALE,
    TAG_PX,
    VALVE_PX,
    LabelTexts,
    PagePlan,
    Symbols,
    page_plan,
)
from heatloop.report.drawings.plan.text_places import is_inside
from heatloop.survey.survey import SurveyData
from tests.helpers.many_rooms import house_of_twenty_rooms

WIDTHS_PX = (1200.0, 620.0)


def _plans(survey: SurveyData) -> list[tuple[FirstFixResult, PagePlan]]:
    first_fix = plan_first_fix(survey, build_layout(survey))
    numbers = {room.name: place for place, room in enumerate(survey.rooms, start=1)}
    widths = [(width_px, LabelTexts(numbers, dict.fromkeys(numbers, "108 %"))) for width_px in WIDTHS_PX]
    valves = {loop.name: 2 for loop in survey.loops}
    return [
        (first_fix, page_plan(first_fix, level_m, rooms, valves, widths))
        for level_m, rooms in rooms_by_storey(survey, first_fix.layout).items()
    ]


@pytest.fixture(scope="module")
def plans() -> list[tuple[FirstFixResult, PagePlan]]:
    return _plans(house_of_twenty_rooms())


def test_lines_are_those_of_the_drawing(plans: list[tuple[FirstFixResult, PagePlan]]) -> None:
    storeys = list(rooms_by_storey(plans[0][0].survey, plans[0][0].layout).values())
    for (first_fix, plan), rooms in zip(plans, storeys, strict=True):
        west, south, *_ = level_bounds_m(first_fix, rooms)
        level = level_on_paper(first_fix, rooms, PlanWindow(SCALE, (west, south), (EDGE_MM, EDGE_MM)))
        assert plan.lines == tuple(one for one in level.drawn if isinstance(one, Line))
        pieces = {piece for loop in first_fix.layout.loops for piece in _labels(loop) if _room(piece) in rooms}
        assert {line.of for line in plan.lines_of("HL-SKIRTING")} == pieces


def _labels(loop: LoopLayout) -> set[str]:
    return {one.label for arm in loop.arms for one in arm.elements if isinstance(one, Piece)}


def _room(label: str) -> str:
    return label.rpartition(" ")[0]


def _boxes(symbols: Symbols) -> list[tuple[str, Box]]:
    """What symbols take, each with its name: dots, tags and valves by their own sizes."""
    along, up = (1.0, 0.0), (0.0, 1.0)
    found = []
    for position in symbols.positions:
        radius = DOT_PX * symbols.valve_mm_per_px
        found += [
            (f"position {position.number}", centred_box(at, along, up, radius, radius)) for at, _ in position.dots
        ]
    for start in symbols.starts:
        wide, high = (side / 2.0 * symbols.tag_mm_per_px for side in TAG_PX)
        found.append((f"tag {start.loop}", centred_box(start.tag, along, up, wide, high)))
        wide, high = (side / 2.0 * symbols.valve_mm_per_px - 1e-6 for side in VALVE_PX)
        found += [(f"valve {start.loop} {at}", centred_box(at, along, up, wide, high)) for at in start.valves]
    return found


def test_no_symbol_touches_another_and_all_are_in_their_rooms(plans: list[tuple[FirstFixResult, PagePlan]]) -> None:
    for first_fix, plan in plans:
        rooms = {room.name: room.outline for room in plan.rooms}
        of_mark = {mark.number: mark for mark in first_fix.positions}
        for symbols in plan.symbols:
            assert symbols.touching == ()
            boxes = _boxes(symbols)
            assert len(boxes) > 40
            for (name, one), (other_name, other) in combinations(boxes, 2):
                assert name == other_name or not one.touches(other), (name, other_name)
            for position in symbols.positions:
                mark = of_mark[position.number]
                assert [is_flow for _, is_flow in position.dots] == [pipe.direction == "flow" for pipe in mark.pipes]
                for at, _ in position.dots:
                    assert is_inside(rooms[mark.room], centred_box(at, (1.0, 0.0), (0.0, 1.0), 0.1, 0.1))
            assert {start.loop for start in symbols.starts} == {
                mark.loop for mark in first_fix.positions if mark.use == "tail" and mark.room in rooms
            }
            assert [len(start.valves) for start in symbols.starts] == [2] * len(symbols.starts)
            assert {label.room for label in symbols.labels} == set(rooms)


def test_a_name_without_a_place_is_a_number(plans: list[tuple[FirstFixResult, PagePlan]]) -> None:
    wide, narrow = ([one for _, plan in plans for one in plan.symbols[i].labels] for i in (0, 1))
    assert {label.text for label in wide if label.is_name} >= {"Kitchen", "Library", "Bedroom 1"}
    numbers = {room.name: str(place) for place, room in enumerate(plans[0][0].survey.rooms, start=1)}
    for label in (*wide, *narrow):
        assert label.text == (label.room if label.is_name else numbers[label.room])
    assert {label.room for label in narrow if not label.is_name} >= {"Dressing room", "Entrance hall"}
    assert all(label.has_figure for label in wide)
