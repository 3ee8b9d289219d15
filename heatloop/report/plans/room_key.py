"""The key beside a room's plan: how lines are drawn, every joint with its reason, every piece with its water."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import Normalize

from heatloop.layout.model import Piece, PlacedCrossing
from heatloop.layout.piece_ends import Meets, PlacedPiece, joint_reason, kind_and_name
from heatloop.report.plots import style
from heatloop.survey.catalogue import Catalogue
from heatloop.text.formatting import escape_control_characters, number, plural, truncated

WIDTH_MM = 48.0
LINE_MM, SYMBOL_MM, REASON_MM, ROW_MM, SCALE_MM, APART_MM = 3.9, 3.8, 2.8, 3.3, 10.5, 2.4
LETTERS = 38
RETURN_DASHES = (0, (2.4, 0.9))

MARKERS = {
    "inside corner": ("s", style.INK),
    "outside corner": ("D", style.INK),
    "angle": ("^", style.INK),
    "straight": ("|", style.INK),
    "floor section": ("p", style.INK),
    "crossing": ("x", style.INK),
    "valve end": ("o", style.PAPER),
    "plain end": ("h", style.PAPER),
    "turn end": ("<", style.PAPER),
}
"""Marker of each kind of joint and end, distinguishable without colour."""

NOUNS = {"angle": "angle joint", "straight": "straight joint", "floor section": "floor transition"}
SYMBOL_MS, SYMBOL_EDGE = 5.5, 1.1


@dataclass(frozen=True)
class JointSymbol:
    """A kind of joint or end in a plan: its number and the reason for each, in lines that fit, after the pieces beside
    it."""

    kind: str
    count: int
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class PieceTemperature:
    """A piece by its short label, its cut length (m) and its water in and out by direction, °C."""

    label: str
    cut_m: float
    temps_c: Mapping[str, tuple[float, float]]


@dataclass(frozen=True)
class RoomKey:
    """The key beside the plan of a room: `lines` of the drawing by name, symbols, pieces."""

    lines: tuple[str, ...]
    symbols: tuple[JointSymbol, ...]
    pieces: tuple[PieceTemperature, ...]

    @property
    def height_mm(self) -> float:
        """Height on paper, mm."""
        rows = sum(SYMBOL_MM + REASON_MM * len(symbol.reasons) for symbol in self.symbols)
        table = ROW_MM * (len(self.pieces) + 1) + 2.0 if self.pieces else 0.0
        return LINE_MM * len(self.lines) + rows + table + SCALE_MM + 3.0 * APART_MM


def symbols(catalogue: Catalogue, pieces: Sequence[PlacedPiece]) -> tuple[JointSymbol, ...]:
    """Joints and ends of these pieces by kind, with the reasons from the layout, equal ones together."""
    kinds: dict[str, dict[int, Meets]] = {}
    beside: dict[int, list[str]] = {}
    for placed in pieces:
        for meets in (placed.start, placed.end):
            kinds.setdefault(kind_and_name(catalogue, meets)[0], {})[id(meets)] = meets
            beside.setdefault(id(meets), []).append(short_label(placed.piece))
    order = list(MARKERS)
    joint_symbols = []
    for kind in sorted(kinds, key=lambda kind: order.index(kind) if kind in order else len(order)):
        why: dict[str, list[str]] = {}
        for place, meets in kinds[kind].items():
            why.setdefault(_why(catalogue, meets), []).append("-".join(beside[place]))
        lines = [line for words, at in why.items() for line in textwrap.wrap(f"{', '.join(at)}: {words}", LETTERS)]
        joint_symbols.append(JointSymbol(kind, len(kinds[kind]), tuple(lines)))
    return tuple(joint_symbols)


def short_label(piece: Piece) -> str:
    """The label of a piece without the room's name, which heads the plan."""
    return escape_control_characters(piece.label.removeprefix(piece.room).strip())


def _why(catalogue: Catalogue, meets: Meets) -> str:
    words = escape_control_characters(joint_reason(catalogue, meets))
    return f"{words}, {number(meets.length_m, 2)} m" if isinstance(meets, PlacedCrossing) else words


def draw_room_key(ax: Axes, key: RoomKey, norm: Normalize, corner: tuple[float, float], mm: float) -> Axes:
    """The key with its upper left corner at a point of the plan; `mm` is a millimetre on paper, m in the plan."""
    height_mm = key.height_mm
    spot = (corner[0], corner[1] - height_mm * mm, WIDTH_MM * mm, height_mm * mm)
    inset = ax.inset_axes(spot, transform=ax.transData)
    inset.set_xlim(0.0, WIDTH_MM)
    inset.set_ylim(height_mm, 0.0)
    inset.set_axis_off()
    y = _lines(inset, key.lines) + APART_MM
    y = _symbols(inset, key.symbols, y) + APART_MM
    y = _pieces(inset, key.pieces, y) + APART_MM
    _scale(inset, norm, y)
    return inset


