"""When rounds of flow and heat by turns may end: judged by how their changes have shrunk."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.channel_iteration import HeatSteps
from heatloop.hydraulics.heat.mixing import drawn_share, mixed, roughly_mixed
from heatloop.hydraulics.network.flow_solver import Iterate, LinkDrop, begin, residuals, step
from heatloop.hydraulics.network.links import Drive
from heatloop.hydraulics.network.system import Assembly
from heatloop.hydraulics.network.tee_losses import tee_drops_pa
from heatloop.hydraulics.network.trunk_loss import MainLoss
from heatloop.hydraulics.pumps import Differential
from heatloop.hydraulics.solver.problem import Answer, Question
from heatloop.hydraulics.solver.pump_boundary import feed, outflow, straight_drive
from heatloop.physics.channels.grid import CELL_NUMBER
from heatloop.physics.constants import GRAVITY_M_S2
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

FAR = 1e100
"""Changes beyond this are of a first step, which are not told."""

FAR_FROM_SETTLED = 1e-3
"""After a change of more than this nobody asks what is left."""

MOST_SHRUNK = 0.9
"""Changes count as shrinking at least so fast, the rest of them being the rest of a geometric series."""


def has_settled(first: Array, before: Array, moved: Array, least: float) -> bool:
    """Whether less than `least` is left to move after three changes, which shrink like a geometric series, by the
    slower of its two ratios."""
    if moved.max() > FAR_FROM_SETTLED:
        return False
    ratio = np.maximum(_shrunk(first, before), _shrunk(before, moved))
    return bool((moved * ratio < least * (1.0 - ratio)).all())


def _shrunk(before: Array, moved: Array) -> Array:
    """By how much a change has shrunk against the one before; little where there is none to compare with."""
    ratio = np.minimum(np.minimum(moved, FAR) / np.maximum(before, 1e-200), MOST_SHRUNK)
    return np.asarray(np.where(before < FAR, ratio, MOST_SHRUNK))


Index = NDArray[np.intp]

ROUNDS = 100

SETTLED = 5e-10
"""A solve ends when flows, relative, and temperatures, against the greatest excess, have no more than this left
to move, judged by how their changes have shrunk."""

PLAIN_AFTER = 30
"""Rounds after which the slopes of the network no longer count on water getting warmer with flow: an estimate that
has not helped by then hinders."""

FLOWS_SETTLED = 5e-2
"""How far the flows alone settle before the heat is looked at; from then on one step of the network a round does."""

MOST_WARMING = 0.5
"""Of the viscosity by the flow: slopes stay well above nothing."""

CLOSED_KG_S = 1e-6
"""A loop with less flow than this, four millilitres an hour, counts as shut, until it has twice as much again: it
would give a tenth of a watt."""


def solve_together(
    assembly: Assembly,
    question: Question,
    water: Fluid,
    guess_kg_s: Array | None = None,
    settled: float = SETTLED,
) -> Answer:
    """Solve all scenarios. guess_kg_s (L, S): likely loop flows.

    Raises ArithmeticError where heat and flow do not settle, or water would have to run backwards through a loop.
    """
    return _Rounds(assembly, question, water, guess_kg_s).run(settled)


class _Rounds:
    def __init__(self, assembly: Assembly, question: Question, water: Fluid, guess: Array | None) -> None:
        self.assembly, self.question, self.water = assembly, question, water
        self.frame = frame = assembly.frame
        self.resistance = (assembly.elements if question.elements is None else question.elements).resistance
        s = question.scenarios
        rooms = question.room_c or (None,) * len(assembly.groups)
        self.heats = [
            HeatSteps(group, water, s, room_c, question.cell_number or CELL_NUMBER)
            for group, room_c in zip(assembly.groups, rooms, strict=True)
        ]
        self.loops, self.bypasses = len(assembly.loops), len(assembly.bypasses)
        self.bypass_open = np.array([[opens is None] * s for opens in frame.opens_pa]).reshape(self.bypasses, s)
        coldest = min(float(heat.group.runs.room_c.min()) for heat in self.heats)
        self.source_c = question.circuit_c.max(axis=0)
        self.source_pa_s = water.viscosity_pa_s(self.source_c)
        self.excess = np.maximum(np.abs(question.supply_c - coldest).max(axis=0), 1.0)
        self.supply_c, self.circuit_c = question.supply_c, question.circuit_c
        self.tail_c = question.supply_c
        self.emitter_c = np.zeros((2 * assembly.emitters.count, s))
        self.back_c = question.supply_c
        self.arm_return = question.supply_c[assembly.arm_loop]
        self.pool = np.broadcast_to(self.source_c, (assembly.pool_mean.shape[1], s))
        self.circuit_return = question.circuit_c
        self.arm_flow = np.zeros((len(assembly.arms), s))
        self.streams = np.zeros((assembly.mains.on_link.shape[1], s))
        self.holding = np.zeros((self.loops, s), bool)
        self.shut = np.zeros((self.loops, s), bool)
        self.inflow = np.zeros((assembly.wiring.unknown.size, s))
        self.warming: Array | None = None
        self.tee_drop = np.zeros((len(assembly.places), s)) if assembly.junctions else None
        self.steady: Drive | None = None
        """The drives, where no flow changes them."""
        self.alone = len(assembly.circuits) == 1
        self.main_c = question.circuit_c[frame.link_circuit]
        self.main_end_c = self.main_c
        self.bypass_c = question.circuit_c[frame.bypass_circuit]
        self.warm_c = question.circuit_c[frame.parents]
        self.lost_w: Array | None = None
        self.mixed_c: Array | None = None
        self.flow = self._first_flows(guess)

    def _first_flows(self, guess: Array | None) -> Array:
        assembly, s = self.assembly, self.question.scenarios
        loops = np.full((self.loops, s), 0.02) if guess is None else np.asarray(guess, float)
        mean = loops.mean(axis=0)
        owner = self.frame.loop_of_link[:, None]
        flow = np.where(owner < 0, mean, loops[owner[:, 0]])
        streams = np.zeros((assembly.mains.on_link.shape[1], s))
        streams[: self.loops] = loops
        flow[assembly.main_link] = np.maximum(assembly.mains.on_link @ streams, mean)
        return flow

    def run(self, settled: float) -> Answer:
        now: Iterate | None = None
        moved = before = np.full(self.question.scenarios, np.inf)
        for count in range(1, ROUNDS + 1):
            near = now is not None and bool((now.moved < FLOWS_SETTLED).all())
            law = self._law(sensitive=near and count < PLAIN_AFTER)
            if now is None:
                fixed = np.zeros((len(self.assembly.circuits), self.question.scenarios))
                now = begin(self.assembly.network, self.flow, fixed, law)
            else:
                drop, slope = law(now.flow)
                now = Iterate(now.flow, now.pressure, drop, slope, now.moved)
            now = self._network_step(now, None) if near else self._flows_alone(now, law)
            self.flow = now.flow
            kelvin = self._heat_step()
            first, before, moved = before, moved, np.maximum(now.moved, kelvin / self.excess)
            if has_settled(first, before, moved, settled):
                if self._is_fine():
                    return self._answer(now, moved, count)
                moved = np.full(self.question.scenarios, np.inf)
        raise ArithmeticError(f"heat and flow did not settle in {ROUNDS} rounds (last change {moved.max():.1e})")

    def _is_fine(self) -> bool:
        """Whether the cells of all groups are small enough; where not, they are divided again."""
        if self.question.cell_number is not None:
            return True
        fine = [heat.is_fine() for heat in self.heats]
        return all(fine)

    # --- flow ---------------------------------------------------------------------------------------

    def _law(self, sensitive: bool = False) -> LinkDrop:
        """The drops of links at the temperatures now; `sensitive`: the slopes are those with the water getting warmer
        as flow grows."""
        mean = self.assembly.pool_mean @ self.pool
        self.density, self.viscosity = self.water.density_and_viscosity(mean)
        long = self.resistance.long
        if sensitive and self.warming is None:
            self.warming = self._warming(mean, long)
        warming = self.warming if sensitive else None
        of_links = self.resistance.at(self.density, self.viscosity.take(long, axis=0), warming)
        offset = self._offsets()
        if offset is None:
            return of_links

        def law(flow: Array) -> tuple[Array, Array]:
            drop, slope = of_links(flow)
            return drop + offset, slope

        return law

    def _warming(self, mean_c: Array, long: Index) -> Array:
        """d ln viscosity / d ln flow of the elements `long`: by as much as water has cooled since the source it would
        be warmer, less the nearer it is to the coldest room. An estimate, which slopes of Newton's method may be."""
        cooled = (self.source_c - mean_c.take(long, axis=0)) / self.excess
        np.maximum(cooled, 0.0, out=cooled)
        np.minimum(cooled, 1.0, out=cooled)
        found = np.log(self.source_pa_s / self.viscosity.take(long, axis=0))
        found *= (1.0 - cooled) * (1.0 + 0.5 * cooled)
        np.maximum(found, -MOST_WARMING, out=found)
        return np.asarray(np.minimum(found, MOST_WARMING, out=found))

    def _offsets(self) -> Array | None:
        """What links drop on top of their own: the opening pressure of a bypass, the tees as the flows divide now,
        less the lift of warm water."""
        assembly = self.assembly
        offset = None
        if self.question.buoyancy and self.frame.climbs:
            weight = GRAVITY_M_S2 * (self.density - self.density.mean(axis=0)) * assembly.rise_m[:, None]
            offset = np.add.reduceat(weight, assembly.elements.first, axis=0)
        for b, opens_pa in enumerate(self.frame.opens_pa):
            if opens_pa is not None:
                offset = np.zeros(self.flow.shape) if offset is None else offset
                offset[assembly.bypass_link[b]] += opens_pa
        if assembly.junctions:
            self.tee_drop = tee_drops_pa(assembly.junctions, self.flow, self.density)
            at_tees = np.add.reduceat(self.tee_drop, assembly.elements.first, axis=0)
            offset = at_tees if offset is None else offset + at_tees
        return offset

    def _drive(self, now: Iterate) -> Drive:
        """The pumps made straight at their flows now."""
        if self.steady is not None:
            return self.steady
        density = self.water.density_kg_m3(self.circuit_c)
        drives = self.question.drives
        straight = straight_drive(self.assembly, drives, density, now, self.inflow)
        if all(isinstance(given, np.ndarray | Differential) for given in drives):
            self.steady = straight
        return straight

    def _held(self, now: Iterate) -> Array | None:
        """Flows that stand now, NaN where free: shut and throttling loops, and bypasses still shut."""
        assembly, most = self.assembly, self.question.held_kg_s
        if most is None and all(opens is None for opens in self.frame.opens_pa):
            return None
        network = assembly.network
        held = np.full(now.flow.shape, np.nan)
        spare = now.pressure[network.start] - now.pressure[network.end] - now.drop
        if most is not None:
            link = assembly.loop_link
            flow = now.flow[link]
            throttling = np.where(self.holding, spare[link] >= 0.0, flow > most)
            self.holding = throttling | (most <= CLOSED_KG_S)
            held[link] = np.where(self.holding, most, np.nan)
        for b, opens_pa in enumerate(self.frame.opens_pa):
            if opens_pa is not None:
                way = int(assembly.bypass_link[b])
                self.bypass_open[b] = np.where(self.bypass_open[b], now.flow[way] > 0.0, spare[way] > 0.0)
                held[way] = np.where(self.bypass_open[b], np.nan, 0.0)
        return held

    def _network_step(self, now: Iterate, law: LinkDrop | None) -> Iterate:
        held = self._held(now)
        now = step(self.assembly.wiring, now, law, self.inflow, self._drive(now), held)
        self.now_held = held
        return now

    def _flows_alone(self, now: Iterate, law: LinkDrop) -> Iterate:
        for _ in range(60):
            now = self._network_step(now, law)
            if np.all(now.moved < FLOWS_SETTLED):
                break
        return now

    # --- heat ---------------------------------------------------------------------------------------

    def _heat_step(self) -> Array:
        """One step of all temperatures at the flows now; the greatest change in K, (S)."""
        assembly, water, frame = self.assembly, self.water, self.frame
        flow_l = self.flow.take(assembly.loop_link, axis=0)
        shut, any_shut = self._shut_now(flow_l)
        if frame.losses is not None:
            self._ahead(frame.losses)
        self.tail_c = frame.tails.flow_outlet_c(flow_l, self.supply_c, self.tail_c, water)
        self.head_c = self._through_emitters("flow", flow_l, self.tail_c)
        before, kelvin = self.pool, 0.0
        parts: list[Array] = []
        arm_flow = self.arm_flow
        for heat, links, arms, loop in zip(self.heats, frame.links, frame.arms, frame.loops, strict=True):
            flow = np.maximum(self.flow.take(links, axis=0), CLOSED_KG_S)
            if any_shut:
                flow = np.where(shut[loop], 0.02, flow)
            kelvin = max(kelvin, heat.step(flow, self.head_c.take(loop, axis=0)))
            back_c = heat.return_c
            if any_shut:
                back_c = np.where(shut[loop], heat.room_at_start_c(), back_c)
            self.arm_return[arms] = back_c
            if frame.joined is not None:
                arm_flow[arms] = flow[heat.direction > 0].sum(axis=0)
            parts += heat.coarse(shut[loop] if any_shut else None)
        joined = frame.joined
        self.foot_c = self.arm_return if joined is None else mixed(water, joined, arm_flow, self.arm_return)
        tail_c = self._through_emitters("return", flow_l, self.foot_c)
        self.back_c = frame.tails.return_outlet_c(flow_l, tail_c, self.back_c, water)
        self._mix_mains(flow_l)
        self.pool = np.concatenate(
            [
                *(self.supply_c, self.back_c, self.head_c, self.foot_c, self.arm_return),
                *(self.main_c, self.main_end_c, self.bypass_c, self.emitter_c, *parts),
            ]
        )
        change = np.abs(self.pool - before).max(axis=0)
        alone = self.question.scenarios == 1 or not np.isfinite(kelvin)
        return np.asarray(np.maximum(change, kelvin) if alone else change)

    def _shut_now(self, flow_l: Array) -> tuple[NDArray[np.bool_], bool]:
        """Which loops (L, S) count as shut, and whether any does."""
        if flow_l.min() > 2.0 * CLOSED_KG_S:
            self.shut = np.zeros(flow_l.shape, bool)
            return self.shut, False
        self.shut = flow_l <= np.where(self.shut, 2.0 * CLOSED_KG_S, CLOSED_KG_S)
        return self.shut, bool(self.shut.any())

    def _through_emitters(self, side: str, flow_l: Array, inlet_c: Array) -> Array:
        """Temperature of each loop's water after the other emitters on one of its sides, (L, S)."""
        emitters = self.assembly.emitters
        if not emitters.count:
            return inlet_c
        passed = emitters.passed(side, np.arange(self.loops), flow_l, inlet_c, self.water)
        for at in passed.steps:
            self.emitter_c[at.emitter] = at.inlet_c[0]
            self.emitter_c[emitters.count + at.emitter] = at.outlet_c[0]
        return passed.outlet_c

    def _ahead(self, losses: MainLoss) -> None:
        """What of the pumps' water reaches loops, bypasses and mixing points where trunks lose heat."""
        assembly, most = self.assembly, self.question
        ahead = losses.ahead(self.flow[assembly.main_link], most.circuit_c, self.main_end_c, self.water)
        self.circuit_c, self.bypass_c, self.warm_c = ahead.circuit_c, ahead.bypass_c, ahead.warm_c
        self.supply_c = np.minimum(most.supply_c, ahead.node_c[assembly.loop_nodes[:, 0]])
        self.main_c[losses.is_flow], self.main_end_c = ahead.start_c[losses.is_flow], ahead.end_c

    def _mix_mains(self, flow_l: Array) -> None:
        """Temperatures in the mains (K, S); draws of mixed circuits follow from them."""
        at, losses = self.loops + self.bypasses, self.frame.losses
        self.streams[: self.loops] = flow_l
        if at < self.streams.shape[0] or self.bypasses:
            self.streams[self.loops : at] = self.flow[self.assembly.bypass_link]
        self._come_home()
        if losses is not None:
            self.lost_w, self.main_end_c = losses.home(self.streams, self.main_c, self.main_end_c, self.water)
            self._come_home()
        if not self.alone:
            feed(self.assembly, self.inflow, self.streams[at:])

    def _come_home(self) -> None:
        """Streams mixed on their way home, less what return pipes have lost."""
        mains, lost_w, at = self.assembly.mains, self.lost_w, self.loops + self.bypasses
        circuits = len(self.assembly.circuits)
        stream_c = self.back_c
        if at < self.streams.shape[0] or self.bypasses:
            stream_c = np.concatenate([self.back_c, self.bypass_c, self.circuit_return[1:]])
        for p in range(circuits - 1, 0, -1):
            own_w = None if lost_w is None else lost_w[[p]]
            back_c = mixed(self.water, mains.of_circuit[[p]], self.streams, stream_c, less_w=own_w)[0]
            stream_c[at + p - 1] = back_c
            share = drawn_share(self.water, self.warm_c[p], self.circuit_c[p], back_c)
            self.streams[at + p - 1] = share * (mains.of_circuit[p] @ self.streams)
        if self.mixed_c is None and lost_w is None:  # temperatures are rough yet
            self.mixed_c = roughly_mixed(self.frame.members, self.streams, stream_c)
        else:
            self.mixed_c = mixed(self.water, self.frame.members, self.streams, stream_c, self.mixed_c, lost_w)
        found = self.mixed_c
        self.circuit_return = found[:circuits]
        self.main_c[self.frame.back_links] = found[circuits:]

    # --- end ----------------------------------------------------------------------------------------

    def _answer(self, now: Iterate, moved: Array, rounds: int) -> Answer:
        """Everything that is told; for a single scenario the flows take a last step at the last temperatures."""
        law = self._law()
        drop, slope = law(now.flow)
        now = Iterate(now.flow, now.pressure, drop, slope, now.moved)
        if self.question.cell_number is None:
            now = self._network_step(now, None)
            drop, slope = law(now.flow)
            now = Iterate(now.flow, now.pressure, drop, slope, now.moved)
        mass, head = residuals(self.assembly.wiring, now, self.inflow, self.frame.driven, self.now_held)
        backwards = now.flow[self.assembly.loop_link] < -CLOSED_KG_S
        if backwards.any():
            loop = int(np.flatnonzero(backwards.any(axis=1))[0])
            raise ArithmeticError(
                f'loop "{self.assembly.loops[loop].loop.name}": water would run backwards through it, '
                "wanted flow from the flow tail to the return tail"
            )
        flows = [outflow(self.assembly, now, self.inflow, p) for p in range(len(self.assembly.circuits))]
        return Answer(
            flow_kg_s=now.flow,
            pressure_pa=now.pressure,
            link_drop_pa=now.drop,
            tee_drop_pa=self.tee_drop,
            pool=self.pool,
            density_kg_m3=self.density,
            viscosity_pa_s=self.viscosity,
            stream_kg_s=self.streams,
            circuit_c=self.circuit_c,
            circuit_return_c=self.circuit_return,
            circuit_flow_kg_s=np.array(flows),
            heats=tuple(heat.finish() for heat in self.heats),
            checks_w=tuple(heat.check_w for heat in self.heats),
            held=self.holding,
            shut=self.shut,
            residual_mass=mass,
            residual_head=head,
            moved=moved,
            rounds=rounds,
        )
