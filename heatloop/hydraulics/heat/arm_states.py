"""The solved arms of a system; each is built from the arrays of its group when it is first used."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import overload

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_groups import ArmHeatOutput
from heatloop.hydraulics.heat.arm_results import GroupArmResults
from heatloop.hydraulics.model import ArmPath

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class ArmStates(Sequence[ArmHeatOutput]):
    """The arms of a system, in its order.

    `place`: for each arm its group and its number in that group. `cold`: arms without flow. They are as warm as their
    rooms, whatever the solution of the group contains.
    """

    paths: tuple[ArmPath, ...]
    groups: tuple[GroupArmResults, ...]
    place: tuple[tuple[int, int], ...]
    cold: NDArray[np.bool_]

    @classmethod
    def of(cls, paths: tuple[ArmPath, ...], groups: Sequence[GroupArmResults], cold: NDArray[np.bool_]) -> ArmStates:
        """Build the states from these solved groups; their arms are numbers of the paths."""
        place = {arm: (g, r) for g, group in enumerate(groups) for r, arm in enumerate(group.solved.group.arms)}
        return cls(paths, tuple(groups), tuple(place[arm] for arm in range(len(paths))), cold)

    @cached_property
    def _made(self) -> dict[int, ArmHeatOutput]:
        """The arms built so far."""
        return {}

    def __len__(self) -> int:
        return len(self.paths)

    @overload
    def __getitem__(self, index: int) -> ArmHeatOutput: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[ArmHeatOutput]: ...
    def __getitem__(self, index: int | slice) -> ArmHeatOutput | Sequence[ArmHeatOutput]:
        if isinstance(index, slice):
            return tuple(self[i] for i in range(*index.indices(len(self))))
        place = range(len(self))[index]
        if place not in self._made:
            group, number = self.place[place]
            arm = self.groups[group].arm(number)
            self._made[place] = arm_without_flow(arm, self.paths[place]) if self.cold[place] else arm
        return self._made[place]

    def __iter__(self) -> Iterator[ArmHeatOutput]:
        return (self[i] for i in range(len(self)))

    @property
    def check_w(self) -> Array:
        """Emission of each arm in W (A), integrated independently."""
        emitted_w = np.empty(len(self))
        for group in self.groups:
            emitted_w[list(group.solved.group.arms)] = group.arm_check_w
        emitted_w[self.cold] = 0.0
        return emitted_w

    @property
    def residual_k(self) -> float:
        """Maximum residual of the channel equations in K."""
        return max(group.solved.channels.residual_k for group in self.groups)


def arm_without_flow(arm: ArmHeatOutput, path: ArmPath) -> ArmHeatOutput:
    """State of an arm without flow: as warm as its rooms."""
    room = np.array([cell.room_c for cell in path.cells])
    nodes = np.append(room, room[-1])
    fine_room = np.interp(arm.fine_x_m, np.append(0.0, np.cumsum([cell.length_m for cell in path.cells])), nodes)
    return replace(
        arm,
        node_c=np.broadcast_to(nodes, arm.node_c.shape),
        surface_c=np.broadcast_to(nodes, arm.surface_c.shape),
        mean_c=np.broadcast_to(room, arm.mean_c.shape),
        emitted_w=np.zeros_like(arm.emitted_w),
        lost_w=np.zeros_like(arm.lost_w),
        wall_c=room,
        return_c=float(room[0]),
        given_w=0.0,
        check_w=0.0,
        fine_c=np.broadcast_to(fine_room, arm.fine_c.shape),
        fine_surface_c=np.broadcast_to(fine_room, arm.fine_surface_c.shape),
    )
