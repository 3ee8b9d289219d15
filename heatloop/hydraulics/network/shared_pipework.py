"""Pipework that loops share: trunks as a tree, manifolds, reverse return, bypasses and mixed circuits.

A trunk that is mixed to a lower temperature begins a circuit of its own. The pump of this circuit carries the water of
the trunk and of everything connected to it. Between the two circuits there is a hydraulic separation without pressure
of its own (closely spaced tees). The pump of the source carries to this point only the water that is drawn there.

Reverse return: the return pipe of such a trunk runs in the same direction as its flow and collects the water. From the
last trunk of a row, the water returns through a pipe as long as the whole row.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.model import PathElement, Side
from heatloop.physics.ducts import round_duct
from heatloop.physics.heat_transfer import pipe_loss_w_mk
from heatloop.survey.catalogue import Pipe
from heatloop.survey.water_system import Bypass, Trunk

Array = NDArray[np.float64]

BACK_NODE, FLOW_NODE = 0, 1

Way = Literal["flow", "return", "reverse return"]
"""Flow or return of a trunk, or the reverse-return pipe from the end of a row."""


@dataclass(frozen=True)
class Circuit:
    """Water under one pump. `trunk`: index of the mixed trunk (-1: the source). `flow` and `back`: its nodes.

    `parent`: the circuit from which it draws (-1: none), at the nodes `draws_at`, flow and return.
    """

    name: str
    trunk: int
    flow: int
    back: int
    parent: int = -1
    draws_at: tuple[int, int] = (-1, -1)
    mixed_to_c: float | None = None


@dataclass(frozen=True)
class SharedPipe:
    """One pipe of shared pipework from node `start` to node `end`: flow or return of a trunk, or reverse-return pipe.

    It loses `loss_w_k` W/K to `around_c` °C.
    """

    start: int
    end: int
    element: PathElement
    trunk: int
    circuit: int
    is_flow: bool
    loss_w_k: float = 0.0
    around_c: float = 20.0


@dataclass(frozen=True)
class SharedPipework:
    """Links, nodes and streams of the pipework that loops share.

    links (K). join: flow and return node at which the loops of a trunk (None: the source) join. streams (N in all): the
    loops, the bypasses and the draws of circuits 1, 2, ... stream_trunks: trunk of each loop and bypass. on_link (K, N)
    and of_circuit (P, N): 1 where the water of a stream passes a link, or belongs to a circuit.
    """

    nodes: int
    circuits: tuple[Circuit, ...]
    links: tuple[SharedPipe, ...]
    join: Mapping[str | None, tuple[int, int]]
    circuit_of: Mapping[str | None, int]
    bypasses: tuple[tuple[str | None, PathElement], ...]
    stream_trunks: tuple[str | None, ...]
    on_link: Array
    of_circuit: Array

    @property
    def link_circuit(self) -> NDArray[np.intp]:
        """Circuit of each link, (K)."""
        return np.array([link.circuit for link in self.links], dtype=np.intp)

    @cached_property
    def loop_streams(self) -> slice:
        """The loops among the streams."""
        return slice(0, len(self.stream_trunks) - len(self.bypasses))

    @cached_property
    def bypass_streams(self) -> slice:
        """The bypasses among the streams."""
        return slice(self.loop_streams.stop, len(self.stream_trunks))

    @cached_property
    def draw_streams(self) -> slice:
        """The draws of circuits 1, 2, ... among the streams."""
        return slice(self.bypass_streams.stop, self.on_link.shape[1])

    def leaves(self, link: int) -> tuple[str | None, Side | None]:
        """Trunk from which a link of shared pipework branches or to which it returns, and the side (None for none)."""
        main = self.links[link]
        for name, (flow, back) in self.join.items():
            if main.is_flow and main.start == flow:
                return name, "flow"
            if not main.is_flow and main.end == back:
                return name, "return"
        return None, None

    def branching(self) -> dict[str, tuple[Side, ...]]:
        """Trunks at whose end water divides, and the sides that have tees.

        The sides are the flow, and the return where it runs back alongside. At the source everything is connected to a
        manifold without tees.
        """
        sides: dict[str, tuple[Side, ...]] = {}
        for name, (flow, back) in self.join.items():
            if name is None:
                continue
            streams = sum(joined == name for joined in self.stream_trunks)
            onward = [link for link in self.links if link.is_flow and link.start == flow]
            if streams + len(onward) > 1:
                comes_back = any(not link.is_flow and link.start == back for link in self.links)
                alike = sum(not link.is_flow and link.end == back for link in self.links) == len(onward)
                sides[name] = ("flow", "return") if comes_back and alike else ("flow",)
        return sides

    def bore_m(self, trunk: str) -> float:
        """Bore of a trunk's pipe."""
        return next(link.element.duct.hydraulic_diameter_m for link in self.links if link.element.label == trunk)


