"""Balancing: pressure drop of each loop and its balancing valve."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style
from heatloop.report.plots.room_output import NAME_WIDTH
from heatloop.results.design import DesignResult
from heatloop.text.formatting import escape_control_characters, number, truncated


def plot_balancing(design: DesignResult, ax: Axes | None = None, in_style: Style = "report") -> Figure:
    """Available pressure of each loop: pressure drop of the loop, then of its balancing valve."""
    loops = design.loops
    with style.applied(in_style):
        names = [truncated(escape_control_characters(n), NAME_WIDTH) + (" (index)" if i else "") for n, i in
                 zip(loops["loop"], loops["is_index_loop"], strict=True)]  # fmt: skip
        margins_in = (style.name_margin_in(names), 0.1, 0.48, 0.56)
        ax = style.axes(ax, 1.2 + style.rows_in(len(loops), 0.32), margins_in=margins_in, in_style=in_style)
        places = np.arange(len(loops))
        edge: dict[str, Any] = {"edgecolor": style.INK, "linewidth": 0.6}
        available_kpa, valve = loops["available_pressure_kpa"], loops["valve_pressure_drop_kpa"].fillna(0.0)
        ax.barh(places, available_kpa, 0.6, color="#8fb0c4", label="loop", **edge)
        ax.barh(places, -valve, 0.6, left=available_kpa, color="#e9c9a0", hatch="...", label="balancing valve", **edge)
        for place, row in zip(places, loops.to_dict("records"), strict=True):
            words = f"setting {_setting(row['valve_setting'])}, {number(row['flow_l_h'])} l/h"
            ax.annotate(
                words, (float(row["available_pressure_kpa"]), place), (5, 0), textcoords="offset points", va="center"
            )
        ax.set_yticks(places, names)
        ax.tick_params(axis="y", length=0)
        ax.set_ylim(len(loops) - 0.4, -0.6)
        ax.set_xlim(0, 1.3 * float(available_kpa.max()))  # room for the text
        ax.set_xlabel("Pressure, kPa")
        ax.set_title(_balance_title(loops))
        ax.grid(axis="x")
        style.legend_under_title(ax, ax.get_legend_handles_labels()[0])
    return Figure(ax, _alt_text(design), in_style)


def _balance_title(loops: pd.DataFrame) -> str:
    if len(loops) == 1:
        return "One loop: no balancing required"
    most = loops.sort_values("valve_pressure_drop_kpa", ascending=False).iloc[0]
    name = truncated(escape_control_characters(most["loop"]), NAME_WIDTH)
    return f"{name} is throttled most: pressure drop of its valve {number(most['valve_pressure_drop_kpa'], 1)} kPa"


def _setting(value: Any) -> str:
    return value if isinstance(value, str) else number(value, 1)


def _alt_text(design: DesignResult) -> str:
    """Text alternative of the figure."""
    pressures = [
        f"{r['loop']} {number(r['available_pressure_kpa'], 1)} kPa, "
        f"{number(r['valve_pressure_drop_kpa'], 1)} kPa of it in the balancing valve"
        for r in design.loops.to_dict("records")
    ]
    return f"Pressure at the tails of each loop: {'; '.join(pressures)}."
