"""A sheet as SVG, text as text: for pages, where a reader may search it."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from heatloop.report.drawings.geometry import CAPITAL_SHARE, DrawingSheet, Line, Ring, Words
from heatloop.report.drawings.letters import FAMILY

DASHES = {"solid": "", "dashed": "2 1", "dotted": "0.5 0.7", "chain": "4 1 0.6 1"}

ON_PLAN = frozenset({"HL-DIM", "HL-WALL-TEXT", "HL-ROOM"})
"""Layers whose texts are over lines and have a white ground."""


def sheet_svg(sheet: DrawingSheet) -> str:
    """The sheet in a drawing whose units are mm, with its layers as classes."""
    wide, high = sheet.paper_mm
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:g} {high:g}" width="{wide:g}mm" '
        f'height="{high:g}mm" role="img" aria-label={quoteattr(sheet.alt_text)} font-family="{FAMILY}, sans-serif">',
        f"<title>{escape(sheet.alt_text)}</title>",
        f'<rect width="{wide:g}" height="{high:g}" fill="white"/>',
    ]
    drawn = [primitive for primitive in sheet.primitives if not isinstance(primitive, Words)]
    parts += [_drawn(primitive, high) for primitive in drawn if not isinstance(primitive, Words)]
    parts += [_words(words, high) for words in sheet.words]
    return "\n".join([*parts, "</svg>"]) + "\n"


def _drawn(primitive: Line | Ring, high: float) -> str:
    if isinstance(primitive, Ring):
        x, y = primitive.centre
        fill = "black" if primitive.filled else "white"
        return (
            f'<circle class="{primitive.layer}" cx="{x:.3f}" cy="{high - y:.3f}" r="{primitive.radius_mm:g}" '
            f'fill="{fill}" stroke="black" stroke-width="{primitive.width_mm:g}"/>'
        )
    points = " ".join(f"{x:.3f},{high - y:.3f}" for x, y in primitive.points)
    level = round(255 * primitive.grey)
    dash = f' stroke-dasharray="{DASHES[primitive.dash]}"' if DASHES[primitive.dash] else ""
    return (
        f'<polyline class="{primitive.layer}" points="{points}" fill="none" stroke="rgb({level},{level},{level})" '
        f'stroke-width="{primitive.width_mm:g}"{dash}/>'
    )


def _words(words: Words, high: float) -> str:
    x, y = words.start
    ground = ""
    if words.layer in ON_PLAN:
        points = " ".join(f"{a:.3f},{high - b:.3f}" for a, b in words.box.corners)
        ground = f'<polygon points="{points}" fill="white"/>'
    weight = ' font-weight="bold"' if words.bold else ""
    turn = f' transform="rotate({-words.angle:.3f} {x:.3f} {high - y:.3f})"' if words.angle else ""
    size = words.height_mm / CAPITAL_SHARE
    return (
        f'{ground}<text class="{words.layer}" x="{x:.3f}" y="{high - y:.3f}" font-size="{size:.3f}"{weight}{turn}>'
        f"{escape(words.text)}</text>"
    )
