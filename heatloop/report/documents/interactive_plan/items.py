"""Items of the interactive plan: rooms, loops, skirting, pipes and valves, each with its row in a table.

A sentence contains placeholders for the values that change with the state. The script of the page inserts the values of
a state and calculates nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from heatloop.handover.first_fix.model import PipeEnd, PipePosition
from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.handover.second_fix.fixing_steps import FixingStep
from heatloop.layout.model import Piece
from heatloop.report.documents.document import printed
from heatloop.report.drawings.set_out_table import opening_words, straight_text
from heatloop.results.design import DesignResult
from heatloop.results.operating_point import OperatingPoint
from heatloop.results.state_grid import RoomHeat
from heatloop.results.summaries import room_state
from heatloop.text.formatting import escape_control_characters, listing, number, percent, plural

Row = Mapping[Any, Any]

STATES = ("warm", "tight", "short")
STATE_WORDS = {"warm": "✓ warm", "tight": "▲ small reserve", "short": "✗ short"}
"""Words of the state of a room, each with its mark."""

NONE = "\N{EN DASH}"

WAYS = ("flow", "return")

PIECES = ("piece", "floor section")
"""Kinds of elements that are pieces."""

UNKNOWN_KIND = " (kind not known)"
"""After an opening in a floor that is not surveyed."""

MAX_NAMED = 6
"""Rooms short of heat that a sentence names."""


@dataclass(frozen=True)
class Item:
    """One item of the plan: its name, its sentence, and the constant cells of its row."""

    name: str
    sentence: str
    cells: tuple[str, ...] = ()
    loop: str = ""


@dataclass(frozen=True)
class Kind:
    """All items of one kind: heading and caption of their table, its columns, and the items.

    Columns of values are last; numbers are aligned to the right where the flag is set.
    """

    key: str
    heading: str
    caption: str
    columns: tuple[tuple[str, bool], ...]
    items: tuple[Item, ...]


def sentence_of(*parts: str | int) -> str:
    """A sentence of texts and of places for values by their number: characters that no text can hold.

    >>> filled(sentence_of("flow ", 0, " °C, return ", 1, " °C"), ["50.0", "43.0"])
    'flow 50.0 °C, return 43.0 °C'
    """
    return "".join(chr(1 + part) if isinstance(part, int) else escape_control_characters(part) for part in parts)


def filled(sentence: str, values: Sequence[str]) -> str:
    """A sentence with values in its places."""
    return sentence.translate({1 + place: value for place, value in enumerate(values)})


def room_items(design: DesignResult) -> Kind:
    """The rooms, in the order of the survey."""
    state = (0, " W, heat to room ", 1, " W, reserve of heat ", 2, " W, ", 3, " % of the heat required: ", 4)
    items = tuple(
        Item(
            f"{place} {room.name}",
            sentence_of(f"{room.name}, {_short(room.indoor_c)} °C: heat loss ", *state),
            (_short(room.indoor_c),),
        )
        for place, room in enumerate(design.survey.rooms, start=1)
    )
    columns = (("Indoor, °C", True), ("Heat loss, W", True), ("Heat to rooms, W", True),
               ("Reserve of heat, W", True), ("Heat, % of the heat required", True), ("State", False))  # fmt: skip
    caption = (
        "Rooms: heat loss, heat to the room, and the reserve above the heat required, which is the heat loss and the "
        "additional loss through the wall behind the skirting"
    )
    return Kind("room", "Rooms", caption, (("Room", False), *columns), items)


def room_values(room: RoomHeat) -> tuple[str, str, str, str, str]:
    """Heat loss, heat, margin and coverage of a room as printed, and its state."""
    row = {"margin_w": room.margin_w, "coverage": room.coverage}
    return (
        printed(room.heat_loss_w), printed(room.heat_to_rooms_w), printed(room.margin_w, sign=True),
        percent(room.coverage), room_state(row),
    )  # fmt: skip


def in_words(values: Sequence[str]) -> tuple[str, ...]:
    """The values of a room with its state in words."""
    return *values[:4], STATE_WORDS[values[4]]


def loop_items(design: DesignResult) -> Kind:
    """The loops, in the order of the survey."""
    rows = design.frames["loops"].to_dict("records")
    state = (0, " l/h at ", 1, " °C, return ", 2, " °C, temperature drop ", 3, " K, heat to rooms ", 4, " W")
    items = []
    for place, row in enumerate(rows, start=1):
        length = number(row["heated_length_m"], 1)
        words = f"Loop {place}, {row['loop']}, rooms {row['rooms']}, {length} m of skirting: flow "
        items.append(Item(f"{place} {row['loop']}", sentence_of(words, *state), (row["rooms"], length), row["loop"]))
    columns = (("Loop", False), ("Rooms", False), ("Heated length, m", True), ("Flow rate, l/h", True),
               ("Flow temp., °C", True), ("Return temp., °C", True), ("Temperature drop, K", True),
               ("Heat to rooms, W", True))  # fmt: skip
    return Kind("loop", "Loops", "Loops: water and heat of each, by its number on the plan", columns, tuple(items))


def loop_values(point: OperatingPoint) -> Iterator[tuple[str, ...]]:
    """Flow, temperatures and heat of every loop as printed."""
    for row in point.frames["loops"].to_dict("records"):
        temps = (printed(row[name], 1) for name in ("flow_temp_c", "return_temp_c", "temperature_drop_k"))
        yield printed(row["flow_l_h"]), *temps, printed(row["heat_to_rooms_w"])


def piece_items(steps: Sequence[FixingStep], point: OperatingPoint) -> Kind:
    """The pieces of skirting, in the order of fixing; `point` shows whether water returns through a piece."""
    water = _water_of_pieces(point)
    items = []
    for step in steps:
        back = "return" in water.get(step.label, {})
        words = (
            f"Skirting {step.label}, {step.wall_words}, loop {step.loop}: cut length {printed(step.cut_length_mm)} mm, "
            f"left: {step.left_end}, right: {step.right_end}. {step.gap_words.rstrip('.')}. Water: flow "
        )
        sentence = sentence_of(words, 0, " °C", *((", return ", 1, " °C") if back else ()))
        cells = (
            step.loop,
            step.wall_numbers,
            printed(step.cut_length_mm),
            step.left_end,
            step.right_end,
            step.gap_words,
        )
        items.append(Item(step.label, sentence, cells, step.loop))
    columns = (("Piece", False), ("Loop", False), ("Wall", False), ("Cut length, mm", True), ("Left end", False),
               ("Right end", False), ("Gap", False), ("Flow, in → out, °C", True),
               ("Return, in → out, °C", True))  # fmt: skip
    caption = (
        "Skirting: pieces in the order of fixing, left and right when facing the wall; gaps for the temperature of the "
        "profile when it is fixed"
    )
    return Kind("piece", "Skirting", caption, columns, tuple(items))


def piece_values(steps: Sequence[FixingStep], point: OperatingPoint) -> Iterator[tuple[str, ...]]:
    """Temperature of the water into and out of every piece as printed, on the flow and on the return."""
    water = _water_of_pieces(point)
    for step in steps:
        own = water.get(step.label, {})
        yield tuple(_through(own.get(way)) for way in WAYS)


def _water_of_pieces(point: OperatingPoint) -> dict[str, dict[str, Row]]:
    """The first waterway of every piece by its direction."""
    rows: dict[str, dict[str, Row]] = {}
    for row in point.frames["elements"].to_dict("records"):
        if row["kind"] in PIECES:
            rows.setdefault(row["label"], {}).setdefault(row["direction"], row)
    return rows


def pipe_items(marks: Sequence[PipePosition]) -> Kind:
    """The pipe positions of first fix, by their numbers."""
    items = []
    for mark in marks:
        walls = mark.straight
        place = f"{mark.room}, wall{'s' if len(walls) > 1 else ''} {straight_text(walls)}"
        use = mark.past if mark.use == "crossing" else "tails of the loop"
        on_wall = {pipe.mark: _on_its_wall(mark, pipe) for pipe in mark.pipes}
        pipes = listing(f"{pipe.direction} {_from_left(pipe)} mm{on_wall[pipe.mark]}" for pipe in mark.pipes)
        opening = opening_words(mark)
        words = (
            f"Pipe position {mark.number}, {place}, loop {mark.loop}, {use}: {pipes} from the left-hand corner, "
            f"opening {opening} mm{UNKNOWN_KIND if mark.word == 'opening' else ''}. Water:"
        )
        ways = enumerate(_ways(mark))
        water = (part for n, way in ways for part in (f"{',' if n else ''} {way} ", WAYS.index(way), " °C"))
        sentence = sentence_of(words, *water)
        figures = ", ".join(f"{_from_left(pipe)} {pipe.direction}{on_wall[pipe.mark]}" for pipe in mark.pipes)
        cells = (place, mark.loop, use, figures, f"{opening}{UNKNOWN_KIND if mark.word == 'opening' else ''}")
        items.append(Item(f"Position {mark.number}", sentence, cells, mark.loop))
    columns = (("Position", False), ("Room, walls", False), ("Loop", False), ("Use, or what they pass", False),
               ("From the left-hand corner, mm", False), ("Opening, mm", False), ("Flow, in → out, °C", True),
               ("Return, in → out, °C", True))  # fmt: skip
    caption = (
        "Pipes: positions as numbered on the first-fix drawings; distances from the left-hand corner of the wall line, "
        "in brackets from the left-hand end of the pipe's own wall"
    )
    return Kind("pipe", "Pipes", caption, columns, tuple(items))


def pipe_values(first_fix: FirstFixResult, point: OperatingPoint) -> Iterator[tuple[str, ...]]:
    """Temperature of the water into and out of the pipes of every position as printed."""
    rows = point.frames["elements"].to_dict("records")
    pieces = {
        element.label: element
        for loop in first_fix.layout.loops
        for arm in loop.arms
        for element in arm.elements
        if isinstance(element, Piece)
    }
    for mark in first_fix.positions:
        values = []
        for way in WAYS:
            enters = mark.side == ("left" if pieces[mark.piece].rightward == (way == "flow") else "right")
            values.append(_through(_pipe_row(mark, way, enters, rows)) if way in _ways(mark) else NONE)
        yield tuple(values)


def _ways(mark: PipePosition) -> tuple[str, ...]:
    """Flow, return or both: what the pipes of a position carry."""
    return tuple(way for way in WAYS if any(pipe.direction == way for pipe in mark.pipes))


def _pipe_row(mark: PipePosition, way: str, enters: bool, rows: Sequence[Row]) -> Row | None:
    """The element of a pipe of a position: the tail of its loop, or the crossing beside its piece.

    The crossing is before the piece where the water `enters` the piece there, else after it.
    """
    if mark.use == "tail":
        own = (row for row in rows if (row["loop"], row["kind"], row["direction"]) == (mark.loop, "tail", way))
        return next(own, None)
    at = next(i for i, row in enumerate(rows) if (row["label"], row["direction"]) == (mark.piece, way))
    beside = reversed(rows[:at]) if enters else iter(rows[at + 1 :])
    for row in beside:
        if row["kind"] == "crossing" or row["kind"] in PIECES:
            return row if row["kind"] == "crossing" else None
    return None


def valve_items(design: DesignResult) -> Kind:
    """The valves, loop by loop."""
    items = []
    for row in design.frames["valves"].to_dict("records"):
        serves = f"arm {row['arm']}" if row["arm"] else "the whole loop"
        setting = f"calculated setting {printed(row['calculated_setting'], 1)}, nearest {row['nearest_setting']}"
        words = f"Valve {row['valve']} of loop {row['loop']}, on the {row['side']}, for {serves}: {setting}, flow "
        sentence = sentence_of(words, 0, " l/h, pressure drop ", 1, " kPa")
        cells = (row["loop"], row["side"], serves, printed(row["calculated_setting"], 1), str(row["nearest_setting"]))
        items.append(Item(row["valve"], sentence, cells, row["loop"]))
    columns = (("Valve", False), ("Loop", False), ("Side", False), ("Serves", False), ("Calculated setting", True),
               ("Nearest setting", True), ("Flow rate, l/h", True), ("Pressure drop, kPa", True))  # fmt: skip
    return Kind("valve", "Valves", "Valves at their calculated settings", columns, tuple(items))


def valve_values(point: OperatingPoint) -> Iterator[tuple[str, ...]]:
    """Flow and pressure drop of every valve as printed."""
    for row in point.frames["valves"].to_dict("records"):
        yield printed(row["flow_l_h"]), printed(row["pressure_drop_kpa"], 2)


def rooms_statement(rooms: Sequence[RoomHeat]) -> str:
    """Which rooms are short of heat in a state, and by how much, the largest shortage first."""
    printed_rooms = [(room.room, room_values(room)) for room in sorted(rooms, key=lambda room: room.margin_w)]
    short = [f"{room} {_shortage(values[2])}" for room, values in printed_rooms if values[4] == "short"]
    if not short:
        return "Every room reaches its temperature."
    more = len(short) - MAX_NAMED
    named = [*short[:MAX_NAMED], f"{plural(more, 'more room')}"] if more > 0 else short
    return f"Missing heat: {listing(named)}."


def _shortage(margin: str) -> str:
    """A negative margin as printed, as the heat that is missing.

    >>> _shortage("−34"), _shortage("0")
    ('34 W', 'less than 1 W')
    """
    missing = margin.lstrip("+−")
    return "less than 1 W" if missing == "0" else f"{missing} W"


def source_statement(design: DesignResult, point: OperatingPoint) -> str:
    """Heat that the source gives in a state, in capitals where it is more than its output."""
    heat_w, output_kw = point.facts["source_heat_w"], design.survey.source.output_kw
    if output_kw is None:
        return f"Heat from the source: {printed(heat_w)} W."
    output_w = 1000.0 * output_kw
    if heat_w > output_w:
        return f"THE SOURCE WOULD HAVE TO GIVE {printed(heat_w)} W, MORE THAN ITS {printed(output_w)} W."
    return f"Heat from the source: {printed(heat_w)} W; the source can give {printed(output_w)} W."


def _through(row: Row | None) -> str:
    """Temperature into and out of an element."""
    return NONE if row is None else f"{printed(row['inlet_temp_c'], 1)} → {printed(row['outlet_temp_c'], 1)}"


def _from_left(pipe: PipeEnd) -> str:
    return number(pipe.from_left_corner_m * 1000.0)


def _on_its_wall(mark: PipePosition, pipe: PipeEnd) -> str:
    """Where a pipe is on its own wall, where that is not the first of a line of walls."""
    return "" if pipe.wall == mark.straight[0] else f" (wall {pipe.wall}: {number(pipe.at_m * 1000.0)})"


def _short(temp_c: float) -> str:
    return printed(temp_c, 1).removesuffix(".0")
