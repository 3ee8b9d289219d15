"""Plans of levels with the numbers of walls and the places of pipes, for those who keep the house."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from heatloop.handover.first_fix.hidden_pipes import pipe_places
from heatloop.layout.model import Layout
from heatloop.layout.plan_coordinates import Point, RoomPlan, plan_points, room_plan, rooms_by_storey, translated
from heatloop.report.pages.html_tables import HtmlFragment
from heatloop.report.plans.level_svg import (
    EDGE_MM,
    FIGURE_MM,
    NAME_MM,
    RING_MM,
    Box,
    Label,
    LevelPlan,
    level_bounds_m,
    min_scale,
    room_labels,
    room_lines,
)
from heatloop.survey.survey import SurveyData
from heatloop.text.formatting import number
from heatloop.text.html import rendered

NUMBER_OFF_MM = 2.2
"""The number of a wall on paper, off the wall into the room."""


def wall_plans(survey: SurveyData, layout: Layout, size_mm: tuple[float, float]) -> tuple[LevelPlan, ...]:
    """The plan of every level, all at the one scale that fits `size_mm` (width and height); none without surveyed
    rooms.

    Walls carry their numbers; a square is a place where pipes go into the floor or the wall.
    """
    storeys = rooms_by_storey(survey, layout)
    scale = max(
        (min_scale(level_bounds_m(_placed(survey, layout, rooms, 0.0)), size_mm) for rooms in storeys.values()),
        default=0,
    )
    return tuple(_level(survey, layout, level_m, rooms, scale) for level_m, rooms in storeys.items())


def _placed(survey: SurveyData, layout: Layout, rooms: Mapping[str, Point], offset_m: float) -> list[RoomPlan]:
    """The rooms at their places; what is along walls is `offset_m` into the room."""
    return [translated(room_plan(survey.room(name), layout, offset_m), shift) for name, shift in rooms.items()]


def _level(survey: SurveyData, layout: Layout, level_m: float, rooms: Mapping[str, Point], scale: int) -> LevelPlan:
    plans = _placed(survey, layout, rooms, 0.0)
    west, south, east, north = level_bounds_m(plans)

    def on_paper(point: Point) -> Point:
        return EDGE_MM + 1000.0 * (point[0] - west) / scale, EDGE_MM + 1000.0 * (north - point[1]) / scale

    walls = [
        Label(*on_paper(middle), (str(wall),))
        for plan in _placed(survey, layout, rooms, NUMBER_OFF_MM * scale / 1000.0)
        for wall, middle in enumerate(plan.wall_middles_m, start=1)
    ]
    boxes: list[Box] = [(label.x_mm - 1.3, label.y_mm - 1.2, label.x_mm + 1.3, label.y_mm + 1.2) for label in walls]
    names, numbered = room_labels(plans, on_paper, {}, False, boxes)
    width_mm, height_mm = (2 * EDGE_MM + 1000.0 * size / scale for size in (east - west, north - south))
    svg = rendered(
        "heatloop.report.plans",
        "level.html",
        rooms=[room_lines(plan, on_paper, "plain") for plan in plans],
        labels=names,
        figures=walls,
        pipes=[on_paper(point) for point in _pipe_points(survey, layout, rooms)],
        width=round(width_mm, 2),
        height=round(height_mm, 2),
        title=f"Plan of level {number(level_m, 2, sign=True)} m with wall numbers and places of pipes: "
        f"{', '.join(rooms)}",
        key=f"w{abs(round(100 * level_m))}{'b' if level_m < 0 else ''}",
        ring=RING_MM,
        name_mm=NAME_MM,
        figure_mm=FIGURE_MM,
    )
    return LevelPlan(level_m, HtmlFragment(svg), scale, tuple(numbered))


def _pipe_points(survey: SurveyData, layout: Layout, rooms: Mapping[str, Point]) -> Iterator[Point]:
    """Places of pipes in these rooms."""
    for place in pipe_places(survey, layout):
        geometry = layout.room(place.room).geometry
        if place.room in rooms and geometry is not None:
            east_m, north_m = rooms[place.room]
            ((x, y),) = plan_points(survey.room(place.room), geometry, place.wall, (place.at_m,))
            yield x + east_m, y + north_m
