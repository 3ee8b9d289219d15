"""Price of the least costly survey against the flow temperature, with its lower bound."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
from matplotlib.axes import Axes

from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style
from heatloop.text.formatting import listing, number

if TYPE_CHECKING:
    from heatloop.results.improvement import ImprovementResult


def price_by_flow_temp_plot(found: ImprovementResult, ax: Axes | None = None, in_style: Style = "report") -> Figure:
    """Price change (without prices: profile added) of the least costly survey at each flow temperature.

    A bar from a point down to its lower bound where the search ended before the least cost was proved; a cross at the
    bottom where no survey was found.
    """
    table = found.cheapest_surveys
    column, unit = (
        ("price_change", found.summary["currency"]) if found.summary["currency"] else ("profile_added_m", "m")
    )
    name = "Price change of the fitted parts" if column == "price_change" else "Profile added"
    held, lost = table[table["found"]], table[~table["found"]]
    with style.applied(in_style):
        ax = style.axes(ax, 3.0, in_style=in_style)
        ax.plot(held["flow_temp_c"], held[column], "o-", color=style.INK, linewidth=1.2, markersize=5)
        for row in held.to_dict("records"):
            ax.vlines(row["flow_temp_c"], min(row["bound"], row[column]), row[column], color=style.INK, linewidth=3.0)
            ax.annotate(number(row[column], 0, sign=True), (row["flow_temp_c"], row[column]), (0, 7), ha="center",
                        textcoords="offset points")  # fmt: skip
        bottom = min([0.0, *held[column], *held["bound"].dropna()])
        ax.plot(lost["flow_temp_c"], [bottom] * len(lost), "x", color=style.INK, markersize=7)
        ax.set_xlabel("Flow temperature, °C")
        ax.set_ylabel(f"{name}, {unit}")
        ax.set_title(_title(held, lost))
        ax.margins(x=0.08, y=0.2)
        ax.grid(axis="y")
    return Figure(ax, _alt_text(held, lost, column, unit), in_style)


def _title(held: pd.DataFrame, lost: pd.DataFrame) -> str:
    if held.empty:
        return "At no flow temperature was a design found in which no check fails"
    words = f"Cheapest design in which no check fails: from {number(held['flow_temp_c'].min(), 1)} °C"
    return f"{words} (crosses: none found)" if len(lost) else words


def _alt_text(held: pd.DataFrame, lost: pd.DataFrame, column: str, unit: str) -> str:
    points = []
    for row in held.to_dict("records"):
        cost, bound = (f"{number(row[name], 2, sign=True)} {unit}" for name in (column, "bound"))
        least = f" (at least {bound})" if row["bound"] < row[column] - 0.005 else ""
        points.append(f"{number(row['flow_temp_c'], 1)} °C: {cost}{least}")
    none = listing(f"{number(c, 1)} °C" for c in lost["flow_temp_c"])
    words = f"Least cost by flow temperature. {'; '.join(points) or 'None found'}."
    return f"{words} None found at {none}." if none else words
