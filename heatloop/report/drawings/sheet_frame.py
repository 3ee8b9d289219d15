"""Common parts of every sheet: frame, centring marks, a bar to measure, title block, revisions and the warning.

Paper A3 with its frame after ISO 5457, the fields of the block after ISO 7200 (both from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from heatloop.report.control.control import DocumentControl
from heatloop.report.control.title_block import BlockField
from heatloop.report.drawings.blocks import Block, Zone
from heatloop.report.drawings.geometry import (
    LARGE_MM,
    MIDDLE_MM,
    SMALL_MM,
    Line,
    PlanWindow,
    Primitive,
    Words,
    fitting,
    moved,
    rectangle,
    text_width_mm,
    wrapped,
)
from heatloop.text.formatting import escape_control_characters

PAPER_MM = (420.0, 297.0)

FRAME = Zone(20.0, 10.0, 410.0, 287.0)

BLOCK_MM = (180.0, 47.0)

LINE_MM = 4.4

HANGING_MM = 2.4

BAR_MM = 100.0

STRIPS = "strips with a diagonal: obstacles"
"""Explanation of the furniture, stairs and sanitary ware on a plan."""

BAR_WORDS = "100 mm when printed at 100 %"

BLOCK_ROWS: tuple[tuple[float, tuple[tuple[str, float], ...]], ...] = (
    (11.0, (("owner", 60.0), ("client", 120.0))),
    (14.0, (("title", 125.0), ("type", 55.0))),
    (11.0, (("created", 42.0), ("checked", 42.0), ("approved", 42.0), ("status", 54.0))),
    (
        11.0,
        (
            ("identification", 49.0), ("revision", 17.0), ("date", 25.0), ("scale", 14.0), ("sheet", 14.0),
            ("input", 30.5), ("design", 30.5),
        ),
    ),
)  # fmt: skip
"""Rows of the block from the top: height, then key and width of each field, mm."""

BOLD = frozenset({"title", "status", "identification", "revision", "owner"})


def frame() -> tuple[Primitive, ...]:
    """The frame, centring marks, and the bar of exactly 100 mm on its lower edge."""
    wide, high = PAPER_MM
    middle, half = wide / 2.0, high / 2.0
    x, y = FRAME.west + 3.0, FRAME.south + 2.0
    marks = (
        ((middle, 0.0), (middle, FRAME.south)), ((middle, high), (middle, FRAME.north)),
        ((0.0, half), (FRAME.west, half)), ((wide, half), (FRAME.east, half)),
    )  # fmt: skip
    return (
        rectangle("HL-FRAME", (FRAME.west, FRAME.south), (FRAME.width_mm, FRAME.height_mm), 0.7),
        *(Line("HL-FRAME", ends, 0.35) for ends in marks),
        Line("HL-FRAME", ((x, y), (x + BAR_MM, y)), 0.35),
        *(Line("HL-FRAME", ((x + at, y - 1.0), (x + at, y + 1.0)), 0.35) for at in (0.0, BAR_MM)),
        Words("HL-FRAME", (x + BAR_MM + 2.0, y), BAR_WORDS),
    )


def title_block(fields: Mapping[str, BlockField]) -> Block:
    """The title block with its fields, each name above its value."""
    primitives: list[Primitive] = []
    top = 0.0
    for high, row in BLOCK_ROWS:
        west = 0.0
        for key, wide in row:
            primitives.append(rectangle("HL-FRAME", (west, top - high), (wide, high), 0.35))
            primitives.append(Words("HL-FRAME", (west + 1.2, top - 2.7), fields[key].name))
            primitives.append(_value(key, fields[key].value, (west + 1.2, top - high), wide - 2.4, high))
            west += wide
        top -= high
    primitives.append(rectangle("HL-FRAME", (0.0, top), (BLOCK_MM[0], -top), 0.7))
    return Block(BLOCK_MM[0], -top, tuple(primitives))


def _value(key: str, value: str, foot: tuple[float, float], width_mm: float, high: float) -> Words:
    """A value as large as its field allows; shortened where it does not fit at all."""
    text, bold = escape_control_characters(value), key in BOLD
    heights = (LARGE_MM, MIDDLE_MM, SMALL_MM) if key == "title" else (SMALL_MM,)
    for height_mm in heights:
        if text_width_mm(text, height_mm, bold) <= width_mm:
            return Words("HL-FRAME", (foot[0], foot[1] + 1.5 + height_mm / 2.0 + 0.4), text, height_mm, bold=bold)
    bold = bold and text_width_mm(text, SMALL_MM) > width_mm
    return Words("HL-FRAME", (foot[0], foot[1] + 3.1), fitting(text, width_mm, SMALL_MM, bold), SMALL_MM, bold=bold)


def control_block(control: DocumentControl, fields: Mapping[str, BlockField]) -> Block:
    """Title block with the revisions and the warning above it, its lower edge the lower edge of the frame."""
    lines: list[tuple[str, bool]] = []
    if control.revisions:
        lines.append(("Revisions", True))
        shown = control.revisions[-4:]
        lines += [
            (fitting(f"{part.mark}   {part.on.isoformat()}   {escape_control_characters(part.words)}", 176.0), False)
            for part in shown
        ]
    lines += [(line, True) for line in wrapped(escape_control_characters(control.warning), 174.0, bold=True)]
    block = title_block(fields)
    above = text_lines(lines, 3.0)
    raised = moved(block.primitives, 0.0, -above.height_mm)
    return Block(BLOCK_MM[0], above.height_mm + block.height_mm, (*above.primitives, *raised))


def text_lines(lines: Sequence[tuple[str, bool]], indent_mm: float = 0.0) -> Block:
    """Lines of text one below another, bold or not; one that begins with blanks is set in by `HANGING_MM`."""
    primitives = tuple(
        Words("HL-NOTE", (indent_mm + HANGING_MM * text.startswith(" "), -LINE_MM * (i + 0.5)), text.strip(), bold=bold)
        for i, (text, bold) in enumerate(lines)
    )
    width = max([text_width_mm(text, bold=bold) for text, bold in lines], default=0.0)
    return Block(indent_mm + width, LINE_MM * len(lines) + (1.5 if lines else 0.0), primitives)


def plan_foot(window: PlanWindow, west: float, east: float, y: float) -> tuple[Primitive, ...]:
    """Below a plan: a bar of whole metres, some 20 to 50 mm long, north, and the scale, on two lines if necessary."""
    metres = next(n for n in (1, 2, 5, 10, 20, 50) if n * 1000.0 / window.scale >= 20.0)
    bar_mm = metres * 1000.0 / window.scale
    north = west + bar_mm + 16.0
    said = wrapped(f"plan 1:{window.scale}, skirting drawn away from the wall; {STRIPS}", east - north - 9.0)
    ticks = [west + share * bar_mm for share in (0.0, 0.25, 0.5, 0.75, 1.0)]
    return (
        Line("HL-FRAME", ((west, y), (west + bar_mm, y)), 0.5),
        *(Line("HL-FRAME", ((x, y - 1.0), (x, y + 1.0)), 0.25) for x in ticks),
        Words("HL-FRAME", (west + bar_mm + 2.0, y), f"{metres} m"),
        Line("HL-FRAME", ((north, y - 3.0), (north, y + 3.0)), 0.35),
        Line("HL-FRAME", ((north - 1.0, y + 1.0), (north, y + 3.0), (north + 1.0, y + 1.0)), 0.35),
        Words("HL-FRAME", (north + 2.5, y), "N", bold=True),
        *(
            Words("HL-FRAME", (north + 9.0, y + LINE_MM * ((len(said) - 1) / 2.0 - place)), line)
            for place, line in enumerate(said)
        ),
    )
