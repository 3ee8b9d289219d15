"""Pressure along a loop, and along the index loop."""

from __future__ import annotations

import pandas as pd
from matplotlib.axes import Axes

from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style
from heatloop.report.plots.room_output import NAME_WIDTH
from heatloop.report.plots.style import CHART_IN, loop_row, summary_value
from heatloop.results.design import DesignResult
from heatloop.text.formatting import escape_control_characters, listing, number, truncated

LOW_STEP = 0.22
"""Height of a step of a valve below which its name is above it, as a share of the axis."""

OTHERS, OTHER_LOOPS = style.LineStyle(style.FAINT), "other loops"
"""Look of the loops that are not distinguished where there are many."""


def pressure_path(elements: pd.DataFrame, arm: int | None = None) -> list[tuple[float, float]]:
    """(metres of pipe and profile travelled, head in kPa) along one loop's water, for a line.

    Where channels run in parallel one of them represents all: they share the same drop.
    """
    own = elements[elements["arm"].isin([0, elements["arm"].max() if arm is None else arm])]
    keep = []
    for _, rows in own.groupby(["arm", "direction"], sort=False):
        channels = [c for c in rows["channel"].unique() if c != 0]
        keep.append(rows[rows["channel"].isin([0, *channels[:1]])])
    path = pd.concat(keep).sort_values("position", kind="stable") if keep else own
    points: list[tuple[float, float]] = []
    travelled = 0.0
    for row in path.to_dict("records"):
        head, drop = float(row["inlet_head_kpa"]), float(row["pressure_drop_pa"]) / 1000.0
        points.append((travelled, head))
        travelled += float(row["length_m"])
        points.append((travelled, head - drop))
    return points


def loop_pressure(
    design: DesignResult, loop: str, ax: Axes | None = None, in_style: Style = "report", half: bool = False
) -> Figure:
    """Head above the return along the water path of a loop, from the available head to zero; valves are steps.

    half: the figure is half as wide as the page.
    """
    elements = design.elements[design.elements["loop"] == loop]
    row = loop_row(design, loop)
    with style.applied(in_style):
        arms = sorted(a for a in elements["arm"].unique() if a > 0) or [0]
        margins_in = CHART_IN if len(arms) > 1 or half else (*CHART_IN[:3], 0.36)
        width_in = style.HALF_WIDTH_IN if half else style.PAGE_WIDTH_IN
        ax = style.axes(ax, 2.1, width_in, margins_in=margins_in, in_style=in_style)
        for arm, line in zip(arms, ("-", "--"), strict=False):
            xs, ys = zip(*pressure_path(elements, int(arm)), strict=True)
            label = f"arm {arm}" if len(arms) > 1 else None
            ax.plot(xs, ys, line, color=style.INK, label=label)
        ax.set_xlim(0, 1.2 * max(x for x, _ in pressure_path(elements)))  # room for the valve's name
        ax.set_ylim(bottom=0)
        ax.set_xlabel(
            "Length of pipe and profile, m" if half else "Length of pipe and profile from the distribution, m"
        )
        ax.set_ylabel("Head, kPa")
        drop_kpa = row["valve_pressure_drop_kpa"]
        share = f"valve takes {number(drop_kpa, 1)}" if drop_kpa > 0 else "no valve drop"
        name = truncated(escape_control_characters(loop), NAME_WIDTH)
        used = f"{number(row['available_pressure_kpa'], 1)} kPa"
        ax.set_title(f"{name}: {used}" if half else f"{name}: uses {used}, of which its balancing {share}")
        ax.set_title(ax.get_title(loc="left"), x=style.title_place(ax))
        ax.grid(axis="y")
        _valve_names(ax, elements, pressure_path(elements), half)
        if len(arms) > 1:
            style.legend_under_title(ax, ax.get_legend_handles_labels()[0])
    caption = f"Head along loop {loop}" + (f": its balancing {share} kPa" if half and drop_kpa > 0 else "")
    return Figure(ax, _pressure_alt_text(design, loop), in_style, caption)


