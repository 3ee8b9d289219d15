"""Positions of the temperatures of a system in the one vector that holds all of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from heatloop.hydraulics.heat.arm_groups import ArmGroup
from heatloop.hydraulics.model import ArmPath, ElementLocation

Index = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class TemperatureIndex:
    """Positions in the vector of `size` temperatures (T), part by part.

    Of loops (L): supply, loop_return, head (after the flow tail and its emitters), foot (before those of the return).
    Of arms: arm_return (A). Of the links of shared pipework: main_start and main_end (K). Of bypasses: bypass (B). Of
    other emitters: emitter_in and emitter_out (M). Then of each group of arms, row by row: its nodes, group_nodes (C x
    nodes), and the means of its cells, group_cells (C x cells). arm_nodes and arm_cells: the positions of each arm, (C,
    nodes) and (C, cells).
    """

    supply: slice
    loop_return: slice
    head: slice
    foot: slice
    arm_return: slice
    main_start: slice
    main_end: slice
    bypass: slice
    emitter_in: slice
    emitter_out: slice
    group_nodes: tuple[slice, ...]
    group_cells: tuple[slice, ...]
    arm_nodes: tuple[Index, ...]
    arm_cells: tuple[Index, ...]
    size: int

    @classmethod
    def of(
        cls, locations: Sequence[ElementLocation], loops: int, shared_pipes: int, groups: Sequence[ArmGroup]
    ) -> TemperatureIndex:
        """Build the index of a system with these elements, numbers of loops and shared links, and groups of arms."""
        arms = sum(len(group.arms) for group in groups)
        bypasses = 1 + max((place.bypass for place in locations), default=-1)
        emitters = sum(place.element.emits is not None for place in locations)
        row = _Row()
        supply, loop_return, head, foot = (row.take(loops) for _ in range(4))
        arm_return, main_start, main_end = row.take(arms), row.take(shared_pipes), row.take(shared_pipes)
        bypass, emitter_in, emitter_out = row.take(bypasses), row.take(emitters), row.take(emitters)
        nodes, cells = [], []
        for group in groups:
            count = group.runs.length_m.size
            nodes.append(row.take(group.channels * (count + len(group.arms))))
            cells.append(row.take(group.channels * count))
        arm_nodes: dict[int, Index] = {}
        arm_cells: dict[int, Index] = {}
        for group, own_nodes, own_cells in zip(groups, nodes, cells, strict=True):
            node = np.arange(own_nodes.start, own_nodes.stop).reshape(group.channels, -1)
            cell = np.arange(own_cells.start, own_cells.stop).reshape(group.channels, -1)
            for r, arm in enumerate(group.arms):
                first, last = group.runs.start[r], group.runs.start[r + 1]
                arm_nodes[arm], arm_cells[arm] = node[:, first + r : last + r + 1], cell[:, first:last]
        return cls(
            supply=supply,
            loop_return=loop_return,
            head=head,
            foot=foot,
            arm_return=arm_return,
            main_start=main_start,
            main_end=main_end,
            bypass=bypass,
            emitter_in=emitter_in,
            emitter_out=emitter_out,
            group_nodes=tuple(nodes),
            group_cells=tuple(cells),
            arm_nodes=tuple(arm_nodes[arm] for arm in range(arms)),
            arm_cells=tuple(arm_cells[arm] for arm in range(arms)),
            size=row.size,
        )

    @cached_property
    def of_loops(self) -> tuple[slice, slice, slice, slice]:
        """The parts that have one temperature for each loop."""
        return self.supply, self.loop_return, self.head, self.foot


class _Row:
    """Parts stored one after the other."""

    size = 0

    def take(self, count: int) -> slice:
        """The next positions, as many as stated."""
        self.size += count
        return slice(self.size - count, self.size)


@dataclass(frozen=True, eq=False)
class ElementTemperatures:
    """Positions of the temperatures of elements in the vector: inlet and outlet (E), and weights of the mean (E, T)."""

    inlet: Index
    outlet: Index
    mean: csr_matrix

    @classmethod
    def of(
        cls, locations: Sequence[ElementLocation], arms: Sequence[ArmPath], index: TemperatureIndex
    ) -> ElementTemperatures:
        """Positions for the elements at these locations, whose arms are numbers in `arms`."""
        ends = _Ends(locations, arms, index)
        arm_cells = [cells.tolist() for cells in index.arm_cells]
        inlet, outlet = [], []
        rows: list[int] = []
        columns: list[int] = []
        weights: list[float] = []
        for row, place in enumerate(locations):
            first, last = ends.of(row)
            inlet.append(first)
            outlet.append(last)
            element = place.element
            low, high = sorted((element.node_in, element.node_out))
            if place.arm < 0 or element.channel == 0 or low == high:
                at, weight = [first, last], [0.5, 0.5]
            else:
                lengths = [cell.length_m for cell in arms[place.arm].cells[low:high]]
                whole = sum(lengths)
                at = arm_cells[place.arm][element.channel - 1][low:high]
                weight = [length / whole for length in lengths]
            rows += [row] * len(at)
            columns += at
            weights += weight
        mean = csr_matrix((weights, (rows, columns)), shape=(len(locations), index.size))
        return cls(np.array(inlet, dtype=np.intp), np.array(outlet, dtype=np.intp), mean)


class _Ends:
    """Positions of the temperatures at the inlet and the outlet of elements."""

    def __init__(self, locations: Sequence[ElementLocation], arms: Sequence[ArmPath], index: TemperatureIndex) -> None:
        self.locations, self.arms, self.index = locations, arms, index
        self.arm_nodes = [nodes.tolist() for nodes in index.arm_nodes]
        rows = [row for row, place in enumerate(locations) if place.element.emits is not None]
        self.number = {row: number for number, row in enumerate(rows)}
        self.first_on_flow: dict[int, int] = {}
        self.last_on_return: dict[int, int] = {}
        for number, row in enumerate(rows):
            if locations[row].element.direction == "flow":
                self.first_on_flow.setdefault(locations[row].loop, number)
            else:
                self.last_on_return[locations[row].loop] = number

    def of(self, row: int) -> tuple[int, int]:
        """Positions of inlet and outlet of element number `row`."""
        place, at = self.locations[row], self.index
        element = place.element
        if place.main >= 0:
            return at.main_start.start + place.main, at.main_end.start + place.main
        if place.bypass >= 0:
            return (at.bypass.start + place.bypass,) * 2
        if element.kind == "tee":
            return ((at.supply if element.direction == "flow" else at.loop_return).start + place.loop,) * 2
        if row in self.number:
            return at.emitter_in.start + self.number[row], at.emitter_out.start + self.number[row]
        if place.arm < 0:
            return self._of_tail(place)
        if element.channel == 0:
            own = element in self.arms[place.arm].flow_valve
            return (at.head.start + place.loop if own else at.arm_return.start + place.arm,) * 2
        nodes = self.arm_nodes[place.arm][element.channel - 1]
        return nodes[element.node_in], nodes[element.node_out]

    def _of_tail(self, place: ElementLocation) -> tuple[int, int]:
        """Positions for the pipe of a tail, or for a valve there, which has the temperature of the end of the tail."""
        at, loop, flow = self.index, place.loop, place.element.direction == "flow"
        number = (self.first_on_flow if flow else self.last_on_return).get(loop)
        if number is None:
            end = (at.head if flow else at.foot).start + loop
        else:
            end = (at.emitter_in if flow else at.emitter_out).start + number
        if place.element.kind != "tail":
            return end, end
        return (at.supply.start + loop, end) if flow else (end, at.loop_return.start + loop)
