"""Loops, trunks and source joined to one network, as the arrays the solvers want.

Node 0 is the return at the source and the zero of pressure, node 1 the flow. Every trunk adds a flow and a
return node at its far end. A loop of one arm with one channel each way is a single link; channels
in parallel and arms fed from the middle are links of their own between the nodes where they part and meet.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from heatloop.circuit.heat import ArmGroup, group_arms
from heatloop.circuit.model import ArmPath, Element, LoopPath
from heatloop.circuit.network import Elements, Network
from heatloop.physics.ducts import round_duct
from heatloop.physics.friction import friction_table
from heatloop.survey.catalogue import Pipe
from heatloop.survey.model import Trunk

Array = NDArray[np.float64]
Index = NDArray[np.intp]

RETURN_NODE, SUPPLY_NODE = 0, 1


@dataclass(frozen=True)
class Place:
    """Where an element stands: loop and arm as places in the assembly's lists (-1: none), trunk likewise."""

    element: Element
    loop: int
    arm: int
    trunk: int


@dataclass(frozen=True)
class Assembly:
    """The whole system. `places` (E) in the order of `elements`; `channel_link[a]` the link of each
    channel of arm a; `loop_link` (L) a link that carries each loop's whole flow where there is one, else
    the loop's flow is the sum over `loop_flow_links[l]`; `trunk_links` (T, 2) flow and return;
    `on_trunk` (T, L) 1 where a loop's water passes a trunk; `loop_nodes` (L, 2) where its tails join.

    Temperatures come from a pool: supply (L), loop return (L), head (L) after the flow tail, foot (L) before
    the return tail, arm return (A), trunk flow (T), trunk return (T), then per group the nodes (C x nodes) and
    the cell means (C x M), row by row.
    """

    loops: tuple[LoopPath, ...]
    trunks: tuple[Trunk, ...]
    arms: tuple[ArmPath, ...]
    arm_loop: Index
    groups: tuple[ArmGroup, ...]
    network: Network
    elements: Elements
    places: tuple[Place, ...]
    channel_link: tuple[Index, ...]
    loop_flow_links: tuple[Index, ...]
    trunk_links: Index
    on_trunk: Array
    loop_nodes: Index
    pool_in: Index
    pool_out: Index
    pool_mean: csr_matrix

    def with_kv(self, kv_m3_h: Mapping[int, float]) -> Assembly:
        """The same system with other Kv at some elements (by their place); nothing else is rebuilt."""
        kv = self.elements.kv_m3_h.copy()
        for index, value in kv_m3_h.items():
            kv[index] = value
        return replace(self, elements=replace(self.elements, kv_m3_h=kv))


def assemble(
    loops: Sequence[LoopPath], trunks: Sequence[Trunk] = (), pipes: Mapping[str, Pipe] | None = None
) -> Assembly:
    """Join loops and trunks. `pipes` are the trunks' by name; a trunk's parent must be in `trunks`."""
    builder = _Builder(tuple(loops), tuple(trunks), pipes or {})
    return builder.finish()


