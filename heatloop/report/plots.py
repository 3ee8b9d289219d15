"""Plots of a design: rooms, water temperature and pressure along the loops, and the balance.

Each takes a design and perhaps `ax`, draws what the tables say and returns the axes; titles state
the finding. Nothing is calculated here.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from heatloop.account import rooms_sentence
from heatloop.report import style
from heatloop.wording import listing, number, plural, printable, shortened

if TYPE_CHECKING:
    from heatloop.result import Design

NAME_WIDTH = 26
CHART_IN = (0.6, 0.12, 0.48, 0.56)  # left, right, bottom and top of the axes
ARM_LOOKS = ((1.8, "o"), (1.0, "s"))  # line width and end marker of the first arm and the second


def room_output(design: Design, ax: Axes | None = None) -> Axes:
    """Heat loss and output of every room as bars, with each shortage written beside its bar."""
    rooms = design.rooms
    with style.applied():
        names = [shortened(printable(name), NAME_WIDTH) for name in rooms["room"]]
        margins_in = (style.name_margin_in(names), 0.1, 0.48, 0.56)
        ax = style.axes(ax, 1.2 + 0.36 * len(rooms), margins_in=margins_in)
        places = np.arange(len(rooms))
        short = (rooms["margin_w"] < 0).to_numpy()
        looks = [style.SHORT if s else style.OUTPUT for s in short]
        edge: dict[str, Any] = {"edgecolor": style.INK, "linewidth": 0.6}
        ax.barh(places - 0.19, rooms["heat_loss_w"], 0.34, color=style.LOSS.colour, **edge)
        for place, output, look in zip(places, rooms["output_w"], looks, strict=True):
            ax.barh(place + 0.19, output, 0.34, color=look.colour, hatch=look.hatch, alpha=0.85, **edge)
        for place, row in zip(places, rooms.to_dict("records"), strict=True):
            margin = float(row["margin_w"])
            words = f"{number(-margin)} W short" if margin < 0 else f"{number(margin)} W over"
            longest = max(float(row["heat_loss_w"]), float(row["output_w"]))
            weight = "bold" if margin < 0 else "normal"
            low, high = float(row["output_low_w"]), float(row["output_high_w"])
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
    return ax


def _room_title(rooms: pd.DataFrame) -> str:
    short = rooms[rooms["margin_w"] < 0]
    if len(short) == 1:
        row = short.iloc[0]
        return f"{shortened(printable(row['room']), NAME_WIDTH)} is {number(-row['margin_w'])} W short"
    if short.empty:
        tight = rooms.sort_values("margin_w").iloc[0]
        name = shortened(printable(tight["room"]), NAME_WIDTH)
        return f"Every room is warm; {name} has least to spare, {number(tight['margin_w'])} W"
    return f"{len(short)} of {plural(len(rooms), 'room')} are short of heat"


def _room_legend(ax: Axes, short: bool, warm: bool) -> None:
    entries = [(style.LOSS, "heat loss")]
    entries += [(style.OUTPUT, "output")] if warm else []
    entries += [(style.SHORT, "output, short of the loss")] if short else []
    handles: list[Any] = [
        Patch(facecolor=look.colour, hatch=look.hatch, edgecolor=style.INK, linewidth=0.6, label=words)
        for look, words in entries
    ]
    handles.append(Line2D([], [], color=style.INK, marker="|", linewidth=1.0, label="how sure the output is"))
    style.legend_under_title(ax, handles)


def loop_temperature(design: Design, loop: str, ax: Axes | None = None) -> Axes:
    """Water temperature along one loop: out as solid lines, home as dashed ones, rooms marked below."""
    along = design.along[design.along["loop"] == loop]
    row = loop_row(design, loop)
    with style.applied():
        ax = style.axes(ax, 2.5, margins_in=CHART_IN)
        for (arm, _, direction), points in along.groupby(["arm", "channel", "direction"], sort=True):
            look = style.RETURN if direction == "return" else style.FLOW
            width, marker = ARM_LOOKS[int(str(arm)) > 1]
            ax.plot(points["distance_m"], points["temp_c"], look.line, color=look.colour, linewidth=width)
            ax.plot(
                points["distance_m"].iloc[-1:], points["temp_c"].iloc[-1:], marker, color=look.colour, clip_on=False
            )
        _ends(ax, along)
        ax.margins(y=0.16)
        _room_bands(ax, along)
        ax.set_xlabel("Water travelled from the start of the skirting, m")
        ax.set_ylabel("Water temperature, °C")
        ax.set_title(
            f"{shortened(printable(loop), NAME_WIDTH)}: {number(row['flow_temp_c'], 1)} °C in, "
            f"{number(row['return_temp_c'], 1)} °C back, {number(row['output_w'])} W given"
        )
        ax.grid(axis="y")
        _direction_legend(ax, along)
    return ax


def _ends(ax: Axes, along: pd.DataFrame) -> None:
    """Print the temperature at the start and the end of each waterway, once where they coincide."""
    printed: list[tuple[float, float]] = []
    span = float(along["distance_m"].max()) or 1.0
    last = (-2, 7) if along["arm"].nunique() == 1 else (-2, -13)  # above the end of one arm runs the other
    for _, points in along.groupby(["arm", "channel", "direction"], sort=True):
        for place, shift in ((0, (3, 6)), (-1, last)):
            x, y = float(points["distance_m"].iloc[place]), float(points["temp_c"].iloc[place])
            if any(abs(x - a) < 0.06 * span and abs(y - b) < 0.6 for a, b in printed):
                continue
            printed.append((x, y))
            ax.annotate(number(y, 1), (x, y), shift, textcoords="offset points", ha="left" if place == 0 else "right")


def _room_bands(ax: Axes, along: pd.DataFrame) -> None:
    """Which room the water is in, as shaded bands with names; none for two arms, which differ."""
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
                shortened(printable(room), letters),
                ((left + right) / 2, 0),
                (0, 3),
                xycoords=ax.get_xaxis_transform(),
                textcoords="offset points",
                ha="center",
                color=style.MUTED,
                fontsize=7.5,
            )


def _direction_legend(ax: Axes, along: pd.DataFrame) -> None:
    handles = [plain_line(style.FLOW, "flow, out from the tails")]
    if (along["direction"] == "return").any():
        handles.append(plain_line(style.RETURN, "return, home to the tails"))
    if along["arm"].nunique() > 1:
        handles += [
            Line2D([], [], color=style.INK, linewidth=width, marker=marker, label=f"arm {arm}")
            for arm, (width, marker) in enumerate(ARM_LOOKS, start=1)
        ]
    style.legend_under_title(ax, handles)


def plain_line(look: style.Look, label: str, width: float = 1.7) -> Line2D:
    return Line2D([], [], color=look.colour, linestyle=look.line, linewidth=width, label=label)


def pressure_path(elements: pd.DataFrame, arm: int | None = None) -> list[tuple[float, float]]:
    """(metres of pipe and profile travelled, head in kPa) along one loop's water, for a line.

    Where channels run in parallel one of them stands for all: they share the same drop.
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
        head, drop = float(row["pressure_in_kpa"]), float(row["pressure_drop_pa"]) / 1000.0
        points.append((travelled, head))
        travelled += float(row["length_m"])
        points.append((travelled, head - drop))
    return points


