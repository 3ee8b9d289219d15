"""Water temperature along a loop."""

from __future__ import annotations

from itertools import pairwise

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style
from heatloop.report.plots.room_output import NAME_WIDTH
from heatloop.report.plots.style import CHART_IN, loop_row, plain_line
from heatloop.results.design import DesignResult
from heatloop.text.formatting import escape_control_characters, listing, number, truncated

NAMES_PT = 17.0
"""Height of the names of rooms above the axis, with the end marker of a line above them."""

ARM_LOOKS = ((1.8, "o"), (1.0, "s"))  # line width and end marker of the first arm and the second


def loop_temperature(
    design: DesignResult, loop: str, ax: Axes | None = None, in_style: Style = "report", half: bool = False
) -> Figure:
    """Water temperature along one loop: flow as solid lines, return as dashed lines, rooms marked below.

    half: the figure is half as wide as the page.
    """
    along = design.temperature_profile[design.temperature_profile["loop"] == loop]
    row = loop_row(design, loop)
    with style.applied(in_style):
        arms = int(along["arm"].nunique())
        top_in = 0.75 if half and arms > 1 else CHART_IN[3]
        width_in = style.HALF_WIDTH_IN if half else style.PAGE_WIDTH_IN
        ax = style.axes(ax, 2.1 if half else 2.3, width_in, margins_in=(*CHART_IN[:3], top_in), in_style=in_style)
        for (arm, _, direction), points in along.groupby(["arm", "channel", "direction"], sort=True):
            look = style.RETURN if direction == "return" else style.FLOW
            width, marker = ARM_LOOKS[int(str(arm)) > 1]
            ax.plot(points["distance_m"], points["water_temp_c"], look.line, color=look.colour, linewidth=width)
            ax.plot(
                points["distance_m"].iloc[-1:],
                points["water_temp_c"].iloc[-1:],
                marker,
                color=look.colour,
                clip_on=False,
            )
        _ends(ax, along)
        ax.margins(y=0.16 if arms == 1 else 0.32)
        _room_bands(ax, along)
        if arms == 1:
            _free_for_names(ax, float(along["water_temp_c"].min()))
        ax.set_xlabel(f"Distance along the water path{'' if half else ' from the start of the skirting'}, m")
        ax.set_ylabel("Water temperature, °C")
        name, flow = truncated(escape_control_characters(loop), NAME_WIDTH), number(row["flow_temp_c"], 1)
        back, heat = number(row["return_temp_c"], 1), number(row["heat_to_rooms_w"])
        whole = f"{name}: {flow} °C flow, {back} °C return at the distribution, {heat} W heat to rooms"
        ax.set_title(f"{name}: {heat} W" if half else whole)
        ax.grid(axis="y")
        _direction_legend(ax, along, half)
    caption = f"Water temperature along loop {loop}" + (f": flow {flow} °C, return {back} °C" if half else "")
    return Figure(ax, _alt_text(design, loop), in_style, caption)


def _ends(ax: Axes, along: pd.DataFrame) -> None:
    """Print the temperature at the start and the end of each waterway, once where they coincide."""
    printed: list[tuple[float, float]] = []
    span = float(along["distance_m"].max()) or 1.0
    last = (-2, 7) if along["arm"].nunique() == 1 else (-2, -13)  # above the end of one arm runs the other
    for _, points in along.groupby(["arm", "channel", "direction"], sort=True):
        for place, shift in ((0, (3, 6)), (-1, last)):
            x, y = float(points["distance_m"].iloc[place]), float(points["water_temp_c"].iloc[place])
            if any(abs(x - a) < 0.06 * span and abs(y - b) < 0.6 for a, b in printed):
                continue
            printed.append((x, y))
            ax.annotate(number(y, 1), (x, y), shift, textcoords="offset points", ha="left" if place == 0 else "right")


def _room_bands(ax: Axes, along: pd.DataFrame) -> None:
    """Rooms along the water path as shaded bands with names; none for two arms, which differ."""
    span = float(along["distance_m"].max()) or 1.0
    ax.set_xlim(0, span)
    if along["arm"].nunique() > 1:
        return
    points = along.sort_values("distance_m", kind="stable").to_dict("records")
    edges = [0.0]
    rooms = [str(points[0]["room"])]
    for before, after in pairwise(points):
        if after["room"] != rooms[-1]:
            # A point on a boundary carries the name of the room nearer to the tails.
            edge = after if after["direction"] == "return" else before
            edges.append(float(edge["distance_m"]))
            rooms.append(str(after["room"]))
    for i, (room, left, right) in enumerate(zip(rooms, edges, [*edges[1:], span], strict=True)):
        if i % 2:
            ax.axvspan(left, right, color="#eef0f2", zorder=0, linewidth=0)
        letters = int(100 * (right - left) / span)
        if letters >= 3:
            ax.annotate(
                truncated(escape_control_characters(room), letters),
                ((left + right) / 2, 0),
                (0, 3),
                xycoords=ax.get_xaxis_transform(),
                textcoords="offset points",
                ha="center",
                color=style.MUTED,
                fontsize=7.5,
            )


def _free_for_names(ax: Axes, lowest_c: float) -> None:
    """Leave the height of the names of rooms free below the lines."""
    bottom, top = ax.get_ylim()
    share = NAMES_PT * ax.figure.dpi / 72.0 / ax.get_window_extent().height
    ax.set_ylim(min(bottom, (lowest_c - share * top) / (1.0 - share)), top)


def _direction_legend(ax: Axes, along: pd.DataFrame, half: bool) -> None:
    handles = [plain_line(style.FLOW, "flow, from the tails")]
    if (along["direction"] == "return").any():
        handles.append(plain_line(style.RETURN, "return, to the tails"))
    if along["arm"].nunique() > 1:
        handles += [
            Line2D([], [], color=style.INK, linewidth=width, marker=marker, label=f"arm {arm}")
            for arm, (width, marker) in enumerate(ARM_LOOKS, start=1)
        ]
    style.legend_under_title(ax, handles, 2 if half else 4, half)


def _alt_text(design: DesignResult, loop: str) -> str:
    """Text alternative of the figure."""
    along = design.temperature_profile[design.temperature_profile["loop"] == loop]
    row = loop_row(design, loop)
    way = "in the longer of the two arms" if along["arm"].nunique() > 1 else "of water path"
    over = f"{number(along['distance_m'].max(), 1)} m {way}"
    return (
        f"The water of loop {loop} cools in the skirting from {number(along['water_temp_c'].max(), 1)} to "
        f"{number(along['water_temp_c'].min(), 1)} °C over {over}, "
        f"through {listing(along['room'].unique())}; in the whole loop, tails and other emitters included, from "
        f"{number(row['flow_temp_c'], 1)} to {number(row['return_temp_c'], 1)} °C."
    )
