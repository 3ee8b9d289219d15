"""Common parts of plans: paper scale, outline of a room, frame, scale bar and north."""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure as Canvas
from matplotlib.patches import Polygon

from heatloop.layout.plan_coordinates import DrawnWallItem, Point, RoomPlan
from heatloop.report.plots import style
from heatloop.text.formatting import escape_control_characters, truncated

SCALES = (15, 20, 25, 30, 35, 40, 45, 50, 60, 75, 85, 100, 125, 150, 200, 300, 500)
PLAN_WIDTH_M, PLAN_HEIGHT_M = 0.110, 0.110  # on paper, without margins
FULL_WIDTH_M, SMALL_WIDTH_M = 0.170, 0.070
"""Width on paper of a plan with nothing beside it, and of one of few rooms."""
TITLE_M, FOOT_MM = 0.009, 7.0  # on paper, above and below the plan
FLOW_MM, RETURN_MM = 1.5, 3.1  # on paper, from the wall's line


def paper_scale(width_m: float, height_m: float, plan_width_m: float = PLAN_WIDTH_M) -> int:
    """The largest usual drawing scale (as 1:n) at which a plan of that size fits its place on A4.

    >>> paper_scale(4.0, 3.0), paper_scale(12.0, 8.0)
    (40, 125)
    """
    for n in SCALES:
        if width_m / n <= plan_width_m and height_m / n <= PLAN_HEIGHT_M:
            return n
    return SCALES[-1]


def set_frame(
    ax: Axes | None,
    bounds: tuple[float, float, float, float],
    margin_mm: float,
    min_height_m: float,
    plan_width_m: float = PLAN_WIDTH_M,
    below_m: float = 0.0,
) -> tuple[Axes, float]:
    """Axes that frame a plan, and what a millimetre on paper is in the plan, metres.

    New axes (`ax` None) are at the paper scale on an A4-wide figure, room for legend and colour scale
    on their right; axes that are given keep their place. plan_width_m: greatest width of the plan on paper;
    below_m: room for a legend below it.
    """
    west, south, east, north = bounds
    scale = paper_scale(east - west, north - south, plan_width_m)
    mm = scale / 1000.0
    low, high = south - (margin_mm + FOOT_MM) * mm, north + margin_mm * mm
    left, right = west - margin_mm * mm, east + margin_mm * mm
    if ax is None:
        plan_height_m = (high - low) / scale
        height_in = (max(plan_height_m, min_height_m) + TITLE_M + below_m) / style.INCH_M
        sheet = Canvas(figsize=(style.PAGE_WIDTH_IN, height_in))
        share = plan_height_m / style.INCH_M / height_in
        top = 1.0 - TITLE_M / style.INCH_M / height_in
        ax = sheet.add_axes((0.0, top - share, (right - left) / scale / style.A4_TEXT_WIDTH_M, share))
    ax.set_xlim(left, right)
    ax.set_ylim(low, high)
    ax.set_aspect("equal", anchor="NW")
    ax.set_axis_off()
    return ax, mm


def set_title(ax: Axes, words: str) -> None:
    """A title at a set height: plans have no ticks to avoid, and looking for them takes long."""
    ax.set_title(words, y=1.0, pad=7.0)


def draw_room_outline(ax: Axes, plan: RoomPlan, mm: float, names: bool = True) -> None:
    """Floor, walls, openings and what is against the walls."""
    ax.add_patch(Polygon(plan.outline_m, closed=True, facecolor=style.FLOOR, edgecolor="none", zorder=0))
    loop = [*plan.outline_m, plan.outline_m[0]]
    ax.plot(*zip(*loop, strict=True), color=style.WALL, linewidth=2.4, solid_joinstyle="miter", zorder=3)
    for opening in plan.openings:
        low = getattr(opening.item, "sill_m", 0.0) <= 0.0
        xs, ys = zip(*opening.points_m, strict=True)
        ax.plot(xs, ys, color=style.PAPER, linewidth=3.2, solid_capstyle="butt", zorder=4)
        ax.plot(xs, ys, linestyle="--" if low else "-", color=style.WALL, linewidth=0.8, zorder=5)
        for x, y in opening.points_m:
            ax.plot([x], [y], "o", color=style.WALL, markersize=1.8, zorder=5)
        if names:
            _opening_name(ax, plan, opening, mm)
    for obstacle in plan.obstacles:
        depth = [point_inside_room(plan, obstacle.wall, p, 5.0 * mm) for p in reversed(obstacle.points_m)]
        ax.add_patch(
            Polygon(
                [*obstacle.points_m, *depth],
                closed=True,
                facecolor="#e6e3db",
                edgecolor=style.MUTED,
                hatch="////",
                linewidth=0.6,
                zorder=1,
            )
        )
        if names:
            centre = midpoint([*obstacle.points_m, *depth])
            ax.annotate(
                truncated(escape_control_characters(getattr(obstacle.item, "kind", "")), 14),
                point_inside_room(plan, obstacle.wall, centre, 4.6 * mm),
                ha="center",
                va="center",
                rotation=reading_angle(obstacle.points_m),
                fontsize=7,
                color=style.MUTED,
            )


def _opening_name(ax: Axes, plan: RoomPlan, opening: DrawnWallItem, mm: float) -> None:
    item = opening.item
    words = truncated(escape_control_characters(getattr(item, "name", None) or getattr(item, "kind", "")), 22)
    spot = point_inside_room(plan, opening.wall, midpoint(opening.points_m), -6.2 * mm)
    angle = reading_angle(opening.points_m)
    ax.annotate(words, spot, ha="center", va="center", rotation=angle, fontsize=6.8, color=style.MUTED)


def scale_bar(ax: Axes, bounds: tuple[float, float, float, float], mm: float) -> None:
    """One metre, and north."""
    west = bounds[0]
    y = ax.get_ylim()[0] + 1.5 * mm
    ax.plot([west, west + 1.0], [y, y], color=style.INK, linewidth=1.4, marker="|", markersize=5)
    ax.annotate("1 m", (west + 1.0, y), (4, 0), textcoords="offset points", va="center", fontsize=7.5)
    ax.annotate(
        "N",
        (west + 1.0 + 14 * mm, y - 1.5 * mm),
        (0, 15),
        textcoords="offset points",
        ha="center",
        fontsize=7.5,
        arrowprops={"arrowstyle": "<-", "color": style.INK, "shrinkA": 0, "shrinkB": 0},
    )


def point_inside_room(plan: RoomPlan, wall: int, point: Point, distance_m: float) -> Point:
    """A point moved square from a wall, into the room (or out of it, by a negative distance)."""
    count = len(plan.outline_m)
    (x0, y0), (x1, y1) = plan.outline_m[wall - 1], plan.outline_m[wall % count]
    length = math.dist((x0, y0), (x1, y1)) or 1.0
    return point[0] + distance_m * (y1 - y0) / length, point[1] - distance_m * (x1 - x0) / length


def midpoint(points: Sequence[Point]) -> Point:
    """The mean of some points."""
    return sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points)


def reading_angle(points: Sequence[Point]) -> float:
    """The angle of a line in degrees, turned so that words along it read from the bottom or the right."""
    (x0, y0), (x1, y1) = points[0], points[-1]
    angle = math.degrees(math.atan2(y1 - y0, x1 - x0))
    return (angle + 89.9) % 180.0 - 89.9
