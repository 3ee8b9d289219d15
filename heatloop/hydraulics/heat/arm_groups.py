"""Groups of arms with similar channels, which are solved together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.model import ArmPath
from heatloop.physics.channels.grid import ChannelRuns

Array = NDArray[np.float64]

MAX_STEPS = 60
"""Newton steps on the temperatures of a group; heat capacity and film are calculated again after each."""


@dataclass(frozen=True)
class ArmGroup:
    """Arms whose channels have the same directions; their cells are stored one arm after the other.

    `arms`: positions of these arms in the list of the caller. `runs`: all their cells. area_m2 and hydraulic_diameter_m
    (C, M) describe the channels of each cell for the water film; `film` (M) states whether the film is included.
    flow_exponent and test_flow_kg_s (M) belong to the characteristics of the cells. `skirting` (M): False for plain
    pipe. min_film_re (M): minimum Reynolds number for the film, where one is given.
    """

    arms: tuple[int, ...]
    runs: ChannelRuns
    area_m2: Array
    hydraulic_diameter_m: Array
    film: NDArray[np.bool_]
    flow_exponent: Array
    test_flow_kg_s: Array
    skirting: NDArray[np.bool_]
    min_film_re: Array | None = None

    @property
    def channels(self) -> int:
        return len(self.runs.direction)

    def has_cells_of(self, other: ArmGroup) -> bool:
        """Whether all cells equal those of another group, with equal room temperatures; output constants may differ."""
        own, its = self.runs, other.runs
        if own.direction != its.direction or (own.loss_w_mk is None) != (its.loss_w_mk is None):
            return False
        names = (
            "start",
            "length_m",
            "exponent",
            "link_w_mk",
            "room_c",
            *(() if own.loss_w_mk is None else ("loss_w_mk",)),
        )
        return all(np.array_equal(getattr(own, name), getattr(its, name)) for name in names)


@dataclass(frozen=True)
class ArmHeatOutput:
    """Solution of one arm. Arrays are channel first.

    node_c (C, M + 1): water at the nodes along the wall. mean_c (C, M): mean of each cell. emitted_w (C, M): heat
    emitted by the wall of each channel. lost_w (M): the part of it that the room does not receive. surface_c (C, M + 1)
    and wall_c (M): wall temperatures. return_c: mixed temperature of the water that leaves the arm. check_w: the
    emission, integrated independently. residual_k: maximum residual of the equations, inlet included. fine_x_m, fine_c
    and fine_surface_c: the same run on the fine cells.
    """

    node_c: Array
    surface_c: Array
    mean_c: Array
    emitted_w: Array
    lost_w: Array
    wall_c: Array
    return_c: float
    given_w: float
    check_w: float
    residual_k: float
    fine_x_m: Array
    fine_c: Array
    fine_surface_c: Array


def group_similar_arms(arms: Sequence[ArmPath]) -> tuple[ArmGroup, ...]:
    """Group arms by the directions of their channels, so that each group is solved as one."""
    groups: dict[tuple[int, ...], list[int]] = {}
    for index, arm in enumerate(arms):
        groups.setdefault(arm.directions, []).append(index)
    return tuple(_group(directions, members, [arms[i] for i in members]) for directions, members in groups.items())


def _group(directions: tuple[int, ...], indices: Sequence[int], arms: Sequence[ArmPath]) -> ArmGroup:
    ducts = [[arm.ducts[c] for arm in arms for _ in arm.cells] for c in range(len(directions))]
    return ArmGroup(
        arms=tuple(indices),
        runs=_runs(directions, arms),
        area_m2=np.array([[duct.area_m2 for duct in row] for row in ducts]),
        hydraulic_diameter_m=np.array([[duct.hydraulic_diameter_m for duct in row] for row in ducts]),
        film=np.array([cell.film for arm in arms for cell in arm.cells]),
        flow_exponent=np.array([cell.characteristic.flow_exponent for arm in arms for cell in arm.cells]),
        test_flow_kg_s=np.array([cell.characteristic.test_flow_kg_s for arm in arms for cell in arm.cells]),
        skirting=np.array([cell.skirting for arm in arms for cell in arm.cells], dtype=bool),
    )


def _runs(directions: tuple[int, ...], arms: Sequence[ArmPath]) -> ChannelRuns:
    count = len(directions)
    cells = [cell for arm in arms for cell in arm.cells]
    emission = np.array([cell.characteristic.k_w_mkn * cell.factor / count for cell in cells])
    down = np.array([cell.downward_loss_w_mk / count for cell in cells])
    return ChannelRuns(
        start=np.concatenate([[0], np.cumsum([len(arm.cells) for arm in arms])]),
        length_m=np.array([cell.length_m for cell in cells]),
        emission_w_mkn=np.tile(emission, (count, 1)),
        exponent=np.array([cell.characteristic.exponent for cell in cells]),
        link_w_mk=np.tile([cell.characteristic.link_w_mk for cell in cells], (count - 1, 1)),
        room_c=np.array([cell.room_c for cell in cells]),
        direction=directions,
        loss_w_mk=np.tile(down, (count, 1)) if down.any() else None,
    )


@dataclass(frozen=True)
class CellChanges:
    """What differs in the cells of a repeated group, (times, M) each; None where nothing does.

    room_c: room temperatures. output, length: factors on the output constant and on the length.
    """

    room_c: Array | None = None
    output: Array | None = None
    length: Array | None = None

    def changed(self, runs: ChannelRuns) -> ChannelRuns:
        """The repeated runs with these changes."""
        if self.room_c is not None:
            runs = replace(runs, room_c=self.room_c.ravel())
        if self.output is not None:
            runs = replace(runs, emission_w_mkn=runs.emission_w_mkn * self.output.ravel())
        return runs if self.length is None else replace(runs, length_m=runs.length_m * self.length.ravel())


def repeat_group(group: ArmGroup, times: int, changes: CellChanges | None = None) -> ArmGroup:
    """Repeat the arms of the group `times` times; `changes` by repetition."""
    if times == 1 and changes is None:
        return group
    runs = repeat_runs(group.runs, times)
    return ArmGroup(
        arms=group.arms * times,
        runs=runs if changes is None else changes.changed(runs),
        area_m2=np.tile(group.area_m2, times),
        hydraulic_diameter_m=np.tile(group.hydraulic_diameter_m, times),
        film=np.tile(group.film, times),
        flow_exponent=np.tile(group.flow_exponent, times),
        test_flow_kg_s=np.tile(group.test_flow_kg_s, times),
        skirting=np.tile(group.skirting, times),
        min_film_re=None if group.min_film_re is None else np.tile(group.min_film_re, times),
    )


def repeat_runs(runs: ChannelRuns, times: int) -> ChannelRuns:
    """The runs `times` times, one repetition after the other."""
    cells = runs.length_m.size
    starts = (runs.start[None, :-1] + cells * np.arange(times)[:, None]).ravel()
    return ChannelRuns(
        start=np.append(starts, cells * times),
        length_m=np.tile(runs.length_m, times),
        emission_w_mkn=np.tile(runs.emission_w_mkn, times),
        exponent=np.tile(runs.exponent, times),
        link_w_mk=np.tile(runs.link_w_mk, times),
        room_c=np.tile(runs.room_c, times),
        direction=runs.direction,
        film_mk_w=None if runs.film_mk_w is None else np.tile(runs.film_mk_w, times),
        loss_w_mk=None if runs.loss_w_mk is None else np.tile(runs.loss_w_mk, times),
    )
