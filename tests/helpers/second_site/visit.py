"""A visit to a site of the second model: what instruments show, and readings taken later as they are asked for."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

import numpy as np

from heatloop.diagnosis.readings import Reading, Readings
from tests.helpers.second_site import faults as f
from tests.helpers.second_site.built import build
from tests.helpers.second_site.site import Rooms, solve_site
from tests.helpers.second_site.water import density_kg_m3

SURFACE_K, POCKET_K, ROOM_K, OUTDOOR_K, SETTING_K, FLOW_SHARE, HEAD_SHARE = 0.5, 0.3, 0.5, 1.0, 0.5, 0.05, 0.05
"""Errors of the instruments: standard deviations."""

UNSTEADY_K = 1.0


@dataclass(frozen=True)
class Plan:
    """What a visit meets and takes: outdoor temperature, setting of the source, steady rooms or not, meters in the
    loops and at the source, a gauge at the pump, and whether the setting of the source is read."""

    outdoor_c: float
    setting_c: float
    steady: bool = True
    loop_meters: bool = False
    total_meter: bool = False
    head_gauge: bool = False
    setting_read: bool = True

    @staticmethod
    def random(rng, flow_temp_c):
        """A random visit: four sites in ten with each meter, three in ten whose setting was not read."""
        return Plan(
            float(rng.uniform(-3.0, 8.0)),
            flow_temp_c - float(rng.uniform(0.0, 5.0)),
            bool(rng.random() < 0.6),
            bool(rng.random() < 0.4),
            bool(rng.random() < 0.4),
            bool(rng.random() < 0.4),
            bool(rng.random() < 0.7),
        )


class Visit:
    """A site with these faults, visited: `readings` of the first round, and `take` for any later one."""

    def __init__(self, system, faults, rng, plan, scatter):
        self.system, self.faults, self.rng, self.plan = system, faults, rng, plan
        self.built = build(system, rng, scatter, plan.setting_c)
        self.expected_kg_s = f.fair_flows(self.built).loop
        for fault in faults:
            f.put_in(self.built, fault, rng)
        self.rooms = self._rooms(scatter)
        self.solved = solve_site(self.built, self.rooms)
        self.bias_k = float(rng.uniform(1.0, 3.0) * rng.choice([-1.0, 1.0]))
        self.names = [loop.name for loop in self.built.loops]
        self.seen = list(range(len(self.names)))
        """The loop whose pipes are read under each name."""
        for fault in faults:
            if fault.kind == f.INTERCHANGED:
                i, j = self.names.index(fault.loop), self.names.index(fault.other)
                self.seen[i], self.seen[j] = self.seen[j], self.seen[i]
        self.readings = self._first()

    def _rooms(self, scatter):
        rng, survey = self.rng, self.system.survey
        common = math.exp(scatter.losses * float(rng.standard_normal()))
        temp_c = {room.name: room.indoor_c for room in survey.rooms}
        if not self.plan.steady:
            temp_c = {name: c + UNSTEADY_K * float(rng.standard_normal()) for name, c in temp_c.items()}
        loss, gain = {}, {}
        for one in self.system.room_losses:
            span = max(survey.room(one.room).indoor_c - survey.project.outdoor_c, 5.0)
            factor = common * math.exp(scatter.room_loss * float(rng.standard_normal()))
            loss[one.room] = one.total_w / span * factor
            gain[one.room] = one.total_w * float(rng.uniform(0.0, 0.1))
        return Rooms(temp_c, loss, gain, self.plan.outdoor_c, held=not self.plan.steady)

    # --- true values ------------------------------------------------------------------------------------

    def litres_h(self, i):
        return float(self.solved.flows.loop[i] / density_kg_m3(self.solved.supply_c[i]) * 3.6e6)

    def ends_c(self, i):
        """Temperatures of the pipes called flow and return of a loop."""
        flow_c, back_c = float(self.solved.supply_c[i]), float(self.solved.return_c[i])
        if self.solved.flows.loop[i] < 0.004 * self.expected_kg_s[i]:
            back_c = self.solved.rooms[self.built.loops[i].tail_room]
            flow_c = float(self.rng.uniform(back_c, flow_c))
        return (back_c, flow_c) if self.built.loops[i].reversed else (flow_c, back_c)

    def arm_return_c(self, i, arm):
        """Temperature of the pipe called return of an arm, from 1; of the loop where it has no such arm."""
        if len(self.built.loops[i].arms) < arm:
            return self.ends_c(i)[1]
        loop, heat = self.built.loops[i], self.solved.arm_heat[i][arm - 1]
        if heat is None:
            return self.solved.rooms[loop.tail_room]
        return float(self.solved.supply_c[i]) if loop.reversed else heat.outlet_c

    def metal_c(self, i, arm, cell, channel):
        """Surface of a channel (from 1) in the middle of a cell of the design; cell -1: at the far end."""
        loop = self.built.loops[i]
        built, heat = loop.arms[arm - 1], self.solved.arm_heat[i][arm - 1]
        if heat is None:
            return self.solved.rooms[loop.tail_room]
        turned = loop.reversed and (built.direction > 0).all()
        if cell < 0:
            return float(heat.metal_c[0 if turned else -1, channel - 1])
        own = np.flatnonzero(built.cell == cell)
        return float(heat.metal_c[own[own.size // 2], channel - 1])

    # --- readings ---------------------------------------------------------------------------------------

    def read(self, quantity, of, true, error, arm=0):
        """A reading with the error of its instrument."""
        return Reading(quantity, of, round(true + error * float(self.rng.standard_normal()), 1), error, arm)

    def _first(self):
        items = []
        for name, i in zip(self.names, self.seen, strict=True):
            flow_c, back_c = self.ends_c(i)
            items.append(self.read("flow temperature", name, flow_c + self.bias_k, SURFACE_K))
            items.append(self.read("return temperature", name, back_c + self.bias_k, SURFACE_K))
            own = self.built.loops[self.names.index(name)]
            if len(own.arms) > 1 and self.solved.flows.loop[i] > 0.0 and len(self.built.loops[i].arms) == len(own.arms):
                items += [self.arm_reading(name, i, arm) for arm in range(1, len(own.arms) + 1)]
            if self.plan.loop_meters:
                items.append(self.flow_reading(name, i))
        for name, room_c in self.solved.rooms.items():
            items.append(self.read("room temperature", name, room_c, ROOM_K))
        items.append(self.read("outdoor temperature", "", self.plan.outdoor_c, OUTDOOR_K))
        if self.plan.setting_read:
            items.append(Reading("source setting", "", self.plan.setting_c, SETTING_K))
        if self.plan.total_meter:
            items.append(self.site_reading("total flow"))
        if self.plan.head_gauge:
            items.append(self.site_reading("pump head"))
        return Readings("a visit", tuple(items), (), True, 48.0 if self.plan.steady else 3.0)

    def arm_reading(self, name, i, arm):
        return self.read("return temperature", name, self.arm_return_c(i, arm) + self.bias_k, SURFACE_K, arm)

    def surface_readings(self, of):
        """Surfaces at a place in words: "Hall, arm 2, channel 1, far end", "Hall, channels 1 and 2, piece Study 3"."""
        found = re.fullmatch(r"(.+?)(?:, arm (\d+))?, channels? ([\d, and]+), (?:piece )?(.+)", of)
        name, arm, piece = found[1], int(found[2] or 0), found[4]
        i = self.names.index(name)
        cells = [cell.label for cell in self.system.state.network.loops[i].arms[max(arm, 1) - 1].cells]
        for channel in map(int, re.findall(r"\d+", found[3])):
            true = self.metal_c(i, max(arm, 1), -1 if piece == "far end" else cells.index(piece), channel)
            read = self.read("surface temperature", name, true + self.bias_k, SURFACE_K, arm)
            yield replace(read, channel=channel, piece=piece)

    def flow_reading(self, name, i):
        return self.read("flow", name, self.litres_h(i), max(FLOW_SHARE * self.litres_h(i), 1.0))

    def site_reading(self, quantity):
        """A reading of the whole site."""
        if quantity == "total flow":
            flows = self.solved.flows
            circuit = sum(map(self.litres_h, range(len(self.names)))) + 3.6e3 * sum(flows.bypass)
            return self.read(quantity, "", circuit, FLOW_SHARE * circuit)
        if quantity == "pump head":
            head = self.solved.flows.pump_pa / 1000.0
            return self.read(quantity, "", head, HEAD_SHARE * head)
        if quantity == "source temperature":
            return self.read(quantity, "", self.built.source_c, POCKET_K)
        if quantity == "probe bias":
            return self.read(quantity, "", self.bias_k, 0.5)
        assert quantity == "source setting", quantity
        return Reading(quantity, "", self.plan.setting_c, SETTING_K)

    def take_row(self, row):
        """The readings with the one that a row of the readings to take next asks for."""
        return self.take(row["reading"], row["of"])

    def take(self, quantity, of):
        """The readings with one more, as a diagnosis asks for it: `of` a loop, an arm ("Hall, arm 2") or nothing.

        A second reading of what was read replaces it by the mean of both, with the error of a mean.
        """
        again = quantity.removeprefix("second reading of the ")
        if again == "surface temperature":
            for reading in self.surface_readings(of):
                self.readings = _with(self.readings, reading)
            return self.readings
        name, _, number = of.partition(", arm ")
        arm = int(number or 0)
        if not of:
            new = self.site_reading(again)
        else:
            i = self.seen[self.names.index(name)]
            if again == "flow":
                new = self.flow_reading(name, i)
            elif arm:
                new = self.arm_reading(name, i, arm)
            else:
                at = ("flow temperature", "return temperature").index(again)
                new = self.read(again, name, self.ends_c(i)[at] + self.bias_k, SURFACE_K)
        self.readings = _with(self.readings, new)
        return self.readings


def _with(readings, new):
    def place(item):
        return item.quantity, item.of, item.arm, item.channel, item.piece

    old = next((item for item in readings.items if place(item) == place(new)), None)
    if old is None:
        return replace(readings, items=(*readings.items, new))
    weights = 1.0 / old.error**2, 1.0 / new.error**2
    mean = (weights[0] * old.value + weights[1] * new.value) / sum(weights)
    both = replace(new, value=mean, error=sum(weights) ** -0.5)
    return replace(readings, items=tuple(both if item is old else item for item in readings.items))
