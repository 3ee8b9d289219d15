"""One loop by itself: as built, and as calculated at one flow."""

from __future__ import annotations

from dataclasses import dataclass

from heatloop.hydraulics.model import LoopPath
from heatloop.layout.model import Layout
from heatloop.physics.water import Fluid
from heatloop.survey.survey import SurveyData


@dataclass(frozen=True, eq=False)
class SingleLoopData:
    """One loop by itself: the `survey` cut down to it, its `layout`, its water path, and `need_w`, what each of
    its rooms loses."""

    survey: SurveyData
    layout: Layout
    path: LoopPath
    water: Fluid
    need_w: dict[str, float]


@dataclass(frozen=True, eq=False)
class SingleLoopResult:
    """A laid loop tried at a flow temperature and a drop.

    `room_w`: useful watts into each room, less what the wall behind the skirting loses; `piece_c`: the mean water
    temperature of each piece by its label, channel by channel.
    """

    laid: SingleLoopData
    flow_temp_c: float
    return_c: float
    flow_kg_s: float
    room_w: dict[str, float]
    piece_c: dict[str, tuple[float, ...]]

    @property
    def margin_w(self) -> dict[str, float]:
        """What each room gets beyond its need, W; below 0 it is short."""
        return {room: self.room_w[room] - need_w for room, need_w in self.laid.need_w.items()}
