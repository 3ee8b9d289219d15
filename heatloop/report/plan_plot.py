"""Plan of one room: its skirting and the water temperature along it.

Coordinates come from :mod:`heatloop.layout.plan`, temperatures from the design's tables; nothing is
calculated here but where ink goes on the paper.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
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
    finish,
    inside,
    middle,
    paper_scale,
    reading_angle,
    room_shell,
    scale_bar,
)
from heatloop.report.wording import number, printable, shortened

if TYPE_CHECKING:
    from heatloop.result import Design

NAME_WIDTH = 26

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
    west, south, east, north = outline.bounds_m
    scale = paper_scale(east - west, north - south)
    mm = scale / 1000.0  # metres in the room for a millimetre on paper
    with style.applied():
        if ax is None:
            height_in = ((north - south) / scale + 0.032) / style.INCH_M
            ax = style.figure(max(height_in, 2.6))[1]
        plan = room_plan(surveyed, design.layout, FLOW_MM * mm)
        room_shell(ax, plan, mm)
        _wall_words(ax, plan, mm)
        norm = _temperature_range(design)
        _runs(ax, design, room, norm, mm)
        used = _markers(ax, plan)
        finish(ax, plan.bounds_m, mm)
        ax.set_title(_room_title(design, room))
        _legend(ax, plan, used, _has_return(design, room))
        _colour_scale(ax, norm, design, room)
        scale_bar(ax, plan.bounds_m, mm)
    return ax


def room_plan_words(design: Design, room: str) -> str:
    """What :func:`room_plan_plot` shows, in words."""
    pieces = design.elements[(design.elements["room"] == room) & (design.elements["kind"].isin(["piece", "sill"]))]
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
        return (
            f"{name} is {number(-row['margin_w'])} W short: {number(row['output_w'])} of {number(row['heat_loss_w'])} W"
        )
    return f"{name} is warm: {number(row['output_w'])} W for a loss of {number(row['heat_loss_w'])} W"


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
    for loop in design.layout.loops:
        for element in (e for arm in loop.arms for e in arm.elements if e.room == room):
            if isinstance(element, CrossingAt):
                path = element_points(surveyed, geometry, element, FLOW_MM * mm)
                if path:
                    ax.plot(*zip(*path, strict=True), ":", color=style.CROSSING.colour, linewidth=1.6, zorder=6)
            if not isinstance(element, Piece) or not element.wall:
                continue
            points = _piece_points(design, loop.loop, element.label)
            if element.sill is not None:
                ax.plot(*zip(*element_points(surveyed, geometry, element, FLOW_MM * mm), strict=True),
                        color=style.SILL.colour, alpha=0.35, linewidth=8.0, zorder=5.5)  # fmt: skip
            for direction, offset_mm, line in (("flow", FLOW_MM, "-"), ("return", RETURN_MM, (0, (2.4, 0.9)))):
                temps = points[points["direction"] == direction]
                if temps.empty:
                    continue
                path = element_points(surveyed, geometry, element, offset_mm * mm)
                ordered = path if direction == "flow" else path[::-1]
                _coloured(ax, ordered, temps, norm, line)
            _piece_words(ax, element, points, element_points(surveyed, geometry, element, 6.2 * mm), mm)


def _coloured(ax: Axes, path: Sequence[Point], temps: pd.DataFrame, norm: Normalize, line: object) -> None:
    """One waterway of one piece, its colour changing with the water's temperature."""
    (x0, y0), (x1, y1) = path[0], path[-1]
    distance = temps["distance_m"].to_numpy(dtype=float)
    share = (distance - distance[0]) / max(distance[-1] - distance[0], 1e-9)
    xy = np.column_stack([x0 + share * (x1 - x0), y0 + share * (y1 - y0)])
    values = temps["temp_c"].to_numpy(dtype=float)
    if line != "-":
        colour = style.TEMPERATURES(norm(values.mean()))
        ax.plot(xy[:, 0], xy[:, 1], linestyle=line, color=colour, linewidth=2.2, zorder=7)
        return
    segments = np.stack([xy[:-1], xy[1:]], axis=1)
    lines = LineCollection(
        list(segments), cmap=style.TEMPERATURES, norm=norm, linewidth=3.0, zorder=7, capstyle="projecting"
    )
    lines.set_array((values[:-1] + values[1:]) / 2.0)
    ax.add_collection(lines)


def _piece_words(ax: Axes, piece: Piece, points: pd.DataFrame, path: Sequence[Point], mm: float) -> None:
    """Which piece it is and the temperatures in its middle, inside the room beside it."""
    label = piece.label.removeprefix(piece.room).strip()
    out = points[points["direction"] == "flow"]["temp_c"].mean()
    home = points[points["direction"] == "return"]["temp_c"].mean()
    temps = " / ".join(number(t, 1) for t in (out, home) if not math.isnan(t))
    room_for = math.dist(path[0], path[-1]) / mm
    words = f"{label}   {temps} °C" if room_for > 27 else temps if room_for > 13 else ""
    if words:
        angle = reading_angle(path)
        ax.annotate(words, middle(path), ha="center", va="center", rotation=angle, fontsize=7.2, zorder=9)


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
        handles.append(
            Line2D([], [], color="#97486f", linewidth=2.2, linestyle=(0, (2.4, 0.9)), label="skirting, return")
        )
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


def _piece_points(design: Design, loop: str, label: str) -> pd.DataFrame:
    """Temperature points of one piece, the first channel of each direction."""
    along = design.along
    own = along[(along["loop"] == loop) & (along["label"] == label)]
    first = own.groupby("direction")["channel"].transform("min")
    return own[own["channel"] == first]


def _has_return(design: Design, room: str) -> bool:
    along = design.along
    return bool(((along["room"] == room) & (along["direction"] == "return")).any())