def loop_pressure(design: Design, loop: str, ax: Axes | None = None) -> Axes:
    """Head above the loop's return along its water, from what is available to nothing; valves are steps."""
    elements = design.elements[design.elements["loop"] == loop]
    row = loop_row(design, loop)
    with style.applied():
        arms = sorted(a for a in elements["arm"].unique() if a > 0) or [0]
        ax = style.axes(ax, 2.1, margins_in=CHART_IN if len(arms) > 1 else (*CHART_IN[:3], 0.36))
        for arm, line in zip(arms, ("-", "--"), strict=False):
            xs, ys = zip(*pressure_path(elements, int(arm)), strict=True)
            label = f"arm {arm}" if len(arms) > 1 else None
            ax.plot(xs, ys, line, color=style.INK, label=label)
        ax.set_xlim(0, 1.2 * max(x for x, _ in pressure_path(elements)))  # room for the valve's name
        ax.set_ylim(bottom=0)
        ax.set_xlabel("Pipe and profile travelled from the distribution, m")
        ax.set_ylabel("Head, kPa")
        share = f"valve takes {number(row['valve_drop_kpa'], 1)}" if row["valve_drop_kpa"] > 0 else "no valve drop"
        ax.set_title(
            f"{shortened(printable(loop), NAME_WIDTH)}: uses {number(row['available_kpa'], 1)} kPa, "
            f"of which its balancing {share}"
        )
        ax.grid(axis="y")
        _valve_names(ax, elements, pressure_path(elements))
        if len(arms) > 1:
            style.legend_under_title(ax, ax.get_legend_handles_labels()[0])
    return ax


