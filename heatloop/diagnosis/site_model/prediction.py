"""Predicted readings of a site with given faults, and their sensitivity to all uncertain quantities.

All values are for N points at once, a point being a fault (or two) of one size. Uncertain values that are not a fault
are assumed normal about their expected values, and the readings linear in them. They are the bias of the surface probe,
the control of the source, tolerances of valves and outputs, and heat losses of
rooms."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from heatloop.diagnosis.fault_types import LITTLE_HEAD, MUCH_HEAD
from heatloop.diagnosis.site_model.as_commissioned import CommissionedSite, commissioned_site
from heatloop.diagnosis.site_model.fault_parameters import FaultParameters
from heatloop.diagnosis.site_model.flow_response import Responses, flow_responses
from heatloop.diagnosis.site_model.heat_response import ArmHeatTable, HeatTables, heat_tables
from heatloop.diagnosis.site_model.quantity_index import QuantityIndex, SurfaceLocation
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


SURFACE_SPREAD_K = 0.7
"""Spread of the surface of one piece about the calculated one: paint, contact, bends of the metal (common practice)."""

SWAPPED_SURFACE = 0.15
"""Additional spread of surfaces of a loop whose pipes are swapped, as a share of the excess of its water: the table of
surfaces is that of the right direction."""


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
    tables: HeatTables
    tails: TailConductances
    head_slope: Array

    @property
    def network(self) -> PipeNetwork:
        return self.site.network

    def with_surfaces(self, surfaces: tuple[SurfaceLocation, ...]) -> SiteModel:
        """The same model with rows for these surfaces in addition."""
        new = tuple(one for one in dict.fromkeys(surfaces) if one not in self.rows.surfaces)
        return replace(self, rows=replace(self.rows, surfaces=self.rows.surfaces + new)) if new else self


def site_model(system: SizedSystem, thermostatic_heads_removed: bool) -> SiteModel:
    """The model of a design's site: some hundred solves of its circuit, once."""
    site = commissioned_site(system, thermostatic_heads_removed)
    responses = flow_responses(site)
    return SiteModel(
        site,
        QuantityIndex.of(site.network, site.survey),
        responses,
        heat_tables(site, responses.arm_kg_s, responses.channel_kg_s, responses.air_share),
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
    network = model.network
    return FaultParameters.none(count, len(network.arms), len(network.circuits), len(network.loops))


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
        self._surfaces()
        self._swap()
        self._interchange()
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
        for a in range(self.arms):
            self.outlet[:, a], self.out_by_flow[:, a], self.out_by_output[:, a], self.out_by_inlet[:, a] = self._of_arm(
                a
            )
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

    def _of_arm(self, arm: int, surface: tuple[int, int] | None = None) -> Array:
        """Outlet temperature of an arm, or one of its surfaces, with the slopes by flow, output and inlet, (4, N)."""
        found = np.empty((4, self.n))
        for air in np.unique(self.points.air[:, arm]):
            own = np.flatnonzero(self.points.air[:, arm] == air)
            table = self.model.tables.of(arm, int(air))
            shift = self._warmer_rooms_k(table)
            log_flow, log_output = self.points.arm_log[own, arm], self.points.output_log[own, arm]
            found[:, own] = table.at(log_flow, log_output, self.inlet[own, arm] - shift, surface)
            found[0, own] += shift
        return found

    def _surfaces(self) -> None:
        """Surfaces of skirting; of loops without flow they are as warm as the room."""
        for location in self.rows.surfaces:
            row, a = self.rows.surface(location), location.arm
            i = int(self.owner[a])
            shut = self.flow[:, a] < SHUT * self.model.responses.arm_kg_s[a]
            surface_c, by_flow, by_output, by_inlet = self._of_arm(a, (location.cell, location.channel))
            self.mean[:, row] = np.where(shut, self.around[i], surface_c)
            by_flow, by_output, by_inlet = (np.where(shut, 0.0, slope) for slope in (by_flow, by_output, by_inlet))
            self.by_flow[:, row, a] = by_flow
            self.by_output[:, row, a] = by_output
            self.by_supply[:, row, i] = by_inlet * self.head_by_supply[:, i]
            reverse = SWAPPED_SURFACE * (self.supply[:, i] - self.around[i]) * self.points.swapped[:, i]
            self.more[:, row] = SURFACE_SPREAD_K**2 + reverse**2

    def _warmer_rooms_k(self, table: ArmHeatTable) -> float:
        """Temperature of the rooms of an arm above the design, weighted by their shares of its heat."""
        parts = table.expected_parts
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
        self.mean[:, rows.setting] = self.day.source_c

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
        for a, table in enumerate(self.model.tables.arms):
            parts = table.room_parts(self.points.arm_log[:, a], self.points.output_log[:, a])
            for room, part in zip(table.rooms, parts, strict=True):
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

    def _interchange(self) -> None:
        """Readings at the distribution are those of the loop whose pipes have the name; flows as shares of the loop
        that was expected."""
        rows, read_at = self.rows, self.points.read_at
        expected = self.model.responses.loop_kg_s
        for order in np.unique(read_at, axis=0).tolist():
            moved = [(i, j) for i, j in enumerate(order) if i != j]
            if not moved:
                continue
            at = np.flatnonzero((read_at == order).all(axis=1))[:, None]
            to: list[int] = []
            source: list[int] = []
            for i, j in moved:
                to += [rows.flow_temp(i), rows.return_temp(i), rows.flow(i)]
                source += [rows.flow_temp(j), rows.return_temp(j), rows.flow(j)]
                own, other = (np.flatnonzero(self.owner == loop) for loop in (i, j))
                alike = own.size == other.size
                to += [rows.arm_return(int(a)) for a in own]
                source += [rows.arm_return(int(b)) for b in other] if alike else [rows.return_temp(j)] * own.size
            for array in (self.mean, self.more, self.by_flow, self.by_output, self.by_supply):
                array[at, to] = array[at, source]
            for i, j in moved:
                self.mean[at, rows.flow(i)] += math.log(expected[j] / expected[i])
