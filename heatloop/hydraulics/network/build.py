"""Build the pipe network of loops and shared pipework as arrays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.arm_groups import group_similar_arms
from heatloop.hydraulics.heat.other_emitters import Emitters
from heatloop.hydraulics.model import ArmPath, ElementLocation, LoopPath, PathElement, Side
from heatloop.hydraulics.network.links import ElementArrays, NetworkGraph, NodeEquations
from heatloop.hydraulics.network.shared_pipework import SharedPipework, build_shared_pipework
from heatloop.hydraulics.network.solver_index import LoopLinks, SolverIndex
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.network.tee_losses import Tee, TeeBranch
from heatloop.hydraulics.network.temperature_index import ElementTemperatures, TemperatureIndex
from heatloop.physics.friction import NO_CURVES, FrictionTable
from heatloop.survey.catalogue import Pipe
from heatloop.survey.water_system import Bypass, Trunk

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Levels:
    """Floor levels of rooms by name, and of the source, in metres."""

    rooms_m: Mapping[str, float]
    source_m: float = 0.0


@dataclass(frozen=True)
class PipeworkInput:
    """Pipework that loops share: trunks with their `pipes` by name, and bypasses. Parents must be in `trunks`.

    With `tees` the branches at the end of a trunk have tees. Trunks lose heat where `lose_to_c` is given: to the stated
    temperature around each trunk, else to this one.
    """

    trunks: Sequence[Trunk] = ()
    pipes: Mapping[str, Pipe] = field(default_factory=dict)
    bypasses: Sequence[Bypass] = ()
    tees: bool = False
    lose_to_c: float | None = None

    def shared_by(self, loops: Sequence[LoopPath]) -> SharedPipework:
        """The shared pipework with the ends that these loops join."""
        joined = [path.loop.trunk for path in loops]
        return build_shared_pipework(self.trunks, self.pipes, joined, self.bypasses, self.lose_to_c)


NOTHING_SHARED = PipeworkInput()


def build_network(
    loops: Sequence[LoopPath],
    pipework: PipeworkInput = NOTHING_SHARED,
    levels: Levels | None = None,
    friction: FrictionTable = NO_CURVES,
) -> PipeNetwork:
    """Join loops, trunks and bypasses to a network.

    Without `levels` all pipes are at one level. Trunks are at the level of the source. `friction`: friction curves that
    have been calculated already, for example those of another network of the same pipes.
    """
    builder = _Builder(tuple(loops), pipework.shared_by(loops), pipework.tees)
    return builder.finish(tuple(pipework.trunks), tuple(pipework.bypasses), levels or Levels({}), friction)


class _Builder:
    def __init__(self, loops: tuple[LoopPath, ...], shared_pipework: SharedPipework, tees: bool) -> None:
        self.loops, self.shared_pipework = loops, shared_pipework
        self.branching = shared_pipework.branching() if tees else {}
        self.tees: dict[tuple[str, Side], list[tuple[int, PathElement]]] = {}
        self.node_count = shared_pipework.nodes
        self.link_ends: list[tuple[int, int]] = []
        self.members: list[list[ElementLocation]] = []
        self.channel_link: list[list[int]] = []
        self.arm_loop: list[int] = []
        self.loop_link: list[int] = []
        self.main_link = [
            self._branch(
                main.start,
                main.end,
                [ElementLocation(main.element, -1, -1, main.trunk, -1, k)],
                *shared_pipework.leaves(k),
                main.element,
            )
            for k, main in enumerate(shared_pipework.links)
        ]
        trunk_tees = {key: list(branches) for key, branches in self.tees.items()}
        self.tees = {}
        for index, loop in enumerate(loops):
            self._add_loop(index, loop, shared_pipework.join[loop.loop.trunk])
        self.bypass_link = [
            self._branch(
                *shared_pipework.join[trunk], [ElementLocation(element, -1, -1, -1, b)], trunk, "both", element
            )
            for b, (trunk, element) in enumerate(shared_pipework.bypasses)
        ]
        for key, branches in trunk_tees.items():
            self.tees.setdefault(key, []).extend(branches)

    def _node(self) -> int:
        self.node_count += 1
        return self.node_count - 1

    def _link(self, start: int, end: int, members: list[ElementLocation]) -> int:
        self.link_ends.append((start, end))
        self.members.append(members)
        return len(self.members) - 1

    def _branch(
        self,
        start: int,
        end: int,
        members: list[ElementLocation],
        trunk: str | None,
        sides: Side | Literal["both"] | None,
        element: PathElement,
    ) -> int:
        """A link that may begin or end with the tee at which it leaves a trunk or returns to it."""
        link = len(self.members)
        first = self._tee(members[0], trunk, "flow", link, element) if sides in ("flow", "both") else []
        last = self._tee(members[-1], trunk, "return", link, element) if sides in ("return", "both") else []
        return self._link(start, end, [*first, *members, *last])

    def _tee(
        self, beside: ElementLocation, trunk: str | None, direction: Side, link: int, element: PathElement
    ) -> list[ElementLocation]:
        if trunk is None or direction not in self.branching.get(trunk, ()):
            return []
        tee = PathElement("tee", trunk, "", 0, 0, direction, element.duct, 0.0)
        self.tees.setdefault((trunk, direction), []).append((link, tee))
        return [replace(beside, element=tee, arm=-1)]

    def _add_loop(self, index: int, path: LoopPath, nodes: tuple[int, int]) -> None:
        supply, back = nodes
        tail_flow = [ElementLocation(e, index, -1, -1) for e in path.tail_flow]
        tail_return = [ElementLocation(e, index, -1, -1) for e in path.tail_return]
        if len(path.arms) == 1 and _single(path.arms[0]):
            arm = len(self.arm_loop)
            self.arm_loop.append(index)
            members = tail_flow + [ElementLocation(e, index, arm, -1) for e in _in_order(path.arms[0])] + tail_return
            link = self._branch(supply, back, members, path.loop.trunk, "both", path.tail_flow[0])
            self.channel_link.append([link] * len(path.arms[0].directions))
            self.loop_link.append(link)
            return
        head, foot = self._node(), self._node()
        trunk = path.loop.trunk
        self.loop_link.append(self._branch(supply, head, tail_flow, trunk, "flow", path.tail_flow[0]))
        for arm_path in path.arms:
            self._add_arm(index, arm_path, head, foot)
        self._branch(foot, back, tail_return, trunk, "return", path.tail_return[-1])

    def _add_arm(self, loop: int, path: ArmPath, head: int, foot: int) -> None:
        arm = len(self.arm_loop)
        self.arm_loop.append(loop)
        if _single(path):
            link = self._link(head, foot, [ElementLocation(e, loop, arm, -1) for e in _in_order(path)])
            self.channel_link.append([link] * len(path.directions))
            return
        if path.flow_valve:
            start = self._node()
            self._link(head, start, [ElementLocation(e, loop, arm, -1) for e in path.flow_valve])
            head = start
        if path.return_valve:
            end = self._node()
            self._link(end, foot, [ElementLocation(e, loop, arm, -1) for e in path.return_valve])
            foot = end
        far = self._node() if -1 in path.directions else foot
        links = []
        for channel, sign in zip(path.channels, path.directions, strict=True):
            ends = (head, far) if sign > 0 else (far, foot)
            links.append(self._link(*ends, [ElementLocation(e, loop, arm, -1) for e in channel]))
        self.channel_link.append(links)

    def finish(
        self,
        trunks: tuple[Trunk, ...],
        bypasses: tuple[Bypass, ...],
        levels: Levels,
        friction: FrictionTable,
    ) -> PipeNetwork:
        shared_pipework = self.shared_pipework
        locations = [place for members in self.members for place in members]
        ends = np.array(self.link_ends, dtype=np.intp).reshape(-1, 2)
        backs = np.array([circuit.back for circuit in shared_pipework.circuits], dtype=np.intp)
        graph = NetworkGraph(self.node_count, ends[:, 0], ends[:, 1], backs)
        arms = tuple(arm for loop in self.loops for arm in loop.arms)
        groups = group_similar_arms(arms)
        joins = [loop.loop.trunk for loop in self.loops]
        temperatures = TemperatureIndex.of(locations, len(self.loops), len(shared_pipework.links), groups)
        node_equations = NodeEquations.of(graph)
        links = LoopLinks(
            tuple(np.array(own, dtype=np.intp) for own in self.channel_link),
            np.array(self.loop_link, dtype=np.intp),
            np.array(self.arm_loop, dtype=np.intp),
        )
        return PipeNetwork(
            loops=self.loops,
            trunks=trunks,
            bypasses=bypasses,
            arms=arms,
            arm_loop=links.arm_loop,
            groups=groups,
            shared_pipework=shared_pipework,
            graph=graph,
            node_equations=node_equations,
            elements=element_arrays([place.element for place in locations], [len(m) for m in self.members], friction),
            locations=tuple(locations),
            channel_link=links.channel_link,
            loop_link=links.loop_link,
            main_link=np.array(self.main_link, dtype=np.intp),
            bypass_link=np.array(self.bypass_link, dtype=np.intp),
            loop_nodes=np.array([shared_pipework.join[name] for name in joins], dtype=np.intp),
            loop_circuit=np.array([shared_pipework.circuit_of[name] for name in joins], dtype=np.intp),
            tees=self._tees(locations),
            rise_m=rises_m(locations, self.loops, levels),
            temperatures=temperatures,
            element_temps=ElementTemperatures.of(locations, arms, temperatures),
            emitters=Emitters.of(locations),
            solver_index=SolverIndex.of(shared_pipework, bypasses, self.loops, groups, node_equations, links),
        )

    def _tees(self, locations: Sequence[ElementLocation]) -> tuple[Tee, ...]:
        number = {id(place.element): i for i, place in enumerate(locations)}
        return tuple(
            Tee(
                bore_m=self.shared_pipework.bore_m(trunk),
                dividing=direction == "flow",
                branches=tuple(
                    TeeBranch(link, number[id(tee)], tee.duct.hydraulic_diameter_m) for link, tee in branches
                ),
            )
            for (trunk, direction), branches in self.tees.items()
        )


def element_arrays(items: Sequence[PathElement], counts: Sequence[int], friction: FrictionTable) -> ElementArrays:
    """The elements as arrays, with one friction curve for each kind of duct."""
    ducts = [(e.roughness_m / e.duct.hydraulic_diameter_m, e.duct.laminar_f_re) for e in items]
    friction = friction.with_ducts(ducts)
    curve = {duct: number for number, duct in enumerate(friction.ducts)}
    return ElementArrays(
        link=np.repeat(np.arange(len(counts)), counts),
        first_element=np.concatenate([[0], np.cumsum(counts)[:-1]]).astype(np.intp),
        area_m2=np.array([e.duct.area_m2 for e in items]),
        hydraulic_diameter_m=np.array([e.duct.hydraulic_diameter_m for e in items]),
        length_m=np.array([e.length_m for e in items]),
        zeta=np.array([e.zeta for e in items]),
        kv_m3_h=np.array([np.inf if e.kv_m3_h is None else e.kv_m3_h for e in items]),
        friction=np.array([curve[duct] for duct in ducts], dtype=np.intp),
        table=friction,
    )


def _single(arm: ArmPath) -> bool:
    """Whether the whole flow of the arm passes through one channel after another."""
    return sum(d > 0 for d in arm.directions) == 1 and sum(d < 0 for d in arm.directions) <= 1


def _in_order(arm: ArmPath) -> list[PathElement]:
    """Elements of a single-file arm in water order, with its valves."""
    out = [e for channel, sign in zip(arm.channels, arm.directions, strict=True) if sign > 0 for e in channel]
    back = [e for channel, sign in zip(arm.channels, arm.directions, strict=True) if sign < 0 for e in channel]
    return [*arm.flow_valve, *out, *back, *arm.return_valve]


def rises_m(locations: Sequence[ElementLocation], loops: Sequence[LoopPath], levels: Levels) -> Array:
    """Rise of the water at each element in metres.

    Water rises in the flow tail to the first room of the first arm, then from room to room, and falls in the return
    tail. The sum over every way through a loop is 0.
    """
    levels_m, rise = levels.rooms_m, np.zeros(len(locations))
    number = {id(place.element): i for i, place in enumerate(locations)}
    for path in loops:
        own = (e for channel in path.arms[0].channels for e in channel)
        others = (e for e in (*path.tail_flow, *path.tail_return) if e.emits is not None)
        first = next((e for e in (*own, *others) if e.room in levels_m), None)
        if first is None:
            continue
        tail_m = foot_m = levels_m[first.room]
        for place, arm in enumerate(path.arms):
            ends = {1: tail_m, -1: tail_m}
            for sign in (1, -1):
                start_m = tail_m if sign > 0 else ends[1]
                for channel in (c for c, d in zip(arm.channels, arm.directions, strict=True) if d == sign):
                    here_m = start_m
                    for element in channel:
                        level_m = levels_m.get(element.room, here_m)
                        rise[number[id(element)]] += level_m - here_m
                        here_m = level_m
                    ends[sign] = here_m
                    if place > 0 and sign == min(arm.directions):
                        rise[number[id(channel[-1])]] += foot_m - here_m
            if place == 0:
                foot_m = ends[min(arm.directions)]
        rise[number[id(path.tail_flow[0])]] += tail_m - levels.source_m
        rise[number[id(path.tail_return[-1])]] += levels.source_m - foot_m
    return rise
