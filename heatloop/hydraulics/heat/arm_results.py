"""Results of the arms of a solved group, on the cells of the original path."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_groups import ArmHeatOutput
from heatloop.hydraulics.heat.channel_heat import GroupSolution
from heatloop.physics.channels.accuracy import emission_by_cell_w

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class GroupArmResults:
    """The arms of a solved group on the cells of the original path; each is built when it is requested.

    `check_w`: the emission of every fine cell, integrated independently.
    """

    solved: GroupSolution
    check_w: Array

    @cached_property
    def first(self) -> NDArray[np.intp]:
        """Index of the first fine cell of every cell (M), then the number of all fine cells."""
        return np.concatenate([[0], np.cumsum(self.solved.parts)])

    @cached_property
    def _run_first(self) -> NDArray[np.intp]:
        return self.first[self.solved.group.runs.start[:-1]]

    @cached_property
    def arm_check_w(self) -> Array:
        """Emission of each arm (R), integrated independently."""
        return np.add.reduceat(self.check_w, self._run_first)

    @cached_property
    def by_cell(self) -> tuple[Array, Array, Array, Array]:
        """Mean temperature and emission (C, M), loss and wall temperature (M) of the cells."""
        solved, channels, first = self.solved, self.solved.channels, self.first[:-1]
        lengths, whole_m = solved.fine.length_m, solved.group.runs.length_m
        return (
            np.add.reduceat(channels.middle_c * lengths, first, axis=1) / whole_m,
            np.add.reduceat(channels.emitted_w, first, axis=1),
            np.add.reduceat(channels.lost_w.sum(axis=0), first),
            np.add.reduceat(solved.wall_c * lengths, first) / whole_m,
        )

    @cached_property
    def arm_given_w(self) -> Array:
        """Heat given by the water of each arm (R)."""
        return np.add.reduceat(self.solved.channels.given_w.sum(axis=0), self._run_first)

    def arm(self, r: int) -> ArmHeatOutput:
        """The arm of this number in the group."""
        channels, start = self.solved.channels, self.solved.group.runs.start
        mean_c, emitted_w, lost_w, wall_c = self.by_cell
        cells = slice(start[r], start[r + 1])
        bounds = self.first[start[r] : start[r + 1] + 1]
        nodes = slice(bounds[0] + r, bounds[-1] + r + 1)
        surface_c = self._surface_c(cells, bounds)
        along = np.concatenate([[0.0], np.cumsum(self.solved.fine.length_m[bounds[0] : bounds[-1]])])
        return ArmHeatOutput(
            node_c=channels.temp_c[:, bounds + r],
            surface_c=surface_c[:, bounds - bounds[0]],
            mean_c=mean_c[:, cells],
            emitted_w=emitted_w[:, cells],
            lost_w=lost_w[cells],
            wall_c=wall_c[cells],
            return_c=float(self.solved.joined_c[r]),
            given_w=float(self.arm_given_w[r]),
            check_w=float(self.arm_check_w[r]),
            residual_k=channels.residual_k,
            fine_x_m=along,
            fine_c=channels.temp_c[:, nodes],
            fine_surface_c=surface_c,
        )

    def _surface_c(self, cells: slice, bounds: NDArray[np.intp]) -> Array:
        """Wall temperature at the nodes of one arm, (C, nodes).

        A node has the value of the cell that ends there; where skirting begins after plain pipe, that of the skirting.
        """
        ends_c = self.solved.channels.wall_ends_c[:, :, bounds[0] : bounds[-1]]
        surface_c = np.concatenate([ends_c[:, 0, :1], ends_c[:, 1]], axis=1)
        skirting = self.solved.group.skirting[cells]
        begins = bounds[1:-1][~skirting[:-1] & skirting[1:]] - bounds[0]
        surface_c[:, begins] = ends_c[:, 0, begins]
        return surface_c


def arm_results(solved: GroupSolution) -> list[ArmHeatOutput]:
    """The arms of the group one by one, on the cells of the original path."""
    arms = GroupArmResults(solved, emission_by_cell_w(solved.channels))
    return [arms.arm(r) for r in range(len(solved.group.arms))]
