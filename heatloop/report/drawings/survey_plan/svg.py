"""The plan of a survey that is being entered as SVG with text as text, written by plain string templates.

Every rule stands in attributes, so that nothing of it reaches the rest of a page.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator, Sequence
from xml.sax.saxutils import escape, quoteattr

from heatloop.layout.plan_coordinates import DrawnWallItem
from heatloop.report.drawings.geometry import CAPITAL_SHARE, Point, Words
from heatloop.report.drawings.letters import FAMILY
from heatloop.report.drawings.survey_plan.level import DISC_MM, LevelPicture, RoomPicture
from heatloop.report.drawings.survey_plan.remarks import Remark
from heatloop.text.formatting import escape_control_characters, number

_Place = Callable[[Point], Point]

INK, GREY, PAPER, SOUND, FAULTY = "#22282e", "#5c6670", "#ffffff", "#f1f5f2", "#fbe6df"

GAP, GLASS, RULE = "#b3261e", "#1f6a9c", "#8d979f"

LINE_MM, LETTER_SHARE = 4.4, 0.62
"""Lines of the list below the plan; width of a letter as a share of its size."""

LIST_SIZE_MM, HEAD_SIZE_MM = 3.1, 3.8

MIN_WIDTH_MM = 150.0

KEY = (
    "North at the top. Along a wall: its number and length in mm. Door: gap; window: blue; obstacle: hatched; "
    "taped diagonal: dashed grey, its corners and length in mm. "
    "Tinted: a room with an error, its number in a disc. Dashed red: a room that does not close, from the end of its "
    "last wall (ring) to the beginning of its first (dot)"
)


def plan_svg(levels: Sequence[LevelPicture], remarks: Sequence[Remark], notes: Sequence[str], alt_text: str) -> str:
    """All levels, one below another, then what cannot be drawn and the faults by their numbers."""
    width = max([MIN_WIDTH_MM, *(level.width_mm for level in levels)])
    parts, top = [], 2.0
    for level in levels:
        head = f"Level {number(level.level_m, 2, sign=True)} m, 1:{level.scale}"
        parts.append(_text(4.0, top + HEAD_SIZE_MM, head, HEAD_SIZE_MM, bold=True))
        top += HEAD_SIZE_MM + 2.0
        parts += _level(level, top)
        top += level.height_mm + 2.0
    lines = [(line, False) for line in _below(levels, notes)]
    lines += [(f"{remark.number}  {remark.words}", True) for remark in remarks]
    for text, is_fault in lines:
        for index, line in enumerate(_wrapped(text, width - 10.0)):
            top += LINE_MM
            parts.append(_text(4.0 if index == 0 else 8.0, top, line, LIST_SIZE_MM, GAP if is_fault else INK))
    return "\n".join([*_head(width, top + 4.0, alt_text), *parts, "</svg>"]) + "\n"


def level_svg(level: LevelPicture, alt_text: str) -> str:
    """One level alone, for a page that has the list as text."""
    return "\n".join([*_head(level.width_mm, level.height_mm, alt_text), *_level(level, 0.0), "</svg>"]) + "\n"


def _head(width: float, height: float, alt_text: str) -> list[str]:
    return [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.1f} {height:.1f}" width="{width:.1f}mm" '
        f'height="{height:.1f}mm" role="img" aria-label={quoteattr(alt_text)} font-family="{FAMILY}, Verdana, '
        'sans-serif">',
        f"<title>{escape(alt_text)}</title>",
        f'<rect width="{width:.1f}" height="{height:.1f}" fill="{PAPER}"/>',
    ]


def _below(levels: Sequence[LevelPicture], notes: Sequence[str]) -> Iterator[str]:
    if levels:
        yield f"{KEY}."
    named = [room for level in levels for room in level.rooms if room.numbered]
    if named:
        yield "rooms: " + ", ".join(f"[{picture.room.index + 1}] {shown_name(picture)}" for picture in named)
    yield from notes


def shown_name(picture: RoomPicture) -> str:
    """Name of a room, or its number where it has none."""
    return escape_control_characters(picture.room.name) or f"room {picture.room.index + 1}"


def _wrapped(text: str, width_mm: float) -> list[str]:
    return textwrap.wrap(text, max(20, int(width_mm / (LETTER_SHARE * LIST_SIZE_MM))), break_long_words=True) or [""]


def _level(level: LevelPicture, top: float) -> Iterator[str]:
    def place(point: Point) -> Point:
        return point[0], top + level.height_mm - point[1]

    yield from (part for room in level.rooms for part in _floor(room, place))
    yield from (part for room in level.rooms for part in _drawn(room, place))


def _points(points: Sequence[Point], place: _Place) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in map(place, points))


def _floor(picture: RoomPicture, place: _Place) -> Iterator[str]:
    """The floor of a room, tinted where it has faults."""
    words = f"{shown_name(picture)}: {_fault_words(picture)}"
    fill = FAULTY if picture.faults or not picture.room.closes else SOUND
    yield f'<polygon points="{_points(picture.path, place)}" fill="{fill}"><title>{escape(words)}</title></polygon>'


def _fault_words(picture: RoomPicture) -> str:
    if not picture.faults:
        return "no errors"
    return f"{'errors' if len(picture.faults) > 1 else 'error'} {', '.join(map(str, picture.faults))}"


def _drawn(picture: RoomPicture, place: _Place) -> Iterator[str]:
    for outline in picture.obstacles:
        points = _points(outline, place)
        yield f'<polygon points="{points}" fill="#e3e6e8" stroke="{GREY}" stroke-width="0.25"/>'
        yield from _hatching(outline, place)
    yield (
        f'<polyline points="{_points(picture.path, place)}" fill="none" stroke="{INK}" stroke-width="0.6" '
        'stroke-linejoin="miter" stroke-linecap="square"/>'
    )
    if not picture.room.closes:
        yield _line((picture.path[-1], picture.path[0]), place, PAPER, 0.9)
        yield _line((picture.path[-1], picture.path[0]), place, GAP, 0.7, "1.6 1.2")
        for point, fill in ((picture.path[-1], PAPER), (picture.path[0], GAP)):
            x, y = place(point)
            yield f'<circle cx="{x:.2f}" cy="{y:.2f}" r="1" fill="{fill}" stroke="{GAP}" stroke-width="0.4"/>'
    for item, ends in picture.openings:
        yield _line(ends, place, PAPER, 1.3)
        if _is_window(item):
            yield _line(ends, place, GLASS, 0.9)
            yield _line(ends, place, PAPER, 0.3)
        else:
            yield _line(ends, place, GREY, 0.2, "1 0.8")
    yield from (_line(ends, place, RULE, 0.2, "2 1") for ends in picture.diagonals)
    yield from (_words(words, place) for words in picture.words)
    for disc in picture.discs:
        x, y = place(disc.at)
        yield f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{DISC_MM}" fill="{GAP}"/>'
        size = 3.0 if disc.number < 100 else 2.2
        yield (
            f'<text x="{x:.2f}" y="{y + 0.36 * size:.2f}" font-size="{size}" font-weight="bold" text-anchor="middle" '
            f'fill="{PAPER}">{disc.number}</text>'
        )


def _hatching(outline: Sequence[Point], place: _Place) -> Iterator[str]:
    """Strokes across an obstacle, from its wall inwards."""
    a, b, c, d = outline
    count = max(2, round(((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5 / 3.0))
    for step in range(count):
        low, high = step / count, (step + 1) / count
        start = (a[0] + low * (b[0] - a[0]), a[1] + low * (b[1] - a[1]))
        end = (d[0] + high * (c[0] - d[0]), d[1] + high * (c[1] - d[1]))
        yield _line((start, end), place, GREY, 0.2)


def _is_window(item: DrawnWallItem) -> bool:
    return float(getattr(item.item, "sill_m", 0.0) or 0.0) > 0.0


def _line(ends: Sequence[Point], place: _Place, colour: str, width: float, dash: str = "") -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<polyline points="{_points(ends, place)}" fill="none" stroke="{colour}" stroke-width="{width}"{dashes}/>'


def _words(words: Words, place: _Place) -> str:
    x, y = place(words.start)
    turn = f' transform="rotate({-words.angle:.2f} {x:.2f} {y:.2f})"' if words.angle else ""
    weight = ' font-weight="bold"' if words.bold else ""
    colour = INK if words.layer == "HL-ROOM" else GREY
    size = words.height_mm / CAPITAL_SHARE
    text = escape(words.text)
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}" fill="{colour}"{weight}{turn}>{text}</text>'


def _text(x: float, y: float, text: str, size: float, colour: str = INK, bold: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" fill="{colour}"{weight}>{escape(text)}</text>'
