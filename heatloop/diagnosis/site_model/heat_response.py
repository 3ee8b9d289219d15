"""Return temperature and heat of every arm against its flow and its output, tabulated from the channel equations.

An arm is solved for many flows and shares of its output at the expected flow temperature. The table has the ratio of
its excess at the outlet to that at the inlet. It is also used at another excess: output is proportional to excess^n, so
a warmer inlet corresponds to a larger output, by the factor (excess / expected excess)^(n - 1) (EN 442 characteristic).
Between the points a cubic spline is used (scipy's `map_coordinates`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates, spline_filter

from heatloop.diagnosis.site_model.as_commissioned import CELL_NUMBER, CommissionedSite
from heatloop.hydraulics.heat.arm_groups import ArmGroup, repeat_group
from heatloop.hydraulics.heat.channel_iteration import ChannelIteration
from heatloop.hydraulics.model import ArmPath
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

LOG_FLOW = 0.43 * np.arange(-9, 4)
"""Logarithm of flow as a share of the expected one, which is one of them, so that the table is exact there."""
LOG_OUTPUT = 0.5 * np.arange(-3, 2)
"""Logarithm of output as a share of the expected one at the same temperatures."""

TOLERANCE_K = 1e-3
MAX_STEPS = 60
STEP = 0.02
"""Step in a logarithm that slopes are taken over."""


@dataclass(frozen=True)
class ArmHeatTable:
    """Heat table of one arm.

    `room_c`: temperature of its rooms when the table was made, weighted by their share of its output. excess_k: of its
    inlet then. exponent: of the whole arm. rooms: that it heats. `left` (13, 5): spline coefficients of the remaining
    share of excess. `parts` (R, 13, 5): of the share of the heat of each room. `surfaces` (M + 1, C, 13, 5): of the
    share of excess of the surface of each channel, mean of each cell and, last, at the far end.
    """

    flow_kg_s: float
    room_c: float
    excess_k: float
    exponent: float
    rooms: tuple[str, ...]
    left: Array
    parts: Array
    surfaces: Array

    def at(
        self, log_flow: Array, log_output: Array, inlet_c: Array, surface: tuple[int, int] | None = None
    ) -> tuple[Array, Array, Array, Array]:
        """Outlet temperature (N) and its slopes by the logarithm of flow, of output and by the inlet.

        The same of a surface, where its cell (-1: the far end) and its channel are given.
        """
        table = self.left if surface is None else self.surfaces[surface]
        excess = np.maximum(inlet_c - self.room_c, 0.1)
        y = log_output + (self.exponent - 1.0) * np.log(excess / self.excess_k)
        value, more = self._value(table, log_flow, y), self._value(table, log_flow + STEP, y)
        by_output = (self._value(table, log_flow, y + STEP) - value) / STEP
        by_flow = (more - value) / STEP
        outlet = self.room_c + value * excess
        return outlet, by_flow * excess, by_output * excess, value + (self.exponent - 1.0) * by_output

    def room_parts(self, log_flow: Array, log_output: Array) -> Array:
        """Part of the arm's heat that each of its rooms gets, (R, N)."""
        return np.stack([self._value(part, log_flow, log_output) for part in self.parts])

    @cached_property
    def expected_parts(self) -> Array:
        """Part of each room at the expected flow and output, (R)."""
        return self.room_parts(np.zeros(1), np.zeros(1))[:, 0]

    def _value(self, table: Array, log_flow: Array, log_output: Array) -> Array:
        x = (np.clip(log_flow, LOG_FLOW[0], LOG_FLOW[-1]) - LOG_FLOW[0]) / (LOG_FLOW[1] - LOG_FLOW[0])
        y = (np.clip(log_output, LOG_OUTPUT[0], LOG_OUTPUT[-1]) - LOG_OUTPUT[0]) / (LOG_OUTPUT[1] - LOG_OUTPUT[0])
        return np.asarray(map_coordinates(table, np.stack([x, y]), order=3, mode="mirror", prefilter=False))


@dataclass(frozen=True)
class HeatTables:
    """Tables of all arms without fault, and of arms with air in a channel by arm and channel, from 1."""

    arms: tuple[ArmHeatTable, ...]
    with_air: Mapping[tuple[int, int], ArmHeatTable]

    def of(self, arm: int, air: int) -> ArmHeatTable:
        """The table of an arm whose channel `air` contains air (0: none)."""
        return self.with_air[arm, air] if air else self.arms[arm]


