"""Flows of the system as built: drops of loops and trunks joined to one table, solved against the pump, divided again.

A mixed trunk has a pump of its own and draws from its parent what mixing takes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from tests.helpers.second_site.pressure import FLOW_KG_S, drop_at, flow_at, side_by_side


@dataclass(frozen=True)
class LoopTemps:
    """Mean temperatures that drops depend on: of both tails, and of each channel of each arm."""

    flow_c: float
    return_c: float
    channel_c: list


@dataclass(frozen=True)
class Flows:
    """Flows in kg/s: channels of each arm of each loop, loops (L), trunks and bypasses by name or place; head in Pa of
    each circuit behind its pump, by its name (None: the source), and at the pump of the source."""

    channel: list
    loop: np.ndarray
    trunk: dict
    bypass: list
    head_pa: dict
    pump_pa: float


class LoopTables:
    """Drop tables of one loop, and its flow divided among arms and channels."""

    def __init__(self, loop, temps):
        self.loop, self.arms = loop, []
        for arm, channels, first, last, mean_c in zip(
            loop.arms, loop.channels, loop.flow_valves, loop.return_valves, temps.channel_c, strict=True
        ):
            each = [row.drop_pa(c) for row, c in zip(channels, mean_c, strict=True)]
            ways = [np.flatnonzero(arm.direction == sign) for sign in (1, -1)]
            groups = [(way, side_by_side([each[i] for i in way])) for way in ways if way.size]
            whole = first.drop_pa(temps.flow_c) + last.drop_pa(temps.return_c) + sum(table for _, table in groups)
            self.arms.append((whole, groups, each))
        self.inner = side_by_side([whole for whole, _, _ in self.arms])
        self.whole = self.inner + loop.tail_flow.drop_pa(temps.flow_c) + loop.tail_return.drop_pa(temps.return_c)

    def divided(self, flow_kg_s):
        """Flow of each channel of each arm."""
        across_pa, found = drop_at(self.inner, flow_kg_s), []
        parts = [float(flow_at(whole, across_pa)) for whole, _, _ in self.arms]
        for part, (_, groups, each) in zip(parts, self.arms, strict=True):
            channel = np.zeros(len(each))
            own = flow_kg_s * part / sum(parts)
            for way, table in groups:
                shares = np.array([float(flow_at(each[i], drop_at(table, own))) for i in way])
                channel[way] = own * shares / shares.sum()
            found.append(channel)
        return found


class _System:
    def __init__(self, built, temps, drawn, around_c):
        self.built, self.drawn, self.around_c = built, drawn, around_c
        self.tables = [LoopTables(loop, at) for loop, at in zip(built.loops, temps, strict=True)]
        self.bypass = [(trunk, row.drop_pa(around_c)) for trunk, row in built.bypasses]
        self.join = {}

    def children(self, name, mixed):
        return [t for t in self.built.trunks if t.parent == name and (t.mixed_to_c is not None) == mixed]

    def joined(self, name):
        """Drop across the end of a trunk (None: the source) against all the water that passes it."""
        branches = [
            t.whole for t in self.tables if t.loop.trunk == name and not t.loop.closed
        ] + [table for trunk, table in self.bypass if trunk == name]  # fmt: skip
        branches += [self.with_pipes(trunk) for trunk in self.children(name, mixed=False)]
        drawn = sum(self.drawn.get(trunk.name, 0.0) for trunk in self.children(name, mixed=True))
        self.join[name] = side_by_side(branches, drawn) if branches or drawn else None
        return self.join[name]

    def with_pipes(self, trunk):
        pipes = 2.0 * trunk.row.drop_pa(self.around_c)
        end = self.joined(trunk.name)
        return np.full(FLOW_KG_S.size, 1e12) if end is None else pipes + end

    def run(self):
        flow, trunks, head = np.zeros(len(self.tables)), {}, {}
        bypass = [0.0] * len(self.bypass)
        whole = self.joined(None)
        resisted = whole + self.built.filter_pa * FLOW_KG_S**2
        total = _meet(resisted, self.built.pump)
        pump_pa = float(self.built.pump(total))
        head[None] = drop_at(whole, total)
        self._divide(None, head[None], flow, bypass, trunks)
        for trunk in self.built.trunks:
            if trunk.mixed_to_c is not None:
                table = self.with_pipes(trunk)
                trunks[trunk.name] = _meet(table, trunk.pump)
                head[trunk.name] = float(trunk.pump(trunks[trunk.name]))
                self._divide(trunk.name, drop_at(self.join[trunk.name], trunks[trunk.name]), flow, bypass, trunks)
        channel = [table.divided(q) for table, q in zip(self.tables, flow, strict=True)]
        return Flows(channel, flow, trunks, bypass, head, pump_pa)

    def _divide(self, name, drop_pa, flow, bypass, trunks):
        for i, table in enumerate(self.tables):
            if table.loop.trunk == name and not table.loop.closed:
                flow[i] = flow_at(table.whole, drop_pa)
        for i, (trunk, table) in enumerate(self.bypass):
            if trunk == name:
                bypass[i] = float(flow_at(table, drop_pa))
        for trunk in self.children(name, mixed=False):
            pipes = 2.0 * trunk.row.drop_pa(self.around_c)
            end = self.join[trunk.name]
            if end is None:
                trunks[trunk.name] = 0.0
                continue
            trunks[trunk.name] = float(flow_at(pipes + end, drop_pa))
            self._divide(trunk.name, drop_at(end, trunks[trunk.name]), flow, bypass, trunks)


def _meet(table, pump):
    """Flow at which a pump gives the drop of a table; for a pump without head, what is drawn from its circuit."""
    if float(pump(1e-3)) <= 0.0:
        return float(flow_at(table, 1e-4))
    return float(np.exp(brentq(lambda log: drop_at(table, np.exp(log)) - float(pump(np.exp(log))), -13.0, 2.9)))


def solve_flows(built, temps, drawn, around_c):
    """Flows at these temperatures of the loops; `drawn` by mixed trunks in kg/s, water of shared pipes at
    `around_c`."""
    return _System(built, temps, drawn, around_c).run()
