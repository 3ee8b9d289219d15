"""Heat loss and output of every room as bars."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style
from heatloop.results.design import DesignResult
from heatloop.results.summaries import rooms_statement
from heatloop.text.formatting import escape_control_characters, listing, number, plural, truncated

NAME_WIDTH = 26


def room_output(design: DesignResult, ax: Axes | None = None, in_style: Style = "report") -> Figure:
    """Heat loss and output of every room as bars, with each shortage written beside its bar."""
    rooms = design.rooms
    with style.applied(in_style):
        names = [truncated(escape_control_characters(name), NAME_WIDTH) for name in rooms["room"]]
        margins_in = (style.name_margin_in(names), 0.1, 0.48, 0.56)
        ax = style.axes(ax, 1.2 + style.rows_in(len(rooms), 0.36), margins_in=margins_in, in_style=in_style)
        places = np.arange(len(rooms))
        short = (rooms["margin_w"] < 0).to_numpy()
        looks = [style.SHORT if s else style.OUTPUT for s in short]
        edge: dict[str, Any] = {"edgecolor": style.INK, "linewidth": 0.6}
        ax.barh(places - 0.19, rooms["heat_loss_w"], 0.34, color=style.LOSS.colour, **edge)
        for place, output, look in zip(places, rooms["heat_to_rooms_w"], looks, strict=True):
            ax.barh(place + 0.19, output, 0.34, color=look.colour, hatch=look.hatch, alpha=0.85, **edge)
        for place, row in zip(places, rooms.to_dict("records"), strict=True):
            margin = float(row["margin_w"])
            words = f"{number(-margin)} W short" if margin < 0 else f"{number(margin)} W margin"
            longest = max(float(row["heat_loss_w"]), float(row["heat_to_rooms_w"]))
            weight = "bold" if margin < 0 else "normal"
            low, high = float(row["output_min_w"]), float(row["output_max_w"])
            ax.plot([low, high], [place + 0.19] * 2, "|-", color=style.INK, linewidth=1.0, markersize=5.0)
            ax.annotate(
                words, (max(longest, high), place), (5, 0), textcoords="offset points", va="center", weight=weight
            )
        ax.set_yticks(places, names)
        ax.tick_params(axis="y", length=0)
        ax.set_ylim(len(rooms) - 0.4, -0.6)
        ax.margins(x=0.2)
        ax.set_xlim(left=0)
        ax.set_xlabel("Heat at the outdoor design temperature, W")
        ax.set_title(_room_title(rooms))
        ax.grid(axis="x")
        _room_legend(ax, bool(short.any()), bool((~short).any()))
    return Figure(ax, _alt_text(design), in_style, "Heat loss and heat to rooms of each room")


def _room_title(rooms: pd.DataFrame) -> str:
    short = rooms[rooms["margin_w"] < 0]
    if len(short) == 1:
        row = short.iloc[0]
        return f"{truncated(escape_control_characters(row['room']), NAME_WIDTH)} is {number(-row['margin_w'])} W short"
    if short.empty:
        tight = rooms.sort_values("margin_w").iloc[0]
        name = truncated(escape_control_characters(tight["room"]), NAME_WIDTH)
        return f"All rooms reach their temperature; {name} has the smallest margin, {number(tight['margin_w'])} W"
    return f"{len(short)} of {plural(len(rooms), 'room')} are short of heat"


def _room_legend(ax: Axes, short: bool, warm: bool) -> None:
    entries = [(style.LOSS, "heat loss")]
    entries += [(style.OUTPUT, "output")] if warm else []
    entries += [(style.SHORT, "output below the heat loss")] if short else []
    handles: list[Any] = [
        Patch(facecolor=look.colour, hatch=look.hatch, edgecolor=style.INK, linewidth=0.6, label=words)
        for look, words in entries
    ]
    handles.append(Line2D([], [], color=style.INK, marker="|", linewidth=1.0, label="output range"))
    style.legend_under_title(ax, handles)


def _alt_text(design: DesignResult) -> str:
    """Text alternative of the figure."""
    rows = [
        f"{r['room']} heat loss {number(r['heat_loss_w'])} W, output {number(r['heat_to_rooms_w'])} W"
        for r in design.rooms.to_dict("records")
    ]
    return f"{rooms_statement(design.rooms, design.summary)} {listing(rows)}."
