"""Plan of one room: its skirting and the water temperature along it.

Coordinates come from :mod:`heatloop.layout.plan`, temperatures from the design's tables; nothing is
calculated here but where ink goes on the paper.
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
from matplotlib.lines import Line2D

from heatloop.layout.model import CrossingAt, EndAt, JointAt, Piece
from heatloop.layout.plan import Point, RoomPlan, element_points, room_plan
from heatloop.report import style
from heatloop.report.plan_shell import (
    FLOW_MM,
    RETURN_MM,
    framed,
    inside,
    middle,
    reading_angle,
    room_shell,
    scale_bar,
    titled,
)
from heatloop.wording import number, printable, shortened

if TYPE_CHECKING:
    from heatloop.result import Design

NAME_WIDTH = 26
SHADES = 8
LETTER_MM = 1.3  # width of a letter beside a piece, on paper
HOME_DASHES = (0, (2.4, 0.9))
PIECES = ("piece", "sill")

MARKERS = {
    "inside corner": ("s", style.INK),
    "outside corner": ("D", style.INK),
    "angle": ("^", style.INK),
    "straight": ("|", style.INK),
    "sill": ("p", style.INK),
    "valve end": ("o", style.PAPER),
    "plain end": ("h", style.PAPER),
    "turn end": ("<", style.PAPER),
}


def room_plan_plot(design: Design, room: str, ax: Axes | None = None) -> Axes:
    """Plan of one room: skirting coloured by water temperature, joints, ends, crossings, openings.

    ValueError for a room whose walls are not surveyed.
    """
    surveyed = design.survey.room(room)
    outline = room_plan(surveyed, design.layout)
    with style.applied():
        ax, mm = framed(ax, outline.bounds_m, 9.0, 0.075)
        plan = room_plan(surveyed, design.layout, FLOW_MM * mm)
        room_shell(ax, plan, mm)
        _wall_words(ax, plan, mm)
        norm = _temperature_range(design)
        _runs(ax, design, room, norm, mm)
        used = _markers(ax, plan)
        titled(ax, _room_title(design, room))
        _legend(ax, plan, used, _has_return(design, room))
        _colour_scale(ax, norm, design, room)
        scale_bar(ax, plan.bounds_m, mm)
    return ax


def room_plan_words(design: Design, room: str) -> str:
    """What :func:`room_plan_plot` shows, in words."""
    pieces = design.elements[(design.elements["room"] == room) & (design.elements["kind"].isin(PIECES))]
    if pieces.empty:
        return f"Plan of {room}: no skirting."
    hot, cold = pieces["temp_in_c"].max(), pieces["temp_out_c"].min()
    return (
        f"Plan of {room} with {pieces['label'].nunique()} pieces of skirting; water between "
        f"{number(hot, 1)} and {number(cold, 1)} °C. {_room_title(design, room)}."
    )


def _room_title(design: Design, room: str) -> str:
    row = design.rooms[design.rooms["room"] == room].iloc[0]
    name = shortened(printable(room), NAME_WIDTH)
    if row["margin_w"] < 0:
        return f"{name} is {number(-row['margin_w'])} W short with {number(row['output_w'])} W from its skirting"
    return f"{name} is warm: {number(row['output_w'])} W from its skirting, {number(row['margin_w'])} W to spare"


def _wall_words(ax: Axes, plan: RoomPlan, mm: float) -> None:
    """Number and length of every wall, outside it."""
    corners = [*plan.outline_m, plan.outline_m[0]]
    for wall, (a, b) in enumerate(pairwise(corners), start=1):
        length_m = math.dist(a, b)
        words = f"{wall}: {number(length_m, 2)} m" if length_m > 16 * mm else f"{wall}"
        spot = inside(plan, wall, middle((a, b)), -2.8 * mm)
        angle = reading_angle((a, b))
        ax.annotate(words, spot, ha="center", va="center", rotation=angle, fontsize=7.2, weight="bold")


def _runs(ax: Axes, design: Design, room: str, norm: Normalize, mm: float) -> None:
    """Pieces as lines coloured by temperature, out solid and home dashed, with printed temperatures."""
    surveyed = design.survey.room(room)
    geometry = design.layout.room(room).geometry
    if geometry is None:
        return
    taken: list[Point] = []
    for loop in design.layout.loops:
        for element in (e for arm in loop.arms for e in arm.elements if e.room == room):
            if isinstance(element, CrossingAt):
                path = element_points(surveyed, geometry, element, FLOW_MM * mm)
                if path:
                    ax.plot(*zip(*path, strict=True), ":", color=style.CROSSING.colour, linewidth=1.6, zorder=6)
            if not isinstance(element, Piece) or not element.wall:
                continue
            ends = _end_temperatures(design, loop.loop, element.label)
            path = element_points(surveyed, geometry, element, FLOW_MM * mm)
            if element.sill is not None:
                line = zip(*path, strict=True)
                ax.plot(*line, color=style.SILL.colour, alpha=0.35, linewidth=8.0, zorder=5.5)
            if "flow" in ends:
                _shaded(ax, path, ends["flow"], norm)
            if "return" in ends:
                back = element_points(surveyed, geometry, element, RETURN_MM * mm)
                colour = style.TEMPERATURES(norm(sum(ends["return"]) / 2.0))
                ax.plot(*zip(*back, strict=True), linestyle=HOME_DASHES, color=colour, linewidth=2.2, zorder=7)
            _piece_words(ax, element, ends, element_points(surveyed, geometry, element, 6.2 * mm), mm, taken)


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
    path: Sequence[Point],
    mm: float,
    taken: list[Point],
) -> None:
    """Which piece it is and the temperatures in its middle, inside the room beside it.

    As much of it as the piece is long enough for, and nothing where other words stand already: `taken`
    holds the places of all letters so far and gains those that are written.
    """
    label = piece.label.removeprefix(piece.room).strip()
    temps = " / ".join(number(sum(ends[way]) / 2.0, 1) for way in ("flow", "return") if way in ends)
    room_for_mm = math.dist(path[0], path[-1]) / mm
    angle = reading_angle(path)
    for words in (f"{label}   {temps} °C", f"{label}  {temps}", temps, label):
        letters = _letter_places(words, middle(path), angle, mm)
        clear = all(math.dist(a, b) > 2.4 * mm for a in letters for b in taken)
        if clear and len(words) * LETTER_MM < room_for_mm:
            ax.annotate(words, middle(path), ha="center", va="center", rotation=angle, fontsize=7.2, zorder=9)
            taken += letters
            return


def _letter_places(words: str, at: Point, angle_deg: float, mm: float) -> list[Point]:
    """Where the letters of words written through a point fall in the plan."""
    along = (math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg)))
    offsets = ((k - (len(words) - 1) / 2.0) * LETTER_MM * mm for k in range(len(words)))
    return [(at[0] + o * along[0], at[1] + o * along[1]) for o in offsets]


def _markers(ax: Axes, plan: RoomPlan) -> list[str]:
    """Joints and ends by their own markers; the kinds that occur."""
    used = []
    for drawn in plan.drawn:
        if isinstance(drawn.element, JointAt | EndAt):
            marker, fill = MARKERS.get(drawn.element.kind, ("*", style.INK))
            (x, y) = drawn.points_m[0]
            ax.plot(
                [x], [y], marker, color=style.INK, markerfacecolor=fill, markersize=5.5, markeredgewidth=1.0, zorder=8
            )
            used.append(drawn.element.kind)
    return list(dict.fromkeys(used))


def _legend(ax: Axes, plan: RoomPlan, kinds: Sequence[str], home: bool) -> None:
    handles = [Line2D([], [], color="#8c1f2f", linewidth=3.0, label="skirting, flow")]
    if home:
        handles.append(Line2D([], [], color="#97486f", linewidth=2.2, linestyle=HOME_DASHES, label="skirting, return"))
    if any(isinstance(d.element, Piece) and d.element.sill is not None for d in plan.drawn):
        handles.append(Line2D([], [], color=style.SILL.colour, alpha=0.35, linewidth=8.0, label="laid in the floor"))
    if any(isinstance(d.element, CrossingAt) for d in plan.drawn):
        handles.append(Line2D([], [], color=style.CROSSING.colour, linestyle=":", label="crossing, plain pipe"))
    for kind in kinds:
        marker, fill = MARKERS.get(kind, ("*", style.INK))
        handles.append(Line2D([], [], color=style.INK, linestyle="", marker=marker, markerfacecolor=fill,
                              markersize=5.5, label=kind))  # fmt: skip
    ax.legend(handles=handles, loc="upper left", bbox_to_anchor=(1.01, 1.0), borderaxespad=0.0)


def _colour_scale(ax: Axes, norm: Normalize, design: Design, room: str) -> None:
    inset = ax.inset_axes((1.04, 0.03, 0.035, 0.34))
    gradient = np.linspace(norm.vmin or 0.0, norm.vmax or 1.0, 64)[:, None]
    inset.imshow(gradient, aspect="auto", origin="lower", cmap=style.TEMPERATURES, norm=norm,
                 extent=(0.0, 1.0, float(norm.vmin or 0.0), float(norm.vmax or 1.0)))  # fmt: skip
    inset.set_xticks([])
    inset.yaxis.tick_right()
    inset.set_ylabel("Water, °C", fontsize=7.5)
    inset.tick_params(labelsize=7)


def _temperature_range(design: Design) -> Normalize:
    low, high = float(design.along["temp_c"].min()), float(design.along["temp_c"].max())
    return Normalize(low, high if high - low > 0.1 else low + 0.1)


def _end_temperatures(design: Design, loop: str, label: str) -> dict[str, tuple[float, float]]:
    """Water into and out of one piece by direction, degC, of the first channel that goes that way."""
    elements = design.elements
    own = elements[(elements["loop"] == loop) & (elements["label"] == label) & elements["kind"].isin(PIECES)]
    first = own.sort_values("channel").groupby("direction", sort=False).first()
    return {
        str(way): (float(into), float(out))
        for way, into, out in zip(first.index, first["temp_in_c"], first["temp_out_c"], strict=True)
    }


def _has_return(design: Design, room: str) -> bool:
    along = design.along
    return bool(((along["room"] == room) & (along["direction"] == "return")).any())
