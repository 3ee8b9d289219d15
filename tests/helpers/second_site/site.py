"""The second site model: flows, temperatures and rooms of a system as built, solved in turn until nothing moves.

Formulas, discretisation and solvers are its own. Of the package it reads only the parts and settings of a design.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.helpers.second_site.channels import solve_arm
from tests.helpers.second_site.flows import LoopTemps, solve_flows
from tests.helpers.second_site.water import HEAT_CAPACITY_J_KGK as CP

ROUNDS, STILL_K, STILL_SHARE = 40, 0.01, 1e-4
EMITTER_PARTS = 40
FIRST_DRAWN_KG_S = 0.02


@dataclass(frozen=True)
class Rooms:
    """Rooms: temperatures in degC, and where they are steady their heat loss in W/K, gains in W and the outdoor
    temperature; `held`: temperatures stay as they are."""

    temp_c: dict
    loss_w_k: dict
    gain_w: dict
    outdoor_c: float
    held: bool


@dataclass(frozen=True)
class Solved:
    """The site in operation: flows, temperatures of loops (L) in degC, heat of arms, rooms, heat in W to every
    room, and heat in W that tails lose."""

    flows: object
    supply_c: np.ndarray
    return_c: np.ndarray
    arm_heat: list
    rooms: dict
    room_w: dict
    source_c: float
    source_return_c: float
    tail_lost_w: float


def solve_site(built, rooms):
    """The system in these rooms."""
    return _Solver(built, rooms).run()


class _Solver:
    def __init__(self, built, rooms):
        self.built, self.rooms, self.room_c = built, rooms, dict(rooms.temp_c)
        count = len(built.loops)
        self.supply = np.array([min([built.source_c, *self._mixed_on_way(loop)]) for loop in built.loops])
        self.back = self.supply - 6.0
        self.heat = [[None] * len(loop.arms) for loop in built.loops]
        self.returned = np.zeros(count)
        self.drawn = {t.name: FIRST_DRAWN_KG_S for t in built.trunks if t.mixed_to_c is not None}
        self.source_return = built.source_c - 6.0

    def _mixed_on_way(self, loop):
        trunks, name = {t.name: t for t in self.built.trunks}, loop.trunk
        while name is not None:
            if trunks[name].mixed_to_c is not None:
                yield trunks[name].mixed_to_c
            name = trunks[name].parent

    def run(self):
        flows, before = None, None
        for _ in range(ROUNDS):
            flows = solve_flows(self.built, self._temps(), self.drawn, float(np.mean(self.supply)) - 3.0)
            self._shared_pipes(flows)
            moved = self._loops(flows)
            moved = max(moved, self._rooms())
            still = before is not None and np.allclose(flows.loop, before, rtol=STILL_SHARE, atol=1e-9)
            if moved < STILL_K and still:
                break
            before = flows.loop
        return Solved(
            flows, self.supply, self.returned, self.heat, self.room_c, self.room_w, self.built.source_c,
            self.source_return, self.tail_lost_w,
        )  # fmt: skip

    def _temps(self):
        found = []
        for i, loop in enumerate(self.built.loops):
            means = []
            for a, arm in enumerate(loop.arms):
                heat = self.heat[i][a]
                middle = np.full(arm.direction.size, 0.5 * (self.supply[i] + self.back[i]))
                means.append(middle if heat is None else heat.water_c.mean(axis=0))
            flow_c, return_c = self.supply[i], self.back[i]
            found.append(LoopTemps(flow_c, return_c, means))
        return found

    def _shared_pipes(self, flows):
        """Supply of every loop after the heat loss of trunks, the water that mixed trunks draw, and the return."""
        reach = {None: self.built.source_c}
        order = list(self.built.trunks)
        while order:
            trunk = next(t for t in order if t.parent in reach)
            order.remove(trunk)
            start = reach[trunk.parent]
            if trunk.mixed_to_c is not None:
                start = min(start, trunk.mixed_to_c)
            flow = max(flows.trunk.get(trunk.name, 0.0), 1e-6)
            end = trunk.around_c + (start - trunk.around_c) * np.exp(-trunk.loss_w_k / (flow * CP))
            reach[trunk.name] = float(end)
        self.supply = np.array([reach[loop.trunk] for loop in self.built.loops])
        self.source_return = self._collected(None, flows, reach)[1]

    def _collected(self, name, flows, reach):
        """Flow in kg/s and temperature of all water that returns to the end of a trunk (None: the source)."""
        parts = [(flows.loop[i], self.back[i]) for i, loop in enumerate(self.built.loops) if loop.trunk == name]
        parts += [(q, reach[name]) for (trunk, _), q in zip(self.built.bypasses, flows.bypass, strict=True)
                  if trunk == name]  # fmt: skip
        for trunk in (t for t in self.built.trunks if t.parent == name):
            flow, temp_c = self._collected(trunk.name, flows, reach)
            if flow > 1e-9:
                cold = trunk.around_c + (temp_c - trunk.around_c) * np.exp(-trunk.loss_w_k / (flow * CP))
                temp_c = float(cold)
            if trunk.mixed_to_c is not None:
                hot = reach[name]
                share = np.clip((min(trunk.mixed_to_c, hot) - temp_c) / max(hot - temp_c, 0.1), 0.0, 1.0)
                self.drawn[trunk.name] = float(0.5 * self.drawn[trunk.name] + 0.5 * share * flow)
                flow = self.drawn[trunk.name]
            parts.append((flow, temp_c))
        whole = sum(flow for flow, _ in parts)
        return whole, sum(flow * temp_c for flow, temp_c in parts) / max(whole, 1e-12)

    def _loops(self, flows):
        """Temperatures along every loop; the greatest change in K of a return."""
        self.room_w = dict.fromkeys(self.room_c, 0.0)
        moved, self.tail_lost_w = 0.0, 0.0
        for i, loop in enumerate(self.built.loops):
            flow = flows.loop[i]
            if loop.closed or flow < 1e-6:
                self.returned[i] = self.back[i] = self.room_c[loop.tail_room]
                self.heat[i] = [None] * len(loop.arms)
                continue
            back = self._along(i, loop, flow, flows.channel[i])
            moved = max(moved, abs(back - self.back[i]))
            self.returned[i] = self.back[i] = back
        return moved

    def _along(self, i, loop, flow, channels):
        around = self.room_c[loop.tail_room]
        sides = [(loop.loss_flow_w_k, loop.emitters_flow), (loop.loss_return_w_k, loop.emitters_return)]
        (first_loss, first), (last_loss, last) = sides[::-1] if loop.reversed else sides
        # water passes the emitters of the pipe by which it enters after the pipe, and those of the other before it
        temp_c = self._pipe(self.supply[i], flow, first_loss, around)
        temp_c = self._emitters(temp_c, flow, first[::-1] if loop.reversed else first)
        mixed = 0.0
        for a, (arm, flow_of) in enumerate(zip(loop.arms, channels, strict=True)):
            rooms = np.array([self.room_c[name] for name in arm.room])
            solved = solve_arm(arm, flow_of, temp_c, rooms, self.heat[i][a])
            self.heat[i][a] = solved
            whole = float(flow_of[arm.direction > 0].sum())
            mixed += whole / flow * solved.outlet_c
            for name, heat in zip(arm.room, solved.heat_w * arm.useful, strict=True):
                self.room_w[name] += float(heat)
        back = self._emitters(mixed, flow, last[::-1] if loop.reversed else last)
        return self._pipe(back, flow, last_loss, around)

    def _pipe(self, temp_c, flow, loss_w_k, around):
        end = around + (temp_c - around) * np.exp(-loss_w_k / (flow * CP))
        self.tail_lost_w += flow * CP * (temp_c - end)
        return float(end)

    def _emitters(self, temp_c, flow, emitters):
        for emitter in emitters:
            room = self.room_c[emitter.room]
            for _ in range(EMITTER_PARTS):
                middle = temp_c
                for _ in range(2):
                    heat = emitter.k_w_kn / EMITTER_PARTS * max(middle - room, 0.0) ** emitter.exponent
                    middle = temp_c - 0.5 * heat / (flow * CP)
                temp_c -= heat / (flow * CP)
                self.room_w[emitter.room] += heat
        return temp_c

    def _rooms(self):
        """Rooms moved towards the temperature at which they lose what they get; the greatest change in K."""
        if self.rooms.held:
            return 0.0
        moved = 0.0
        for name, loss in self.rooms.loss_w_k.items():
            if loss <= 0.0:
                continue
            temp_c, heat = self.room_c[name], self.room_w[name]
            excess = max(self.built.source_c - 3.0 - temp_c, 3.0)
            surplus = heat + self.rooms.gain_w[name] - loss * (temp_c - self.rooms.outdoor_c)
            change = float(np.clip(surplus / (loss + 1.3 * max(heat, 0.0) / excess), -6.0, 6.0))
            self.room_c[name] += change
            moved = max(moved, abs(change))
        return moved
