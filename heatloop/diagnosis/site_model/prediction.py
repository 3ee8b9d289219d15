"""Predicted readings of a site with given faults, and their sensitivity to all uncertain quantities.

All values are for N points at once, a point being a fault (or two) of one size. Uncertain values that are not a fault
are assumed normal about their expected values, and the readings linear in them. They are the bias of the surface probe,
the control of the source, tolerances of valves and outputs, and heat losses of
rooms."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.diagnosis.fault_types import LITTLE_HEAD, MUCH_HEAD
from heatloop.diagnosis.site_model.as_commissioned import CommissionedSite, commissioned_site
from heatloop.diagnosis.site_model.flow_response import Responses, flow_responses
from heatloop.diagnosis.site_model.heat_response import ArmHeatTable, heat_tables
from heatloop.diagnosis.site_model.quantity_index import QuantityIndex
from heatloop.diagnosis.site_model.reading_conditions import MIN_SPAN_K, ReadingConditions
from heatloop.hydraulics.model import Side
from heatloop.hydraulics.network.pipe_loss import TailConductances
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.physics.emitters import one_way_outlet_excess_k

Array = NDArray[np.float64]

SHUT = 0.004
"""A share of the expected flow so small that the pipes are as cold as the room."""

STEP_K, STEP_LOG = 0.1, 0.01
"""Steps that the slopes of tails are taken over."""

DEAD_LEG = (0.5, 0.3)
"""Temperature of the flow pipe of a closed loop, as a share from room to flow, and its spread: warm by conduction."""


@dataclass(frozen=True)
class FaultParameters:
    """Fault parameters at N points.

    Changes of the logarithms of arm flows (N, A), arm outputs (N, A) and heads (N, P); change of the supply temperature
    of the loops in K (N, L); which loops are swapped (N, L) bool.
    """

    arm_log: Array
    output_log: Array
    head_log: Array
    supply_k: Array
    swapped: NDArray[np.bool_]

    @property
    def count(self) -> int:
        return int(self.arm_log.shape[0])

    def __add__(self, other: FaultParameters) -> FaultParameters:
        """Combination of two faults."""
        return FaultParameters(
            self.arm_log + other.arm_log,
            self.output_log + other.output_log,
            self.head_log + other.head_log,
            self.supply_k + other.supply_k,
            self.swapped ^ other.swapped,
        )

    def still(self) -> FaultParameters:
        """The same number of points without any change."""
        return FaultParameters(
            np.zeros_like(self.arm_log),
            np.zeros_like(self.output_log),
            np.zeros_like(self.head_log),
            np.zeros_like(self.supply_k),
            np.zeros_like(self.swapped),
        )

    def take(self, index: NDArray[np.intp] | slice) -> FaultParameters:
        """Some of the points."""
        return FaultParameters(
            self.arm_log[index],
            self.output_log[index],
            self.head_log[index],
            self.supply_k[index],
            self.swapped[index],
        )


def concatenate(parts: Sequence[FaultParameters]) -> FaultParameters:
    """Points concatenated."""
    return FaultParameters(
        np.concatenate([part.arm_log for part in parts]),
        np.concatenate([part.output_log for part in parts]),
        np.concatenate([part.head_log for part in parts]),
        np.concatenate([part.supply_k for part in parts]),
        np.concatenate([part.swapped for part in parts]),
    )


@dataclass(frozen=True)
class Prediction:
    """Predicted readings (N, M) in the rows of the model.

    Additional variance of some readings (N, M); slopes by flows (N, M, A), outputs (N, M, A) and supply (N, M, L).
    """

    mean: Array
    more: Array
    by_flow: Array
    by_output: Array
    by_supply: Array


@dataclass(frozen=True)
class SiteModel:
    """A prepared model of the site as left: rows, flows and their responses, tables of arms, head_slope (P, A)."""

    site: CommissionedSite
    rows: QuantityIndex
    responses: Responses
    tables: tuple[ArmHeatTable, ...]
    tails: TailConductances
    head_slope: Array

    @property
    def network(self) -> PipeNetwork:
        return self.site.network


def site_model(system: SizedSystem, thermostatic_heads_removed: bool) -> SiteModel:
    """The model of a design's site: some hundred solves of its circuit, once."""
    site = commissioned_site(system, thermostatic_heads_removed)
    responses = flow_responses(site)
    return SiteModel(
        site,
        QuantityIndex.of(site.network, site.survey),
        responses,
        heat_tables(site, responses.arm_kg_s, responses.channel_kg_s),
        TailConductances.of(site.network.loops),
        _head_slope(responses, len(site.network.circuits)),
    )


