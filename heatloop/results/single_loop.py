"""One loop by itself: as built, and as calculated at one flow."""

from __future__ import annotations

from dataclasses import dataclass

from heatloop.hydraulics.model import LoopPath
from heatloop.layout.model import Layout
from heatloop.physics.water import Fluid
from heatloop.survey.survey import SurveyData


@dataclass(frozen=True, eq=False)
class SingleLoopData:
    """One loop by itself: the `survey` reduced to it, its `layout`, its water path, and `need_w`.

    `need_w` is the heat loss of each of its rooms.
    """

    survey: SurveyData
    layout: Layout
    path: LoopPath
    fluid: Fluid
    need_w: dict[str, float]


@dataclass(frozen=True, eq=False)
class SingleLoopResult:
    """A loop calculated at a flow temperature and a temperature drop.

    `room_w`: useful heat to each room less the back loss of its skirting. `piece_c`: mean water temperature of each
    piece by its label, channel by channel.
    """

    data: SingleLoopData
    flow_temp_c: float
    return_c: float
    flow_kg_s: float
    room_w: dict[str, float]
    piece_c: dict[str, tuple[float, ...]]

    @property
    def margin_w(self) -> dict[str, float]:
        """Heat to each room less its heat loss, W; negative where the room is short."""
        return {room: self.room_w[room] - need_w for room, need_w in self.data.need_w.items()}
