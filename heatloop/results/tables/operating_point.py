"""Tables of an operating point: states of loops and valves, and rooms with their heat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Literal

import numpy as np
import pandas as pd

from heatloop.heat_loss.model import RoomLoss
from heatloop.hydraulics.analysis.room_output import loop_heat
from heatloop.hydraulics.analysis.thermostat_control import SensorDemand
from heatloop.hydraulics.loop_paths import rooms_of
from heatloop.hydraulics.sizing.sized_system import flow_l_h
from heatloop.hydraulics.sizing.valve_settings import calculated_setting
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.results.tables.loops_and_rooms import LOOP_HEAT, ROOMS, loop_heat_columns
from heatloop.results.tables.pumps import PUMPS
from heatloop.results.tables.summary import source_required_w
from heatloop.survey.survey import SurveyData
from heatloop.text.column import (
    Column,
    TableDescription,
    count_column,
    flag_column,
    number_column,
    residual_column,
    share_column,
    text_column,
)
from heatloop.text.table_set import table_frame

SATISFIED = 0.999
"""Minimum coverage at which a room counts as warm: a thermostatic valve holds it within this."""

LoopState = Literal["open", "throttled", "shut"]

RATED_LOOPS = TableDescription(
    "loops",
    "Loops",
    "One row for each loop: state (open, throttled or shut), flow compared with the design, temperatures and output.",
    (
        text_column("loop", "Loop"),
        text_column("rooms", "Rooms", "rooms that the loop heats, in the order in which the water passes them"),
        text_column("state", "State", "open; throttled by its thermostatic valve; shut by this valve or by hand"),
        text_column("sensor_room", "Sensor in", "room with the sensor that controls the valve of the loop"),
        number_column("flow_l_h", "Flow rate", "l/h", 0),
        number_column("design_flow_l_h", "Design flow rate", "l/h", 0),
        number_column("flow_percent", "Share of design flow", "%", 1),
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
            "available_pressure_kpa",
            "Available pressure",
            "kPa",
            2,
            "pressure between flow and return where the loop is connected",
        ),
        number_column(
            "max_velocity_m_s", "Max. velocity", "m/s", 2, "velocity in the narrowest channel or pipe of the loop"
        ),
    ),
)

RATED_ROOMS = TableDescription(
    "rooms",
    "Rooms",
    "One row for each room: heat loss and heat at these conditions, and the loops that its sensor controls.",
    (
        *(
            replace(column, meaning="temperature of the room at these conditions")
            if column.name == "indoor_c"
            else column
            for column in ROOMS.columns
            if column.name not in ("output_min_w", "output_max_w")
        ),
        flag_column("is_warm", "Warm", "heat to rooms covers heat loss and back loss within 0.1 %"),
        text_column("controls_loop", "Controls loop", "loops whose thermostatic valve has its sensor in this room"),
    ),
)

RATED_PUMPS = replace(PUMPS, about="One row for each pump, the source's first, at these conditions.")

RATED_VALVES = TableDescription(
    "valves",
    "Valves",
    "One row for each valve: setting, opening, flow and pressure drop.",
    (
        text_column("loop", "Loop"),
        count_column("arm", "Arm", "the arm that the valve serves; 0: the whole loop"),
        text_column("side", "Side", "whether the valve is on the flow or on the return"),
        text_column("valve", "Valve"),
        number_column(
            "calculated_setting",
            "Calculated setting",
            "",
            1,
            "on the scale of the valve; a dash if even the smallest Kv of the valve is too large",
        ),
        number_column("set_kv_m3_h", "Kv as set", "m³/h", 3, "Kv of the open valve at its setting", "IEC 60534-1"),
        number_column("kv_m3_h", "Kv", "m³/h", 3, "Kv at this operating point", "IEC 60534-1"),
        share_column("opening", "Opening", "Kv divided by Kv as set"),
        number_column("flow_l_h", "Flow rate", "l/h", 0),
        number_column("pressure_drop_kpa", "Pressure drop", "kPa", 2),
    ),
)

RATING_SUMMARY: tuple[Column, ...] = (
    text_column("project", "Project"),
    number_column("outdoor_c", "Outdoor temperature", "°C", 1),
    number_column("flow_temp_c", "Flow temperature at the source", "°C", 1),
    number_column("return_temp_c", "Return temperature at the source", "°C", 1),
    number_column("heat_loss_w", "Heat loss of all rooms", "W", 0),
    number_column("heat_from_water_w", "Heat from water, all loops", "W", 0),
    number_column("heat_to_rooms_w", "Heat to rooms", "W", 0),
    number_column("net_heat_to_rooms_w", "Net heat to rooms", "W", 0),
    number_column("trunk_loss_w", "Heat loss of trunks", "W", 0),
    number_column("source_heat_w", "Heat from the source", "W", 0),
    number_column(
        "source_required_w",
        "Heat required from the source",
        "W",
        0,
        "load of the building, back loss, and losses of pipes, trunks and floor sections, at these conditions",
    ),
    number_column("source_flow_l_h", "Flow of the source", "l/h", 0),
    number_column("pump_head_kpa", "Pump head", "kPa", 2),
    text_column("pump_control", "Pump control"),
    number_column("pump_power_w", "Power of the pump", "W", 1),
    number_column("bypass_flow_l_h", "Flow of bypasses", "l/h", 0),
    count_column("loops_open", "Loops open"),
    count_column("loops_throttled", "Loops throttled"),
    count_column("loops_shut", "Loops shut"),
    count_column("rooms_below_temperature", "Rooms below temperature"),
    residual_column("residual_mass", "Residual of the mass balance"),
    residual_column("residual_head", "Residual of the head balance"),
    residual_column("residual_energy", "Residual of the energy balance"),
    residual_column("residual_inlet", "Residual of the inlet temperatures"),
    count_column("iterations", "Iterations"),
)


def operating_loops_table(state: SystemState, design: SystemState, demands: Mapping[int, SensorDemand]) -> pd.DataFrame:
    """One row for each loop: state, flow compared with the design, temperatures and output."""
    network, heat = state.network, loop_heat(state)
    rows = []
    for index, path in enumerate(network.loops):
        members = [i for i, place in enumerate(network.locations) if place.loop == index]
        shut = state.loop_flow_kg_s[index] <= 0.0
        ends = state.pressure_pa[network.loop_nodes[index]]
        target = flow_l_h(design, members[0])
        flow = flow_l_h(state, members[0])
        rows.append(
            {
                "loop": path.loop.name,
                "rooms": ", ".join(rooms_of(path)),
                "state": loop_state(state, index),
                "sensor_room": demands[index].room if index in demands else "",
                "flow_l_h": flow,
                "design_flow_l_h": target,
                "flow_percent": 100.0 * flow / target,
                "flow_temp_c": state.supply_c[index],
                "return_temp_c": np.nan if shut else state.return_c[index],
                "temperature_drop_k": np.nan if shut else state.supply_c[index] - state.return_c[index],
                **loop_heat_columns(heat, index),
                "available_pressure_kpa": float(ends[0] - ends[1]) / 1000.0,
                "max_velocity_m_s": max(
                    state.flow_kg_s[i] / (state.density_kg_m3[i] * network.locations[i].element.duct.area_m2)
                    for i in members
                    if network.locations[i].element.length_m > 0
                ),
            }
        )
    return table_frame(RATED_LOOPS, rows)


def loop_state(state: SystemState, loop: int) -> LoopState:
    """Whether a loop is shut, throttled by its thermostatic valve, or open."""
    if state.loop_flow_kg_s[loop] <= 0.0:
        return "shut"
    return "throttled" if state.throttled[loop] else "open"


def add_sensor_rooms(rooms: pd.DataFrame, state: SystemState, demands: Mapping[int, SensorDemand]) -> pd.DataFrame:
    """The rooms table with `is_warm` and the loops whose valves the room's sensor controls."""
    names = [path.loop.name for path in state.network.loops]
    by_room: dict[str, list[str]] = {}
    for loop, sensor in demands.items():
        by_room.setdefault(sensor.room, []).append(names[loop])
    return rooms.assign(
        is_warm=(rooms["coverage"].fillna(1.0) >= SATISFIED),
        controls_loop=[", ".join(by_room.get(str(room), [])) for room in rooms["room"]],
    )