def _valve_names(ax: Axes, elements: pd.DataFrame, points: list[tuple[float, float]]) -> None:
    """Name the valves beside the steps that they make."""
    valves = elements[elements["kind"] == "valve"]
    for head, drop, label in zip(
        valves["pressure_in_kpa"], valves["pressure_drop_pa"] / 1000.0, valves["label"], strict=True
    ):
        spots = [x for x, y in points if abs(y - head) < 1e-9]
        if spots:
            words = f"{shortened(printable(label), 24)}, {number(drop, 1)} kPa"
            spot = (spots[-1], head - drop / 2)
            ax.annotate(words, spot, (5, 2), textcoords="offset points", fontsize=7.5)


def index_path(design: Design, ax: Axes | None = None) -> Axes:
    """Head along every loop, the index loop as a heavy line: it is the one that decides the pump."""
    with style.applied():
        ax = style.axes(ax, 3.2, margins_in=(0.5, 2.2 if len(design.loops) > 1 else 0.1, 0.48, 0.4))
        loops = design.loops
        for i, row in enumerate(loops.to_dict("records")):
            points = pressure_path(design.elements[design.elements["loop"] == row["loop"]])
            look = style.loop_look(i)
            label = shortened(printable(row["loop"]), NAME_WIDTH) + (" (index)" if row["index"] else "")
            xs, ys = zip(*points, strict=True)
            width = 2.6 if row["index"] else 1.1
            ax.plot(xs, ys, look.line, color=look.colour, linewidth=width, label=label)
            ax.plot(xs[:1], ys[:1], look.marker, color=look.colour, clip_on=False, zorder=5)
        ax.set_xlim(left=0)
        ax.set_ylim(bottom=0)
        ax.set_xlabel("Pipe and profile travelled from where the tails join, m")
        ax.set_ylabel("Head above the loop's return, kPa")
        index = shortened(printable(design.summary["index_loop"]), NAME_WIDTH)
        ax.set_title(f"{index} is the index loop; the pump needs {number(new_figure(design, 'pump_head_kpa'), 1)} kPa")
        ax.grid(axis="y")
        ax.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0)) if len(loops) > 1 else None
    return ax