def build_shared_pipework(
    trunks: Sequence[Trunk],
    pipes: Mapping[str, Pipe],
    loop_trunks: Sequence[str | None],
    bypasses: Sequence[Bypass] = (),
    lose_to_c: float | None = None,
) -> SharedPipework:
    """Build the shared pipework of these trunks, with loops connected to `loop_trunks` (None: the source).

    Pipes lose heat where `ambient_temp_c` is given: to their own surroundings, else to this temperature.
    """
    return _Layer(tuple(trunks), pipes, lose_to_c).finish(loop_trunks, bypasses)


def from_source_outwards(trunks: Sequence[Trunk]) -> list[Trunk]:
    """Sort trunks from the source outwards."""
    parent = {trunk.name: trunk.from_trunk for trunk in trunks}

    def depth(trunk: Trunk) -> int:
        steps, name = 0, trunk.from_trunk
        while name is not None:
            steps, name = steps + 1, parent[name]
        return steps

    return sorted(trunks, key=depth)


@dataclass
class _Layer:
    trunks: tuple[Trunk, ...]
    pipes: Mapping[str, Pipe]
    lose_to_c: float | None = None
    nodes: int = 2
    links: list[SharedPipe] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.number = {trunk.name: i for i, trunk in enumerate(self.trunks)}
        self.circuits = [Circuit("source", -1, FLOW_NODE, BACK_NODE)]
        self.flow_node: dict[str | None, int] = {None: FLOW_NODE}
        self.back_node: dict[str | None, int] = {None: BACK_NODE}
        self.circuit_of: dict[str | None, int] = {None: 0}
        self.way_in: dict[int, int] = {}
        """The link that brings water to a flow node."""
        self.way_out: dict[int, int] = {}
        """The link that takes water from a return node."""
        self._start_row(None)
        for trunk in from_source_outwards(self.trunks):
            self._lay(trunk)

    def _node(self) -> int:
        self.nodes += 1
        return self.nodes - 1

    def _reverse_child(self, name: str | None) -> Trunk | None:
        return next((t for t in self.trunks if t.reverse_return and t.from_trunk == name), None)

    def _start_row(self, name: str | None) -> None:
        """Make returns join a node of their own that leads outwards, at the start of a reverse-return row."""
        if self._reverse_child(name) is not None:
            self.row_return = self.back_node[name]
            self.back_node[name] = self._node()

    def _lay(self, trunk: Trunk) -> None:
        parent, place = trunk.from_trunk, self.number[trunk.name]
        flow, back = self.flow_node[parent], self.back_node[parent]
        circuit = self.circuit_of[parent]
        if trunk.mixed_to_c is not None:
            at = (flow, back)
            mixed = Circuit(trunk.name, place, self._node(), self._node(), circuit, at, trunk.mixed_to_c)
            circuit = len(self.circuits)
            self.circuits.append(mixed)
            flow, back = mixed.flow, mixed.back
        self.circuit_of[trunk.name] = circuit
        far_flow, far_back = self._node(), self._node()
        self.flow_node[trunk.name], self.back_node[trunk.name] = far_flow, far_back
        self.way_in[far_flow] = self._link(flow, far_flow, trunk, circuit, "flow", trunk.length_m)
        if not trunk.reverse_return:
            self.way_out[far_back] = self._link(far_back, back, trunk, circuit, "return", trunk.length_m)
            self._start_row(trunk.name)
            return
        self.way_out[back] = self._link(back, far_back, trunk, circuit, "return", trunk.length_m)
        if self._reverse_child(trunk.name) is None:
            self.way_out[far_back] = self._link(
                far_back, self.row_return, trunk, circuit, "reverse return", self._row_m(trunk)
            )

    def _row_m(self, trunk: Trunk) -> float:
        """Length in metres of the row of reverse-return trunks that ends with this one."""
        length_m, name = trunk.length_m, trunk.from_trunk
        while name is not None and self.trunks[self.number[name]].reverse_return:
            before = self.trunks[self.number[name]]
            length_m, name = length_m + before.length_m, before.from_trunk
        return length_m

    def _link(self, start: int, end: int, trunk: Trunk, circuit: int, way: Way, length_m: float) -> int:
        pipe = self.pipes[trunk.pipe]
        element = PathElement(
            kind="trunk",
            label=trunk.name if way != "reverse return" else f"{trunk.name}, reverse-return pipe",
            room="",
            arm=0,
            channel=0,
            direction="flow" if way == "flow" else "return",
            duct=round_duct(pipe.bore_m),
            roughness_m=pipe.roughness_mm / 1000.0,
            length_m=length_m,
            zeta=trunk.zeta,
        )
        loss, around_c = 0.0, 20.0
        if self.lose_to_c is not None:
            loss = pipe_loss_w_mk(pipe.outside_mm, pipe.insulation_mm, pipe.insulation_conductivity_w_mk) * length_m
            around_c = self.lose_to_c if trunk.around_c is None else trunk.around_c
        number = self.number[trunk.name]
        self.links.append(SharedPipe(start, end, element, number, circuit, way == "flow", loss, around_c))
        return len(self.links) - 1

    def finish(self, loop_trunks: Sequence[str | None], bypasses: Sequence[Bypass]) -> SharedPipework:
        homes = [*loop_trunks, *(bypass.trunk for bypass in bypasses)]
        ends = [(self.flow_node[name], self.back_node[name], self.circuit_of[name]) for name in homes]
        ends += [(*circuit.draws_at, circuit.parent) for circuit in self.circuits[1:]]
        on_link = np.zeros((len(self.links), len(ends)))
        of_circuit = np.zeros((len(self.circuits), len(ends)))
        for stream, (flow, back, circuit) in enumerate(ends):
            on_link[list(self._passed(flow, back)), stream] = 1.0
            of_circuit[circuit, stream] = 1.0
        return SharedPipework(
            nodes=self.nodes,
            circuits=tuple(self.circuits),
            links=tuple(self.links),
            join={name: (self.flow_node[name], self.back_node[name]) for name in self.flow_node},
            circuit_of=self.circuit_of,
            bypasses=tuple((bypass.trunk, _bypass_element(bypass)) for bypass in bypasses),
            stream_trunks=tuple(homes),
            on_link=on_link,
            of_circuit=of_circuit,
        )

    def _passed(self, flow: int, back: int) -> Iterator[int]:
        """Links of its circuit that water passes on the way to a flow node and back from a return node."""
        while flow in self.way_in:
            yield self.way_in[flow]
            flow = self.links[self.way_in[flow]].start
        while back in self.way_out:
            yield self.way_out[back]
            back = self.links[self.way_out[back]].end


BYPASS_BORE_M = 0.02
"""Bore that the velocity in a bypass is stated for; its drop comes from its Kv alone."""


def _bypass_element(bypass: Bypass) -> PathElement:
    return PathElement(
        kind="bypass",
        label=bypass.name,
        room="",
        arm=0,
        channel=0,
        direction="flow",
        duct=round_duct(BYPASS_BORE_M),
        roughness_m=0.0,
        kv_m3_h=bypass.kv_m3_h,
        valve=bypass.name,
    )
