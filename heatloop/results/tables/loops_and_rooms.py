"""Solved systems to tables: loops, rooms, elements, points along the water, valves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.analysis.room_output import (
    back_loss_w,
    cells_of_points,
    down_loss_w,
    drops_both_ways_pa,
    loop_heat,
    room_output_w,
)
from heatloop.hydraulics.loop_paths import rooms_of
from heatloop.hydraulics.sizing.sized_system import SizedSystem, litres_h
from heatloop.hydraulics.solver.operating_state import Operation
from heatloop.layout.model import Layout
from heatloop.results.tables.heat import losses_by_kind

Array = NDArray[np.float64]


ALONG = {
    "loop": "str", "arm": "int64", "channel": "int64", "direction": "str", "distance_m": "float64", "label": "str",
    "room": "str", "temp_c": "float64", "surface_c": "float64",
}  # fmt: skip
"""Columns of the along table and what they hold."""


def elements_table(state: Operation) -> pd.DataFrame:
    """One row an element, loop by loop in water order; trunks last, under the loop name ""."""
    system = state.assembly
    pressure_in = _pressure_in_pa(state)
    rows: list[dict[str, Any]] = []
    order = sorted(range(len(system.places)), key=lambda i: _sort_key(state, i))
    position: dict[int, int] = {}
    for i in order:
        place = system.places[i]
        element = place.element
        position[place.loop] = position.get(place.loop, 0) + 1
        flow, density = state.flow_kg_s[i], state.density_kg_m3[i]
        base = pressure_in[i] - (state.pressure_pa[system.loop_nodes[place.loop, 1]] if place.loop >= 0 else 0.0)
        rows.append(
            {
                "loop": system.loops[place.loop].loop.name if place.loop >= 0 else "",
                "position": position[place.loop],
                "kind": element.kind,
                "label": element.label,
                "room": element.room,
                "arm": element.arm,
                "channel": element.channel,
                "direction": element.direction,
                "wall": element.wall,
                "from_m": element.from_m,
                "to_m": element.to_m,
                "length_m": element.length_m,
                "flow_kg_s": flow,
                "temp_in_c": state.temp_in_c[i],
                "temp_out_c": state.temp_out_c[i],
                "output_w": _element_output_w(state, i),
                "reynolds": state.reynolds[i],
                "velocity_m_s": flow / (density * element.duct.area_m2),
                "pressure_drop_pa": state.drop_pa[i],
                "pressure_in_kpa": base / 1000.0,
            }
        )
    frame = pd.DataFrame(rows)
    return frame.astype({"wall": "Int64"})


def _sort_key(state: Operation, i: int) -> tuple[int, int]:
    loop = state.assembly.places[i].loop
    return (loop if loop >= 0 else len(state.assembly.loops), i)


def _pressure_in_pa(state: Operation) -> Array:
    """Pressure where each element begins: its link's first node less what the link has lost by then."""
    elements = state.assembly.elements
    lost = np.cumsum(state.drop_pa) - state.drop_pa
    at_first = lost[elements.first]
    start = state.pressure_pa[state.assembly.network.start]
    return np.asarray(start[elements.link] - (lost - at_first[elements.link]))


def _element_output_w(state: Operation, i: int) -> float:
    place = state.assembly.places[i]
    element = place.element
    if element.emits is not None:
        return float(state.emitter_w[state.assembly.emitters.place == i].sum())
    if place.arm < 0 or element.channel == 0:
        return 0.0
    low, high = sorted((element.node_in, element.node_out))
    return float(state.arms[place.arm].emitted_w[element.channel - 1, low:high].sum())


def along_table(state: Operation) -> pd.DataFrame:
    """Water and wall temperature along every channel against the heated length travelled; loops without skirting
    have none."""
    system = state.assembly
    parts = []
    for arm, (path, heat) in enumerate(zip(system.arms, state.arms, strict=True)):
        if system.loops[system.arm_loop[arm]].profile is None:
            continue
        loop = system.loops[system.arm_loop[arm]]
        number = [a for a in range(len(system.arms)) if system.arm_loop[a] == system.arm_loop[arm]].index(arm) + 1
        x = heat.fine_x_m
        cell_of = cells_of_points(path, x)
        for channel, sign in enumerate(path.directions):
            order = slice(None) if sign > 0 else slice(None, None, -1)
            parts.append(
                pd.DataFrame(
                    {
                        "loop": loop.loop.name,
                        "arm": number,
                        "channel": channel + 1,
                        "direction": "flow" if sign > 0 else "return",
                        "distance_m": (x if sign > 0 else 2 * x[-1] - x)[order],
                        "label": [path.cells[c].label for c in cell_of[order]],
                        "room": [path.cells[c].room for c in cell_of[order]],
                        "temp_c": heat.fine_c[channel][order],
                        "surface_c": heat.fine_surface_c[channel][order],
                    }
                )
            )
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=list(ALONG)).astype(ALONG)


