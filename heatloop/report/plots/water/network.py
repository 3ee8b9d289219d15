"""Schematic of the pipework: source, trunks, bypasses and loops, with flows, temperatures and pressures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from heatloop.hydraulics.sizing.sized_system import flow_l_h
from heatloop.report.plots import style
from heatloop.report.plots.figure import Figure
from heatloop.report.plots.palette import Style
from heatloop.text.formatting import escape_control_characters, number, plural, truncated

if TYPE_CHECKING:
    from heatloop.results.design import DesignResult

NAME_WIDTH = 30
ROW_IN, CLOSE_ROW_IN, STEP_IN, PAIR_IN = 0.40, 0.28, 0.42, 0.09
BOX_IN = 4.35
FEW_ROWS = 20
BOX_SHARE, LINES_SHARE = 0.92, 0.22
"""Height of a row and of one among many, depth of a branch, distance of flow and return pipe, width of a loop's box:
inches on paper; rows up to which they are not many; height of the box and how far each of its two lines is off its
middle, as shares of a row."""


@dataclass(frozen=True)
class SchematicRow:
    """A line of the schematic: "head" of a source or trunk, "loop" or "bypass", what hangs at `depth`, two lines of
    words; `parent` is the row of the head it hangs on, -1 for the source."""

    kind: str
    depth: int
    parent: int
    name: str
    words: str


def network_schematic(design: DesignResult, ax: Axes | None = None, in_style: Style = "report") -> Figure:
    """Flow pipes as full lines, return pipes as broken ones; every trunk and loop with its flow and pressure."""
    rows = list(_rows(design))
    row_in = ROW_IN if len(rows) <= FEW_ROWS else CLOSE_ROW_IN
    with style.applied(in_style):
        height_in = 0.62 + row_in * len(rows)
        ax = style.axes(ax, height_in, margins_in=(0.05, 0.05, 0.05, 0.57), in_style=in_style)
        width_in = style.PAGE_WIDTH_IN - 0.12
        ax.set_xlim(0.0, width_in + 0.02)
        ax.set_ylim(-row_in * len(rows), 0.0)
        ax.axis("off")
        for number_, row in enumerate(rows):
            _draw(ax, rows, number_, width_in, row_in)
        ax.set_title(_title(design))
        handles = [
            Line2D([], [], color=look.colour, linestyle=look.line, label=label)
            for look, label in ((style.FLOW, "flow"), (style.RETURN, "return"))
        ]
        style.legend_under_title(ax, handles)
    return Figure(ax, _alt_text(design), in_style)


def _riser_in(depth: int) -> float:
    return 0.16 + STEP_IN * depth


def _middle_in(place: int, row_in: float) -> float:
    return -row_in * (place + 0.5)


def _draw(ax: Axes, rows: list[SchematicRow], place: int, width_in: float, row_in: float) -> None:
    row = rows[place]
    y, x = _middle_in(place, row_in), _riser_in(row.depth)
    children = [i for i, other in enumerate(rows) if other.parent == place]
    if row.kind == "head":
        if children:
            low = _middle_in(children[-1], row_in)
            _pipe(ax, [x, x], [y, low + PAIR_IN / 2], style.FLOW)
            _pipe(ax, [x + PAIR_IN, x + PAIR_IN], [y, low - PAIR_IN / 2], style.RETURN)
        if row.parent < 0:
            ax.add_patch(
                Rectangle(
                    (x - 0.11, y - 0.09), PAIR_IN + 0.22, 0.18, facecolor=style.FLOOR, edgecolor=style.INK, zorder=4
                )
            )
        else:
            _branch(ax, _riser_in(rows[row.parent].depth), x, y, turn=True)
        left = x + PAIR_IN + 0.18
    else:
        left = max(x + 0.30, width_in - BOX_IN)
        _branch(ax, _riser_in(rows[row.parent].depth), left, y, turn=False)
        loop = row.kind == "loop"
        look: dict[str, Any] = {"facecolor": style.FLOOR if loop else style.PAPER, "linestyle": "-" if loop else ":"}
        look |= {"edgecolor": style.INK, "linewidth": 0.7, "zorder": 3}
        ax.add_patch(Rectangle((left, y - BOX_SHARE / 2.0 * row_in), width_in - left, BOX_SHARE * row_in, **look))
        left += 0.08
    ax.text(left, y + LINES_SHARE * row_in, row.name, weight="bold", fontsize=7.8, va="center", zorder=5)
    ax.text(left, y - LINES_SHARE * row_in, row.words, fontsize=7.2, va="center", zorder=5)


def _pipe(ax: Axes, xs: list[float], ys: list[float], look: style.LineStyle) -> None:
    ax.plot(xs, ys, look.line, color=look.colour, linewidth=1.5, zorder=2, solid_capstyle="butt")


def _branch(ax: Axes, riser: float, to: float, y: float, turn: bool) -> None:
    """A pair of pipes from a riser to something; with `turn` to the head of a riser of its own."""
    _pipe(ax, [riser, to], [y + PAIR_IN / 2, y + PAIR_IN / 2], style.FLOW)
    _pipe(ax, [riser + PAIR_IN, to + (PAIR_IN if turn else 0.0)], [y - PAIR_IN / 2, y - PAIR_IN / 2], style.RETURN)
    for x, side, look in ((riser, 0.5, style.FLOW), (riser + PAIR_IN, -0.5, style.RETURN)):
        ax.plot([x], [y + side * PAIR_IN], "o", color=look.colour, markersize=3.2, zorder=3)
    if turn:
        _pipe(ax, [to, to], [y + PAIR_IN / 2, y], style.FLOW)


def _rows(design: DesignResult) -> Iterator[SchematicRow]:
    count = -1

    def below(trunk: str | None, depth: int, parent: int) -> Iterator[SchematicRow]:
        nonlocal count
        for loop in design.loops.to_dict("records"):
            if (loop["trunk"] or None) == trunk:
                count += 1
                yield SchematicRow("loop", depth, parent, *_loop_words(loop))
        for bypass, kg_s in zip(design.survey.bypasses, design.operation.bypass_kg_s, strict=True):
            if bypass.trunk == trunk:
                count += 1
                yield SchematicRow("bypass", depth, parent, *_bypass_words(design, bypass.name, float(kg_s)))
        for other in design.survey.trunks:
            if other.from_trunk == trunk:
                count += 1
                row = count
                yield SchematicRow("head", depth, parent, *_trunk_words(design, other.name))
                yield from below(other.name, depth + 1, row)

    pump, source = design.pumps.iloc[0], design.survey.source
    words = (
        f"{number(pump['flow_l_h'])} l/h, {number(pump['flow_temp_c'], 1)} °C flow, "
        f"{number(pump['return_temp_c'], 1)} °C return; pump head required {number(pump['head_kpa'], 1)} kPa"
    )
    count += 1
    yield SchematicRow(
        "head", 0, -1, _short(source.kind), words + (f", setting: {pump['control']}" if pump["control"] else "")
    )
    yield from below(None, 1, 0)


def _short(name: object) -> str:
    return truncated(escape_control_characters(name), NAME_WIDTH)


def _loop_words(loop: dict[Any, Any]) -> tuple[str, str]:
    index = "  (index loop)" if loop["is_index_loop"] else ""
    valve = loop["valve_pressure_drop_kpa"]
    takes = f", {number(valve, 1)} kPa of it in the balancing valve" if valve == valve else ""
    return _short(loop["loop"]) + index, (
        f"{number(loop['flow_l_h'])} l/h, {number(loop['flow_temp_c'], 1)} to {number(loop['return_temp_c'], 1)} °C, "
        f"{number(loop['available_pressure_kpa'], 1)} kPa{takes}"
    )


def _bypass_words(design: DesignResult, name: str, kg_s: float) -> tuple[str, str]:
    rows = design.elements
    own = rows[(rows["kind"] == "bypass") & (rows["label"] == name)].iloc[0]
    if kg_s <= 0.0:
        return f"Bypass {_short(name)}", "shut at the design condition"
    drop = f"{number(own['pressure_drop_pa'] / 1000.0, 1)} kPa"
    return f"Bypass {_short(name)}", f"{number(_litres_h(design, name))} l/h, {drop}"


def _litres_h(design: DesignResult, label: str) -> float:
    """Flow of a trunk or bypass, litres an hour at its own temperature."""
    places = design.operation.network.locations
    kinds = ("trunk", "bypass")
    place = next(i for i, p in enumerate(places) if p.element.kind in kinds and p.element.label == label)
    return flow_l_h(design.operation, place)


def _trunk_words(design: DesignResult, name: str) -> tuple[str, str]:
    """Flow and pressure drop of a trunk, with its own pump if it is mixed."""
    rows = design.elements
    own = rows[(rows["kind"] == "trunk") & rows["label"].isin([name, f"{name}, reverse-return pipe"])]
    out = own[own["direction"] == "flow"].iloc[0]
    trunk = design.survey.trunk(name)
    words = (
        f"{trunk.pipe}, {number(trunk.length_m, 1)} m: {number(_litres_h(design, name))} l/h, "
        f"{number(out['outlet_temp_c'], 1)} °C at its end, pressure drop "
        f"{number(own['pressure_drop_pa'].sum() / 1000.0, 2)} kPa"
    )
    pumps = design.pumps
    if trunk.mixed_to_c is not None:
        pump = pumps[pumps["pump"] == name].iloc[0]
        words += f"; own pump {number(pump['head_kpa'], 1)} kPa"
    kind = (
        "with mixing valve" if trunk.mixed_to_c is not None else "reverse return" if trunk.reverse_return else "trunk"
    )
    return f"{_short(name)}  ({kind})", words


def _title(design: DesignResult) -> str:
    loops: pd.DataFrame = design.loops
    maximum = loops.sort_values("flow_l_h", ascending=False).iloc[0]
    if len(loops) == 1:
        return f"One loop, {_short(maximum['loop'])}, with {number(maximum['flow_l_h'])} l/h"
    total_l_h, pump_l_h = float(loops["flow_l_h"].sum()), float(design.pumps["flow_l_h"].iloc[0])
    if total_l_h >= pump_l_h + 1.0:
        return f"Pump at the heat source: {number(pump_l_h)} l/h; {plural(len(loops), 'loop')}: {number(total_l_h)} l/h"
    return (
        f"{number(pump_l_h)} l/h for {plural(len(loops), 'loop')}; "
        f"{_short(maximum['loop'])} has the largest flow, {number(maximum['flow_l_h'])} l/h"
    )


def _alt_text(design: DesignResult) -> str:
    """Text alternative of the figure."""
    return "Schematic of the pipework. " + " ".join(f"{row.name}: {row.words}." for row in _rows(design))
