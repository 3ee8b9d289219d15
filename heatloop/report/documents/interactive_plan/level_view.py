"""A level of the interactive plan as its template draws it: paths in millimetres on paper, y downwards."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.layout.plan_coordinates import rooms_by_storey
from heatloop.report.documents.interactive_plan.items import filled, in_words, room_values
from heatloop.report.documents.interactive_plan.state_data import PlanData
from heatloop.report.drawings.geometry import CAPITAL_SHARE, Point
from heatloop.report.drawings.plan.page_plan import (
    FIGURE_PX,
    LINE_PX,
    NAME_PX,
    TAG_PX,
    LabelTexts,
    PagePlan,
    PlacedStart,
    Symbols,
    page_plan,
    plan_width_m,
)
from heatloop.results.design import DesignResult
from heatloop.results.state_grid import StateGrid
from heatloop.text.formatting import number

WIDE_PX, WIDE_PX_M = 560.0, 42.0
"""Least width of a plan in a wide window, and of a metre of it."""

NARROW_PX, NARROW_PX_M = 272.0, 26.0
"""The same in a narrow window, where more rooms have numbers."""

VALVE_HALF_PX = (8.0, 5.0)
"""Half the length and half the height of the symbol of a valve."""

LAYERS = (("HL-OBSTACLE", "obstacle"), ("HL-WALL", "wall"), ("HL-OPENING", "opening"))
"""Lines of the drawing that carry nothing to choose, with their classes."""


@dataclass(frozen=True)
class Shape:
    """A path with its class, or a text at a place with its size and the room whose coverage it shows."""

    css: str
    path: str = ""
    text: str = ""
    at: Point = (0.0, 0.0)
    size: float = 0.0
    room: str = ""


@dataclass(frozen=True)
class DrawnItem:
    """One thing on the plan: its kind and number, class and sentence, and its shapes: those of every width, then those
    of a wide and of a narrow window."""

    kind: str
    number: int
    css: str
    sentence: str
    shapes: tuple[Shape, ...]
    wide: tuple[Shape, ...] = ()
    narrow: tuple[Shape, ...] = ()


@dataclass(frozen=True)
class LevelView:
    """One level: its title, its size on paper, its least widths on the screen, and what is drawn, lowest first."""

    title: str
    size: Point
    wide_px: int
    narrow_px: int
    rooms: tuple[DrawnItem, ...]
    lines: tuple[Shape, ...]
    crossings: tuple[tuple[int, str], ...]
    items: tuple[DrawnItem, ...]
    wide: tuple[Shape, ...]
    narrow: tuple[Shape, ...]


@dataclass(frozen=True)
class PlanSource:
    """Data for the drawing of levels."""

    design: DesignResult
    states: StateGrid
    first_fix: FirstFixResult
    data: PlanData

    def numbers(self, key: str) -> dict[str, int]:
        """The numbers of rooms, loops or pieces by name."""
        names = [room.name for room in self.design.survey.rooms]
        if key != "room":
            items = self.data.kind(key).items
            names = [item.loop if key == "loop" else item.name for item in items]
        return {name: place for place, name in enumerate(names, start=1)}

    def sentence(self, key: str, place: int) -> str:
        """The sentence about one thing at design conditions; rooms have another way."""
        values = self.data.by_flow[key][self.states.design_flow][place - 1]
        return filled(self.data.kind(key).items[place - 1].sentence, values)


def level_views(source: PlanSource) -> tuple[LevelView, ...]:
    """The levels with surveyed rooms, lowest first."""
    first_fix = source.first_fix
    storeys = rooms_by_storey(first_fix.survey, first_fix.layout)
    return tuple(_level(source, level_m, rooms) for level_m, rooms in storeys.items())


def page_plan_of(source: PlanSource, level_m: float, rooms: Mapping[str, Point]) -> PagePlan:
    """The geometry of a level for a wide and for a narrow window."""
    width_m = plan_width_m(source.first_fix, rooms)
    numbers, figures = source.numbers("room"), _longest_figures(source.states)
    valves = Counter(item.loop for item in source.data.kind("valve").items)
    texts = LabelTexts(numbers, figures)
    widths = [
        (max(WIDE_PX, WIDE_PX_M * width_m), texts),
        (max(NARROW_PX, NARROW_PX_M * width_m), texts),
    ]
    return page_plan(source.first_fix, level_m, rooms, valves, widths)


def _longest_figures(states: StateGrid) -> dict[str, str]:
    """The longest coverage that each room shows in any state."""
    longest: dict[str, str] = {}
    for flow in range(len(states.flow_temps_c)):
        for outdoor in range(len(states.outdoor_c)):
            for room in states.rooms(flow, outdoor):
                figure = f"{room_values(room)[3]} %"
                longest[room.room] = max(longest.get(room.room, ""), figure, key=len)
    return longest


def _level(source: PlanSource, level_m: float, rooms: Mapping[str, Point]) -> LevelView:
    plan = page_plan_of(source, level_m, rooms)
    wide, narrow = plan.symbols
    high = plan.size_mm[1]
    loops = source.numbers("loop")
    crossings = [(loops[line.of], _path(line.points, high)) for line in plan.lines_of("HL-CROSSING")]
    lines = [Shape(css, " ".join(_path(line.points, high) for line in plan.lines_of(layer))) for layer, css in LAYERS]
    return LevelView(
        title=f"Plan of level {number(level_m, 2, sign=True)} m",
        size=(round(plan.size_mm[0], 2), round(high, 2)),
        wide_px=round(plan.size_mm[0] / wide.mm_per_px),
        narrow_px=round(plan.size_mm[0] / narrow.mm_per_px),
        rooms=tuple(_rooms(source, plan)),
        lines=tuple(line for line in lines if line.path),
        crossings=tuple(crossings),
        items=(*_pieces(source, plan), *_positions(source, plan), *_starts(source, plan)),
        wide=tuple(_labels(source, wide, high)),
        narrow=tuple(_labels(source, narrow, high)),
    )


def _rooms(source: PlanSource, plan: PagePlan) -> Iterator[DrawnItem]:
    states, numbers = source.states, source.numbers("room")
    room_states = {
        room_state.room: room_state for room_state in states.rooms(states.design_flow, states.design_outdoor)
    }
    items = source.data.kind("room").items
    for room in plan.rooms:
        values = room_values(room_states[room.name])
        outline = _path((*room.outline, room.outline[0]), plan.size_mm[1])
        place = numbers[room.name]
        sentence = filled(items[place - 1].sentence, in_words(values))
        yield DrawnItem("room", place, values[4], sentence, (Shape("floor", outline), Shape("pattern", outline)))


def _pieces(source: PlanSource, plan: PagePlan) -> Iterator[DrawnItem]:
    numbers = source.numbers("piece")
    for line in plan.lines_of("HL-SKIRTING"):
        place = numbers[line.of]
        path = _path(line.points, plan.size_mm[1])
        yield DrawnItem("piece", place, "", source.sentence("piece", place), (Shape("hit", path), Shape("bar", path)))


def _positions(source: PlanSource, plan: PagePlan) -> Iterator[DrawnItem]:
    high = plan.size_mm[1]
    shapes = [
        {
            position.number: (
                Shape("lead", _path((position.foot, _centre([at for at, _ in position.dots])), high)),
                Shape("hit", _path((position.dots[0][0], position.dots[-1][0]), high)),
                Shape("spot", _dots([at for at, _ in position.dots], high)),
                Shape("hole", _dots([at for at, is_flow in position.dots if not is_flow], high)),
            )
            for position in symbols.positions
        }
        for symbols in plan.symbols
    ]
    for place in shapes[0]:
        wide, narrow = (tuple(shape for shape in each[place] if shape.path) for each in shapes)
        yield DrawnItem("pipe", place, "", source.sentence("pipe", place), (), wide, narrow)


def _starts(source: PlanSource, plan: PagePlan) -> Iterator[DrawnItem]:
    """The symbols of the valves, then the tags of the loops."""
    numbers, high = source.numbers("loop"), plan.size_mm[1]
    by_width = [{start.loop: start for start in symbols.starts} for symbols in plan.symbols]
    valve_k = [symbols.valve_mm_per_px for symbols in plan.symbols]
    tag_k = [symbols.tag_mm_per_px for symbols in plan.symbols]
    for loop in by_width[0]:
        own = [place for place, item in enumerate(source.data.kind("valve").items, start=1) if item.loop == loop]
        for order, place in enumerate(own):
            wide, narrow = (
                _valve(each[loop].valves[order], k, high) for each, k in zip(by_width, valve_k, strict=True)
            )
            yield DrawnItem("valve", place, "", source.sentence("valve", place), (), wide, narrow)
    for loop in by_width[0]:
        place = numbers[loop]
        wide, narrow = (_tag(each[loop], place, k, high) for each, k in zip(by_width, tag_k, strict=True))
        yield DrawnItem("loop", place, "", source.sentence("loop", place), (), wide, narrow)


def _valve(at: Point, k: float, high: float) -> tuple[Shape, ...]:
    """Two triangles that meet."""
    (x, y), (a, b) = (at[0], high - at[1]), (VALVE_HALF_PX[0] * k, VALVE_HALF_PX[1] * k)
    body = f"M{_mm(x - a)} {_mm(y - b)}V{_mm(y + b)}L{_mm(x + a)} {_mm(y - b)}V{_mm(y + b)}Z"
    return Shape("hit", f"M{_mm(x - a)} {_mm(y)}h{_mm(2 * a)}"), Shape("body", body)


def _tag(start: PlacedStart, place: int, k: float, high: float) -> tuple[Shape, ...]:
    (x, y), (a, b) = (start.tag[0], high - start.tag[1]), ((TAG_PX[0] / 2.0 - 1.0) * k, (TAG_PX[1] / 2.0 - 1.0) * k)
    box = f"M{_mm(x - a)} {_mm(y - b)}h{_mm(2 * a)}v{_mm(2 * b)}h{_mm(-2 * a)}Z"
    lead = Shape("lead", _path(start.leader, high))
    text = Shape("number", text=str(place), at=_baseline((x, y), FIGURE_PX * k), size=round(FIGURE_PX * k, 2))
    return lead, Shape("box", box), text


def _labels(source: PlanSource, symbols: Symbols, high: float) -> Iterator[Shape]:
    """The label of every room: its name or number, and below it the coverage at design conditions."""
    states, numbers, k = source.states, source.numbers("room"), symbols.mm_per_px
    values = {
        room_state.room: room_values(room_state)[3]
        for room_state in states.rooms(states.design_flow, states.design_outdoor)
    }
    for label in symbols.labels:
        x, y = label.at[0], high - label.at[1]
        yield Shape("name", text=label.text, at=_baseline((x, y), NAME_PX * k), size=round(NAME_PX * k, 2))
        if label.has_figure:
            below = _baseline((x, y + LINE_PX * k), FIGURE_PX * k)
            figure = f"{values[label.room]} %"
            yield Shape("figure", "", figure, below, round(FIGURE_PX * k, 2), str(numbers[label.room]))


def _baseline(middle: Point, size: float) -> Point:
    """Where a text begins whose capitals have that middle."""
    return round(middle[0], 1), round(middle[1] + CAPITAL_SHARE * size / 2.0, 1)


def _mm(length: float) -> str:
    """A length on paper as paths have it."""
    return f"{length:.1f}".removesuffix(".0")


def _path(points: Sequence[Point], high: float) -> str:
    steps = [f"{_mm(x)} {_mm(high - y)}" for x, y in points]
    same = all(a == b for a, b in pairwise(steps))
    return f"M{steps[0]}h0" if same else "M" + "L".join(steps)


def _dots(points: Sequence[Point], high: float) -> str:
    return "".join(f"M{_mm(x)} {_mm(high - y)}h0" for x, y in points)


def _centre(points: Sequence[Point]) -> Point:
    return (points[0][0] + points[-1][0]) / 2.0, (points[0][1] + points[-1][1]) / 2.0
