"""The sheets of a survey form: A4, one for each room, with squared paper and the fields in the order of the survey."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from heatloop.layout.draft_rooms import DraftRoom
from heatloop.report.drawings.blocks import Zone
from heatloop.report.drawings.geometry import (
    LARGE_MM,
    MIDDLE_MM,
    SMALL_MM,
    DrawingSheet,
    Line,
    Primitive,
    Words,
    fitting,
    rectangle,
    text_width_mm,
)
from heatloop.report.drawings.survey_form.squares import plan_on_squares, plan_scale, squared_paper, useful_diagonals
from heatloop.report.drawings.survey_form.tables import (
    CHECKED_WALLS,
    DIAGONALS,
    OBSTACLES,
    OPENINGS,
    WALLS,
    Row,
    table_block,
)
from heatloop.survey.building import Diagonal, FloorOrCeiling, Room
from heatloop.text.formatting import escape_control_characters

PAPER_MM = (210.0, 297.0)

FRAME = Zone(18.0, 10.0, 198.0, 287.0)
"""Within it all stands; the left-hand margin is for filing."""

SQUARES = Zone(FRAME.west, 152.0, FRAME.east, 247.0)

LARGE_SQUARES = Zone(FRAME.west, 22.0, FRAME.east, 277.0)
"""Squares of a page that has the plan alone."""

WELL_READ = 50
"""Scale, 1 to so much, below which a plan is offered a page of its own."""

RIGHT_MM = 102.0
"""West edge of the right-hand tables."""

FIELD_MM, TITLE_WIDTH_MM = 10.5, 150.0

RULE = (
    "Walk round the room clockwise, seen from above, the wall on your left hand. Corner 1 and",
    "wall 1 begin at its left end. Turn: blank inside corner, -90 outside corner, 0 straight on.",
)

CHECK_RULE = (
    "Read each length again and write it beside what was entered; strike out what is wrong.",
    "Corner n is the left end of wall n, facing the wall. Numbers of walls stand outside the plan.",
)

NOTES = ("Turns sum to 360:", "Pipes can come up at:", "Notes:")

HEADER: tuple[tuple[tuple[str, str, float], ...], ...] = (
    (("project", "Job", 62.0), ("name", "Room", 58.0), ("date", "Date", 26.0), ("by", "Measured by", 34.0)),
    (
        ("indoor_c", "Indoor, °C", 20.5), ("height_m", "Height, m", 19.5), ("level_m", "Level, m", 17.5),
        ("floor", "Below: what, built of", 51.0), ("ceiling", "Above: what, built of", 50.0),
        ("vulnerable", "Vulnerable", 21.5),
    ),
)  # fmt: skip
"""Fields above the squares by key, label and width."""


@dataclass(frozen=True)
class FormRoom:
    """Contents of the sheets of a room: fields by key, rows of each table, and its plan if there is one."""

    fields: Row = field(default_factory=dict)
    walls: tuple[Row, ...] = ()
    openings: tuple[Row, ...] = ()
    obstacles: tuple[Row, ...] = ()
    diagonals: tuple[Row, ...] = ()
    plan: DraftRoom | None = None

    @property
    def sheets(self) -> int:
        """How many sheets its rows take."""
        tables = (
            (self.walls, WALLS),
            (self.openings, OPENINGS),
            (self.obstacles, OBSTACLES),
            (self.diagonals, DIAGONALS),
        )
        return max(1, *(-(-len(rows) // table.rows) for rows, table in tables))


def form_room(project: str, room: Room, plan: DraftRoom | None) -> FormRoom:
    """A room of a survey as its form has it; NaN and empty values stay blank."""
    fields = {
        "project": project, "name": room.name, "indoor_c": _number(room.indoor_c), "height_m": _number(room.height_m),
        "level_m": _number(room.level_m), "floor": _surface(room.floor), "ceiling": _surface(room.ceiling),
        "vulnerable": "yes" if room.vulnerable else "",
    }  # fmt: skip
    walls, openings, obstacles = [], [], []
    for number, wall in enumerate(room.walls, start=1):
        turn = "" if wall.turn_deg == 90.0 else _number(wall.turn_deg)
        walls.append(
            {"wall": str(number), "length_m": _number(wall.length_m, 2), "turn_deg": turn, "beyond": wall.beyond or "",
             "build_up": wall.build_up or ""}
        )  # fmt: skip
        openings += [
            {"wall": str(number), "kind": opening.kind, "start_m": _number(opening.start_m, 2),
             "width_m": _number(opening.width_m, 2), "height_m": _number(opening.height_m, 2),
             "sill_m": _number(opening.sill_m, 2) if opening.sill_m else "", "name": opening.name or ""}
            for opening in wall.openings
        ]  # fmt: skip
        stands = [(obstacle.kind, obstacle.start_m, obstacle.width_m, str(obstacle.run)) for obstacle in wall.obstacles]
        stands += [("furniture", stretch.start_m, stretch.width_m, "covered") for stretch in wall.covered]
        obstacles += [
            {"wall": str(number), "kind": kind, "start_m": _number(start, 2), "width_m": _number(width, 2), "run": run}
            for kind, start, width, run in stands
        ]
    tables = [tuple(map(_plain, rows)) for rows in (walls, openings, obstacles, _diagonals(room.diagonals, plan))]
    return FormRoom(_plain(fields), tables[0], tables[1], tables[2], tables[3], plan)


def _diagonals(taped: Sequence[Diagonal], plan: DraftRoom | None) -> list[dict[str, str]]:
    """Diagonals of the survey, then those that can be taken, their lengths blank."""
    rows = [
        {
            "from_corner": str(diagonal.from_corner),
            "to_corner": str(diagonal.to_corner),
            "length_m": _number(diagonal.length_m, 2),
        }
        for diagonal in taped
    ]
    known = {frozenset((diagonal.from_corner, diagonal.to_corner)) for diagonal in taped}
    pairs = useful_diagonals(plan.path_m) if plan is not None and plan.closes else []
    more = [{"from_corner": str(a), "to_corner": str(b)} for a, b in pairs if frozenset((a, b)) not in known]
    return rows + more[: max(0, DIAGONALS.rows - len(rows))]


def _plain(row: dict[str, str]) -> dict[str, str]:
    return {key: escape_control_characters(text) for key, text in row.items()}


def _number(value: float | None, digits: int | None = None) -> str:
    """A number as it is printed; nothing for NaN."""
    if value is None or value != value:
        return ""
    return f"{value:g}" if digits is None else f"{value:.{digits}f}"


def _surface(surface: FloorOrCeiling | None) -> str:
    if surface is None:
        return ""
    return ", ".join(filter(None, (surface.beyond, surface.build_up)))


def form_sheets(rooms: Sequence[FormRoom], large_plans: bool = False) -> tuple[DrawingSheet, ...]:
    """All sheets of some rooms, those of one room one after another.

    `large_plans`: a page of squares more for each room whose plan is smaller than 1:50 on its sheet.
    """
    enlarged = [large_plans and room.plan is not None and plan_scale(room.plan, SQUARES) > WELL_READ for room in rooms]
    total = sum(room.sheets for room in rooms) + sum(enlarged)
    sheets: list[DrawingSheet] = []
    for room, is_enlarged in zip(rooms, enlarged, strict=True):
        for part in range(room.sheets):
            sheets.append(_sheet(room, part, len(sheets) + 1, total))
        if is_enlarged and room.plan is not None:
            sheets.append(_large_plan(room, room.plan, len(sheets) + 1, total))
    return tuple(sheets)


def _large_plan(room: FormRoom, plan: DraftRoom, number: int, total: int) -> DrawingSheet:
    """The plan alone on a page of squares, with the length of every wall beside its number."""
    name = room.fields.get("name", "")
    title = f"Plan: {name}" if name else "Plan"
    scale = plan_scale(plan, LARGE_SQUARES)
    words = f"Plan 1:{scale}: a square is {5.0 * scale / 1000.0:.2f} m. North at the top. Lengths in m. Dot: corner 1."
    paper = (
        *_heading(title, number, total), *squared_paper(LARGE_SQUARES),
        Words("HL-NOTE", (FRAME.west, LARGE_SQUARES.south - 2.8), words),
    )  # fmt: skip
    drawn = plan_on_squares(plan, LARGE_SQUARES, with_lengths=True)
    field_mm = (LARGE_SQUARES.west, LARGE_SQUARES.south, LARGE_SQUARES.east, LARGE_SQUARES.north)
    alt_text = f"{title}, page {number} of {total}"
    return DrawingSheet(
        number, total, 0.0, "plan", title, None, field_mm, drawn, paper, (), (name,) if name else (), alt_text, PAPER_MM
    )


def _sheet(room: FormRoom, part: int, number: int, total: int) -> DrawingSheet:
    name = room.fields.get("name", "")
    of_room = f", part {part + 1} of {room.sheets}" if room.sheets > 1 else ""
    title = f"Survey form: {name}{of_room}" if name else "Survey form"
    paper = [*_heading(title, number, total), *_header(room), *_rule(room)]
    paper += squared_paper(SQUARES)
    plan: list[Primitive] = []
    if room.plan is not None and part == 0:
        plan += plan_on_squares(room.plan, SQUARES)
    paper += _tables(room, part)
    return DrawingSheet(
        number, total, 0.0, "form", title, None, (SQUARES.west, SQUARES.south, SQUARES.east, SQUARES.north),
        tuple(plan), tuple(paper), (), (name,) if name else (), f"{title}, page {number} of {total}", PAPER_MM,
    )  # fmt: skip


def _heading(title: str, number: int, total: int) -> Iterator[Primitive]:
    page = f"page {number} of {total}"
    yield Words("HL-NOTE", (FRAME.east, 282.0), page, anchor="right")
    height_mm = next(
        (size_mm for size_mm in (LARGE_MM, MIDDLE_MM) if text_width_mm(title, size_mm, True) <= TITLE_WIDTH_MM),
        SMALL_MM,
    )
    shown = fitting(title, TITLE_WIDTH_MM, height_mm, True)
    yield Words("HL-NOTE", (FRAME.west, 282.0), shown, height_mm, bold=True)


def _header(room: FormRoom) -> Iterator[Primitive]:
    """The fields above the squares, each with its label above its value."""
    top = 277.0
    for row in HEADER:
        west = FRAME.west
        for key, label, width in row:
            yield rectangle("HL-FRAME", (west, top - FIELD_MM), (width, FIELD_MM), 0.25)
            yield Words("HL-FRAME", (west + 1.2, top - 2.3), label)
            if text := room.fields.get(key, ""):
                bold = text_width_mm(text, SMALL_MM, True) <= width - 2.4
                shown = fitting(text, width - 2.4, SMALL_MM, bold)
                yield Words("HL-FRAME", (west + 1.2, top - 7.2), shown, SMALL_MM, bold=bold)
            west += width
        top -= FIELD_MM


def _rule(room: FormRoom) -> Iterator[Primitive]:
    """How to walk round the room, the scale of the squares, and north."""
    rule = RULE if room.plan is None else CHECK_RULE
    for index, line in enumerate(rule):
        yield Words("HL-NOTE", (FRAME.west, 252.8 - 3.9 * index), fitting(line, FRAME.width_mm))
    if room.plan is None:
        words = "Squares of 5 mm: one is 0.10 m (1:20), 0.25 m (1:50) or 0.50 m (1:100). Draw an arrow to north."
    else:
        scale = plan_scale(room.plan, SQUARES)
        words = f"Plan 1:{scale}: a square is {5.0 * scale / 1000.0:.2f} m. North at the top. The dot is corner 1."
    yield Words("HL-NOTE", (FRAME.west, SQUARES.south - 2.8), words)


def _tables(room: FormRoom, part: int) -> list[Primitive]:
    """Walls and diagonals on the left, openings and what stands against the walls on the right, lines for notes."""
    walls = WALLS if room.plan is None else CHECKED_WALLS
    top, paper = 146.5, list[Primitive]()
    first = part * walls.rows
    numbers = [str(first + row) for row in range(1, walls.rows + 1)] if room.plan is None or not room.walls else []
    for west, tables in ((FRAME.west, ((walls, room.walls), (DIAGONALS, room.diagonals))),
                         (RIGHT_MM, ((OPENINGS, room.openings), (OBSTACLES, room.obstacles)))):  # fmt: skip
        below = top
        for table, rows in tables:
            shown = rows[part * table.rows : (part + 1) * table.rows]
            block = table_block(table, shown, numbers if table is walls else ())
            paper += block.at(west, below)
            below -= block.height_mm + 2.0
        if west == FRAME.west:
            paper.append(Words("HL-NOTE", (west, below - 2.0), NOTES[0]))
            paper.append(Line("HL-NOTE", ((west + 42.0, below - 4.0), (RIGHT_MM - 2.0, below - 4.0)), 0.13))
        else:
            paper += _note_lines(below)
    return paper


def _note_lines(top: float) -> Iterator[Primitive]:
    for index, label in enumerate(NOTES[1:]):
        y = top - 2.0 - 8.0 * index
        yield Words("HL-NOTE", (RIGHT_MM, y), label)
        west = RIGHT_MM + (44.0 if index == 0 else 14.0)
        yield Line("HL-NOTE", ((west, y - 2.0), (FRAME.east, y - 2.0)), 0.13)
    y = top - 20.0
    while y > FRAME.south:
        yield Line("HL-NOTE", ((RIGHT_MM, y), (FRAME.east, y)), 0.13)
        y -= 8.0