def _lines(ax: Axes, names: Sequence[str]) -> float:
    looks: dict[str, dict[str, object]] = {
        "skirting, flow": {"color": "#8c1f2f", "linewidth": 3.0},
        "skirting, return": {"color": "#97486f", "linewidth": 2.2, "linestyle": RETURN_DASHES},
        "laid in the floor": {"color": style.FLOOR_SECTION.colour, "alpha": 0.35, "linewidth": 8.0},
        "crossing, plain pipe": {"color": style.CROSSING.colour, "linewidth": 1.6, "linestyle": ":"},
    }
    y = LINE_MM / 2.0
    for name in names:
        ax.plot([0.5, 8.0], [y, y], solid_capstyle="butt", **looks[name])  # type: ignore[arg-type]
        ax.annotate(name, (10.0, y), va="center", fontsize=7.2)
        y += LINE_MM
    return LINE_MM * len(names)


def _symbols(ax: Axes, symbols_found: Sequence[JointSymbol], y: float) -> float:
    for symbol in symbols_found:
        marker, fill = MARKERS.get(symbol.kind, ("*", style.INK))
        middle = y + SYMBOL_MM / 2.0
        ax.plot([4.2], [middle], marker, color=style.INK, markerfacecolor=fill, markersize=SYMBOL_MS,
                markeredgewidth=SYMBOL_EDGE)  # fmt: skip
        noun = NOUNS.get(symbol.kind, symbol.kind)
        ax.annotate(noun if symbol.count == 1 else plural(symbol.count, noun), (10.0, middle), va="center",
                    fontsize=7.2)  # fmt: skip
        y += SYMBOL_MM
        for line in symbol.reasons:
            ax.annotate(line, (10.0, y + REASON_MM / 2.0), va="center", fontsize=5.8, color=style.MUTED)
            y += REASON_MM
    return y


def _pieces(ax: Axes, pieces: Sequence[PieceTemperature], y: float) -> float:
    if not pieces:
        return y
    ways = [way for way in ("flow", "return") if any(way in piece.temps_c for piece in pieces)]
    heads = ["Piece", "Cut, m", *(f"{way.capitalize()}, °C" for way in ways)]
    rights = (None, 18.5, 33.0, 47.5)
    for words, right in zip(heads, rights, strict=False):
        _cell(ax, right, y + ROW_MM / 2.0, words, "bold")
    y += ROW_MM + 0.3
    ax.plot([0.5, 18.5 + 14.5 * len(ways)], [y, y], color=style.INK, linewidth=0.7)
    for piece in pieces:
        cells = [truncated(escape_control_characters(piece.label), 9), number(piece.cut_m, 2)]
        for way in ways:
            ends = piece.temps_c.get(way)
            cells.append("" if ends is None else f"{number(ends[0], 1)} to {number(ends[1], 1)}")
        for words, right in zip(cells, rights, strict=False):
            _cell(ax, right, y + 0.3 + ROW_MM / 2.0, words)
        y += ROW_MM
    return y + 1.7


def _cell(ax: Axes, right_mm: float | None, y: float, words: str, weight: str = "normal") -> None:
    spot, side = ((0.5, y), "left") if right_mm is None else ((right_mm, y), "right")
    ax.annotate(words, spot, ha=side, va="center_baseline", fontsize=6.2, weight=weight)


def _scale(ax: Axes, norm: Normalize, y: float) -> None:
    """Colours of the water from cool to hot, with their temperatures below."""
    low, high = float(norm.vmin or 0.0), float(norm.vmax or 1.0)
    left, right = 0.5, 40.0
    shades = np.linspace(low, high, 64)[None, :]
    ax.imshow(shades, aspect="auto", cmap=style.TEMPERATURES, norm=norm, extent=(left, right, y + 3.2, y))
    span = high - low
    step = next(size for size in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0) if span / size <= 6.0)
    for k in range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1):
        x = left + (right - left) * (k * step - low) / span
        ax.plot([x, x], [y + 3.2, y + 4.0], color=style.MUTED, linewidth=0.6)
        ax.annotate(number(k * step, 0 if step >= 1.0 else 1), (x, y + 6.0), ha="center", va="center", fontsize=6.4)
    ax.annotate("Water, °C", (left, y + 8.9), ha="left", va="center", fontsize=6.4)
    ax.set_xlim(0.0, WIDTH_MM)
    ax.set_ylim(max(ax.get_ylim()), 0.0)