def _valve_names(ax: Axes, elements: pd.DataFrame, points: list[tuple[float, float]], half: bool) -> None:
    """Name the valves beside the steps that they make; those at the end of a narrow figure before them."""
    valves = elements[elements["kind"] == "valve"]
    for head, drop, label in zip(
        valves["inlet_head_kpa"], valves["pressure_drop_pa"] / 1000.0, valves["label"], strict=True
    ):
        spots = [x for x, y in points if abs(y - head) < 1e-9]
        if spots:
            words = f"{truncated(escape_control_characters(label), 24)}, {number(drop, 1)} kPa"
            east, top = ax.get_xlim()[1], ax.get_ylim()[1]
            before = half and spots[-1] > 0.5 * east
            above = before and drop < LOW_STEP * top  # before so low a step the line would run through the words
            ax.annotate(
                words,
                (east, head) if above else (spots[-1], head - drop / 2),
                (0, 8) if above else (-5 if before else 5, 2),
                textcoords="offset points",
                ha="right" if before else "left",
                fontsize=7.5,
            )


def index_path(design: DesignResult, ax: Axes | None = None, in_style: Style = "report") -> Figure:
    """Head along every loop, the index loop as a heavy line: it determines the pump head."""
    with style.applied(in_style):
        many = style.many_loops(design)
        loops = design.loops
        names = (
            truncated(name, NAME_WIDTH) + (" (index)" if index else "")
            for name, index in zip(loops["loop"], loops["is_index_loop"], strict=True)
        )
        right_in = 0.5 + style.name_margin_in(names) if len(loops) > 1 else 0.1
        ax = style.axes(ax, 2.4, margins_in=(0.5, right_in, 0.48, 0.4), in_style=in_style)
        for i, row in enumerate(loops.to_dict("records")):
            points = pressure_path(design.elements[design.elements["loop"] == row["loop"]])
            index = bool(row["is_index_loop"])
            look = OTHERS if many and not index else style.loop_look(i)
            label = truncated(escape_control_characters(row["loop"]), NAME_WIDTH) + (" (index)" if index else "")
            if look is OTHERS:
                label = "_" if OTHER_LOOPS in ax.get_legend_handles_labels()[1] else OTHER_LOOPS
            xs, ys = zip(*points, strict=True)
            width = 2.6 if index else 1.1
            ax.plot(xs, ys, look.line, color=look.colour, linewidth=width, label=label)
            ax.plot(xs[:1], ys[:1], look.marker, color=look.colour, clip_on=False, zorder=5)
        ax.set_xlim(left=0)
        ax.set_ylim(bottom=0)
        ax.set_xlabel("Length of pipe and profile from the distribution, m")
        ax.set_ylabel("Head, kPa")
        first = truncated(escape_control_characters(design.summary["index_loop"]), NAME_WIDTH)
        ax.set_title(
            f"{first} is the index loop; required pump head {number(summary_value(design, 'pump_head_kpa'), 1)} kPa"
        )
        ax.grid(axis="y")
        ax.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0)) if len(loops) > 1 else None
    return Figure(ax, _index_alt_text(design), in_style)


def _pressure_alt_text(design: DesignResult, loop: str) -> str:
    """Text alternative of the figure."""
    row = loop_row(design, loop)
    own = design.valves[(design.valves["loop"] == loop) & design.valves["is_balancing"]]
    arms = own["arm"].tolist()
    valve = f"the balancing valve of arm {arms[0]}" if arms and arms[0] else "its balancing valve"
    return (
        f"Loop {loop} has {number(row['available_pressure_kpa'], 1)} kPa between its flow and return; "
        f"{number(row['valve_pressure_drop_kpa'], 1)} kPa of it is taken by {valve} as set; "
        f"with the balancing valve at its largest setting the loop takes {number(row['pressure_drop_kpa'], 1)} kPa."
    )


def _index_alt_text(design: DesignResult) -> str:
    """Text alternative of the figure."""
    heads = [f"{r['loop']} {number(r['available_pressure_kpa'], 1)} kPa" for r in design.loops.to_dict("records")]
    index = design.summary["index_loop"]
    return f"Head along every loop. At the start: {listing(heads)}; at the end: zero; {index} is the index loop."
