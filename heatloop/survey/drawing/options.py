"""Options for reading a drawing."""

from __future__ import annotations

from dataclasses import dataclass

UNIT_M = {"mm": 0.001, "cm": 0.01, "dm": 0.1, "m": 1.0, "in": 0.0254, "ft": 0.3048, "yd": 0.9144}


@dataclass(frozen=True)
class DrawingOptions:
    """Options for reading a drawing.

    `units` replaces the unit stated in the drawing. Blocks on `door_layers` and `window_layers` are openings. Without
    such layers, blocks are openings if their name or layer contains "door", "window" or "glaz". The width of a block is
    its attribute `width_tag` in drawing units, else its extent along the wall. The middle of the opening is the middle
    of this extent, or the insertion point if the block has no extent.

    Ends within `join_m` are joined to one point. Doorways are at most `gap_m` wide. A block is at most `near_m` from
    its wall. Walls between rooms are at most `wall_m` thick. Angles within `snap_deg` of a multiple of 45 degrees are
    set to it. `north_deg` is the bearing of the upward direction of the drawing. `levels_m` has the level of each layer
    of outlines.
    """

    units: str | None = None
    door_layers: tuple[str, ...] = ()
    window_layers: tuple[str, ...] = ()
    name_layers: tuple[str, ...] = ()
    width_tag: str = "WIDTH"
    height_tag: str = "HEIGHT"
    sill_tag: str = "SILL"
    name_tag: str = "NAME"
    join_m: float = 0.005
    gap_m: float = 3.0
    near_m: float = 0.5
    wall_m: float = 0.6
    snap_deg: float = 1.0
    north_deg: float = 0.0
    levels_m: tuple[float, ...] = (0.0,)
