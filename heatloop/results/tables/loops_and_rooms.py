"""Tables of a solved system: loops, rooms, elements, and temperatures along the channels."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.analysis.room_output import (
    LoopHeat,
    back_loss_w,
    cells_of_points,
    downward_loss_w,
    laminar_and_turbulent_drop_pa,
    loop_heat,
    room_output_w,
    skirting_cells,
)
from heatloop.hydraulics.loop_paths import rooms_of
from heatloop.hydraulics.sizing.sized_system import SizedSystem, flow_l_h
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.layout.model import Layout
from heatloop.results.tables.heat import LOSS_BY_KIND, losses_by_kind
from heatloop.results.tables.valves import ACHIEVED
from heatloop.text.column import (
    TableDescription,
    change_column,
    count_column,
    flag_column,
    number_column,
    share_column,
    text_column,
)
from heatloop.text.table_set import table_frame

Array = NDArray[np.float64]


ALONG_TYPES = {
    "loop": "str", "arm": "int64", "channel": "int64", "direction": "str", "distance_m": "float64", "label": "str",
    "room": "str", "water_temp_c": "float64", "surface_temp_c": "float64",
}  # fmt: skip
"""Types of the columns of the temperature profile."""

LOOP_HEAT = (
    number_column("heat_from_water_w", "Heat from water", "W", 0, "mass flow times the difference of enthalpy"),
    number_column(
        "heat_to_rooms_w",
        "Heat to rooms",
        "W",
        0,
        "output of skirting and other emitters, plus the useful share of the pipe heat",
    ),
    number_column("pipe_loss_w", "Pipe loss", "W", 0, "heat of tails and crossings that does not warm rooms"),
    number_column("downward_loss_w", "Downward loss", "W", 0, "heat that floor sections lose downwards into the floor"),
    number_column(
        "net_heat_to_rooms_w", "Net heat to rooms", "W", 0, "heat to rooms minus the back loss of the skirting"
    ),
)
"""Heat of a loop: the first column is the sum of the next three."""

LOOPS = TableDescription(
    "loops",
    "Loops",
    "One row for each loop at design conditions.",
    (
        text_column("loop", "Loop"),
        text_column("rooms", "Rooms", "rooms that the loop heats, in the order in which the water passes them"),
        text_column("arrangement", "Arrangement", "path of the water through the channels"),
        text_column(
            "trunk",
            "Trunk",
            "the shared pair of pipes (distribution main); blank if the loop is connected at the source",
        ),
        number_column("heated_length_m", "Heated length", "m", 2, "length of skirting that gives heat"),
        number_column("flow_l_h", "Flow rate", "l/h", 0, "flow rate for which the valves are set"),
        number_column(
            "flow_temp_c", "Flow temperature", "°C", 1, "water temperature where the loop leaves the distribution"
        ),
        number_column(
            "return_temp_c",
            "Return temperature",
            "°C",
            1,
            "water temperature where the loop returns to the distribution",
        ),
        number_column("temperature_drop_k", "Temperature drop", "K", 1, "flow temperature minus return temperature"),
        *LOOP_HEAT,
        number_column(
            "pressure_drop_kpa", "Pressure drop, valve fully open", "kPa", 2, "pressure drop of the open valve included"
        ),
        number_column(
            "pressure_drop_laminar_kpa",
            "Pressure drop if laminar",
            "kPa",
            2,
            "pressure drop of the loop, if flow at Reynolds numbers from 2000 to 4000 is laminar",
        ),
        number_column(
            "pressure_drop_turbulent_kpa",
            "Pressure drop if turbulent",
            "kPa",
            2,
            "pressure drop of the loop, if flow at Reynolds numbers from 2000 to 4000 is turbulent",
        ),
        number_column(
            "max_velocity_m_s", "Max. velocity", "m/s", 2, "velocity in the narrowest channel or pipe of the loop"
        ),
        number_column("water_content_l", "Water content", "l", 1),
        number_column("valve_setting", "Presetting", "", 1, "setting of the balancing valve, on its own scale"),
        number_column("valve_kv_m3_h", "Valve Kv", "m³/h", 3, "Kv of the balancing valve at its presetting"),
        number_column(
            "valve_pressure_drop_kpa", "Valve pressure drop", "kPa", 2, "pressure drop of the balancing valve"
        ),
        number_column(
            "available_pressure_kpa",
            "Available pressure",
            "kPa",
            2,
            "pressure between flow and return where the loop is connected",
        ),
        flag_column("is_index_loop", "Index loop", "the loop that determines the head of its pump"),
        *ACHIEVED,
    ),
)

ROOMS = TableDescription(
    "rooms",
    "Rooms",
    "One row for each room at the outdoor design temperature.",
    (
        text_column("room", "Room"),
        number_column("indoor_c", "Indoor", "°C", 1, "design temperature of the room"),
        number_column("heat_loss_w", "Heat loss", "W", 0, "at the outdoor temperature of the table", "EN 12831"),
        number_column(
            "back_loss_w", "Back loss", "W", 0, "additional heat loss through the wall behind the warm skirting"
        ),
        number_column(
            "downward_loss_w",
            "Downward loss",
            "W",
            0,
            "heat that floor sections lose downwards; not part of the heat to rooms",
        ),
        number_column(
            "heat_to_rooms_w",
            "Heat to rooms",
            "W",
            0,
            "output of skirting and other emitters, plus the useful share of the pipe heat",
        ),
        number_column("output_min_w", "Output, min.", "W", 0, "minimum of the output range"),
        number_column("output_max_w", "Output, max.", "W", 0, "maximum of the output range"),
        change_column(
            "margin_w", "Margin", "W", 0, "heat to rooms minus heat loss and back loss; a negative value is a shortage"
        ),
        share_column("coverage", "Coverage", "heat to rooms divided by the sum of heat loss and back loss"),
        number_column("heated_length_m", "Heated length", "m", 2, "length of skirting that gives heat"),
        number_column("free_wall_m", "Free wall", "m", 2, "wall that is suitable for skirting and has none"),
        text_column(
            "loss_source", "Source of heat loss", "source of the heat loss, if it is stated; blank if it is calculated"
        ),
        flag_column("is_estimate", "Estimate", "the room has not been surveyed"),
        *LOSS_BY_KIND,
    ),
)

ELEMENTS = TableDescription(
    "elements",
    "Elements in order of water flow",
    "Every element in the water path of each loop, then of the trunks, which have no loop; in a there-and-back loop "
    "each piece is listed once for each channel.",
    (
        text_column("loop", "Loop"),
        count_column("position", "Position", "order along the water path"),
        text_column("kind", "Kind"),
        text_column("label", "Label"),
        text_column("room", "Room"),
        count_column("arm", "Arm", "1, or 2 in the second arm of a centre-fed loop; 0: not in an arm"),
        count_column("channel", "Channel", "0 for a single channel or all channels together"),
        text_column("direction", "Direction", "flow: away from the tails; return: towards them"),
        count_column("wall", "Wall"),
        number_column("from_m", "From", "m", 3, "from the left-hand end of the wall, as seen from inside the room"),
        number_column("to_m", "To", "m", 3, "from the left-hand end of the wall, as seen from inside the room"),
        number_column("length_m", "Length", "m", 3),
        number_column("mass_flow_kg_s", "Mass flow", "kg/s", 5),
        number_column("inlet_temp_c", "Inlet temperature", "°C", 2),
        number_column("outlet_temp_c", "Outlet temperature", "°C", 2),
        number_column("heat_w", "Heat", "W", 1),
        number_column("reynolds", "Reynolds number", "", 0, "below 2000 laminar, above 4000 turbulent"),
        number_column("velocity_m_s", "Velocity", "m/s", 3),
        number_column("pressure_drop_pa", "Pressure drop", "Pa", 1),
        number_column(
            "inlet_head_kpa", "Head at inlet", "kPa", 3, "pressure above that at the return connection of the loop"
        ),
    ),
)

ALONG = TableDescription(
    "temperature_profile",
    "Water temperature along loops",
    "Points along each waterway, for plotting.",
    (
        text_column("loop", "Loop"),
        count_column("arm", "Arm", "1, or 2 in the second arm of a centre-fed loop"),
        count_column("channel", "Channel"),
        text_column("direction", "Direction"),
        number_column("distance_m", "Distance", "m", 3, "along the water path from the start of the run"),
        text_column("label", "Label"),
        text_column("room", "Room"),
        number_column("water_temp_c", "Water temperature", "°C", 2),
        number_column("surface_temp_c", "Surface temperature", "°C", 2, "of the channel wall; empty in plain pipe"),
    ),
)


def elements_table(state: SystemState) -> pd.DataFrame:
    """One row for each element, loop by loop in water order; trunks last, with the loop name ""."""
    network = state.network
    pressure_in = _pressure_in_pa(state)
    rows: list[dict[str, Any]] = []
    order = sorted(range(len(network.locations)), key=lambda i: _sort_key(state, i))
    position: dict[int, int] = {}
    for i in order:
        place = network.locations[i]
        element = place.element
        position[place.loop] = position.get(place.loop, 0) + 1
        flow, density = state.flow_kg_s[i], state.density_kg_m3[i]
        base = pressure_in[i] - (state.pressure_pa[network.loop_nodes[place.loop, 1]] if place.loop >= 0 else 0.0)
        rows.append(
            {
                "loop": network.loops[place.loop].loop.name if place.loop >= 0 else "",
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
                "mass_flow_kg_s": flow,
                "inlet_temp_c": state.temp_in_c[i],
                "outlet_temp_c": state.temp_out_c[i],
                "heat_w": _element_output_w(state, i),
                "reynolds": state.reynolds[i],
                "velocity_m_s": flow / (density * element.duct.area_m2),
                "pressure_drop_pa": state.drop_pa[i],
                "inlet_head_kpa": base / 1000.0,
            }
        )
    return table_frame(ELEMENTS, rows).astype({"wall": "Int64"})


def _sort_key(state: SystemState, i: int) -> tuple[int, int]:
    loop = state.network.locations[i].loop
    return (loop if loop >= 0 else len(state.network.loops), i)


def _pressure_in_pa(state: SystemState) -> Array:
    """Pressure at the start of each element in Pa.

    It is the pressure at the first node of its link, less the drop of the elements before it.
    """
    elements = state.network.elements
    lost = np.cumsum(state.drop_pa) - state.drop_pa
    at_first = lost[elements.first_element]
    start = state.pressure_pa[state.network.graph.start]
    return np.asarray(start[elements.link] - (lost - at_first[elements.link]))


def _element_output_w(state: SystemState, i: int) -> float:
    place = state.network.locations[i]
    element = place.element
    if element.emits is not None:
        return float(state.emitter_w[state.network.emitters.place == i].sum())
    if place.arm < 0 or element.channel == 0:
        return 0.0
    low, high = sorted((element.node_in, element.node_out))
    return float(state.arms[place.arm].emitted_w[element.channel - 1, low:high].sum())


def temperature_profile_table(state: SystemState) -> pd.DataFrame:
    """Water and surface temperature along each channel by distance; no rows for loops without skirting."""
    network = state.network
    parts = []
    for arm, (path, heat) in enumerate(zip(network.arms, state.arms, strict=True)):
        if network.loops[network.arm_loop[arm]].profile is None:
            continue
        loop = network.loops[network.arm_loop[arm]]
        number = [a for a in range(len(network.arms)) if network.arm_loop[a] == network.arm_loop[arm]].index(arm) + 1
        x = heat.fine_x_m
        cell_of = cells_of_points(path, x)
        surface_c = np.where(skirting_cells(path)[cell_of], heat.fine_surface_c, np.nan)
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
                        "water_temp_c": heat.fine_c[channel][order],
                        "surface_temp_c": surface_c[channel][order],
                    }
                )
            )
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=ALONG.names).astype(ALONG_TYPES)


def rooms_table(layout: Layout, losses: Sequence[RoomLoss], state: SystemState) -> pd.DataFrame:
    """One row for each room, in the order of the survey."""
    output, behind, below = room_output_w(state), back_loss_w(state), downward_loss_w(state)
    rows = []
    for loss in losses:
        room_layout = layout.room(loss.room)
        heat_w, back = output.get(loss.room, 0.0), behind.get(loss.room, 0.0)
        need = loss.total_w + back
        rows.append(
            {
                "room": loss.room,
                "indoor_c": loss.indoor_c,
                "heat_loss_w": loss.total_w,
                "back_loss_w": back,
                "downward_loss_w": below.get(loss.room, 0.0),
                "heat_to_rooms_w": heat_w,
                "margin_w": heat_w - need,
                "coverage": heat_w / need if need > 0 else np.nan,
                "heated_length_m": float(room_layout.heated_length_m),
                "free_wall_m": room_layout.spare_wall_m,
                "loss_source": loss.loss_source or "",
                "is_estimate": room_layout.estimate,
            }
        )
    return pd.concat([pd.DataFrame(rows), losses_by_kind(losses)], axis=1)


def loop_heat_columns(heat: LoopHeat, loop: int) -> dict[str, float]:
    """The columns of heat of one loop."""
    figures = (heat.from_water_w, heat.to_rooms_w, heat.pipe_loss_w, heat.downward_loss_w, heat.net_to_rooms_w)
    return {column.name: float(of_loops[loop]) for column, of_loops in zip(LOOP_HEAT, figures, strict=True)}


def design_loops_table(system: SizedSystem) -> pd.DataFrame:
    """One row for each loop, in the order of the survey."""
    state, network, heat = system.state, system.state.network, loop_heat(system.state)
    laminar, turbulent = laminar_and_turbulent_drop_pa(state)
    rows = []
    for index, path in enumerate(network.loops):
        name = path.loop.name
        members = [i for i, place in enumerate(network.locations) if place.loop == index]
        speed = max(
            state.flow_kg_s[i] / (state.density_kg_m3[i] * network.locations[i].element.duct.area_m2)
            for i in members
            if network.locations[i].element.length_m > 0
        )
        at_tails = state.pressure_pa[network.loop_nodes[index, 0]] - state.pressure_pa[network.loop_nodes[index, 1]]
        valve = next(
            (candidate for candidate in system.valves if candidate.loop == index and candidate.balancing), None
        )
        head_pa = system.sized_loops[index].alone.head_pa
        rows.append(
            {
                "loop": name,
                "rooms": ", ".join(rooms_of(path)),
                "arrangement": path.loop.arrangement if path.profile else "no skirting",
                "trunk": path.loop.trunk or "",
                "heated_length_m": system.layout.loop(name).heated_length_m,
                "flow_l_h": flow_l_h(state, members[0]),
                "flow_temp_c": state.supply_c[index],
                "return_temp_c": state.return_c[index],
                "temperature_drop_k": state.supply_c[index] - state.return_c[index],
                **loop_heat_columns(heat, index),
                "pressure_drop_kpa": head_pa / 1000.0,
                "pressure_drop_laminar_kpa": (head_pa + laminar[index]) / 1000.0,
                "pressure_drop_turbulent_kpa": (head_pa + turbulent[index]) / 1000.0,
                "max_velocity_m_s": speed,
                "water_content_l": path.water_l,
                "valve_setting": np.nan if valve is None else valve.setting,
                "valve_kv_m3_h": np.nan if valve is None else valve.kv_m3_h,
                "valve_pressure_drop_kpa": np.nan if valve is None else valve.drop_pa / 1000.0,
                "available_pressure_kpa": at_tails / 1000.0,
                "is_index_loop": index in system.balance.index_of_circuit,
                "target_flow_l_h": flow_l_h(state, members[0]),
                "achieved_flow_l_h": flow_l_h(system.achieved, members[0]),
                "flow_error_percent": 100.0
                * (system.achieved.loop_flow_kg_s[index] / state.loop_flow_kg_s[index] - 1.0),
            }
        )
    return table_frame(LOOPS, rows)
