"""Heat of the rooms of many dwellings, and the hottest surfaces of skirting."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.analysis.room_output import cells_of_points
from heatloop.hydraulics.lots.lot_state import LotState

Array = NDArray[np.float64]
Index = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class RoomStates:
    """Rooms (Q), in the order of the dwellings and their surveys.

    Dwelling by number; heat to the room, back loss of its skirting and downward loss of its floor sections in W.
    """

    dwelling: Index
    to_rooms_w: Array
    back_loss_w: Array
    downward_loss_w: Array


@dataclass(frozen=True, eq=False)
class PieceHeat:
    """Heat in W of the skirting of each piece to its room, by dwelling and by the label of the piece."""

    by_label_w: tuple[dict[str, float], ...]


def room_states(state: LotState) -> tuple[RoomStates, PieceHeat]:
    """Heat of all rooms, and of the pieces of skirting."""
    counts = [len(dwelling.room_losses) for dwelling in state.dwellings]
    firsts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    rooms = [
        {loss.room: int(first) + place for place, loss in enumerate(dwelling.room_losses)}
        for first, dwelling in zip(firsts, state.dwellings, strict=True)
    ]
    to_rooms, back, below = np.zeros((3, sum(counts)))
    pieces: tuple[dict[str, float], ...] = tuple({} for _ in state.dwellings)
    network, of_loop = state.network, state.loops.dwelling.tolist()
    for group in state.arms.groups:
        arms = list(group.solved.group.arms)
        cells = [(of_loop[network.arm_loop[a]], cell) for a in arms for cell in network.arms[a].cells]
        _, emitted_w, lost_w, wall_c = group.by_cell
        warm = np.repeat(~state.arms.cold[arms], np.diff(group.solved.group.runs.start))
        room = np.array([rooms[k][cell.room] for k, cell in cells], dtype=np.intp)
        useful = np.array([cell.useful for _, cell in cells])
        behind_w_k = np.array([cell.back_w_mk * cell.length_m for _, cell in cells])
        heat_w = np.where(warm, emitted_w.sum(axis=0) - lost_w, 0.0)
        np.add.at(to_rooms, room, heat_w * useful)
        np.add.at(back, room, np.where(warm, behind_w_k * (wall_c - group.solved.group.runs.room_c), 0.0))
        np.add.at(below, room, np.where(warm, lost_w, 0.0))
        for (k, cell), cell_w in zip(cells, heat_w.tolist(), strict=True):
            if cell.skirting:
                pieces[k][cell.label] = pieces[k].get(cell.label, 0.0) + cell_w
    for k, path, lost in zip(of_loop, network.loops, state.loops.tail_loss_w.tolist(), strict=True):
        to_rooms[rooms[k][path.tail_loss.room]] += lost * path.tail_loss.useful
    for place, loop, emitted in zip(network.emitters.place, network.emitters.loop, state.emitter_w, strict=True):
        to_rooms[rooms[of_loop[loop]][network.locations[place].element.room]] += emitted
    return RoomStates(np.repeat(np.arange(len(counts)), counts), to_rooms, back, below), PieceHeat(pieces)


@dataclass(frozen=True, eq=False)
class HottestSurfaces:
    """Hottest surface of skirting in °C, by room and by label of the piece; -inf where there is none yet."""

    rooms_c: dict[str, float]
    labels_c: dict[str, float]

    def rise(self, room: str, label: str, surface_c: float) -> None:
        """Enter a surface, if its room or its piece is one of those that are required."""
        for hottest, name in ((self.rooms_c, room), (self.labels_c, label)):
            if name in hottest:
                hottest[name] = max(hottest[name], surface_c)


def hottest_surfaces(
    state: LotState, rooms: Sequence[Collection[str]], labels: Sequence[Collection[str]]
) -> list[HottestSurfaces]:
    """Hottest surface of these rooms and of these pieces, by label, of every dwelling (K); -inf where there is none.

    Of other emitters it is the temperature of the water that enters them.
    """
    found = [
        HottestSurfaces(dict.fromkeys(own, -np.inf), dict.fromkeys(named, -np.inf))
        for own, named in zip(rooms, labels, strict=True)
    ]
    network, of_loop = state.network, state.loops.dwelling.tolist()
    for arm, loop in enumerate(network.arm_loop.tolist()):
        path, hottest = network.arms[arm], found[of_loop[loop]]
        if network.loops[loop].profile is None or not any(
            cell.room in hottest.rooms_c or cell.label in hottest.labels_c for cell in path.cells
        ):
            continue
        heat, by_cell = state.arms[arm], np.full(len(path.cells), -np.inf)
        np.maximum.at(by_cell, cells_of_points(path, heat.fine_x_m), heat.fine_surface_c.max(axis=0))
        for cell, surface_c in zip(path.cells, by_cell.tolist(), strict=True):
            if cell.skirting:
                hottest.rise(cell.room, cell.label, surface_c)
    for place, loop in zip(network.emitters.place.tolist(), network.emitters.loop.tolist(), strict=True):
        inlet_c = float(state.elements.inlet_c[place])
        found[of_loop[loop]].rise(network.locations[place].element.room, "", inlet_c)
    return found
