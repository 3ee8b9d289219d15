"""A level too large for one sheet: cut between rooms, never through one, with a key plan that shows which part."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from heatloop.handover.first_fix.plan import FirstFixResult
from heatloop.report.drawings.blocks import Block
from heatloop.report.drawings.geometry import Line, Point, Primitive, Words
from heatloop.report.drawings.plan.level_plan import level_bounds_m

Rooms = Mapping[str, Point]

KEY_MM = (40.0, 30.0)


def tiles_of(
    rooms: Rooms, fits: Callable[[Rooms], bool], bounds: Callable[[Rooms], tuple[float, float, float, float]]
) -> list[Rooms]:
    """Rooms divided until every part fits or is one room: halves by the middles of the rooms along the longer side."""
    if fits(rooms) or len(rooms) == 1:
        return [rooms]
    west, south, east, north = bounds(rooms)
    axis = 0 if east - west >= north - south else 1
    middles = {}
    for name, shift in rooms.items():
        edges = bounds({name: shift})
        middles[name] = (edges[axis] + edges[axis + 2]) / 2.0
    ordered = sorted(rooms, key=lambda name: (middles[name], name))
    half = len(ordered) // 2
    parts = ({name: rooms[name] for name in ordered[:half]}, {name: rooms[name] for name in ordered[half:]})
    return [tile for part in parts for tile in tiles_of(part, fits, bounds)]


def key_plan(first_fix: FirstFixResult, rooms: Rooms, tile: Rooms) -> Block:
    """All rooms of a level within 40 by 30 mm, those of the tile in thick lines with a cross."""
    west, south, east, north = level_bounds_m(first_fix, rooms)
    k = min(KEY_MM[0] / (east - west), KEY_MM[1] / (north - south))
    primitives: list[Primitive] = [Words("HL-NOTE", (0.0, -2.5), "Key plan: this sheet in thick lines", bold=True)]
    for name, (dx, dy) in rooms.items():
        geometry = first_fix.layout.room(name).geometry
        if geometry is None:
            continue
        points = [((x + dx - west) * k, (y + dy - north) * k - 6.0) for x, y in geometry.corners_m]
        shown = name in tile
        primitives.append(Line("HL-FRAME", (*points, points[0]), 0.5 if shown else 0.13))
    return Block(KEY_MM[0], (north - south) * k + 7.0, tuple(primitives))
