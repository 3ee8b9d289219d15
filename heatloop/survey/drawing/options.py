"""Options for reading a drawing."""

from __future__ import annotations

from dataclasses import dataclass

UNIT_M = {"mm": 0.001, "cm": 0.01, "dm": 0.1, "m": 1.0, "in": 0.0254, "ft": 0.3048, "yd": 0.9144}


@dataclass(frozen=True)
class DrawingOptions:
    """Options for reading a drawing.

    `units` overrides the unit stated in the drawing. Blocks on `door_layers` and `window_layers` are openings;
    without such layers those whose own name or layer holds "door", "window" or "glaz". A block's width is its
    attribute tagged `width_tag` in drawing units, else its extent along the wall; where it has an extent its middle
    is the middle of the opening, else its insertion point is. Ends within `join_m` are one point, doorways at most
    `gap_m` wide, a block at most `near_m` from its wall, walls between rooms at most `wall_m` thick. Angles within
    `snap_deg` of a multiple of 45 degrees are set to it. `north_deg` is the bearing of the drawing's upward direction.
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
