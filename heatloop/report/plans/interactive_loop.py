"""Plan of the rooms of one loop with heat loss and output: drawn once, then changed in place.

For sliders: walls, doors and axes are drawn when the picture is made; :meth:`InteractiveLoopPlan.changed` moves only
the skirting, its colours, the bars and the words, which takes a fraction of a new drawing.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.image import imsave
from matplotlib.lines import Line2D

from heatloop.layout.model import Piece, PlacedCrossing
from heatloop.layout.plan_coordinates import Point, RoomPlan, room_plan, rooms_by_storey, translated
from heatloop.report.plans.room_key import RETURN_DASHES
from heatloop.report.plans.room_outline import FLOW_MM, RETURN_MM, draw_room_outline, scale_bar, set_frame
from heatloop.report.plots import style
from heatloop.results.single_loop import SingleLoopData, SingleLoopResult
from heatloop.text.formatting import escape_control_characters, number, truncated

HEIGHT_IN = 3.8
PLAN, BARS = (0.0, 0.11, 0.54, 0.74), (0.60, 0.14, 0.39, 0.66)  # left, bottom, width, height in the figure
SCALE, KEY = (0.24, 0.065, 0.22, 0.03), (0.0, 0.0)
DOTS_PER_INCH = 110
QUICK = 1  # compression of the PNG: a fraction of the time of the usual 6, a tenth more bytes
COLDEST_C, WARMEST_C = 20.0, 75.0
NAME_WIDTH = 20


class InteractiveLoopPlan:
    """A plan of one loop with its rooms, drawn once and then changed in place: for sliders.

    Parameters
    ----------
    warmest : SingleLoopResult
        The loop at the conditions with the largest output that will be shown; it sets the length of the axis.

    Raises
    ------
    ValueError
        If the rooms of the loop are on several levels, or one has no surveyed walls.

    Examples
    --------
    >>> import heatloop as hl
    >>> survey = hl.read_survey("docs/walk/survey.toml")
    >>> loop = hl.SingleLoop.from_survey(survey, "Parlour")
    >>> plan = hl.InteractiveLoopPlan(loop.at(70.0, 3.0))
    >>> plan.changed(loop.at(50.0, 7.0))[1:4]
    b'PNG'
    """

    def __init__(self, warmest: SingleLoopResult) -> None:
        data = warmest.data
        with style.applied():
            self._figure = Figure(figsize=(style.PAGE_WIDTH_IN, HEIGHT_IN), dpi=DOTS_PER_INCH)
            self._canvas = FigureCanvasAgg(self._figure)
            self._draw_plan(data)
            self._draw_bars(data, max(*warmest.room_w.values(), *data.need_w.values()))
            self._key(-1 in data.path.arms[0].directions)
            self._title = self._figure.text(0.008, 0.94, "", fontsize=10.0, weight="bold")
            self._below = self._figure.text(0.008, 0.885, "")
            self._moving: tuple[Artist, ...] = (
                *(self._crossings, self._out, self._back, *self._names.values()),
                *(*self._got.values(), *self._told.values(), self._title, self._below),
            )
            for artist in self._moving:
                artist.set_animated(True)
            self._canvas.draw()  # type: ignore[no-untyped-call]
            self._still = self._canvas.copy_from_bbox(self._figure.bbox)  # type: ignore[no-untyped-call]

    def _draw_plan(self, data: SingleLoopData) -> None:
        self._shifts = _shifts(data)
        plans = {
            room: translated(room_plan(data.survey.room(room), data.layout, 0.0), shift)
            for room, shift in self._shifts.items()
        }
        xs, ys = zip(*(corner for plan in plans.values() for corner in plan.outline_m), strict=True)
        bounds = (min(xs), min(ys), max(xs), max(ys))
        ax, self._mm = set_frame(self._figure.add_axes(PLAN), bounds, 4.0, 0.0)
        self._names = {}
        for room, plan in plans.items():
            draw_room_outline(ax, plan, self._mm, names=False)
            west, south, east, north = plan.bounds_m
            spot = ((west + east) / 2.0, (south + north) / 2.0)
            self._names[room] = ax.annotate("", spot, ha="center", va="center", fontsize=7.6, zorder=9)
        scale_bar(ax, bounds, self._mm)
        warmth: dict[str, Any] = {"cmap": style.TEMPERATURES, "norm": Normalize(COLDEST_C, WARMEST_C), "zorder": 7}
        self._out = LineCollection([], linewidths=3.0, capstyle="projecting", **warmth)
        self._back = LineCollection([], linewidths=2.2, linestyles=[RETURN_DASHES], **warmth)
        self._crossings = LineCollection([], colors=style.CROSSING.colour, linestyles=":", linewidths=1.6, zorder=6)
        for lines in (self._crossings, self._out, self._back):
            ax.add_collection(lines)

    def _key(self, is_return: bool) -> None:
        handles = [Line2D([], [], color=style.INK, linewidth=3.0, label="flow")]
        if is_return:
            handles.append(Line2D([], [], color=style.INK, linewidth=2.2, linestyle=RETURN_DASHES, label="return"))
        self._figure.legend(handles=handles, loc="lower left", bbox_to_anchor=KEY, ncols=2)
        scale = self._figure.add_axes(SCALE)
        shades = np.linspace(COLDEST_C, WARMEST_C, 64)[None, :]
        scale.imshow(shades, aspect="auto", cmap=style.TEMPERATURES, extent=(COLDEST_C, WARMEST_C, 0.0, 1.0))
        scale.set_yticks([])
        scale.set_xticks([20, 30, 40, 50, 60, 70], ["20", "30", "40", "50", "60", "70 °C"])
        scale.tick_params(labelsize=7.5)

    def _draw_bars(self, data: SingleLoopData, max_w: float) -> None:
        ax = self._figure.add_axes(BARS)
        edge: dict[str, Any] = {"edgecolor": style.INK, "linewidth": 0.6}
        self._got, self._told = {}, {}
        for place, (room, need_w) in enumerate(data.need_w.items()):
            ax.barh(place - 0.17, need_w, 0.3, color=style.LOSS.colour, **edge)
            self._got[room] = ax.barh(place + 0.17, 0.0, 0.3, alpha=0.85, **edge)[0]
            self._told[room] = ax.annotate("", (0, place + 0.17), (4, 0), textcoords="offset points", va="center")
            words = f"{truncated(escape_control_characters(room), NAME_WIDTH)}, heat loss {number(need_w)} W"
            ax.annotate(words, (0, place - 0.36), (3, 2), textcoords="offset points", va="bottom", fontsize=7.6)
        ax.set_ylim(max(len(data.need_w), 2) - 0.5, -0.75)
        ax.set_xlim(0, 1.3 * max_w)
        ax.set_yticks([])
        ax.set_xlabel("Heat at design conditions, W")
        ax.grid(axis="x")

    def changed(self, tried: SingleLoopResult) -> bytes:
        """The picture of another trial of the same loop, as PNG.

        Parameters
        ----------
        tried : SingleLoopResult
            The trial, from :meth:`heatloop.SingleLoop.at` of the same loop.

        Returns
        -------
        bytes

        Examples
        --------
        >>> import heatloop as hl
        >>> loop = hl.SingleLoop.from_survey(hl.read_survey("data/mill-annexe/survey.toml"), "Annexe")
        >>> hl.InteractiveLoopPlan(loop.at(55.0, 7.0)).changed(loop.at(50.0, 7.0))[1:4]
        b'PNG'
        """
        with style.applied():
            self._move_skirting(tried)
            for room, margin_w in tried.margin_w.items():
                words = f"{number(-margin_w)} W short" if margin_w < 0 else f"{number(margin_w)} W margin"
                weight = "bold" if margin_w < 0 else "normal"
                look = style.SHORT if margin_w < 0 else style.OUTPUT
                self._names[room].set(
                    text=f"{truncated(escape_control_characters(room), NAME_WIDTH)}\n{words}", weight=weight
                )
                self._got[room].set(width=tried.room_w[room], facecolor=look.colour, hatch=look.hatch)
                self._told[room].xy = (tried.room_w[room], self._told[room].xy[1])
                self._told[room].set(text=f"output {number(tried.room_w[room])} W", weight=weight)
            self._title.set_text(_title(tried.margin_w))
            self._below.set_text(_below(tried))
            self._canvas.restore_region(self._still)  # type: ignore[no-untyped-call]
            for artist in self._moving:
                self._figure.draw_artist(artist)
        target = io.BytesIO()
        pixels = self._canvas.buffer_rgba()  # type: ignore[no-untyped-call]
        imsave(target, np.asarray(pixels), format="png", pil_kwargs={"compress_level": QUICK})
        return target.getvalue()

    def _move_skirting(self, tried: SingleLoopResult) -> None:
        data = tried.data
        returns = -1 in data.path.arms[0].directions
        ways = ((self._out, FLOW_MM, 0), (self._back, RETURN_MM, -1)) if returns else ((self._out, FLOW_MM, 0),)
        for lines, offset_mm, channel in ways:
            drawn = [d for room in self._shifts for d in self._plan(data, room, offset_mm).drawn]
            pieces = [(d.points_m, d.element.label) for d in drawn if isinstance(d.element, Piece)]
            lines.set_segments([points for points, _ in pieces])
            lines.set_array(np.array([tried.piece_c[label][channel] for _, label in pieces]))
            if channel == 0:
                self._crossings.set_segments([d.points_m for d in drawn if isinstance(d.element, PlacedCrossing)])

    def _plan(self, data: SingleLoopData, room: str, offset_mm: float) -> RoomPlan:
        return translated(room_plan(data.survey.room(room), data.layout, offset_mm * self._mm), self._shifts[room])


def _shifts(data: SingleLoopData) -> dict[str, Point]:
    """Position of each room of the loop on its level."""
    for rooms in rooms_by_storey(data.survey, data.layout).values():
        if set(data.need_w) <= set(rooms):
            return {room: rooms[room] for room in data.need_w}
    raise ValueError(f"loop {data.path.loop.name!r}: its rooms stand on several levels, or one has no walls")


def _title(margin_w: Mapping[str, float]) -> str:
    short = {room: -heat_w for room, heat_w in margin_w.items() if heat_w < 0}
    if not short:
        return "Every room of the loop is warm" if len(margin_w) > 1 else f"{next(iter(margin_w))} is warm"
    if len(short) == 1:
        room, heat_w = next(iter(short.items()))
        return f"{truncated(escape_control_characters(room), NAME_WIDTH)} is {number(heat_w)} W short"
    which = "All" if len(short) == len(margin_w) else f"{len(short)} of"
    return f"{which} {len(margin_w)} rooms are short, by {number(sum(short.values()))} W in all"


def _below(tried: SingleLoopResult) -> str:
    loop = tried.data.layout.loop(tried.data.path.loop.name)
    flow_l_h = tried.flow_kg_s / float(tried.data.fluid.density_kg_m3(tried.flow_temp_c)) * 3.6e6
    return (
        f"{number(tried.flow_temp_c, 1)} °C flow, {number(tried.return_c, 1)} °C return, "
        f"{number(flow_l_h)} l/h through {number(loop.heated_length_m, 1)} m of skirting"
    )
