"""The sheets of first fix: rooms, scale and template of each sheet, and positions on the paper.

Of the choices without overlaps, the one with the fewest sheets is used, then the largest scale, then the first
template. The writers draw the sheets without further decisions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from heatloop.handover.first_fix.model import PipePosition
from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.layout.plan_coordinates import rooms_by_storey
from heatloop.report.control.control import DocumentControl
from heatloop.report.control.title_block import DocumentSheet, block_fields
from heatloop.report.drawings.blocks import GAP_MM, Block, Zone, filled
from heatloop.report.drawings.continuations import BAND_MM, continuations
from heatloop.report.drawings.corners import close_positions, corner_blocks
from heatloop.report.drawings.details import detail_block, details_title, kinds_of, strip_blocks, type_letters
from heatloop.report.drawings.geometry import DrawingSheet, Hole, Line, PlanWindow, Point, Primitive, moved
from heatloop.report.drawings.plan.level_plan import level_bounds_m, level_on_paper
from heatloop.report.drawings.plan.plan_texts import PlanTexts, plan_texts
from heatloop.report.drawings.set_out_table import SetOutTable, set_out_rows
from heatloop.report.drawings.sheet_frame import BLOCK_MM, FRAME, control_block, frame, plan_foot
from heatloop.report.drawings.sheet_notes import PlanRemarks, SheetNotes, sheet_notes
from heatloop.report.drawings.tiles import KEY_MM, key_plan, tiles_of
from heatloop.text.formatting import escape_control_characters, listing, number, plural

CODE = "FF"

SCALES = (20, 50, 100)
"""Scales of plans (ISO 5455), largest first."""

SMALLEST_SCALES = (200, 500, 1000)
"""For a room that does not fit on paper at any of `SCALES`."""

EAST_MM, FOOT_MM, MARGIN_MM, BAR_ROW_MM = 230.0, 9.0, 3.0, 6.0

MAX_CROWDED = 2
"""Crowded rooms that a choice may give to details before another is looked for."""


@dataclass(frozen=True)
class Template:
    """Where plan, lower left part and right part lie. P has neither table nor details on its sheet."""

    name: str
    field: Zone
    left: Zone
    right: Zone


TEMPLATES = (
    Template("T", Zone(FRAME.west, 118.0, EAST_MM, FRAME.north), Zone(FRAME.west, FRAME.south, EAST_MM, 118.0),
             Zone(EAST_MM, FRAME.south, FRAME.east, FRAME.north)),
    Template("W", Zone(FRAME.west, 168.0, FRAME.east, FRAME.north), Zone(FRAME.west, FRAME.south, EAST_MM, 168.0),
             Zone(EAST_MM, FRAME.south, FRAME.east, 168.0)),
    Template("P", Zone(FRAME.west, 84.0, FRAME.east, FRAME.north), Zone(FRAME.west, FRAME.south, EAST_MM, 84.0),
             Zone(EAST_MM, FRAME.south, FRAME.east, 84.0)),
)  # fmt: skip


def templates(stack_mm: float) -> tuple[Template, ...]:
    """The templates, each with enough space below its plan for title block, revisions and key plan."""
    made = []
    for template in TEMPLATES:
        south = (
            max(template.field.south, FRAME.south + stack_mm + 2.0 * MARGIN_MM)
            if template.name == "P"
            else template.field.south
        )
        field, left = replace(template.field, south=south), replace(template.left, north=south)
        right = replace(template.right, north=south) if template.name == "P" else template.right
        made.append(Template(template.name, field, left, right))
    return tuple(made)


ORDER = "TWP"

LISTS = Template("L", FRAME, Zone(FRAME.west, FRAME.south, EAST_MM, FRAME.north),
                 Zone(EAST_MM, FRAME.south, FRAME.east, FRAME.north))  # fmt: skip
"""A sheet without a plan: what found no room beside one."""


@dataclass(frozen=True)
class _Draft:
    """A sheet without its title block and number."""

    template: str
    window: PlanWindow | None
    field: Zone
    plan: tuple[Primitive, ...]
    paper: tuple[Primitive, ...]
    holes: tuple[Hole, ...] = ()
    rooms: tuple[str, ...] = ()
    key: Block | None = None


@dataclass(frozen=True)
class _Choice:
    """The sheets of some rooms, and their merit: a lower value is better."""

    drafts: tuple[_Draft, ...]
    lost: int
    crowded: int
    scale: int
    rank: int

    @property
    def merit(self) -> tuple[int, bool, int, int, int]:
        """Criteria of the comparison, most important first."""
        return self.lost, self.crowded > MAX_CROWDED, len(self.drafts), self.scale, self.rank

    @property
    def is_perfect(self) -> bool:
        """Whether another choice can be better only by its scale."""
        return not self.lost and not self.crowded and len(self.drafts) == 1


@lru_cache(maxsize=2)  # the search for places takes a second or two, and an issue shows its sheets more than once
def first_fix_sheets(first_fix: FirstFixResult, control: DocumentControl) -> tuple[DrawingSheet, ...]:
    """All sheets of a first fix, level by level; levels without a position have none."""
    drafts: list[tuple[float, _Draft]] = []
    for level_m, rooms in rooms_by_storey(first_fix.survey, first_fix.layout).items():
        marked = {position.room for position in first_fix.positions}
        if marked & set(rooms):
            first = len(drafts) + 1
            drafts += [
                (level_m, draft) for draft in _joined(first_fix, rooms, _level(first_fix, control, rooms), first)
            ]
    return tuple(
        _sheet(first_fix, control, level_m, draft, index, len(drafts))
        for index, (level_m, draft) in enumerate(drafts, start=1)
    )


def _joined(
    first_fix: FirstFixResult, rooms: Mapping[str, Point], drafts: Sequence[_Draft], first: int
) -> list[_Draft]:
    """The sheets of a level, numbered from `first`, with marks where the plan of a part goes on on another sheet."""
    edges = {
        sheet: level_bounds_m(first_fix, {name: rooms[name] for name in draft.rooms})
        for sheet, draft in enumerate(drafts, start=first)
        if draft.window is not None
    }
    joined = []
    for sheet, draft in enumerate(drafts, start=first):
        if draft.window is not None:
            others = {number: bounds for number, bounds in edges.items() if number != sheet}
            draft = replace(draft, paper=(*draft.paper, *continuations(draft.window, edges[sheet], others)))
        joined.append(draft)
    return joined


def _level(first_fix: FirstFixResult, control: DocumentControl, rooms: Mapping[str, Point]) -> list[_Draft]:
    """The sheets of a level: all of it, or tile by tile."""
    marked = {position.room for position in first_fix.positions}
    stack_mm = _control_stack(control, DocumentSheet(CODE), None).height_mm
    part_mm = stack_mm + KEY_MM[1] + 9.0

    def fits(some: Mapping[str, Point]) -> bool:
        own_mm = stack_mm if len(some) == len(rooms) else part_mm
        size = _Size(*_size_m(first_fix, some), 0.0 if len(some) == len(rooms) else BAND_MM)
        return any(size.fits(scale, template) for scale in SCALES for template in templates(own_mm))

    tiles = tiles_of(rooms, fits, lambda some: level_bounds_m(first_fix, some))
    drafts: list[_Draft] = []
    for tile in tiles:
        if marked & set(tile):
            key = key_plan(first_fix, rooms, tile) if len(tile) < len(rooms) else None
            drafts += _best(first_fix, control, tile, key).drafts
    return drafts


def _best(
    first_fix: FirstFixResult, control: DocumentControl, rooms: Mapping[str, Point], key: Block | None
) -> _Choice:
    """The best choice for some rooms; smaller scales only for a room that is too large for the usual ones."""
    shapes = templates(_control_stack(control, DocumentSheet(CODE), key).height_mm)
    size = _Size(*_size_m(first_fix, rooms), 0.0 if key is None else BAND_MM)
    tries = [(scale, shape) for scale in SCALES for shape in shapes if size.fits(scale, shape)]
    if not tries:
        tries = [(n, shape) for n in SMALLEST_SCALES for shape in shapes if size.fits(n, shape)][:1]
    best: _Choice | None = None
    for scale, template in tries:
        choice = _choice(first_fix, control, rooms, key, scale, template)
        if best is None or choice.merit < best.merit:
            best = choice
        if choice.is_perfect:
            break
    if best is None:
        raise ValueError(f"rooms {listing(rooms)} are larger than any sheet holds")
    return best


def _size_m(first_fix: FirstFixResult, rooms: Mapping[str, Point]) -> tuple[float, float]:
    west, south, east, north = level_bounds_m(first_fix, rooms)
    return east - west, north - south


@dataclass(frozen=True)
class _Size:
    """Width and height of some rooms, and the band that is kept free about their plan on paper."""

    wide_m: float
    high_m: float
    band_mm: float

    def on_paper(self, scale: int) -> tuple[float, float]:
        """Width and height at a scale, mm."""
        return self.wide_m * 1000.0 / scale, self.high_m * 1000.0 / scale

    def fits(self, scale: int, template: Template) -> bool:
        """Whether the rooms at a scale fit into the field of a template."""
        (wide, high), edge = self.on_paper(scale), 2.0 * (MARGIN_MM + self.band_mm)
        return wide <= template.field.width_mm - edge and high <= template.field.height_mm - FOOT_MM - edge


def _choice(
    first_fix: FirstFixResult,
    control: DocumentControl,
    rooms: Mapping[str, Point],
    key: Block | None,
    scale: int,
    template: Template,
) -> _Choice:
    size = _Size(*_size_m(first_fix, rooms), 0.0 if key is None else BAND_MM)
    wide, high = size.on_paper(scale)
    west, south, *_ = level_bounds_m(first_fix, rooms)
    template = _drawn_close(template, high + 2.0 * size.band_mm)
    field = template.field
    origin = (
        field.west + (field.width_mm - wide) / 2.0,
        field.south + FOOT_MM + (field.height_mm - FOOT_MM - high) / 2.0,
    )
    window = PlanWindow(scale, (west, south), origin)
    level = level_on_paper(first_fix, rooms, window)
    numbers = {room.name: index for index, room in enumerate(first_fix.survey.rooms, start=1)}
    edge = 1.0 + size.band_mm
    inner = (field.west + edge, field.south + FOOT_MM + size.band_mm, field.east - edge, field.north - edge)
    texts = plan_texts(level, inner, numbers, close_positions(level))
    positions = tuple(position for position in first_fix.positions if position.room in rooms)
    enlarged = tuple(corner_blocks(level, positions))
    drafts, shown = _drafts(first_fix, control, _Plan(positions, texts, enlarged), key, template)
    first = replace(
        drafts[0],
        window=window,
        plan=(*level.drawn, *texts.primitives, *(part for corner in texts.corners[:shown] for part in corner)),
        paper=(
            *drafts[0].paper,
            *_partings(template),
            *plan_foot(window, field.west + 6.0, field.east - MARGIN_MM, field.south + 5.0),
        ),
        holes=level.holes,
        rooms=tuple(rooms),
        key=key,
    )
    return _Choice((first, *drafts[1:]), texts.lost, len(texts.crowded), scale, ORDER.index(template.name))


def _drawn_close(template: Template, high_mm: float) -> Template:
    """The template with no more field than a plan of that height needs: what is below has the rest."""
    south = max(template.field.south, FRAME.north - high_mm - FOOT_MM - 4.0 * MARGIN_MM)
    if template.name == "P":
        return template
    right = replace(template.right, north=south) if template.name == "W" else template.right
    return Template(template.name, replace(template.field, south=south), replace(template.left, north=south), right)


def _partings(template: Template) -> tuple[Line, ...]:
    """The lines between the parts of a sheet."""
    field, right = template.field, template.right
    under = Line("HL-FRAME", ((field.west, field.south), (field.east, field.south)), 0.35)
    return under, Line("HL-FRAME", ((EAST_MM, FRAME.south), (EAST_MM, right.north)), 0.35)


@dataclass(frozen=True)
class _Plan:
    """Contents of a plan: its positions, its texts, and enlargements of its corners."""

    positions: tuple[PipePosition, ...]
    texts: PlanTexts
    corners: tuple[Block, ...]


def _drafts(
    first_fix: FirstFixResult, control: DocumentControl, plan: _Plan, key: Block | None, template: Template
) -> tuple[list[_Draft], int]:
    """The sheet of a plan without its plan, and the sheets for what does not fit on it; how many corners are enlarged.

    Corners are enlarged where there is space for this.
    """
    positions, texts = plan.positions, plan.texts
    stack = _control_stack(control, DocumentSheet(CODE), key)
    letters = type_letters(kinds_of(first_fix.positions))  # the same on all sheets
    kinds = sorted(kinds_of(positions).items(), key=lambda kind: (len(letters[kind[1][0]]), letters[kind[1][0]]))
    pipes = sum(len(position.pipes) for position in positions)
    title = f"Set-out of {plural(pipes, 'pipe')} at {plural(len(positions), 'position')}, mm"
    rows = set_out_rows(first_fix.survey, positions, first_fix.runs, letters)
    table = SetOutTable(rows, title, BLOCK_MM[0] - 6.0)
    blocks: list[Block] = []
    for room in texts.crowded:
        blocks += strip_blocks(positions, room, len(blocks) + 1)
    strips = len(blocks)
    blocks.append(details_title(BLOCK_MM[0] - 2.0 * MARGIN_MM))
    blocks += [detail_block(kind, letters[own[0]], own) for kind, own in kinds]
    blocks += plan.corners
    notes = sheet_notes(
        first_fix, positions, PlanRemarks(texts.unnamed, tuple(texts.crowded), strips), BLOCK_MM[0] - 6.0
    )
    left = _inner(template.left, BAR_ROW_MM)
    right = _inner(template.right, stack.height_mm + 2.0)
    paper: list[Primitive] = []
    done = noted = 0
    blocks_left = tuple(blocks)
    if template.name == "T":
        done, right = _set(paper, right, *table.part(0, right.height_mm))
        noted, right = _set(paper, right, *notes.part(0, right.height_mm))
        placed, blocks_left, left = filled(left, blocks_left)
        noted, left = _set(paper, left.below(GAP_MM), *notes.part(noted, left.height_mm - GAP_MM))
        paper += placed
    elif template.name == "W":
        noted, right = _set(paper, right, *notes.part(0, right.height_mm))
        done, left = _set(paper, left, *table.part(0, left.height_mm))
        placed, blocks_left, _ = filled(left, blocks_left)
        more, blocks_left, _ = filled(right, blocks_left)
        paper += [*placed, *more]
    else:
        noted, left = _set(paper, left, *notes.part(0, left.height_mm))
        noted, right = _set(paper, right, *notes.part(noted, right.height_mm))
    first = _Draft(template.name, None, template.field, (), tuple(paper))
    left_over = tuple(block for block in blocks_left if block not in plan.corners)
    shown = len(plan.corners) - (len(blocks_left) - len(left_over))
    return [first, *_lists(table, done, notes, noted, left_over, stack)], shown


def _set(paper: list[Primitive], zone: Zone, block: Block, following: int) -> tuple[int, Zone]:
    """Set a block at the top of a zone; what follows it in its list, and the zone that is left."""
    if not block.primitives:
        return following, zone
    paper += block.at(zone.west, zone.north)
    return following, zone.below(block.height_mm + GAP_MM)


def _lists(
    table: SetOutTable, done: int, notes: SheetNotes, noted: int, blocks_left: tuple[Block, ...], stack: Block
) -> list[_Draft]:
    """Sheets without a plan for the rows, blocks and notes that are left."""
    drafts: list[_Draft] = []
    while done < len(table.rows) or blocks_left or noted < len(notes.lines):
        paper: list[Primitive] = [Line("HL-FRAME", ((EAST_MM, FRAME.south), (EAST_MM, FRAME.north)), 0.35)]
        before = done, len(blocks_left), noted
        for zone in (_inner(LISTS.left, BAR_ROW_MM), _inner(LISTS.right, stack.height_mm + 2.0)):
            if done < len(table.rows):
                done, zone = _set(paper, zone, *table.part(done, zone.height_mm))
            if done == len(table.rows) and blocks_left:
                placed, blocks_left, zone = filled(zone, blocks_left)
                paper += placed
                zone = zone.below(GAP_MM)
            if not blocks_left and noted < len(notes.lines):
                noted, zone = _set(paper, zone, *notes.part(noted, zone.height_mm))
        if before == (done, len(blocks_left), noted):
            raise ValueError("a detail or a position of first fix is larger than a sheet")
        drafts.append(_Draft("L", None, LISTS.field, (), tuple(paper)))
    return drafts


def _inner(zone: Zone, foot_mm: float) -> Zone:
    """A zone within its margins, above something at its foot."""
    return Zone(zone.west + MARGIN_MM, zone.south + foot_mm, zone.east - MARGIN_MM, zone.north - MARGIN_MM)


def _control_stack(control: DocumentControl, sheet: DocumentSheet, key: Block | None) -> Block:
    """Title block, revisions and warning, with the key plan of a tile above them."""
    block = control_block(control, block_fields(control, sheet))
    if key is None:
        return block
    raised = moved(block.primitives, 0.0, -key.height_mm - 2.0)
    return Block(block.width_mm, block.height_mm + key.height_mm + 2.0, (*moved(key.primitives, 3.0, 0.0), *raised))


def _sheet(
    first_fix: FirstFixResult, control: DocumentControl, level_m: float, draft: _Draft, index: int, of: int
) -> DrawingSheet:
    title = f"{escape_control_characters(control.project)}: first fix, level {number(level_m, 2, sign=True)} m"
    scale = "" if draft.window is None else f"1:{draft.window.scale}"
    block = _control_stack(control, DocumentSheet(CODE, 1, index, of, title, scale), draft.key)
    paper = (*draft.paper, *frame(), *block.at(FRAME.east - block.width_mm, FRAME.south + block.height_mm))
    shown = listing(map(escape_control_characters, draft.rooms)) if draft.rooms else "table and details"
    alt = f"First fix, sheet {index} of {of}, level {number(level_m, 2, sign=True)} m: {shown}"
    return DrawingSheet(
        index, of, level_m, draft.template, title, draft.window,
        (draft.field.west, draft.field.south, draft.field.east, draft.field.north),
        draft.plan, paper, draft.holes, draft.rooms, alt,
    )  # fmt: skip
