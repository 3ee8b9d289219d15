"""Heat loss by building element: stacked bars by room, heat from warmer rooms to the left of 0."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.patches import Patch

from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style
from heatloop.text.formatting import escape_control_characters, listing, number, truncated

if TYPE_CHECKING:
    from heatloop.results.design import DesignResult

NAME_WIDTH = 26

LOOKS = {
    "walls": ("walls", style.LineStyle("#b9a58a", hatch="")),
    "windows": ("windows", style.LineStyle("#7fb3d5", hatch="...")),
    "doors": ("doors", style.LineStyle("#8a6a4a", hatch="|||")),
    "floor": ("floor", style.LineStyle("#c9c27a", hatch="---")),
    "ceiling": ("ceiling", style.LineStyle("#e3d9c6", hatch="\\\\\\")),
    "bridges": ("thermal bridges", style.LineStyle("#8c2f39", hatch="xxx")),
    "air": ("ventilation", style.LineStyle("#ffffff", hatch="///")),
    "reheat": ("reheat", style.LineStyle("#c4611a", hatch="+++")),
    "stated": ("stated, not divided", style.LineStyle("#d9dcdf", hatch="ooo")),
}
"""Kinds of a loss in the order they are stacked: their words and how they look."""


def room_losses_plot(design: DesignResult, ax: Axes | None = None, in_style: Style = "report") -> Figure:
    """Stacked bars of the heat loss of each room by building element, with the total beside each bar."""
    by_kind, rooms = _by_kind(design), design.rooms
    with style.applied(in_style):
        names = [truncated(escape_control_characters(name), NAME_WIDTH) for name in rooms["room"]]
        kinds = [kind for kind in LOOKS if kind in by_kind and by_kind[kind].abs().max() > 0.0]
        rows = -(-len(kinds) // 4)
        margins_in = (style.name_margin_in(names), 0.1, 0.48, 0.42 + 0.2 * rows)
        ax = style.axes(
            ax, 1.2 + 0.2 * rows + style.rows_in(len(rooms), 0.33), margins_in=margins_in, in_style=in_style
        )
        places = np.arange(len(rooms))
        edge: dict[str, Any] = {"edgecolor": style.INK, "linewidth": 0.6}
        right, left = np.zeros(len(rooms)), np.zeros(len(rooms))
        for kind in kinds:
            heat_w, look = by_kind[kind].to_numpy(), LOOKS[kind][1]
            start = np.where(heat_w >= 0.0, right, left)
            ax.barh(places, heat_w, 0.62, left=start, color=look.colour, hatch=look.hatch, **edge)
            right, left = right + np.maximum(heat_w, 0.0), left + np.minimum(heat_w, 0.0)
        for place, end, whole in zip(places, right, rooms["heat_loss_w"], strict=True):
            ax.annotate(f"{number(whole)} W", (end, place), (5, 0), textcoords="offset points", va="center")
        ax.axvline(0.0, color=style.MUTED, linewidth=0.8)
        ax.set_yticks(places, names)
        ax.tick_params(axis="y", length=0)
        ax.set_ylim(len(rooms) - 0.4, -0.6)
        ax.set_xlim(min(1.15 * float(left.min()), 0.0), 1.16 * float(right.max()))
        ax.set_xlabel("Heat loss at the outdoor design temperature, W; left of 0: heat from warmer rooms")
        if left.min() == 0.0:
            ax.set_xlabel("Heat loss at the outdoor design temperature, W")
        ax.set_title(_title(by_kind))
        ax.grid(axis="x")
        handles = [
            Patch(facecolor=look.colour, hatch=look.hatch, edgecolor=style.INK, linewidth=0.6, label=words)
            for words, look in (LOOKS[kind] for kind in kinds)
        ]
        style.legend_under_title(ax, handles)
    return Figure(ax, _alt_text(design), in_style, "Heat loss of each room by kind of element")


def _by_kind(design: DesignResult) -> pd.DataFrame:
    """Watts by room (rows, in the order of the rooms table) and kind of part."""
    by_kind = design.heat_loss_parts.pivot_table(
        index="room", columns="kind", values="heat_loss_w", aggfunc="sum", fill_value=0.0
    )
    return by_kind.reindex(design.rooms["room"], fill_value=0.0)


def _title(by_kind: pd.DataFrame) -> str:
    totals = by_kind.drop(columns="stated", errors="ignore").sum()
    if totals.empty:
        return "All heat losses are stated in the survey"
    most = str(totals.idxmax())
    words = LOOKS[most][0]
    stated = " (stated heat losses not included)" if "stated" in by_kind else ""
    return f"Largest heat loss: {words}, {number(totals[most])} W of {number(totals.sum())} W{stated}"


def _alt_text(design: DesignResult) -> str:
    """Text alternative of the figure."""
    by_kind = _by_kind(design)
    losses = []
    for room, parts in by_kind.iterrows():
        named = [(LOOKS[kind][0], parts[kind]) for kind in LOOKS if kind in parts]
        kinds = [f"{words} {number(heat_w)}" for words, heat_w in named if abs(heat_w) >= 0.5]
        losses.append(f"{room} {number(parts.sum())} W ({', '.join(kinds)})")
    return f"{_title(by_kind)}. Heat losses: {listing(losses)}."