def _head_slope(responses: Responses, circuits: int) -> Array:
    """Change of the logarithm of arm flows by that of each circuit's head, about the expected head."""
    slope = np.zeros((circuits, responses.arm_kg_s.size))
    for response in responses.of:
        if response.fault.kind in (LITTLE_HEAD, MUCH_HEAD):
            nearest = int(np.argmin(np.abs(np.log(response.sizes))))
            slope[response.fault.circuit] = response.arm_log[nearest] / math.log(response.sizes[nearest])
    return slope


def fault_free(model: SiteModel, count: int = 1) -> FaultParameters:
    """Points without any fault."""
    loops, arms, circuits = len(model.network.loops), len(model.network.arms), len(model.network.circuits)
    return FaultParameters(
        np.zeros((count, arms)),
        np.zeros((count, arms)),
        np.zeros((count, circuits)),
        np.zeros((count, loops)),
        np.zeros((count, loops), bool),
    )


def predict(model: SiteModel, day: ReadingConditions, points: FaultParameters) -> Prediction:
    """Predicted readings of this day at N points."""
    return _Predictor(model, day, points).run()


class _Predictor:
    def __init__(self, model: SiteModel, day: ReadingConditions, points: FaultParameters) -> None:
        self.model, self.day, self.points, self.rows = model, day, points, model.rows
        network = model.network
        self.owner = np.asarray(network.arm_loop)
        self.n, self.arms, self.loops = points.count, len(network.arms), len(network.loops)
        m = self.rows.count
        self.mean, self.more = np.zeros((self.n, m)), np.zeros((self.n, m))
        self.by_flow, self.by_output = np.zeros((self.n, m, self.arms)), np.zeros((self.n, m, self.arms))
        self.by_supply = np.zeros((self.n, m, self.loops))

    def run(self) -> Prediction:
        model, day, points = self.model, self.day, self.points
        fluid, expected = model.site.fluid, model.responses
        self.flow = expected.arm_kg_s * np.exp(points.arm_log)
        member = (self.owner[:, None] == np.arange(self.loops)).astype(float)
        self.loop_flow = self.flow @ member
        self.supply = model.site.supply_c(day.source_c) + points.supply_k
        self.capacity = fluid.heat_capacity_j_kgk(np.maximum(self.supply, 1.0))
        self.around = np.array([day.room_c.get(p.tail_loss.room, p.tail_loss.around_c) for p in model.network.loops])
        emitters = model.network.emitters
        read = [day.room_c.get(model.network.locations[i].element.room) for i in emitters.place]
        design_c = emitters.room_c.tolist()
        self.emitter_room_c = [
            assumed_c if room is None else room for room, assumed_c in zip(read, design_c, strict=True)
        ]
        self._arms()
        self._loops()
        self._flows()
        self._rooms()
        self._swap()
        return Prediction(self.mean, self.more, self.by_flow, self.by_output, self.by_supply)

    def _past_tails(self, side: Side, inlet: Array, flow: Array) -> Array:
        """Temperature after the tails of one side, "flow" or "return", and the other emitters there, (N, L)."""
        emitters, tails = self.model.network.emitters, self.model.tails
        capacity = np.maximum(flow * self.capacity, 1e-9)
        outlet = inlet.copy()

        def along_pipes() -> None:
            left = np.exp(-(tails.flow_w_k if side == "flow" else tails.return_w_k) / capacity)
            outlet[:] = self.around + (outlet - self.around) * left

        if side == "flow":
            along_pipes()
        for m in np.flatnonzero(emitters.on_flow == (side == "flow")):
            i, room_c = emitters.loop[m], self.emitter_room_c[m]
            excess, k, exponent = outlet[:, i] - room_c, emitters.k_w_kn[m], emitters.exponent[m]
            outlet[:, i] = room_c + one_way_outlet_excess_k(excess, k, exponent, 1.0, capacity[:, i])
        if side == "return":
            along_pipes()
        return outlet

    def _past_tails_and_slopes(self, side: Side, inlet: Array) -> tuple[Array, Array, Array]:
        """The same with its slopes by the inlet and by the logarithm of the loop's flow, (N, L) each."""
        flow = self.loop_flow
        outlet = self._past_tails(side, inlet, flow)
        by_inlet = (self._past_tails(side, inlet + STEP_K, flow) - outlet) / STEP_K
        by_flow = (self._past_tails(side, inlet, flow * math.exp(STEP_LOG)) - outlet) / STEP_LOG
        return outlet, by_inlet, by_flow

    def _arms(self) -> None:
        """Outlets of all arms with their slopes, (N, A) each."""
        inlet, self.head_by_supply, self.head_by_flow = self._past_tails_and_slopes("flow", self.supply)
        shape = (self.n, self.arms)
        self.inlet = inlet[:, self.owner]
        self.outlet, self.out_by_flow, self.out_by_output, self.out_by_inlet = (np.empty(shape) for _ in range(4))
        self.parts: list[Array] = []
        for a, table in enumerate(self.model.tables):
            shift = self._warmer_rooms_k(table)
            log_flow, log_output = self.points.arm_log[:, a], self.points.output_log[:, a]
            outlet_and_slopes = table.at(log_flow, log_output, self.inlet[:, a] - shift)
            self.outlet[:, a] = outlet_and_slopes[0] + shift
            self.out_by_flow[:, a], self.out_by_output[:, a], self.out_by_inlet[:, a] = outlet_and_slopes[1:]
            self.parts.append(table.room_parts(log_flow, log_output))
        shut = self.flow < SHUT * self.model.responses.arm_kg_s
        self.outlet = np.where(shut, self.around[self.owner], self.outlet)
        for slope in (self.out_by_flow, self.out_by_output, self.out_by_inlet):
            slope[shut] = 0.0
        self.share = self.flow / self.loop_flow[:, self.owner]
        for a in range(self.arms):
            row, i = self.rows.arm_return(a), int(self.owner[a])
            by_head = self.out_by_inlet[:, a]
            self.mean[:, row] = self.outlet[:, a]
            for b in np.flatnonzero(self.owner == i):
                self.by_flow[:, row, b] = by_head * self.head_by_flow[:, i] * self.share[:, b]
            self.by_flow[:, row, a] += self.out_by_flow[:, a]
            self.by_output[:, row, a] = self.out_by_output[:, a]
            self.by_supply[:, row, i] = by_head * self.head_by_supply[:, i]

    def _warmer_rooms_k(self, table: ArmHeatTable) -> float:
        """Temperature of the rooms of an arm above the design, weighted by their shares of its heat."""
        parts = table.room_parts(np.zeros(1), np.zeros(1))[:, 0]
        rooms = [self.day.room_c[room] - self.model.site.survey.room(room).indoor_c for room in table.rooms]
        return float(np.average(rooms, weights=np.maximum(parts, 1e-6)))

    def _loops(self) -> None:
        """Flow and return temperatures of loops at the distribution."""
        member = (self.owner[:, None] == np.arange(self.loops)).astype(float)
        mixed = (self.share * self.outlet) @ member
        back, back_by_foot, back_by_flow = self._past_tails_and_slopes("return", mixed)
        mixed_by_head = (self.share * self.out_by_inlet) @ member
        for i in range(self.loops):
            own = np.flatnonzero(self.owner == i)
            share, shut = self.share[:, own], self._shut(i)
            flow_row, row = self.rows.flow_temp(i), self.rows.return_temp(i)
            self.mean[:, row] = np.where(shut, self.around[i], back[:, i])
            foot, flows = (np.where(shut, 0.0, slope[:, i])[:, None] for slope in (back_by_foot, back_by_flow))
            by_mix = self.outlet[:, own] - mixed[:, [i]]
            by_head = mixed_by_head[:, [i]] * self.head_by_flow[:, [i]]
            self.by_flow[:, row, own] = share * (foot * (self.out_by_flow[:, own] + by_mix + by_head) + flows)
            self.by_output[:, row, own] = foot * share * self.out_by_output[:, own]
            self.by_supply[:, row, i] = foot[:, 0] * mixed_by_head[:, i] * self.head_by_supply[:, i]
            excess = self.supply[:, i] - self.around[i]
            self.mean[:, flow_row] = np.where(shut, self.around[i] + DEAD_LEG[0] * excess, self.supply[:, i])
            self.more[:, flow_row] = np.where(shut, (DEAD_LEG[1] * excess) ** 2, 0.0)
            self.by_supply[:, flow_row, i] = np.where(shut, DEAD_LEG[0], 1.0)

    def _shut(self, loop: int) -> NDArray[np.bool_]:
        return np.asarray(self.loop_flow[:, loop] < SHUT * self.model.responses.loop_kg_s[loop])

    def _flows(self) -> None:
        rows, points, expected = self.rows, self.points, self.model.responses
        minimum = 0.02
        for i in range(self.loops):
            own = np.flatnonzero(self.owner == i)
            self.mean[:, rows.flow(i)] = np.log(np.maximum(self.loop_flow[:, i] / expected.loop_kg_s[i], minimum))
            self.by_flow[:, rows.flow(i), own] = self.flow[:, own] / self.loop_flow[:, [i]]
        total = self.loop_flow.sum(axis=1)
        self.mean[:, rows.total_flow] = np.log(total / expected.loop_kg_s.sum())
        self.by_flow[:, rows.total_flow] = self.flow / total[:, None]
        self.mean[:, rows.head] = points.head_log[:, 0]
        first = np.flatnonzero(np.asarray(self.model.network.loop_circuit) == 0)
        at = int(first[0]) if first.size else 0
        self.mean[:, rows.source_temp] = self.day.source_c + points.supply_k[:, at]
        self.by_supply[:, rows.source_temp, at] = 1.0

    def _rooms(self) -> None:
        """Heat to each room less its heat loss, as a share of its design loss."""
        survey, day = self.model.site.survey, self.day
        if math.isnan(day.outdoor_c):
            return
        losses = dict(zip(self.rows.rooms, self.rows.losses_w(self.model.site.system), strict=True))
        cp = self.capacity[:, self.owner]
        heat_w = self.flow * cp * (self.inlet - self.outlet)
        by_flow = heat_w - self.flow * cp * self.out_by_flow
        by_output = -self.flow * cp * self.out_by_output
        by_supply = self.flow * cp * (1.0 - self.out_by_inlet) * self.head_by_supply[:, self.owner]
        for a, table in enumerate(self.model.tables):
            for room, part in zip(table.rooms, self.parts[a], strict=True):
                if losses.get(room, 0.0) <= 0.0:
                    continue
                row, share = self.rows.room(room), part / losses[room]
                self.mean[:, row] += share * heat_w[:, a]
                self.by_flow[:, row, a] += share * by_flow[:, a]
                self.by_output[:, row, a] += share * by_output[:, a]
                self.by_supply[:, row, self.owner[a]] += share * by_supply[:, a]
        outdoor = survey.project.outdoor_c
        for room, loss in losses.items():
            if loss > 0.0:
                self.mean[:, self.rows.room(room)] -= (day.room_c[room] - day.outdoor_c) / max(
                    survey.room(room).indoor_c - outdoor, MIN_SPAN_K
                )

    def _swap(self) -> None:
        """Readings of swapped loops are interchanged, and the reading of an arm's return is its flow."""
        for i in range(self.loops):
            swapped = self.points.swapped[:, i]
            if not swapped.any():
                continue
            at = np.flatnonzero(swapped)[:, None]
            pair = np.array([self.rows.flow_temp(i), self.rows.return_temp(i)])
            for array in (self.mean, self.more, self.by_flow, self.by_output, self.by_supply):
                array[at, pair] = array[at, pair[::-1]]
            for a in np.flatnonzero(self.owner == i):
                row = self.rows.arm_return(int(a))
                self.mean[swapped, row] = self.inlet[swapped, a]
                self.by_flow[swapped, row], self.by_output[swapped, row] = 0.0, 0.0
                self.by_supply[swapped, row, i] = 1.0
