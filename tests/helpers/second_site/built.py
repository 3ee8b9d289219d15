"""A system as it was built: the lengths, bores and settings of a design, each with its own deviation.

Only what a fitter can see is taken from the design: pieces, pipes, fittings, valve settings and the head of the pump.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from tests.helpers.second_site.channels import STRETCH_M, Arm
from tests.helpers.second_site.pressure import Row
from tests.helpers.second_site.rating import emission_w_mkn, link_w_mk

MIN_HEAD_PA = 10.0
"""A pump whose circuit needs less, because mixed trunks draw all its water, is taken as a constant head."""


@dataclass(frozen=True)
class Scatter:
    """Relative spreads of a site about its design, except `source_k` in K: one standard deviation each.

    output: of all pieces of a room in one loop; piece: of each piece; friction: of each channel (a bore 1 % smaller
    adds 5 %); fittings: zeta; kv: of each valve; length: of plain pipe; link: conduction between channels; pipe: heat
    loss of plain pipe.
    """

    output: float = 0.05
    piece: float = 0.02
    friction: float = 0.08
    fittings: float = 0.20
    kv: float = 0.10
    length: float = 0.08
    link: float = 0.25
    pipe: float = 0.20
    head: float = 0.05
    source_k: float = 0.7
    mixed_k: float = 1.0
    losses: float = 0.10
    room_loss: float = 0.12

    def times(self, factor):
        """Every spread times a factor; 0 for a site exactly as designed."""
        return Scatter(**{name: factor * value for name, value in vars(self).items()})


@dataclass
class Emitter:
    """Another emitter: K in W/K^n, exponent, its room."""

    k_w_kn: float
    exponent: float
    room: str


@dataclass
class Loop:
    """A loop as built: rows of its tails, its arms with a row a channel and rows of their valves, tail losses in W/K.

    `balancing`: where its balancing valves are: ("tail_flow" or "tail_return", 0) or (list of valves, arm).
    """

    name: str
    trunk: str | None
    tail_flow: Row
    tail_return: Row
    arms: list[Arm]
    channels: list[list[Row]]
    flow_valves: list[Row]
    return_valves: list[Row]
    loss_flow_w_k: float
    loss_return_w_k: float
    tail_room: str
    emitters_flow: list[Emitter]
    emitters_return: list[Emitter]
    open_kv: dict = field(default_factory=dict)
    closed: bool = False
    reversed: bool = False


@dataclass
class Trunk:
    """A pair of pipes: rows of flow and return, heat loss of each in W/K to `around_c`, `mixed_to_c` or None."""

    name: str
    parent: str | None
    row: Row
    loss_w_k: float
    around_c: float
    mixed_to_c: float | None
    pump: object


@dataclass
class Built:
    """The whole system: loops, trunks from the source outwards, bypasses as (trunk, row), the pump of the source, a
    resistance before everything (Pa/(kg/s)2), and its water temperature."""

    loops: list[Loop]
    trunks: list[Trunk]
    bypasses: list[tuple]
    pump: object
    filter_pa: float
    source_c: float


def pipe_loss_w_mk(pipe):
    """Heat loss of a metre of plain pipe per kelvin: insulation, and 10 W/(m2 K) at the surface."""
    outside = (pipe.outside_mm + 2.0 * pipe.insulation_mm) / 1000.0
    layer = math.log(outside * 1000.0 / pipe.outside_mm) / (2.0 * math.pi * pipe.insulation_conductivity_w_mk)
    return 1.0 / (layer + 1.0 / (10.0 * math.pi * outside))


def pump_curve(pump, flow_kg_s, head_pa):
    """Head in Pa against flow in kg/s, the pump slowed to give `head_pa` at this flow; constant without a curve."""
    if pump is None or head_pa < MIN_HEAD_PA:
        return lambda flow: head_pa + 0.0 * flow
    assert (pump.speed, pump.constant_kpa, pump.proportional_kpa) == (None, None, None)
    points = PchipInterpolator(np.array(pump.flow_m3_h) / 3.6, 1000.0 * np.array(pump.head_kpa))

    def full(flow):
        inside = np.minimum(flow, pump.flow_m3_h[-1] / 3.6)
        return points(inside) + points.derivative()(pump.flow_m3_h[-1] / 3.6) * (flow - inside)

    def at(speed, flow):
        return speed**2 * full(flow / speed)

    speed = 1.0 if at(1.0, flow_kg_s) < head_pa else brentq(lambda s: at(s, flow_kg_s) - head_pa, 0.05, 1.0)
    return lambda flow: at(speed, flow)


class _Builder:
    def __init__(self, system, rng, scatter):
        self.system, self.rng, self.scatter = system, rng, scatter
        self.survey, self.network = system.survey, system.state.network
        project = self.survey.project
        assert not any((project.tees, project.buoyancy, project.antifreeze)), "not part of this model"
        self.pipes = {round(pipe.bore_mm, 3): pipe for pipe in self.survey.catalogue.pipes}
        self.kv = {id(self.network.locations[i].element): s.kv_m3_h for i, s in system.settings.items()}

    def factor(self, spread):
        """A random factor near 1, log-normal."""
        return math.exp(spread * float(self.rng.standard_normal()))

    def set_kv(self, element):
        """Kv of a valve at its setting with the thermostatic head removed."""
        valve = self.survey.catalogue.valve(element.valve)
        kv = self.kv.get(id(element), valve.kv_m3_h[-1])
        return kv if valve.kvs_m3_h is None else valve.kvs_m3_h * kv / valve.kv_m3_h[-1]

    def open_kv(self, element):
        valve = self.survey.catalogue.valve(element.valve)
        return valve.kvs_m3_h or valve.kv_m3_h[-1]

    def row(self, elements, channel=False):
        """Elements in a row with the deviations of this site."""
        kv = [self.set_kv(e) * self.factor(self.scatter.kv) if e.valve else (e.kv_m3_h or math.inf) for e in elements]
        length = 1.0 if channel else self.factor(self.scatter.length)
        return Row(
            np.array([e.length_m for e in elements]) * length,
            np.array([e.duct.area_m2 for e in elements]),
            np.array([4.0 * e.duct.area_m2 / e.duct.perimeter_m for e in elements]),
            np.array([e.roughness_m for e in elements]),
            np.array([e.zeta for e in elements]),
            np.array(kv),
            self.factor(self.scatter.friction),
            self.factor(self.scatter.fittings),
        )

    def loss_w_mk(self, bore_m):
        if not self.survey.project.pipe_losses:
            return 0.0
        return pipe_loss_w_mk(self.pipes[round(1000.0 * bore_m, 3)]) * self.factor(self.scatter.pipe)

    def arm(self, path, arm):
        """An arm in stretches; every piece and the pieces of every room have a deviation of their own."""
        profile = path.profile
        rooms = {cell.room: self.factor(self.scatter.output) for cell in arm.cells}
        link = link_w_mk(profile) * self.factor(self.scatter.link)
        columns = []
        pipe_w_mk = self.loss_w_mk(self.crossing_bore_m(path)) * len(arm.ducts)
        for number, cell in enumerate(arm.cells):
            assert not cell.downward_loss_w_mk, "floor sections are not part of this model"
            count = max(2, math.ceil(cell.length_m / STRETCH_M))
            if cell.skirting:
                k = emission_w_mkn(profile) * cell.factor * rooms[cell.room] * self.factor(self.scatter.piece)
                values = (cell.length_m / count, k, profile.rating.exponent, link, cell.back_w_mk, True, cell.useful)
            else:
                values = (cell.length_m / count, pipe_w_mk, 1.0, 0.0, 0.0, False, cell.useful)
            columns += [(*values, number, cell.room)] * count
        length, k, exponent, links, back, film, useful, cells, names = zip(*columns, strict=True)
        return Arm(
            np.array(arm.directions),
            np.array([duct.area_m2 for duct in arm.ducts]),
            np.array([duct.perimeter_m for duct in arm.ducts]),
            *(np.array(values) for values in (length, k, exponent, links, back, film, useful, cells)),
            names,
        )

    def crossing_bore_m(self, path):
        for arm in path.arms:
            for element in (e for channel in arm.channels for e in channel if e.kind == "crossing"):
                return 4.0 * element.duct.area_m2 / element.duct.perimeter_m
        return 4.0 * path.tail_flow[0].duct.area_m2 / path.tail_flow[0].duct.perimeter_m

    def loop(self, path):
        assert path.profile is not None, "a loop without skirting is not part of this model"
        assert path.loop.flow_temp_c is None
        tail_m = [sum(e.length_m for e in side if e.kind == "tail") for side in (path.tail_flow, path.tail_return)]
        loss = self.loss_w_mk(4.0 * path.tail_flow[0].duct.area_m2 / path.tail_flow[0].duct.perimeter_m)
        emitters = [
            [
                Emitter(
                    self.survey.catalogue.emitter(e.label).output_w
                    / 50.0 ** self.survey.catalogue.emitter(e.label).exponent
                    * self.factor(self.scatter.output),
                    self.survey.catalogue.emitter(e.label).exponent,
                    e.room,
                )
                for e in side
                if e.kind == "emitter"
            ]
            for side in (path.tail_flow, path.tail_return)
        ]
        loop = Loop(
            path.loop.name, path.loop.trunk, self.row(path.tail_flow), self.row(path.tail_return),
            [self.arm(path, arm) for arm in path.arms],
            [[self.row(channel, channel=True) for channel in arm.channels] for arm in path.arms],
            [self.row(arm.flow_valve) for arm in path.arms], [self.row(arm.return_valve) for arm in path.arms],
            loss * tail_m[0], loss * tail_m[1], path.tail_loss.room, *emitters,
        )  # fmt: skip
        for name, rows in (("tail_flow", [path.tail_flow]), ("tail_return", [path.tail_return]),
                           ("flow_valves", [a.flow_valve for a in path.arms]),
                           ("return_valves", [a.return_valve for a in path.arms])):  # fmt: skip
            for number, elements in enumerate(rows):
                for e in (e for e in elements if e.valve):
                    loop.open_kv[name, number] = self.open_kv(e)
        return loop

    def trunk(self, trunk, pump):
        pipe = self.survey.catalogue.pipe(trunk.pipe)
        assert not trunk.reverse_return, "reverse return is not part of this model"
        bore = pipe.bore_mm / 1000.0
        length = trunk.length_m * self.factor(self.scatter.length)
        row = Row(
            np.array([length]), np.array([math.pi * bore**2 / 4.0]), np.array([bore]),
            np.array([pipe.roughness_mm / 1000.0]), np.array([trunk.zeta]), np.array([math.inf]),
            self.factor(self.scatter.friction), self.factor(self.scatter.fittings),
        )  # fmt: skip
        around = trunk.around_c
        if around is None:
            around = float(np.mean([room.indoor_c for room in self.survey.rooms]))
        mixed_c = trunk.mixed_to_c
        if mixed_c is not None:
            mixed_c += self.scatter.mixed_k * float(self.rng.standard_normal())
        loss = self.loss_w_mk(bore) * trunk.length_m
        return Trunk(trunk.name, trunk.from_trunk, row, loss, around, mixed_c, pump)

    def pumps(self):
        """Pump of the source and of each mixed trunk, by its name, as commissioned, with the deviation of its head."""
        state, found = self.system.state, {}
        pumps = [self.survey.source.pump, *(self.network.trunks[c.trunk].pump for c in self.network.circuits[1:])]
        for circuit, pump, flow, head in zip(
            self.network.circuits, pumps, state.circuit_flow_kg_s, state.circuit_head_pa, strict=True
        ):
            curve, share = pump_curve(pump, float(flow), float(head)), self.factor(self.scatter.head)
            found[circuit.name if circuit.trunk >= 0 else None] = lambda flow, curve=curve, share=share: (
                share * curve(flow / math.sqrt(share))
            )
        return found

    def built(self, setting_c):
        pumps = self.pumps()
        trunks = [self.trunk(t, pumps.get(t.name)) for t in self.survey.trunks]
        bypasses = []
        for bypass in self.survey.bypasses:
            assert bypass.opens_at_kpa is None, "a bypass that opens by pressure is not part of this model"
            kv = np.array([bypass.kv_m3_h * self.factor(self.scatter.kv)])
            one, none = np.ones(1), np.zeros(1)
            bypasses.append((bypass.trunk, Row(none, one, one, one, none, kv)))
        source_c = setting_c + self.scatter.source_k * float(self.rng.standard_normal())
        return Built([self.loop(path) for path in self.network.loops], trunks, bypasses, pumps[None], 0.0, source_c)


def build(system, rng, scatter, setting_c):
    """The system of a design as built, its source set to `setting_c`."""
    return _Builder(system, rng, scatter).built(setting_c)
