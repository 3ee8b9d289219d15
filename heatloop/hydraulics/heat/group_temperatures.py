"""Temperatures of a solved group of arms, from which another solution of the group starts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_groups import ArmGroup, repeat_runs
from heatloop.physics.channels.grid import ChannelRuns, interpolated_c

Array = NDArray[np.float64]


@dataclass(frozen=True)
class GroupTemperatures:
    """Temperatures of a group at given flows.

    `divided`: the parts of each cell before any were cut for accuracy. `parts`: the parts with which it was solved.
    Water at the nodes (C, nodes) and half-way along the cells (C, M). film_drop_k: from water to wall at the points of
    the equations, by set of points (C, P, M); empty without film. `joined_c` (R): mixed temperature of the water that
    leaves each arm, by enthalpy.
    """

    group: ArmGroup
    fine: ChannelRuns
    parts: NDArray[np.intp]
    temp_c: Array
    middle_c: Array
    film_drop_k: Mapping[str, Array]
    heat_capacity_j_kgk: Array
    flow_kg_s: Array
    inlet_c: Array
    divided: NDArray[np.intp]
    joined_c: Array

    def on_cells(self, times: int, fine: ChannelRuns, parts: NDArray[np.intp]) -> tuple[Array, Mapping[str, Array]]:
        """Temperatures at the nodes of `fine` (C, nodes): the same runs `times` times, in cells of so many parts.

        Also the drops of the film, by set of points; in other cells, those of the nearest cell.
        """
        temp_c, drop_k = self.temp_c, self.film_drop_k
        if times > 1:
            temp_c = np.tile(temp_c, times)
            drop_k = {slot: np.tile(drop, times) for slot, drop in drop_k.items()}
        if np.array_equal(np.tile(self.parts, times), parts):
            return temp_c, drop_k
        runs = repeat_runs(self.fine, times)
        nearest = np.searchsorted(np.cumsum(runs.length_m), np.cumsum(fine.length_m) - 0.5 * fine.length_m)
        nearest = np.minimum(nearest, runs.length_m.size - 1)
        return interpolated_c(temp_c, runs, fine), {slot: drop[:, :, nearest] for slot, drop in drop_k.items()}
