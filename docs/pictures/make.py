"""The pictures of README and docs, drawn by heatloop: `python docs/pictures/make.py` writes them beside this file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import matplotlib as mpl
import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Polygon
from measure import Case, arrives_w, promised_w, rated_k, returns_c

import heatloop as hl
from heatloop.layout.plan_coordinates import DrawnWallItem, Point, RoomPlan, room_plan
from heatloop.report.plans.room_outline import midpoint, point_inside_room, reading_angle
from heatloop.report.plots import style

HERE = Path(__file__).resolve().parent
LODGE = HERE.parents[1] / "data" / "alder-lodge" / "survey.toml"
WALK = HERE.parent / "walk" / "survey.toml"
DPI = 130
GROUND_FLOOR_M = 0.0

Picture = Callable[[hl.Design], Figure]


def rooms(design: hl.Design) -> Figure:
    """Loss and output of every room."""
    return _figure(design.plots.rooms().axes)


def ground_floor(design: hl.Design) -> Figure:
    """The ground floor with its skirting."""
    return _figure(design.plots.storey_plan(GROUND_FLOOR_M).axes)


def water(design: hl.Design) -> Figure:
    """Water temperature along a loop of three rooms."""
    return _figure(design.plots.loop_temperature("Bedrooms").axes)


def shortcut(design: hl.Design) -> Figure:
    """Where the mean-temperature shortcut holds: heat promised over heat that arrives, by flow and link."""
    links = np.linspace(0.0, 12.0, 13)
    with style.applied():
        figure, pair = plt.subplots(1, 2, figsize=(style.PAGE_WIDTH_IN, 3.7), sharey=True, layout="constrained")
        figure.suptitle(
            "The mean overestimates where flow is small and channels are linked",
            x=0.005, ha="left", fontsize=10.0, fontweight="bold",
        )  # fmt: skip
        _map(pair[0], [Case(0.0, link) for link in links], "same constant for both, no water film", 9.0)
        rated = [Case(0.0, link, k_w_mkn=rated_k(link), film=True) for link in links]
        _map(pair[1], rated, "as heatloop designs: rating reproduced, film", 3.0)
        pair[0].set_ylabel("Link between the channels, W/(m K)")
    return figure


def _map(ax: Axes, cases: list[Case], title: str, labels_w_mk: float) -> None:
    """One map: contours of the overestimate by the mean, labelled where the link is `labels_w_mk`, and the
    flows at which the loop drops by 7 K."""
    flow_kg_s = np.geomspace(0.008, 0.11, 24)
    flow_l_h, links = flow_kg_s * 3600.0 / 0.988, [case.link_w_mk for case in cases]
    runs = [replace(case, flow_kg_s=flow) for case in cases for flow in flow_kg_s]
    shape = len(cases), flow_kg_s.size
    excess = np.array([promised_w(run) for run in runs]).reshape(shape) / arrives_w(runs).reshape(shape) - 1.0
    drop_k = np.array([run.flow_c for run in runs]).reshape(shape) - returns_c(runs).reshape(shape)
    levels = [-0.05, -0.02, 0.02, 0.05, 0.10, 0.20, 0.40]
    shades = ["#b9d3e2", "#d9e8ef", "#eef3ea", "#f7ead2", "#f2d3ae", "#e8b08a", "#d98b6c", "#c4664d"]
    ax.contourf(flow_l_h, links, excess, [-1.0, *levels, 9.0], colors=shades)
    lines = ax.contour(flow_l_h, links, excess, levels, colors=style.INK, linewidths=0.7, linestyles="-")
    spots = []
    for level in levels:
        for place in (labels_w_mk, 10.0):
            along = -excess[links.index(place)]
            if along[0] < -level < along[-1]:
                spots.append((float(np.interp(-level, along, flow_l_h)), place))
                break
    ax.clabel(lines, fmt=lambda level: f"{level:+.0%}".replace("-", "−"), fontsize=7.5, manual=spots)
    ax.contour(flow_l_h, links, drop_k, [7.0], colors=style.RETURN.colour, linestyles="--", linewidths=1.8)
    at_7_k = float(np.interp(-7.0, -drop_k[0], flow_l_h))
    ax.annotate(
        "drop 7 K", (at_7_k, 0.3), (5, 0), textcoords="offset points", fontsize=8.0,
        color=style.RETURN.colour, weight="bold",
    )  # fmt: skip
    ax.set_xscale("log")
    ticks = [30, 50, 100, 200, 400]
    ax.set_xticks(ticks, [str(tick) for tick in ticks])
    ax.minorticks_off()
    ax.set_xlim(flow_l_h[0], flow_l_h[-1])
    ax.set_xlabel("Flow, l/h")
    ax.set_title(title, fontsize=8.5, fontweight="normal")


def performance(_design: hl.Design) -> Figure:
    """Cost of a solve by the number of loops, over one solve of twelve; figures of tests/benchmarks/curve.py."""
    times = pd.read_csv(HERE / "times.csv").set_index("what")
    unit = float(times.loc["one solve"].set_index("count")["process_ms"][12])
    with style.applied():
        figure, ax = plt.subplots(figsize=(style.PAGE_WIDTH_IN, 3.6), layout="constrained")
        figure.suptitle(
            "Up to a hundred loops cost little more than one; many scenarios cost what their loops do",
            x=0.005, ha="left", fontsize=10.0, fontweight="bold",
        )  # fmt: skip
        for what, look in (("one solve", style.FLOW), ("a scenario among many", style.RETURN)):
            own = times.loc[what]
            share = own["process_ms"] / unit
            ax.plot(own["count"], share, look.line, color=look.colour, marker=look.marker, label=what)
        for what, marker in (("pandapipes", "D"), ("EPANET, flow alone", "^")):
            loops, ms = times.loc[what]
            ax.plot(loops, ms / unit, marker, color=style.INK, label=what)
        ends = np.array([10.0, 1000.0])
        ax.plot(ends, 0.02 * ends, ":", color=style.CROSSING.colour, label="in step with the loops")
        ax.set_xscale("log")
        ax.set_yscale("log")
        ax.set_xticks([1, 10, 100, 1000], ["1", "10", "100", "1,000"])
        ax.set_yticks([0.01, 0.1, 1.0, 10.0], ["0.01", "0.1", "1", "10"])
        ax.minorticks_off()
        ax.set_xlabel("Loops")
        ax.set_ylabel("Time over one solve of 12 loops")
        ax.legend(loc="lower right")
    return figure


def by_size(_design: hl.Design) -> Figure:
    """Time of a design by its rooms, and of a dwelling by the number that are sized together, over a design of nine."""
    times = pd.read_csv(HERE / "times.csv").set_index("what")
    unit = float(times.loc["a design"].set_index("count")["process_ms"][9])
    panels = (
        ("a design", style.FLOW, "Rooms of the house", "Time over a design of nine rooms"),
        ("a dwelling among many", style.RETURN, "Dwellings sized together", "Time of a dwelling over that of a design"),
    )
    with style.applied():
        figure, both = plt.subplots(1, 2, figsize=(style.PAGE_WIDTH_IN, 3.2), layout="constrained")
        figure.suptitle(
            "Forty rooms take little more time than nine; dwellings sized together a fraction of it",
            x=0.005, ha="left", fontsize=10.0, fontweight="bold",
        )  # fmt: skip
        for ax, (what, look, across, up) in zip(both, panels, strict=True):
            own = times.loc[what].sort_values("count")
            ax.plot(own["count"], own["process_ms"] / unit, look.line, color=look.colour, marker=look.marker)
            ax.set_xscale("log")
            counts = [1, 2, 5, 10, 20, 40] if what == "a design" else [1, 10, 100, 1000]
            ax.set_xticks(counts, [f"{count:,}" for count in counts])
            ax.minorticks_off()
            ax.set_ylim(bottom=0.0)
            ax.set_xlabel(across)
            ax.set_ylabel(up)
    return figure


def walk(design: hl.Design) -> Figure:
    """How a room is walked: walls in order, turns at their ends, where positions count from."""
    room = design.survey.room("Parlour")
    plan = room_plan(room, design.layout, 0.0)
    with style.applied():
        ax = style.axes(height_in=5.2, width_in=5.2)
        figure = _figure(ax)
        west, south, east, north = plan.bounds_m
        ax.set_xlim(west - 0.6, east + 0.75)
        ax.set_ylim(south - 0.4, north + 0.55)
        ax.set_aspect("equal")
        ax.set_axis_off()
        _walk_shell(ax, plan)
        for number, wall in enumerate(room.walls, start=1):
            _walk_wall(ax, plan, number, f"{number}: {wall.length_m:.2f} m")
            following = number % len(room.walls) + 1
            corner = plan.outline_m[following - 1]
            spot = point_inside_room(plan, following, point_inside_room(plan, number, corner, 0.32), 0.32)
            words = f"{wall.turn_deg:+.0f}°".replace("-", "−")
            ax.annotate(words, spot, ha="center", va="center", fontsize=7.5)
        window = room.walls[0].openings[0]
        _measure(ax, plan, 1, 0.0, window.start_m, f"start_m\n{window.start_m:.2f}")
        _measure(ax, plan, 1, window.start_m, window.end_m, f"width_m\n{window.width_m:.2f}")
        _measure(ax, plan, 2, 0.0, 2.55, "to_m = 2.55 of the route")
        ax.plot(*plan.outline_m[0], "o", color=style.FLOW.colour, markersize=8, zorder=6)
        ax.annotate("start here", (west + 0.12, south - 0.26), ha="left", color=style.FLOW.colour, weight="bold")
        ax.set_title("Walk clockwise, the wall on your left; write length and turn", fontsize=9.5)
    return figure


def _walk_shell(ax: Axes, plan: RoomPlan) -> None:
    ax.add_patch(Polygon(plan.outline_m, closed=True, facecolor=style.FLOOR, edgecolor=style.WALL, linewidth=2.2))
    for opening in plan.openings:
        xs, ys = zip(*opening.points_m, strict=True)
        ax.plot(xs, ys, color=style.PAPER, linewidth=3.4, solid_capstyle="butt")
        ax.plot(xs, ys, color=style.WALL, linewidth=0.9)
        _beside(ax, plan, opening, -0.36)
    for obstacle in plan.obstacles:
        depth = [point_inside_room(plan, obstacle.wall, point, 0.25) for point in reversed(obstacle.points_m)]
        outline = [*obstacle.points_m, *depth]
        ax.add_patch(Polygon(outline, closed=True, facecolor="#e6e3db", edgecolor=style.MUTED, hatch="////"))
        _beside(ax, plan, obstacle, 0.38)


def _beside(ax: Axes, plan: RoomPlan, on_wall: DrawnWallItem, distance_m: float) -> None:
    """What is on a wall, written beside it."""
    spot = point_inside_room(plan, on_wall.wall, midpoint(on_wall.points_m), distance_m)
    angle = reading_angle(on_wall.points_m)
    ax.annotate(on_wall.item.kind, spot, ha="center", va="center", rotation=angle, color=style.MUTED)


def _walk_wall(ax: Axes, plan: RoomPlan, wall: int, words: str) -> None:
    """An arrow along the inside of a wall, its number and length outside (short walls: beside the room)."""
    start, end = _wall(plan, wall)
    length = float(np.hypot(*np.subtract(end, start)))
    along = np.subtract(end, start) / length
    gap = min(0.14, 0.2 * length)
    tail = point_inside_room(plan, wall, tuple(np.add(start, gap * along)), 0.10)
    head = point_inside_room(plan, wall, tuple(np.subtract(end, gap * along)), 0.10)
    ax.annotate("", head, tail, arrowprops={"arrowstyle": "->", "color": style.FLOW.colour, "lw": 1.2})
    if length < 0.5:
        ax.annotate(words, (plan.bounds_m[2] + 0.06, start[1]), va="center", weight="bold", fontsize=8.0)
        return
    spot = point_inside_room(plan, wall, midpoint((start, end)), -0.16)
    angle = reading_angle((start, end))
    ax.annotate(words, spot, ha="center", va="center", rotation=angle, weight="bold", fontsize=8.0)


def _measure(ax: Axes, plan: RoomPlan, wall: int, from_m: float, to_m: float, words: str) -> None:
    """A dimension line inside a wall, from the left-hand end as you face it."""
    start, end = _wall(plan, wall)
    along = np.subtract(end, start) / float(np.hypot(*np.subtract(end, start)))
    ends = [point_inside_room(plan, wall, tuple(np.add(start, at * along)), 0.62) for at in (from_m, to_m)]
    arrow = {"arrowstyle": "<|-|>", "color": style.RETURN.colour, "lw": 0.9, "shrinkA": 0, "shrinkB": 0}
    ax.annotate("", ends[1], ends[0], arrowprops=arrow)
    flat = abs(along[0]) > 0.5
    place = {"ha": "center", "va": "top"} if flat else {"ha": "left", "va": "center"}
    shift = (0, -4) if flat else (5, 0)
    colour = style.RETURN.colour
    ax.annotate(words, midpoint(ends), shift, textcoords="offset points", color=colour, fontsize=7.5, **place)


def _wall(plan: RoomPlan, wall: int) -> tuple[Point, Point]:
    return plan.outline_m[wall - 1], plan.outline_m[wall % len(plan.outline_m)]


def _figure(ax: Axes) -> Figure:
    figure = ax.get_figure(root=True)
    assert figure is not None
    return figure


PICTURES: dict[str, tuple[Picture, Path]] = {
    "rooms.png": (rooms, LODGE),
    "ground-floor.png": (ground_floor, LODGE),
    "water.png": (water, LODGE),
    "walk.png": (walk, WALK),
    "shortcut.png": (shortcut, LODGE),
    "performance.png": (performance, LODGE),
    "performance-by-size.png": (by_size, LODGE),
}
"""Every picture by its file name: what draws it, and the survey it is drawn from."""


def make(folder: Path) -> None:
    """Draw all of them into a folder."""
    mpl.use("Agg")
    designs = {path: hl.size(path) for path in dict.fromkeys(path for _, path in PICTURES.values())}
    for name, (draw, path) in PICTURES.items():
        figure = draw(designs[path])
        figure.savefig(folder / name, dpi=DPI, bbox_inches="tight", pad_inches=0.08, metadata={"Software": None})
        plt.close(figure)


if __name__ == "__main__":
    make(HERE)
