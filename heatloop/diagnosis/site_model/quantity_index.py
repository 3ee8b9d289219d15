"""Index of each quantity that can be read among the rows of the model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from heatloop.diagnosis import readings as r
from heatloop.diagnosis.fault_types import place_name
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.survey.survey import SurveyData
from heatloop.text.formatting import listing


@dataclass(frozen=True)
class SurfaceLocation:
    """Where a surface of skirting is read: arm, cell (-1: the far end) and channel, as indices."""

    arm: int
    cell: int
    channel: int

    def name(self, network: PipeNetwork, channels: Sequence[int] = ()) -> str:
        """The location in words: "Hall, channel 2, far end"; or that of several channels, "Hall, channels 1 and 2"."""
        loop = int(network.arm_loop[self.arm])
        several = len(network.loops[loop].arms) > 1
        piece = r.FAR_END if self.cell < 0 else f"piece {network.arms[self.arm].cells[self.cell].label}"
        numbers = [str(channel + 1) for channel in channels or (self.channel,)]
        words = f"{'channel' if len(numbers) == 1 else 'channels'} {listing(numbers)}"
        return f"{place_name(network, loop, self.arm if several else -1)}, {words}, {piece}"


@dataclass(frozen=True)
class QuantityIndex:
    """Rows of the model for L loops, A arms and the heated rooms.

    Order: flow and return temperatures of loops, return temperatures of arms, flows of loops, quantities of the whole
    site, heat balance of rooms, surfaces.
    """

    loops: int
    arms: int
    rooms: tuple[str, ...]
    surfaces: tuple[SurfaceLocation, ...] = ()

    @classmethod
    def of(cls, network: PipeNetwork, survey: SurveyData) -> QuantityIndex:
        """The rows of a system."""
        heated = {cell.room for arm in network.arms for cell in arm.cells}
        return cls(len(network.loops), len(network.arms), tuple(x.name for x in survey.rooms if x.name in heated))

    def flow_temp(self, loop: int) -> int:
        return loop

    def return_temp(self, loop: int) -> int:
        return self.loops + loop

    def arm_return(self, arm: int) -> int:
        return 2 * self.loops + arm

    def flow(self, loop: int) -> int:
        return 2 * self.loops + self.arms + loop

    @property
    def total_flow(self) -> int:
        return 3 * self.loops + self.arms

    @property
    def head(self) -> int:
        return self.total_flow + 1

    @property
    def source_temp(self) -> int:
        return self.total_flow + 2

    @property
    def bias(self) -> int:
        return self.total_flow + 3

    @property
    def setting(self) -> int:
        return self.total_flow + 4

    @property
    def first_room(self) -> int:
        return self.total_flow + 5

    def room(self, name: str) -> int:
        return self.first_room + self.rooms.index(name)

    @property
    def first_surface(self) -> int:
        return self.first_room + len(self.rooms)

    def surface(self, location: SurfaceLocation) -> int:
        return self.first_surface + self.surfaces.index(location)

    @property
    def count(self) -> int:
        return self.first_surface + len(self.surfaces)

    def losses_w(self, system: SizedSystem) -> list[float]:
        """Design heat loss of every heated room."""
        loss = {room_loss.room: room_loss.total_w for room_loss in system.room_losses}
        return [loss.get(room, 0.0) for room in self.rooms]

    def name(self, row: int, network: PipeNetwork) -> tuple[str, str]:
        """The quantity of a row, and its loop or room."""
        loop_name = [path.loop.name for path in network.loops]
        if row < self.loops:
            return r.FLOW_TEMP, loop_name[row]
        if row < 2 * self.loops:
            return r.RETURN_TEMP, loop_name[row - self.loops]
        if row < 2 * self.loops + self.arms:
            arm = row - 2 * self.loops
            return r.RETURN_TEMP, place_name(network, int(network.arm_loop[arm]), arm)
        if row < self.total_flow:
            return r.FLOW, loop_name[row - 2 * self.loops - self.arms]
        if row < self.first_room:
            names = (r.TOTAL_FLOW, r.PUMP_HEAD, r.SOURCE_TEMP, r.PROBE_BIAS, r.SOURCE_SETTING)
            return names[row - self.total_flow], ""
        if row < self.first_surface:
            return "heat of the room", self.rooms[row - self.first_room]
        return r.SURFACE_TEMP, self.surfaces[row - self.first_surface].name(network)