def operating_valves_table(survey: SurveyData, state: SystemState) -> pd.DataFrame:
    """One row for each valve: setting, present Kv, flow and pressure drop."""
    network = state.network
    rows = []
    for i, place in enumerate(network.locations):
        element = place.element
        if element.kind != "valve" or element.valve is None:
            continue
        valve = survey.catalogue.valve(element.valve)
        set_kv = float(network.elements.kv_m3_h[i])
        volume_m3_h = flow_l_h(state, i) / 1000.0
        drop_pa = float(state.drop_pa[i])
        moving = volume_m3_h > 0.0 and drop_pa > 0.0
        kv_m3_h = volume_m3_h * np.sqrt(1e5 * state.density_kg_m3[i] / 1000.0 / drop_pa) if moving else 0.0
        rows.append(
            {
                "loop": network.loops[place.loop].loop.name,
                "arm": element.arm,
                "side": element.direction,
                "valve": element.valve,
                "calculated_setting": calculated_setting(set_kv, valve),
                "set_kv_m3_h": set_kv,
                "kv_m3_h": float(kv_m3_h),
                "opening": float(kv_m3_h) / set_kv,
                "flow_l_h": 1000.0 * volume_m3_h,
                "pressure_drop_kpa": drop_pa / 1000.0,
            }
        )
    return table_frame(RATED_VALVES, rows)


