"""U-value of a window from glass, frame and spacer: ISO 10077-1 (edition 2017)."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class WindowGeometry:
    """Areas of glass and frame as seen from inside, and the length of the visible glass edges."""

    glass_m2: float
    frame_m2: float
    edge_m: float


def window_geometry(
    width_m: float, height_m: float, frame_width_m: float, panes_across: int = 1, panes_up: int = 1
) -> WindowGeometry:
    """Glass, frame and edge of a window whose frame and bars are `frame_width_m` wide all round.

    Plane geometry. Raises ValueError where the frame leaves no glass.

    >>> window_geometry(1.4, 1.2, 0.1)
    WindowGeometry(glass_m2=1.2, frame_m2=0.48, edge_m=4.4)
    """
    if panes_across < 1 or panes_up < 1:
        raise ValueError(f"{panes_across} by {panes_up} panes, must be at least 1 by 1")
    pane_width = (width_m - (panes_across + 1) * frame_width_m) / panes_across
    pane_height = (height_m - (panes_up + 1) * frame_width_m) / panes_up
    if pane_width <= 0.0 or pane_height <= 0.0:
        raise ValueError(
            f"frame_width_m {frame_width_m:g} in an opening of {width_m:g} by {height_m:g} m, must leave glass"
        )
    panes = panes_across * panes_up
    glass = panes * pane_width * pane_height
    edge = panes * 2.0 * (pane_width + pane_height)
    return WindowGeometry(round(glass, 12), round(width_m * height_m - glass, 12), round(edge, 12))


def window_u_w_m2k(
    geometry: WindowGeometry, glass_u_w_m2k: float, frame_u_w_m2k: float, spacer_psi_w_mk: float
) -> float:
    """U of the whole window, W/(m2 K): (Ag Ug + Af Uf + lg psi) / (Ag + Af), ISO 10077-1:2017 eq. 1.

    `spacer_psi_w_mk` is 0 for single glass, about 0.08 with an aluminium spacer and 0.04 with a
    thermally improved one (makers' published values).

    >>> round(window_u_w_m2k(WindowGeometry(1.2, 0.3, 6.0), 1.1, 1.5, 0.04), 2)
    1.34
    """
    if not geometry.glass_m2 + geometry.frame_m2 > 0.0:
        raise ValueError("a window without area, must have glass or frame above 0 m2")
    loss = geometry.glass_m2 * glass_u_w_m2k + geometry.frame_m2 * frame_u_w_m2k + geometry.edge_m * spacer_psi_w_mk
    return loss / (geometry.glass_m2 + geometry.frame_m2)
