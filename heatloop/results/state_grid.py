"""States of a design at other flow temperatures and in other weather, for a page with sliders."""

from __future__ import annotations

import math
from dataclasses import dataclass

from heatloop.heat_loss.model import RoomLoss
from heatloop.results.operating_point import OperatingPoint


@dataclass(frozen=True)
class RoomHeat:
    """Heat of one room in one state, W; `coverage` is NaN where the room loses nothing."""

    room: str
    heat_loss_w: float
    back_loss_w: float
    heat_to_rooms_w: float

    @property
    def margin_w(self) -> float:
        """Heat to the room less heat loss and back loss, W."""
        return self.heat_to_rooms_w - (self.heat_loss_w + self.back_loss_w)

    @property
    def coverage(self) -> float:
        """Heat to the room divided by heat loss plus back loss."""
        need_w = self.heat_loss_w + self.back_loss_w
        return self.heat_to_rooms_w / need_w if need_w > 0 else math.nan


@dataclass(frozen=True, eq=False)
class StateGrid:
    """States of a design at F flow temperatures and O outdoor temperatures, both rising, °C.

    Valves are at their calculated settings, thermostatic heads are removed, rooms are at their temperatures, and the
    pump keeps the head of the design. Heat from the water then depends only on the flow temperature, and heat loss only
    on the weather. `points` (F): at the outdoor design temperature. `losses` (O): valid for every flow temperature.
    `design_flow` and `design_outdoor`: indices of the design conditions. `unsolved_c`: flow temperatures that are left
    out because the equations have no solution there.
    """

    flow_temps_c: tuple[float, ...]
    outdoor_c: tuple[float, ...]
    points: tuple[OperatingPoint, ...]
    losses: tuple[tuple[RoomLoss, ...], ...]
    design_flow: int
    design_outdoor: int
    unsolved_c: tuple[float, ...] = ()

    def rooms(self, flow: int, outdoor: int) -> tuple[RoomHeat, ...]:
        """Rooms of the survey, in its order, in the state with these indices on the two axes."""
        rows = self.points[flow].frames["rooms"]
        return tuple(
            RoomHeat(loss.room, loss.total_w, float(back_w), float(heat_w))
            for loss, back_w, heat_w in zip(
                self.losses[outdoor], rows["back_loss_w"], rows["heat_to_rooms_w"], strict=True
            )
        )