def rooms_table(layout: Layout, losses: Sequence[RoomLoss], state: Operation) -> pd.DataFrame:
    """One row a room, in the order of the survey."""
    output, behind, below = room_output_w(state), back_loss_w(state), down_loss_w(state)
    rows = []
    for loss in losses:
        laid = layout.room(loss.room)
        given, back = output.get(loss.room, 0.0), behind.get(loss.room, 0.0)
        need = loss.total_w + back
        rows.append(
            {
                "room": loss.room,
                "indoor_c": loss.indoor_c,
                "heat_loss_w": loss.total_w,
                "back_loss_w": back,
                "down_loss_w": below.get(loss.room, 0.0),
                "output_w": given,
                "margin_w": given - need,
                "coverage": given / need if need > 0 else np.nan,
                "heated_length_m": float(laid.heated_length_m),
                "spare_wall_m": laid.spare_wall_m,
                "loss_stated_by": loss.stated_by or "",
                "estimate": laid.estimate,
            }
        )
    return pd.concat([pd.DataFrame(rows), losses_by_kind(losses)], axis=1)


def loops_table(system: SizedSystem) -> pd.DataFrame:
    """One row a loop, in the order of the survey."""
    state, network, heat = system.state, system.state.assembly, loop_heat(system.state)
    laminar, turbulent = drops_both_ways_pa(state)
    rows = []
    for index, path in enumerate(network.loops):
        name = path.loop.name
        members = [i for i, place in enumerate(network.places) if place.loop == index]
        speed = max(
            state.flow_kg_s[i] / (state.density_kg_m3[i] * network.places[i].element.duct.area_m2)
            for i in members
            if network.places[i].element.length_m > 0
        )
        at_tails = state.pressure_pa[network.loop_nodes[index, 0]] - state.pressure_pa[network.loop_nodes[index, 1]]
        valve = next((one for one in system.valves if one.loop == index and one.balancing), None)
        head_pa = system.sized_loops[index].alone.head_pa
        rows.append(
            {
                "loop": name,
                "rooms": ", ".join(rooms_of(path)),
                "arrangement": path.loop.arrangement if path.profile else "no skirting",
                "trunk": path.loop.trunk or "",
                "heated_length_m": system.layout.loop(name).heated_length_m,
                "flow_l_h": litres_h(state, members[0]),
                "flow_temp_c": state.supply_c[index],
                "return_temp_c": state.return_c[index],
                "delta_t_k": state.supply_c[index] - state.return_c[index],
                "output_w": heat.to_rooms_w[index],
                "pipe_loss_w": heat.pipe_loss_w[index],
                "down_loss_w": heat.down_loss_w[index],
                "pressure_drop_kpa": head_pa / 1000.0,
                "drop_if_laminar_kpa": (head_pa + laminar[index]) / 1000.0,
                "drop_if_turbulent_kpa": (head_pa + turbulent[index]) / 1000.0,
                "max_velocity_m_s": speed,
                "water_l": path.water_l,
                "valve_setting": np.nan if valve is None else valve.setting,
                "valve_kv_m3_h": np.nan if valve is None else valve.kv_m3_h,
                "valve_drop_kpa": np.nan if valve is None else valve.drop_pa / 1000.0,
                "available_kpa": at_tails / 1000.0,
                "index": index in system.balance.index_of_circuit,
                "target_l_h": litres_h(state, members[0]),
                "achieved_l_h": litres_h(system.achieved, members[0]),
                "error_percent": 100.0 * (system.achieved.loop_flow_kg_s[index] / state.loop_flow_kg_s[index] - 1.0),
            }
        )
    return pd.DataFrame(rows)
