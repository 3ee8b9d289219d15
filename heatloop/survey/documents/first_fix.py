"""What the survey states for first fix: finishes still to come, the reach of a drill, and what an opening takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

OpeningFor = Literal["bare", "lagged"]


@dataclass(frozen=True)
class FirstFixBasis:
    """Values for first fix. A finish of None is not known: the drawing then leaves a blank for it.

    `wall_finish_mm` and `floor_finish_mm` are still to come on the walls and floors as they are at first fix;
    `bore_reach_mm` is the least distance from the edge of a hole to a wall or corner at which it can be bored;
    `opening` says whether an opening takes the bare pipe or the pipe with its insulation.
    """

    wall_finish_mm: float | None = None
    floor_finish_mm: float | None = None
    bore_reach_mm: float = 15.0
    opening: OpeningFor = "bare"
