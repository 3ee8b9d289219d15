"""Heat of the rooms that each unit heats, and the shortfall of those that are sized by loss, as arrays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.channel_heat import GroupSolution
from heatloop.hydraulics.heat.other_emitters import EmitterTemperatures
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class _GroupCells:
    """The cells of a group of arms (M): pair, useful share, loss behind in W/K, and room temperature."""

    pair: Index
    useful: Array
    behind_w_k: Array
    room_c: Array


class UnitRooms:
    """Pairs (Q) of a unit and a room that it heats, with skirting or another emitter.

    `unit` (Q): unit of each pair. `rooms` (Q): its room.
    """

    def __init__(self, network: PipeNetwork, unit_of_arm: Index, loop_of_unit: Index) -> None:
        self._pairs: dict[tuple[int, str], int] = {}
        emitters = network.emitters
        self._emitter_room = [network.locations[place].element.room for place in emitters.place]
        for room, loop in zip(self._emitter_room, emitters.loop, strict=True):
            for unit in np.flatnonzero(loop_of_unit == loop).tolist():
                self._pair(unit, room)
        self._groups = [self._cells(network, group.arms, unit_of_arm.tolist()) for group in network.groups]
        self.unit = np.array([unit for unit, _ in self._pairs], dtype=np.intp)
        self.rooms = [room for _, room in self._pairs]

    def _pair(self, unit: int, room: str) -> int:
        return self._pairs.setdefault((unit, room), len(self._pairs))

    def _cells(self, network: PipeNetwork, arms: Sequence[int], unit_of_arm: Sequence[int]) -> _GroupCells:
        cells = [(unit_of_arm[a], cell) for a in arms for cell in network.arms[a].cells]
        return _GroupCells(
            pair=np.array([self._pair(unit, cell.room) for unit, cell in cells], dtype=np.intp),
            useful=np.array([cell.useful for _, cell in cells]),
            behind_w_k=np.array([cell.back_w_mk * cell.length_m for _, cell in cells]),
            room_c=np.array([cell.room_c for _, cell in cells]),
        )

    def heat_w(
        self, heats: Sequence[GroupSolution], emitters: Sequence[EmitterTemperatures], unit_kg_s: Array, fluid: Fluid
    ) -> Array:
        """Useful heat in W of each pair (Q), less the back loss of its skirting.

        `heats`: the solved groups. `emitters`: the water before and after the other emitters, by unit. Of their output,
        a unit counts its part.
        """
        heat_w = np.zeros(self.unit.size)
        for heat, own in zip(heats, self._groups, strict=True):
            offsets = np.concatenate([[0], np.cumsum(heat.parts)[:-1]])
            emitted = np.add.reduceat((heat.channels.emitted_w - heat.channels.lost_w).sum(axis=0), offsets)
            surface = np.add.reduceat(heat.wall_c * heat.fine.length_m, offsets) / heat.group.runs.length_m
            into_rooms = emitted * own.useful - own.behind_w_k * (surface - own.room_c)
            heat_w += np.bincount(own.pair, into_rooms, heat_w.size)
        for at in emitters:
            drop_j_kg = fluid.enthalpy_j_kg(at.inlet_c) - fluid.enthalpy_j_kg(at.outlet_c)
            rooms = [self._emitter_room[m] for m in at.emitter]
            pairs = [self._pairs[key] for key in zip(at.rows.tolist(), rooms, strict=True)]
            np.add.at(heat_w, pairs, unit_kg_s[at.rows] * drop_j_kg)
        return heat_w

    def by_unit(self, heat_w: Array) -> list[dict[str, float]]:
        """The heat of each pair by unit and room."""
        rooms: list[dict[str, float]] = [{} for _ in range(int(self.unit.max()) + 1)]
        for unit, room, own_w in zip(self.unit.tolist(), self.rooms, heat_w.tolist(), strict=True):
            rooms[unit][room] = own_w
        return rooms


@dataclass(frozen=True, eq=False)
class RoomNeeds:
    """Heat in W that each room requires from each unit, by pair (Q), where anything is required.

    fixed_w: for its metres of skirting. by_part_w: for other emitters, from all units of a loop together.
    """

    unit: Index
    pair: Index
    fixed_w: Array
    by_part_w: Array

    @classmethod
    def of(cls, rooms: UnitRooms, owed: Sequence[tuple[Mapping[str, float], Mapping[str, float]]]) -> RoomNeeds:
        """`owed`: for each unit the heat of its rooms, for its skirting and for other emitters of its loop."""
        number = {key: q for q, key in enumerate(zip(rooms.unit.tolist(), rooms.rooms, strict=True))}
        rows = [
            (unit, number[unit, room], fixed.get(room, 0.0) if room not in by_part else 0.0, by_part.get(room, 0.0))
            for unit, (fixed, by_part) in enumerate(owed)
            for room in (*fixed, *(other for other in by_part if other not in fixed))
        ]
        columns = np.array(rows, float).reshape(-1, 4).T
        return cls(columns[0].astype(np.intp), columns[1].astype(np.intp), columns[2], columns[3])

    def shortfall_w(self, heat_w: Array, part: Array) -> Array:
        """Largest shortfall of a room of each unit, (U), from the heat of the pairs; -inf where nothing is required.

        `part` (U): share of each unit in the flow of its loop.
        """
        short = np.full(part.size, -np.inf)
        np.maximum.at(short, self.unit, self.fixed_w + self.by_part_w * part[self.unit] - heat_w[self.pair])
        return short
