"""Where the heat of a solved system goes: into its rooms, and out through the walls behind warm skirting."""

from __future__ import annotations

from heatloop.circuit.solve import Operation


def room_output_w(state: Operation) -> dict[str, float]:
    """Heat into each room from all its skirting, other emitters and the useful share of pipe losses, W."""
    output: dict[str, float] = {}
    for path, heat in zip(state.assembly.arms, state.arms, strict=True):
        for cell, watts in zip(path.cells, heat.emitted_w.sum(axis=0) - heat.lost_w, strict=True):
            output[cell.room] = output.get(cell.room, 0.0) + float(watts) * cell.useful
    for loop, lost in zip(state.assembly.loops, state.tail_loss_w, strict=True):
        room = loop.tail_loss.room
        output[room] = output.get(room, 0.0) + float(lost) * loop.tail_loss.useful
    for place, watts in zip(state.assembly.emitters.place, state.emitter_w, strict=True):
        room = state.assembly.places[place].element.room
        output[room] = output.get(room, 0.0) + float(watts)
    return output


def down_loss_w(state: Operation) -> dict[str, float]:
    """Heat that the sills of each room lose into the floor: given by the water, not got by the room, W."""
    lost: dict[str, float] = {}
    for path, heat in zip(state.assembly.arms, state.arms, strict=True):
        for cell, watts in zip(path.cells, heat.lost_w, strict=True):
            lost[cell.room] = lost.get(cell.room, 0.0) + float(watts)
    return lost


def back_loss_w(state: Operation) -> dict[str, float]:
    """Heat lost through the warmed wall behind the skirting of each room, W."""
    lost: dict[str, float] = {}
    for path, heat in zip(state.assembly.arms, state.arms, strict=True):
        for cell, wall_c in zip(path.cells, heat.wall_c, strict=True):
            watts = cell.back_w_mk * cell.length_m * float(wall_c - cell.room_c)
            lost[cell.room] = lost.get(cell.room, 0.0) + watts
    return lost


def useful_w(state: Operation) -> dict[str, float]:
    """Heat into each room less what the warmed wall behind its skirting loses, W."""
    behind = back_loss_w(state)
    return {room: watts - behind.get(room, 0.0) for room, watts in room_output_w(state).items()}