class _Builder:
    def __init__(self, loops: tuple[LoopPath, ...], trunks: tuple[Trunk, ...], pipes: Mapping[str, Pipe]) -> None:
        self.loops, self.trunks = loops, trunks
        self.node_count = 2
        self.link_ends: list[tuple[int, int]] = []
        self.members: list[list[Place]] = []
        self.channel_link: list[list[int]] = []
        self.arm_loop: list[int] = []
        self.loop_flow_links: list[list[int]] = []
        self.loop_nodes: list[tuple[int, int]] = []
        trunk_nodes: dict[str | None, tuple[int, int]] = {None: (SUPPLY_NODE, RETURN_NODE)}
        self.trunk_links: list[tuple[int, int]] = []
        number = {trunk.name: i for i, trunk in enumerate(trunks)}
        for trunk in sorted(trunks, key=lambda t: self._depth(t)):
            supply, back = trunk_nodes[trunk.from_trunk]
            far = self._node(), self._node()
            trunk_nodes[trunk.name] = far
            place = number[trunk.name]
            out = self._link(supply, far[0], [Place(_trunk_element(trunk, pipes, "flow"), -1, -1, place)])
            home = self._link(far[1], back, [Place(_trunk_element(trunk, pipes, "return"), -1, -1, place)])
            self.trunk_links.append((out, home))
        order = np.argsort([number[t.name] for t in sorted(trunks, key=lambda t: self._depth(t))])
        self.trunk_links = [self.trunk_links[i] for i in order]
        for index, loop in enumerate(loops):
            self._add_loop(index, loop, trunk_nodes[loop.loop.trunk])

    def _depth(self, trunk: Trunk) -> int:
        parent = {t.name: t.from_trunk for t in self.trunks}
        depth, name = 0, trunk.from_trunk
        while name is not None:
            depth, name = depth + 1, parent[name]
        return depth

    def _node(self) -> int:
        self.node_count += 1
        return self.node_count - 1

    def _link(self, start: int, end: int, members: list[Place]) -> int:
        self.link_ends.append((start, end))
        self.members.append(members)
        return len(self.members) - 1

    def _add_loop(self, index: int, path: LoopPath, nodes: tuple[int, int]) -> None:
        supply, back = nodes
        self.loop_nodes.append(nodes)
        tail_flow = [Place(e, index, -1, -1) for e in path.tail_flow]
        tail_return = [Place(e, index, -1, -1) for e in path.tail_return]
        if len(path.arms) == 1 and _single(path.arms[0]):
            arm = len(self.arm_loop)
            self.arm_loop.append(index)
            members = tail_flow + [Place(e, index, arm, -1) for e in _in_order(path.arms[0])] + tail_return
            link = self._link(supply, back, members)
            self.channel_link.append([link] * len(path.arms[0].directions))
            self.loop_flow_links.append([link])
            return
        head, foot = self._node(), self._node()
        self.loop_flow_links.append([self._link(supply, head, tail_flow)])
        for arm_path in path.arms:
            self._add_arm(index, arm_path, head, foot)
        self._link(foot, back, tail_return)

    def _add_arm(self, loop: int, path: ArmPath, head: int, foot: int) -> None:
        arm = len(self.arm_loop)
        self.arm_loop.append(loop)
        if _single(path):
            link = self._link(head, foot, [Place(e, loop, arm, -1) for e in _in_order(path)])
            self.channel_link.append([link] * len(path.directions))
            return
        if path.flow_valve:
            start = self._node()
            self._link(head, start, [Place(e, loop, arm, -1) for e in path.flow_valve])
            head = start
        if path.return_valve:
            end = self._node()
            self._link(end, foot, [Place(e, loop, arm, -1) for e in path.return_valve])
            foot = end
        far = self._node() if -1 in path.directions else foot
        links = []
        for channel, sign in zip(path.channels, path.directions, strict=True):
            ends = (head, far) if sign > 0 else (far, foot)
            links.append(self._link(*ends, [Place(e, loop, arm, -1) for e in channel]))
        self.channel_link.append(links)

    def finish(self) -> Assembly:
        places = [place for members in self.members for place in members]
        counts = np.array([len(members) for members in self.members])
        curves: dict[tuple[float, float], int] = {}
        which = []
        for place in places:
            duct = place.element.duct
            key = (place.element.roughness_m / duct.hydraulic_diameter_m, duct.laminar_f_re)
            which.append(curves.setdefault(key, len(curves)))
        items = [place.element for place in places]
        elements = Elements(
            link=np.repeat(np.arange(counts.size), counts),
            first=np.concatenate([[0], np.cumsum(counts)[:-1]]).astype(np.intp),
            area_m2=np.array([e.duct.area_m2 for e in items]),
            hydraulic_diameter_m=np.array([e.duct.hydraulic_diameter_m for e in items]),
            length_m=np.array([e.length_m for e in items]),
            zeta=np.array([e.zeta for e in items]),
            kv_m3_h=np.array([np.inf if e.kv_m3_h is None else e.kv_m3_h for e in items]),
            friction=np.array(which, dtype=np.intp),
            table=friction_table(tuple(k[0] for k in curves), tuple(k[1] for k in curves)),
        )
        ends = np.array(self.link_ends)
        arms = tuple(arm for loop in self.loops for arm in loop.arms)
        groups = group_arms(arms)
        pool_in, pool_out, pool_mean = _pool(places, self.loops, len(self.trunks), arms, groups)
        return Assembly(
            loops=self.loops,
            trunks=self.trunks,
            arms=arms,
            arm_loop=np.array(self.arm_loop, dtype=np.intp),
            groups=groups,
            network=Network(self.node_count, ends[:, 0], ends[:, 1], np.array([RETURN_NODE, SUPPLY_NODE])),
            elements=elements,
            places=tuple(places),
            channel_link=tuple(np.array(links, dtype=np.intp) for links in self.channel_link),
            loop_flow_links=tuple(np.array(links, dtype=np.intp) for links in self.loop_flow_links),
            trunk_links=np.array(self.trunk_links, dtype=np.intp).reshape(-1, 2),
            on_trunk=self._on_trunk(),
            loop_nodes=np.array(self.loop_nodes, dtype=np.intp),
            pool_in=pool_in,
            pool_out=pool_out,
            pool_mean=pool_mean,
        )

    def _on_trunk(self) -> Array:
        parent = {trunk.name: trunk.from_trunk for trunk in self.trunks}
        number = {trunk.name: i for i, trunk in enumerate(self.trunks)}
        on = np.zeros((len(self.trunks), len(self.loops)))
        for column, loop in enumerate(self.loops):
            name = loop.loop.trunk
            while name is not None:
                on[number[name], column] = 1.0
                name = parent[name]
        return on


