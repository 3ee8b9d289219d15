"""Heat of rooms and loops of a solved system, and pressure drops of flow between laminar and turbulent.

Between Re 2000 and 4000 there is no agreed value of friction, and skirting often works in this range. The solver
interpolates. Here the same flows get first the laminar and then the turbulent friction.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.model import ArmPath, Cell
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.physics.friction import LAMINAR_END_RE, TURBULENT_START_RE, colebrook_friction_factor

Array = NDArray[np.float64]


def laminar_and_turbulent_drop_pa(state: SystemState) -> tuple[Array, Array]:
    """Change of each loop's pressure drop (L) in Pa if flow between Re 2000 and 4000 is laminar, or turbulent.

    Flows are not changed. Parallel channels and arms count by their share of the flow of the loop. Laminar: the
    constant of the duct over Re. Turbulent: Colebrook (1939).
    """
    network = state.network
    elements, re = network.elements, state.reynolds
    loop = np.array([place.loop for place in network.locations])
    between = np.flatnonzero(
        (re > LAMINAR_END_RE) & (re < TURBULENT_START_RE) & (elements.length_m > 0.0) & (loop >= 0)
    )
    curve = elements.friction[between]
    roughness = np.asarray(elements.table.relative_roughness)[curve]
    factors = {
        "now": elements.table.factor_and_slope(re[between], curve)[0],
        "laminar": np.asarray(elements.table.laminar_f_re)[curve] / re[between],
        "turbulent": colebrook_friction_factor(re[between], roughness),
    }
    flow = state.flow_kg_s[between]
    per_factor = (
        elements.length_m[between]
        / elements.hydraulic_diameter_m[between]
        * flow**2
        / (2.0 * state.density_kg_m3[between] * elements.area_m2[between] ** 2)
    )
    share = flow / np.maximum(state.loop_flow_kg_s[loop[between]], 1e-300)
    laminar, turbulent = (
        np.bincount(loop[between], share * per_factor * (factors[way] - factors["now"]), len(network.loops))
        for way in ("laminar", "turbulent")
    )
    return np.asarray(laminar), np.asarray(turbulent)


def room_output_w(state: SystemState) -> dict[str, float]:
    """Heat in W into each room from all its skirting, other emitters and the useful share of pipe losses."""
    output: dict[str, float] = {}
    for path, heat in zip(state.network.arms, state.arms, strict=True):
        for cell, heat_w in zip(path.cells, heat.emitted_w.sum(axis=0) - heat.lost_w, strict=True):
            output[cell.room] = output.get(cell.room, 0.0) + float(heat_w) * cell.useful
    for loop, lost in zip(state.network.loops, state.tail_loss_w, strict=True):
        room = loop.tail_loss.room
        output[room] = output.get(room, 0.0) + float(lost) * loop.tail_loss.useful
    for place, heat_w in zip(state.network.emitters.place, state.emitter_w, strict=True):
        room = state.network.locations[place].element.room
        output[room] = output.get(room, 0.0) + float(heat_w)
    return output


def downward_loss_w(state: SystemState) -> dict[str, float]:
    """Heat in W that floor sections of each room lose into the floor: taken from the water, not given to the room."""
    lost: dict[str, float] = {}
    for path, heat in zip(state.network.arms, state.arms, strict=True):
        for cell, heat_w in zip(path.cells, heat.lost_w, strict=True):
            lost[cell.room] = lost.get(cell.room, 0.0) + float(heat_w)
    return lost


def back_loss_w(state: SystemState) -> dict[str, float]:
    """Heat in W lost through the warmed wall behind the skirting of each room."""
    lost: dict[str, float] = {}
    for path, heat in zip(state.network.arms, state.arms, strict=True):
        for cell, wall_c in zip(path.cells, heat.wall_c, strict=True):
            lost[cell.room] = lost.get(cell.room, 0.0) + _cell_back_loss_w(cell, wall_c)
    return lost


def _cell_back_loss_w(cell: Cell, wall_c: float) -> float:
    return cell.back_w_mk * cell.length_m * float(wall_c - cell.room_c)


def net_room_heat_w(state: SystemState) -> dict[str, float]:
    """Heat in W into each room less the back loss of its skirting."""
    behind = back_loss_w(state)
    return {room: heat_w - behind.get(room, 0.0) for room, heat_w in room_output_w(state).items()}


@dataclass(frozen=True)
class LoopHeat:
    """Heat of every loop, (L) in W each.

    from_water_w: taken from the water between the tail connections, by enthalpy. to_rooms_w: into rooms, from skirting,
    other emitters and the useful share of pipes. pipe_loss_w: loss of tails and crossings that is not useful.
    downward_loss_w: loss of floor sections into the floor. net_to_rooms_w: to_rooms_w less the back loss of the
    skirting.

    from_water_w is the sum of to_rooms_w, pipe_loss_w and downward_loss_w. These three are calculated independently,
    from the heat that the elements emit.
    """

    from_water_w: Array
    to_rooms_w: Array
    pipe_loss_w: Array
    downward_loss_w: Array
    net_to_rooms_w: Array


def loop_heat(state: SystemState) -> LoopHeat:
    """Heat of each loop: from its water, to its rooms, and lost."""
    network, tails = state.network, state.tail_loss_w
    useful = np.array([path.tail_loss.useful for path in network.loops])
    to_rooms = tails * useful
    pipes, down, behind = tails * (1.0 - useful), np.zeros(len(network.loops)), np.zeros(len(network.loops))
    np.add.at(to_rooms, network.emitters.loop, state.emitter_w)
    for loop, path, heat in zip(network.arm_loop, network.arms, state.arms, strict=True):
        into_room_w = heat.emitted_w.sum(axis=0) - heat.lost_w
        share = np.array([cell.useful for cell in path.cells])
        to_rooms[loop] += float((into_room_w * share).sum())
        pipes[loop] += float((into_room_w * (1.0 - share)).sum())
        down[loop] += float(np.sum(heat.lost_w))
        behind[loop] += sum(
            _cell_back_loss_w(cell, wall_c) for cell, wall_c in zip(path.cells, heat.wall_c, strict=True)
        )
    return LoopHeat(state.heat_from_water_w, to_rooms, pipes, down, to_rooms - behind)


def cells_of_points(path: ArmPath, x_m: Array) -> NDArray[np.intp]:
    """Cell in which each point along an arm lies; x_m: heated length from the start of the arm.

    A point between two cells belongs to the one that ends there. Where skirting begins after plain pipe, it belongs to
    the skirting.
    """
    ends = np.cumsum([cell.length_m for cell in path.cells])
    skirting = skirting_cells(path)
    cells = np.minimum(np.searchsorted(ends, x_m - 1e-9), len(path.cells) - 1)
    after = np.minimum(cells + 1, len(path.cells) - 1)
    at_end = np.abs(ends[cells] - x_m) <= 1e-9
    return np.asarray(np.where(at_end & ~skirting[cells] & skirting[after], after, cells))


def skirting_cells(path: ArmPath) -> NDArray[np.bool_]:
    """Which cells of an arm are skirting. The others are plain pipe, whose surface is not in a room."""
    return np.array([cell.skirting for cell in path.cells], dtype=bool)


def hottest_surface_c(state: SystemState) -> dict[str, float]:
    """Temperature in °C of the hottest skirting in every room; rooms without skirting are left out."""
    network = state.network
    hottest: dict[str, float] = {}
    for path, heat, loop in zip(network.arms, state.arms, network.arm_loop, strict=True):
        if network.loops[loop].profile is None:
            continue
        surface_c = heat.fine_surface_c.max(axis=0)
        for c, point_c in zip(cells_of_points(path, heat.fine_x_m), surface_c, strict=True):
            if not path.cells[c].skirting:
                continue
            room = path.cells[c].room
            hottest[room] = max(hottest.get(room, -np.inf), float(point_c))
    return hottest