def operating_summary(
    survey: SurveyData,
    losses: Sequence[RoomLoss],
    state: SystemState,
    frames: Mapping[str, pd.DataFrame],
    density_kg_m3: float,
    load_w: float,
) -> dict[str, Any]:
    """Key figures of an operating point; `load_w`: load of the building at its temperatures."""
    rooms, pump = frames["rooms"], frames["pumps"].iloc[0]
    to_rooms_w, behind_w = float(rooms["heat_to_rooms_w"].sum()), float(rooms["back_loss_w"].sum())
    heated = rooms[rooms["room"].isin(survey.heated_rooms) & (rooms["heat_loss_w"] > 0)]
    return {
        "project": survey.project.name,
        "outdoor_c": survey.project.outdoor_c,
        "flow_temp_c": survey.project.flow_temp_c,
        "return_temp_c": state.source_return_c,
        "heat_loss_w": float(sum(loss.total_w for loss in losses)),
        "heat_from_water_w": float(frames["loops"]["heat_from_water_w"].sum()),
        "heat_to_rooms_w": to_rooms_w,
        "net_heat_to_rooms_w": float(frames["loops"]["net_heat_to_rooms_w"].sum()),
        "trunk_loss_w": float(state.main_loss_w.sum()),
        "source_heat_w": state.given_w,
        "source_required_w": source_required_w(load_w, state.given_w, to_rooms_w, behind_w),
        "source_flow_l_h": state.total_flow_kg_s / density_kg_m3 * 3.6e6,
        "pump_head_kpa": state.head_pa / 1000.0,
        "pump_control": str(pump["control"]),
        "pump_power_w": float(pump["electric_power_w"]),
        "bypass_flow_l_h": float(state.bypass_kg_s.sum()) / density_kg_m3 * 3.6e6,
        "loops_open": int((frames["loops"]["state"] == "open").sum()),
        "loops_throttled": int((frames["loops"]["state"] == "throttled").sum()),
        "loops_shut": int((frames["loops"]["state"] == "shut").sum()),
        "rooms_below_temperature": int((~heated["is_warm"].astype(bool)).sum()),
        "residual_mass": state.residual_mass,
        "residual_head": state.residual_head,
        "residual_energy": state.residual_energy,
        "residual_inlet": state.residual_inlet,
        "iterations": state.iterations,
    }
