"""Plot of pump curve and system curve; they cross at the operating point."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from matplotlib.axes import Axes

from heatloop.report.pages.captions import pump_words
from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style
from heatloop.text.formatting import escape_control_characters, number, truncated

if TYPE_CHECKING:
    from heatloop.results.design import DesignResult

NAME_WIDTH = 30
CURVES = {
    "system": (style.LineStyle(style.INK, "-"), "system curve"),
    "pump as set": (style.FLOW, "the pump as set"),
    "pump at full speed": (style.LineStyle(style.MUTED, ":"), "the pump at full speed"),
}


def pump_curves(
    design: DesignResult, pump: str = "source", ax: Axes | None = None, in_style: Style = "report"
) -> Figure:
    """Head over flow of the system, of the pump as set and at full speed, and the operating point."""
    points, row = _points(design, pump)
    flow, head = float(row["flow_l_h"]), float(row["head_kpa"])
    with style.applied(in_style):
        ax = style.axes(ax, 2.5, margins_in=(0.55, 0.15, 0.48, 0.56), in_style=in_style)
        for curve, (look, label) in CURVES.items():
            own = points[points["curve"] == curve]
            if len(own):
                ax.plot(
                    own["flow_l_h"],
                    own["head_kpa"],
                    "-" if not look.line else look.line,
                    color=look.colour,
                    label=label,
                )
        ax.plot([flow], [head], "o", color=style.INK, markersize=7, zorder=5)
        # The words are beside the line down to the flow, where neither curve runs; above a point that is too low.
        low = head < 0.25 * float(points["head_kpa"].max())
        ax.plot([flow, flow], [0.0, head], linestyle=(0, (1, 2)), color=style.INK, linewidth=0.9)
        right = low or flow > 0.75 * float(points["flow_l_h"].max())
        ax.annotate(
            f"{number(flow)} l/h at {number(head, 1)} kPa",
            (flow, head if low else 0.0),
            (-6 if right else 6, 6),
            textcoords="offset points",
            ha="right" if right else "left",
            va="bottom",
            weight="bold",
            zorder=6,
        )
        ax.set_xlim(left=0)
        ax.set_ylim(bottom=0)
        ax.margins(x=0.02, y=0.08)
        ax.set_xlabel("Flow, l/h")
        ax.set_ylabel("Head, kPa")
        ax.set_title(_title(pump, row))
        ax.grid(axis="both")
        style.legend_under_title(ax, ax.get_legend_handles_labels()[0])
    caption = f"Head of the pump {pump_words(pump)}, and head that the system requires"
    return Figure(ax, _alt_text(design, pump), in_style, caption)


def _alt_text(design: DesignResult, pump: str = "source") -> str:
    """Text alternative of the figure."""
    points, row = _points(design, pump)
    owner = pump_words(pump)
    words = f"Pump {owner}: required head {number(row['head_kpa'], 1)} kPa at {number(row['flow_l_h'])} l/h"
    words += f"; setting: {row['control']}" if row["control"] else ""
    if (points["curve"] == "pump at full speed").any():
        words += f"; available head at this flow rate: {number(row['available_head_kpa'], 1)} kPa"
    return f"{words}. The system curve rises roughly with the square of the flow."


def _title(pump: str, row: Any) -> str:
    name = f"Pump {pump_words(truncated(escape_control_characters(pump), NAME_WIDTH))}"
    control = f"; setting: {row['control']}" if row["control"] else ""
    return f"{name}: required {number(row['head_kpa'], 1)} kPa at {number(row['flow_l_h'])} l/h{control}"


def _points(design: DesignResult, pump: str) -> tuple[Any, Any]:
    pumps = design.pumps
    if pump not in set(pumps["pump"]):
        raise KeyError(f"no pump is called {pump!r}; there are {', '.join(pumps['pump'])}")
    points = design.tables["pump_curves"]
    return points[points["pump"] == pump], pumps[pumps["pump"] == pump].iloc[0]
