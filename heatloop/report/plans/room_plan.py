"""Plan of one room: its skirting with every joint, and the water temperature along it.

Coordinates come from :mod:`heatloop.layout.plan_coordinates`, temperatures from the design's tables, reasons from the
layout; nothing is calculated here but where ink goes on the paper.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.colors import Normalize

from heatloop.layout.model import Piece, PlacedCrossing, PlacedEnd, PlacedJoint
from heatloop.layout.piece_ends import PlacedPiece, placed_pieces
from heatloop.layout.plan_coordinates import Point, RoomPlan, element_points, room_plan
from heatloop.report.plans.emitters import draw_emitters, emitters_in, heat_from
from heatloop.report.plans.room_key import (
    MARKERS,
    RETURN_DASHES,
    SYMBOL_EDGE,
    SYMBOL_MS,
    PieceTemperature,
    RoomKey,
    draw_room_key,
    short_label,
    symbols,
)
from heatloop.report.plans.room_outline import (
    FLOW_MM,
    RETURN_MM,
    draw_room_outline,
    midpoint,
    point_inside_room,
    reading_angle,
    scale_bar,
    set_frame,
    set_title,
)
from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style
from heatloop.text.formatting import escape_control_characters, listing, number, truncated

if TYPE_CHECKING:
    from heatloop.results.design import DesignResult

NAME_WIDTH = 26
MARGIN_MM = 9.0
SHADES = 8
LETTER_MM, BOLD_LETTER_MM = 1.3, 1.6  # width of a letter beside a piece and of one beside a wall, on paper
PIECES = ("piece", "floor section")
CLEAR_MM = 2.4  # between letters of two pieces, on paper
ROWS_MM = (6.2, 9.0, 11.8)
"""Off the wall, on paper: where the words of a piece may be, the nearest first."""


def room_plan_plot(design: DesignResult, room: str, ax: Axes | None = None, in_style: Style = "report") -> Figure:
    """Plan of one room: skirting coloured by water temperature, joints, ends, crossings, openings.

    ValueError for a room whose walls are not surveyed.
    """
    surveyed = design.survey.room(room)
    outline = room_plan(surveyed, design.layout)
    own = [
        placed
        for placed in placed_pieces(design.survey, design.layout)
        if placed.piece.room == room and not placed.estimate
    ]
    key = _key(design, own)
    with style.applied(in_style):
        ax, mm = set_frame(ax, outline.bounds_m, MARGIN_MM, key.height_mm / 1000.0)
        plan = room_plan(surveyed, design.layout, FLOW_MM * mm)
        draw_room_outline(ax, plan, mm)
        draw_emitters(ax, plan, emitters_in(design.survey, room), mm)
        _wall_words(ax, plan, mm)
        norm = _temperature_range(design)
        taken = _markers(ax, plan, own)
        _runs(ax, design, room, norm, mm, taken)
        set_title(ax, _room_title(design, room))
        east, north = plan.bounds_m[2], plan.bounds_m[3]
        draw_room_key(ax, key, norm, (east + (MARGIN_MM + 2.0) * mm, north + MARGIN_MM * mm), mm)
        scale_bar(ax, plan.bounds_m, mm)
    return Figure(ax, _alt_text(design, room), in_style)


def _alt_text(design: DesignResult, room: str) -> str:
    """Text alternative of the figure."""
    pieces = design.elements[(design.elements["room"] == room) & (design.elements["kind"].isin(PIECES))]
    if pieces.empty:
        others = listing(emitters_in(design.survey, room))
        return f"Plan of {room}: no skirting." + (
            f" Heated by {others}. {_room_title(design, room)}." if others else ""
        )
    hot, cold = pieces["inlet_temp_c"].max(), pieces["outlet_temp_c"].min()
    return (
        f"Plan of {room} with {pieces['label'].nunique()} pieces of skirting; water between "
        f"{number(hot, 1)} and {number(cold, 1)} °C. {_room_title(design, room)}."
    )


def _room_title(design: DesignResult, room: str) -> str:
    row = design.rooms[design.rooms["room"] == room].iloc[0]
    name = truncated(escape_control_characters(room), NAME_WIDTH)
    output = f"{number(row['heat_to_rooms_w'])} W from {heat_from(design, room)}"
    if row["margin_w"] < 0:
        return f"{name} is {number(-row['margin_w'])} W short with {output}"
    return f"{name} is warm: {output}, {number(row['margin_w'])} W margin"


def _wall_words(ax: Axes, plan: RoomPlan, mm: float) -> None:
    """Number and length of every wall, outside it."""
    corners = [*plan.outline_m, plan.outline_m[0]]
    for wall, (a, b) in enumerate(pairwise(corners), start=1):
        length_m = math.dist(a, b)
        whole, short = f"{wall}: {number(length_m, 2)} m", f"{wall}: {number(length_m, 2)}"
        words = next((w for w in (whole, short) if len(w) * BOLD_LETTER_MM * mm < length_m), f"{wall}")
        spot = point_inside_room(plan, wall, midpoint((a, b)), -2.8 * mm)
        angle = reading_angle((a, b))
        ax.annotate(words, spot, ha="center", va="center", rotation=angle, fontsize=7.2, weight="bold")


def _runs(ax: Axes, design: DesignResult, room: str, norm: Normalize, mm: float, taken: list[Point]) -> None:
    """Pieces as lines coloured by temperature, flow solid and return dashed, with printed temperatures."""
    surveyed = design.survey.room(room)
    geometry = design.layout.room(room).geometry
    if geometry is None:
        return
    named: list[tuple[Piece, dict[str, tuple[float, float]]]] = []
    for loop in design.layout.loops:
        for element in (e for arm in loop.arms for e in arm.elements if e.room == room):
            if isinstance(element, PlacedCrossing):
                path = element_points(surveyed, geometry, element, FLOW_MM * mm)
                if path:
                    ax.plot(*zip(*path, strict=True), ":", color=style.CROSSING.colour, linewidth=1.6, zorder=6)
            if not isinstance(element, Piece) or not element.wall:
                continue
            ends = _end_temperatures(design, loop.loop, element.label)
            path = element_points(surveyed, geometry, element, FLOW_MM * mm)
            if element.floor_section is not None:
                line = zip(*path, strict=True)
                ax.plot(*line, color=style.FLOOR_SECTION.colour, alpha=0.35, linewidth=8.0, zorder=5.5)
            if "flow" in ends:
                _shaded(ax, path, ends["flow"], norm)
            if "return" in ends:
                back = element_points(surveyed, geometry, element, RETURN_MM * mm)
                colour = style.TEMPERATURES(norm(sum(ends["return"]) / 2.0))
                ax.plot(*zip(*back, strict=True), linestyle=RETURN_DASHES, color=colour, linewidth=2.2, zorder=7)
            named.append((element, ends))
    for piece, ends in sorted(named, key=lambda pair: -pair[0].tape_m):  # the longest text has the most information
        paths = [element_points(surveyed, geometry, piece, row * mm) for row in ROWS_MM]
        _piece_words(ax, piece, ends, paths, mm, taken)


def _shaded(ax: Axes, path: Sequence[Point], ends: tuple[float, float], norm: Normalize) -> None:
    """A piece as a line whose colour goes from the temperature of the water in to that of the water out."""
    xy = np.linspace(path[0], path[-1], SHADES + 1)
    segments = np.stack([xy[:-1], xy[1:]], axis=1)
    lines = LineCollection(
        list(segments), cmap=style.TEMPERATURES, norm=norm, linewidth=3.0, zorder=7, capstyle="projecting"
    )
    lines.set_array(np.linspace(ends[0], ends[1], SHADES))
    ax.add_collection(lines)


def _piece_words(
    ax: Axes,
    piece: Piece,
    ends: Mapping[str, tuple[float, float]],
    paths: Sequence[Sequence[Point]],
    mm: float,
    taken: list[Point],
) -> None:
    """Label of a piece and the temperatures in its middle, inside the room beside it.

    As much of it as the piece is long enough for, its label always, in the nearest of `paths` where no other
    words stand: `taken` holds the places of all letters so far and gains those that are written.
    """
    label = short_label(piece)
    temps = " / ".join(number(sum(ends[way]) / 2.0, 1) for way in ("flow", "return") if way in ends)
    room_for_mm = math.dist(paths[0][0], paths[0][-1]) / mm
    angle = reading_angle(paths[0])
    tries = [(paths[0], words) for words in (f"{label}   {temps} °C", f"{label}  {temps}")]
    tries = [(path, words) for path, words in tries if len(words) * LETTER_MM < room_for_mm]
    crowd = []
    for path, words in (*tries, *((path, label) for path in paths)):
        letters = _letter_places(words, midpoint(path), angle, mm)
        crowd.append((sum(math.dist(a, b) < CLEAR_MM * mm for a in letters for b in taken), path, words, letters))
        if not crowd[-1][0]:
            break
    _, path, words, letters = min(crowd, key=lambda candidate: candidate[0])
    weight = "bold" if words == label else "normal"
    ax.annotate(words, midpoint(path), ha="center", va="center", rotation=angle, fontsize=7.2, weight=weight, zorder=9)
    taken += letters


def _letter_places(words: str, at: Point, angle_deg: float, mm: float) -> list[Point]:
    """Places in the plan of the letters of a text through a point."""
    along = (math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg)))
    offsets = ((k - (len(words) - 1) / 2.0) * LETTER_MM * mm for k in range(len(words)))
    return [(at[0] + o * along[0], at[1] + o * along[1]) for o in offsets]


def _markers(ax: Axes, plan: RoomPlan, pieces: Sequence[PlacedPiece]) -> list[Point]:
    """Joints, ends and the two sides of crossings by their own markers; where they are."""
    spots: list[tuple[str, Point]] = []
    lines = {id(drawn.element): drawn.points_m for drawn in plan.drawn}
    for drawn in plan.drawn:
        if isinstance(drawn.element, PlacedJoint | PlacedEnd):
            spots.append((drawn.element.kind, drawn.points_m[0]))
    for placed in pieces:
        path = lines[id(placed.piece)]
        spots += [("crossing", path[0])] if isinstance(placed.start, PlacedCrossing) else []
        spots += [("crossing", path[-1])] if isinstance(placed.end, PlacedCrossing) else []
    for kind, (x, y) in spots:
        marker, fill = MARKERS.get(kind, ("*", style.INK))
        ax.plot([x], [y], marker, color=style.INK, markerfacecolor=fill, markersize=SYMBOL_MS,
                markeredgewidth=SYMBOL_EDGE, zorder=8)  # fmt: skip
    return [spot for _, spot in spots]


def _key(design: DesignResult, pieces: Sequence[PlacedPiece]) -> RoomKey:
    """The key beside the plan, with the contents of the plan only."""
    water = [
        PieceTemperature(
            short_label(placed.piece), placed.piece.cut_m, _end_temperatures(design, placed.loop, placed.piece.label)
        )
        for placed in sorted(pieces, key=lambda placed: (placed.piece.wall, placed.piece.from_m))
    ]
    met = [meets for placed in pieces for meets in (placed.start, placed.end)]
    shown = (
        ("skirting, flow", bool(water)),
        ("skirting, return", any("return" in piece.temps_c for piece in water)),
        ("laid in the floor", any(placed.piece.floor_section is not None for placed in pieces)),
        ("crossing, plain pipe", any(isinstance(meets, PlacedCrossing) and meets.wall is not None for meets in met)),
    )
    lines = tuple(name for name, there in shown if there)
    return RoomKey(lines, symbols(design.survey.catalogue, pieces), tuple(water))


def _temperature_range(design: DesignResult) -> Normalize:
    temps_c = design.frames["temperature_profile"]["water_temp_c"]
    low, high = float(temps_c.min()), float(temps_c.max())
    return Normalize(low, high if high - low > 0.1 else low + 0.1)


def _end_temperatures(design: DesignResult, loop: str, label: str) -> dict[str, tuple[float, float]]:
    """Water into and out of one piece by direction, °C, of the first channel that goes that way."""
    elements = design.frames["elements"]
    mine = (elements["loop"].to_numpy() == loop) & (elements["label"].to_numpy() == label)
    rows = elements.loc[mine, ["channel", "kind", "direction", "inlet_temp_c", "outlet_temp_c"]].itertuples(index=False)
    temps_c: dict[str, tuple[float, float]] = {}
    for _, kind, way, into, out in sorted(rows):
        if kind in PIECES:
            temps_c.setdefault(str(way), (float(into), float(out)))
    return temps_c
