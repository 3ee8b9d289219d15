"""Data in the survey for first fix: finishes to be added, the reach of a drill, and the kind of opening."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

OpeningFor = Literal["bare", "lagged"]


@dataclass(frozen=True)
class FirstFixBasis:
    """Values for first fix. A finish of None is unknown: the drawing then has a blank for it.

    `wall_finish_mm` and `floor_finish_mm`: finishes to be added to the walls and floors that exist at first fix.
    `bore_reach_mm`: minimum distance from the edge of a hole to a wall or corner at which the hole can be bored.
    `opening`: whether an opening is for the bare pipe or for the pipe with its insulation.
    """

    wall_finish_mm: float | None = None
    floor_finish_mm: float | None = None
    bore_reach_mm: float = 15.0
    opening: OpeningFor = "bare"
