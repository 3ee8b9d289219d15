"""Cases of a study by outcome of the checks that are made, or the share with no failed check by flow temperature."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style
from heatloop.text.formatting import number, plural

if TYPE_CHECKING:
    from heatloop.results.many_dwellings.study_result import StudyResult

OUTCOMES: tuple[tuple[str, str, style.LineStyle], ...] = (
    ("all_met", "✓ no failed check, no cautions", style.OUTPUT),
    ("caution", "▲ no failed check, with cautions", style.LineStyle("#d9c48a", hatch="...")),
    ("failed", "✗ with failed checks", style.SHORT),
    ("not_sized", "– not sized", style.LOSS),
)
"""Outcomes of cases by name, with their words and looks."""


def study_plot(study: StudyResult, ax: Axes | None = None, in_style: Style = "report") -> Figure:
    """Of a sweep the share of the cases with no failed check by flow temperature, otherwise cases by outcome."""
    with style.applied(in_style):
        if study.is_sweep:
            by_temp = study.by_flow_temp.dropna(subset=["flow_temp_c"])
            return _by_flow_temp(by_temp, style.axes(ax, 3.0, in_style=in_style), in_style)
        return _by_outcome(study, style.axes(ax, 2.3, in_style=in_style), in_style)


def _by_outcome(study: StudyResult, ax: Axes, in_style: Style) -> Figure:
    facts = study.summary
    by_outcome = {**facts, "all_met": facts["no_failed_check"] - facts["caution"]}
    counts = [int(by_outcome[name]) for name, _, _ in OUTCOMES]
    edge: dict[str, Any] = {"edgecolor": style.INK, "linewidth": 0.6}
    for place, (count, (_, _, look)) in enumerate(zip(counts, OUTCOMES, strict=True)):
        ax.barh(place, count, 0.6, color=look.colour, hatch=look.hatch, **edge)
        ax.annotate(number(count), (count, place), (5, 0), textcoords="offset points", va="center")
    ax.set_yticks(range(len(OUTCOMES)), [words for _, words, _ in OUTCOMES])
    ax.tick_params(axis="y", length=0)
    ax.set_ylim(len(OUTCOMES) - 0.4, -0.6)
    ax.set_xlim(0, max(1.15 * max(counts), 1.0))
    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
    ax.set_xlabel("Cases")
    unfailed = counts[0] + counts[1]
    ax.set_title(
        f"{number(unfailed)} of {plural(sum(counts), 'case')} {'has' if unfailed == 1 else 'have'} no failed check"
    )
    parts = (f"{words[2:]}: {number(count)}" for count, (_, words, _) in zip(counts, OUTCOMES, strict=True))
    return Figure(ax, f"Cases by outcome. {'; '.join(parts)}.", in_style)


def _by_flow_temp(rows: pd.DataFrame, ax: Axes, in_style: Style) -> Figure:
    temps, percent = rows["flow_temp_c"], 100.0 * rows["no_failed_check_share"]
    ax.plot(temps, percent, "o-", color=style.INK, linewidth=1.2, markersize=5)
    written = len(rows) <= 12
    for temp, share in zip(temps, percent, strict=True):
        if written:
            ax.annotate(f"{number(share)} %", (temp, share), (0, 7), ha="center", textcoords="offset points")
    ax.set_ylim(-4, 114)
    ax.set_yticks(range(0, 101, 20))
    ax.margins(x=0.08)
    ax.grid(axis="y")
    ax.set_xlabel("Flow temperature at the source, °C")
    ax.set_ylabel("Cases with no failed check, %")
    ends = (f"{number(percent.iloc[i])} % {words} {number(temps.iloc[i], 1)} °C"
            for i, words in ((0, "of the cases have no failed check at"), (-1, "at")))  # fmt: skip
    ax.set_title(", ".join(ends))
    points = (f"{number(temp, 1)} °C: {number(share)} %" for temp, share in zip(temps, percent, strict=True))
    return Figure(ax, f"Share of the cases with no failed check by flow temperature. {'; '.join(points)}.", in_style)