def heat_tables(
    site: CommissionedSite,
    arm_kg_s: Array,
    channel_kg_s: Sequence[Array],
    air_share: Mapping[tuple[int, int], Array],
) -> HeatTables:
    """Tables of all arms: arm_kg_s (A) their expected flows, channel_kg_s the flow of each arm's channels, air_share
    the shares of channels in an arm by the arm and its channel with air."""
    network = site.network
    supply_c = site.supply_c(site.source_c)
    tables: list[ArmHeatTable | None] = [None] * len(network.arms)
    with_air: dict[tuple[int, int], ArmHeatTable] = {}
    for group in network.groups:
        share = np.stack([channel_kg_s[a] / arm_kg_s[a] for a in group.arms], axis=1)
        inlet = supply_c[[network.arm_loop[a] for a in group.arms]]
        for air in range(share.shape[0] + 1):
            affected = [r for r, a in enumerate(group.arms) if not air or (a, air) in air_share]
            if not affected:
                continue
            changed = share.copy()
            for r in affected if air else ():
                changed[:, r] = air_share[group.arms[r], air]
            solved = _solve(group, changed, arm_kg_s[list(group.arms)], inlet, site.fluid)
            for r in affected:
                a = group.arms[r]
                table = _table(network.arms[a], arm_kg_s[a], inlet[r], solved.of(r, group.runs.start))
                if air:
                    with_air[a, air] = table
                else:
                    tables[a] = table
    return HeatTables(tuple(table for table in tables if table is not None), with_air)


@dataclass(frozen=True)
class _GridSolution:
    """Solution at the S points of the grid: outlets (S, R), heat of every cell, all channels, (S, M), and surfaces of
    channels: means of cells (C, S, M) and at the far end (C, S, R)."""

    outlet_c: Array
    emitted_w: Array
    cell_c: Array
    far_c: Array

    def of(self, arm: int, start: NDArray[np.intp]) -> _GridSolution:
        """That of one arm of the group, in which its cells begin at `start`."""
        cells, own = slice(start[arm], start[arm + 1]), slice(arm, arm + 1)
        return _GridSolution(
            self.outlet_c[:, arm], self.emitted_w[:, cells], self.cell_c[:, :, cells], self.far_c[:, :, own]
        )


def _grid() -> tuple[Array, Array]:
    flow, output = np.meshgrid(np.exp(LOG_FLOW), np.exp(LOG_OUTPUT), indexing="ij")
    return flow.ravel(), output.ravel()


def _solve(group: ArmGroup, share: Array, arm_kg_s: Array, inlet_c: Array, fluid: Fluid) -> _GridSolution:
    """The group solved at the S points of the grid."""
    flow, output = _grid()
    count, cells = flow.size, group.runs.room_c.size
    many = repeat_group(group, count)
    emission = many.runs.emission_w_mkn * np.repeat(output, cells)
    many = replace(many, runs=replace(many.runs, emission_w_mkn=emission))
    channel = (share[:, None, :] * (flow[:, None] * arm_kg_s)[None, :, :]).reshape(share.shape[0], -1)
    steps = ChannelIteration(many, fluid, 1, cell_number=CELL_NUMBER)
    inlet = np.tile(inlet_c, count)[:, None]
    for _ in range(MAX_STEPS):
        if steps.step(channel[:, :, None], inlet) < TOLERANCE_K:
            break
    outlet = steps.return_c[:, 0].reshape(count, -1)
    solved = steps.finish()
    begins = np.concatenate([[0], np.cumsum(solved.parts)])
    emitted = np.add.reduceat(solved.channels.emitted_w.sum(axis=0), begins[:-1])
    walls = solved.channels.wall_ends_c
    length = solved.channels.runs.length_m
    mean = np.add.reduceat(walls.mean(axis=1) * length, begins[:-1], axis=1) / many.runs.length_m
    last = begins[many.runs.start[1:]] - 1
    channels = share.shape[0]
    return _GridSolution(
        outlet,
        emitted.reshape(count, cells),
        mean.reshape(channels, count, cells),
        walls[:, 1, last].reshape(channels, count, -1),
    )


def _table(path: ArmPath, flow_kg_s: float, inlet_c: float, solved: _GridSolution) -> ArmHeatTable:
    shape = (LOG_FLOW.size, LOG_OUTPUT.size)
    room_c = np.array([cell.room_c for cell in path.cells])
    weight = np.array([c.characteristic.k_w_mkn * c.factor * c.length_m for c in path.cells])
    powers = np.array([cell.characteristic.exponent for cell in path.cells])
    strength = weight * np.maximum(inlet_c - room_c, 1.0) ** powers
    mean_c, exponent = float(np.average(room_c, weights=strength)), float(np.average(powers, weights=strength))

    def spline(values: Array) -> Array:
        return np.asarray(spline_filter(values.reshape(shape), order=3, mode="mirror"))

    rooms = tuple(dict.fromkeys(cell.room for cell in path.cells))
    useful = solved.emitted_w * np.array([cell.useful for cell in path.cells])
    member = np.array([[cell.room == room for cell in path.cells] for room in rooms], float)
    parts = (useful @ member.T) / solved.emitted_w.sum(axis=1, keepdims=True)
    surfaces = np.concatenate([solved.cell_c, solved.far_c], axis=2)
    left = (surfaces - mean_c) / (inlet_c - mean_c)
    return ArmHeatTable(
        flow_kg_s=float(flow_kg_s),
        room_c=mean_c,
        excess_k=inlet_c - mean_c,
        exponent=exponent,
        rooms=rooms,
        left=spline((solved.outlet_c - mean_c) / (inlet_c - mean_c)),
        parts=np.stack([spline(part) for part in parts.T]),
        surfaces=np.stack([[spline(channel[:, m]) for channel in left] for m in range(left.shape[2])]),
    )