def _single(arm: ArmPath) -> bool:
    """Whether all the arm's water goes through one channel at a time."""
    return sum(d > 0 for d in arm.directions) == 1 and sum(d < 0 for d in arm.directions) <= 1


def _in_order(arm: ArmPath) -> list[Element]:
    """The elements of a single-file arm in water order, with its valves."""
    out = [e for channel, sign in zip(arm.channels, arm.directions, strict=True) if sign > 0 for e in channel]
    home = [e for channel, sign in zip(arm.channels, arm.directions, strict=True) if sign < 0 for e in channel]
    return [*arm.flow_valve, *out, *home, *arm.return_valve]


def _trunk_element(trunk: Trunk, pipes: Mapping[str, Pipe], direction: str) -> Element:
    pipe = pipes[trunk.pipe]
    return Element(
        kind="trunk",
        label=trunk.name,
        room="",
        arm=0,
        channel=0,
        direction=direction,
        duct=round_duct(pipe.bore_m),
        roughness_m=pipe.roughness_mm / 1000.0,
        length_m=trunk.length_m,
        zeta=trunk.zeta,
    )


def _pool(
    places: Sequence[Place],
    loops: Sequence[LoopPath],
    trunks: int,
    arms: Sequence[ArmPath],
    groups: Sequence[ArmGroup],
) -> tuple[Index, Index, csr_matrix]:
    """Where in the temperature pool each element finds its inlet, its outlet and its mean."""
    count, arm_count = len(loops), len(arms)
    supply, back, head, foot, arm_return = (k * count for k in range(5))
    trunk_flow = arm_return + arm_count
    trunk_return = trunk_flow + trunks
    start = trunk_return + trunks
    node_base, mean_base, nodes_of, cells_of = {}, {}, {}, {}
    for group in groups:
        cells = group.runs.length_m.size
        nodes = cells + len(group.arms)
        for r, arm in enumerate(group.arms):
            node_base[arm] = start + group.runs.start[r] + r
            mean_base[arm] = start + group.channels * nodes + group.runs.start[r]
            nodes_of[arm], cells_of[arm] = nodes, cells
        start += group.channels * (nodes + cells)
    pool_in, pool_out = [], []
    rows, columns, weights = [], [], []
    for row, place in enumerate(places):
        element = place.element
        flow = element.direction == "flow"
        if place.trunk >= 0:
            a = b = (trunk_flow if flow else trunk_return) + place.trunk
        elif place.arm < 0 and element.kind == "tail":
            a, b = (supply, head) if flow else (foot, back)
            a, b = a + place.loop, b + place.loop
        elif place.arm < 0:
            a = b = (head if flow else foot) + place.loop
        elif element.channel == 0:
            a = b = head + place.loop if element in arms[place.arm].flow_valve else arm_return + place.arm
        else:
            base = node_base[place.arm] + (element.channel - 1) * nodes_of[place.arm]
            a, b = base + element.node_in, base + element.node_out
        pool_in.append(a)
        pool_out.append(b)
        low, high = sorted((element.node_in, element.node_out))
        if place.arm < 0 or element.channel == 0 or low == high:
            rows += [row, row]
            columns += [a, b]
            weights += [0.5, 0.5]
            continue
        lengths = np.array([cell.length_m for cell in arms[place.arm].cells[low:high]])
        base = mean_base[place.arm] + (element.channel - 1) * cells_of[place.arm]
        rows.extend([row] * lengths.size)
        columns.extend(range(base + low, base + high))
        weights.extend(lengths / lengths.sum())
    mean = csr_matrix((weights, (rows, columns)), shape=(len(places), start))
    return np.array(pool_in, dtype=np.intp), np.array(pool_out, dtype=np.intp), mean
