"""Plot of balancing: flow with every valve at its nearest setting against the design flow."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style
from heatloop.text.formatting import escape_control_characters, number, truncated

if TYPE_CHECKING:
    from heatloop.results.design import DesignResult

NAME_WIDTH = 26


def achieved_flows(design: DesignResult, ax: Axes | None = None, in_style: Style = "report") -> Figure:
    """One bar for each balancing valve with the flow at its nearest setting, and a mark at the target."""
    valves = _balancing(design)
    rows = valves.to_dict("records")
    with style.applied(in_style):
        names = [_name(row) for row in rows]
        margins_in = (style.name_margin_in(names), 0.1, 0.48, 0.56)
        ax = style.axes(ax, 1.2 + style.rows_in(max(1, len(rows)), 0.32), margins_in=margins_in, in_style=in_style)
        places = np.arange(len(rows))
        ax.barh(
            places,
            valves["achieved_flow_l_h"],
            0.56,
            color=style.OUTPUT.colour,
            hatch=style.OUTPUT.hatch,
            alpha=0.85,
            edgecolor=style.INK,
            linewidth=0.6,
        )
        for place, row in zip(places, rows, strict=True):
            target, achieved = float(row["target_flow_l_h"]), float(row["achieved_flow_l_h"])
            ax.plot([target, target], [place - 0.38, place + 0.38], color=style.INK, linewidth=2.2)
            error = number(row["flow_error_percent"], 1, sign=True).replace("-", "−")
            words = f"setting {_setting(row)}, {error} %"
            ax.annotate(words, (max(target, achieved), place), (6, 0), textcoords="offset points", va="center")
        ax.set_yticks(places, names)
        ax.tick_params(axis="y", length=0)
        ax.set_ylim(max(1, len(rows)) - 0.4, -0.6)
        ax.set_xlim(0, 1.3 * float(valves[["target_flow_l_h", "achieved_flow_l_h"]].max().max()) if rows else 1.0)
        ax.set_xlabel("Flow, l/h")
        ax.set_title(_title(rows))
        ax.grid(axis="x")
        style.legend_under_title(ax, _legend())
    return Figure(ax, _alt_text(design), in_style)


def _alt_text(design: DesignResult) -> str:
    """Text alternative of the figure."""
    flows = [
        f"{_name(row)} at setting {_setting(row)}: {number(row['achieved_flow_l_h'])} of "
        f"{number(row['target_flow_l_h'])} l/h"
        for row in _balancing(design).to_dict("records")
    ]
    return f"Flow through each balancing valve at its nearest setting, against its target. {'; '.join(flows)}."


def _balancing(design: DesignResult) -> pd.DataFrame:
    valves = design.valves
    return valves[valves["is_balancing"].astype(bool) & valves["achieved_flow_l_h"].notna()]


def _name(row: Mapping[Any, Any]) -> str:
    arm = f", arm {row['arm']}" if row["arm"] else ""
    return truncated(escape_control_characters(row["loop"]), NAME_WIDTH - len(arm)) + arm


def _setting(row: Mapping[Any, Any]) -> str:
    return "–" if pd.isna(row["nearest_setting"]) else f"{int(row['nearest_setting'])}"


def _title(rows: list[dict[Any, Any]]) -> str:
    if not rows:
        return "No balancing valve"
    worst = max(rows, key=lambda row: abs(float(row["flow_error_percent"])))
    error = number(abs(float(worst["flow_error_percent"])), 1)
    if error == "0.0":
        return "At the nearest settings every flow is the design flow"
    side = "above" if worst["flow_error_percent"] > 0 else "below"
    return f"At the nearest settings {_name(worst)} is {error} % {side} its target"


def _legend() -> list[Any]:
    bar = Patch(
        facecolor=style.OUTPUT.colour, hatch=style.OUTPUT.hatch, edgecolor=style.INK, linewidth=0.6,
        label="at the nearest setting",
    )  # fmt: skip
    return [
        bar,
        Line2D([], [], color=style.INK, marker="|", linestyle="", markersize=9, markeredgewidth=2.2, label="target"),
    ]