def balance(design: Design, ax: Axes | None = None) -> Axes:
    """Where each loop's available pressure goes: the loop itself, then its balancing valve."""
    loops = design.loops
    with style.applied():
        names = [shortened(printable(n), NAME_WIDTH) + (" (index)" if i else "") for n, i in
                 zip(loops["loop"], loops["index"], strict=True)]  # fmt: skip
        margins_in = (style.name_margin_in(names), 0.1, 0.48, 0.56)
        ax = style.axes(ax, 1.2 + 0.32 * len(loops), margins_in=margins_in)
        places = np.arange(len(loops))
        edge: dict[str, Any] = {"edgecolor": style.INK, "linewidth": 0.6}
        given, valve = loops["available_kpa"], loops["valve_drop_kpa"].fillna(0.0)
        ax.barh(places, given, 0.6, color="#8fb0c4", label="loop", **edge)
        ax.barh(places, -valve, 0.6, left=given, color="#e9c9a0", hatch="...", label="balancing valve", **edge)
        for place, row in zip(places, loops.to_dict("records"), strict=True):
            words = f"preset {_setting(row['valve_setting'])}, {number(row['flow_l_h'])} l/h"
            ax.annotate(words, (float(row["available_kpa"]), place), (5, 0), textcoords="offset points", va="center")
        ax.set_yticks(places, names)
        ax.tick_params(axis="y", length=0)
        ax.set_ylim(len(loops) - 0.4, -0.6)
        ax.set_xlim(0, 1.3 * float(given.max()))  # room for the words
        ax.set_xlabel("Pressure, kPa")
        ax.set_title(_balance_title(loops))
        ax.grid(axis="x")
        style.legend_under_title(ax, ax.get_legend_handles_labels()[0])
    return ax


def _balance_title(loops: pd.DataFrame) -> str:
    if len(loops) == 1:
        return "One loop: nothing to balance against"
    most = loops.sort_values("valve_drop_kpa", ascending=False).iloc[0]
    name = shortened(printable(most["loop"]), NAME_WIDTH)
    return f"{name} is throttled most: its valve takes {number(most['valve_drop_kpa'], 1)} kPa"


def _setting(value: Any) -> str:
    return value if isinstance(value, str) else number(value, 1)


def loop_row(design: Design, loop: str) -> dict[Any, Any]:
    rows: list[dict[Any, Any]] = design.loops[design.loops["loop"] == loop].to_dict("records")
    if not rows:
        raise KeyError(f"no loop is called {loop!r}; there are {', '.join(design.loops['loop'])}")
    return rows[0]


def new_figure(design: Design, name: str) -> float:
    return float(design.summary[name])


def room_words(design: Design) -> str:
    """What :func:`room_output` shows, in words."""
    told = [
        f"{r['room']} loses {number(r['heat_loss_w'])} W and gets {number(r['output_w'])} W"
        for r in design.rooms.to_dict("records")
    ]
    return f"{rooms_sentence(design.rooms)} {listing(told)}."


def temperature_words(design: Design, loop: str) -> str:
    """What :func:`loop_temperature` shows, in words."""
    along = design.along[design.along["loop"] == loop]
    row = loop_row(design, loop)
    return (
        f"Water in loop {loop} falls from {number(row['flow_temp_c'], 1)} to {number(row['return_temp_c'], 1)} °C "
        f"over {number(along['distance_m'].max(), 1)} m of skirting, through {listing(along['room'].unique())}."
    )


def pressure_words(design: Design, loop: str) -> str:
    """What :func:`loop_pressure` shows, in words."""
    row = loop_row(design, loop)
    return (
        f"Loop {loop} has {number(row['available_kpa'], 1)} kPa between its flow and return; "
        f"{number(row['valve_drop_kpa'], 1)} kPa of it is taken by its balancing valve."
    )


def balance_words(design: Design) -> str:
    """What :func:`balance` shows, in words."""
    told = [
        f"{r['loop']} {number(r['available_kpa'], 1)} kPa, {number(r['valve_drop_kpa'], 1)} of it in the valve"
        for r in design.loops.to_dict("records")
    ]
    return f"Pressure at the tails of each loop: {'; '.join(told)}."


def index_words(design: Design) -> str:
    """What :func:`index_path` shows, in words."""
    told = [f"{r['loop']} {number(r['available_kpa'], 1)} kPa" for r in design.loops.to_dict("records")]
    index = design.summary["index_loop"]
    return f"Head falls along every loop, from {listing(told)}, to nothing; {index} is the index loop."
