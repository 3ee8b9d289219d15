"""Key figures of a design."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from heatloop.heat_loss.building_load import BuildingLoad
from heatloop.hydraulics.analysis.room_output import room_output_w
from heatloop.hydraulics.analysis.water_content import closing_valves, open_water_l, system_water_l
from heatloop.hydraulics.sizing.sized_system import SizedSystem, SystemDuty
from heatloop.results.tables.pumps import available_kpa, pump_control_text
from heatloop.text.column import Column, count_column, number_column, residual_column, text_column

SUMMARY: tuple[Column, ...] = (
    text_column("project", "Project"),
    Column("verdict", "Verdict", "", "verdict"),
    text_column("headline", "Verdict in words"),
    count_column("checks_failed", "Failed checks"),
    count_column("checks_caution", "Cautions"),
    number_column("outdoor_c", "Outdoor design temperature", "°C", 1),
    number_column("flow_temp_c", "Flow temperature at the source", "°C", 1),
    number_column("return_temp_c", "Return temperature at the source", "°C", 1),
    number_column("heat_loss_w", "Heat loss of all rooms", "W", 0),
    number_column("building_load_w", "Load of the building", "W", 0),
    number_column("heat_from_water_w", "Heat from water, all loops", "W", 0),
    number_column("heat_to_rooms_w", "Heat to rooms", "W", 0),
    number_column("net_heat_to_rooms_w", "Net heat to rooms", "W", 0),
    number_column("source_heat_w", "Heat from the source", "W", 0),
    number_column("pipe_loss_w", "Pipe loss of the loops", "W", 0),
    number_column("trunk_loss_w", "Heat loss of trunks", "W", 0),
    number_column("downward_loss_w", "Downward loss of floor sections", "W", 0),
    number_column("back_loss_w", "Back loss through walls behind skirting", "W", 0),
    number_column(
        "source_required_w",
        "Heat required from the source",
        "W",
        0,
        "load of the building, back loss, and losses of pipes, trunks and floor sections",
    ),
    number_column("source_output_kw", "Output of the source", "kW", 1),
    number_column("held_flow_temp_c", "Flow temperature that the source can hold with all valves open", "°C", 1),
    number_column("warm_flow_temp_c", "Lowest flow temperature with all rooms warm, all valves open", "°C", 1),
    number_column("warm_source_heat_w", "Heat from the source at that flow temperature", "W", 0),
    number_column("pump_flow_l_h", "Pump flow", "l/h", 0),
    number_column("pump_head_kpa", "Pump head required", "kPa", 2),
    text_column("pump_control", "Pump control"),
    number_column("pump_head_available_kpa", "Pump head available at that flow", "kPa", 2),
    number_column("pump_flow_water_only_l_h", "Pump flow with plain water", "l/h", 0),
    number_column("pump_head_water_only_kpa", "Pump head required with plain water", "kPa", 2),
    text_column("index_loop", "Index loop"),
    number_column("water_content_l", "Water content of the system", "l", 1),
    number_column("always_open_water_l", "Open water volume with all thermostatic valves closed", "l", 1),
    number_column("always_open_flow_l_h", "Flow rate with all thermostatic valves closed", "l/h", 0),
    count_column("rooms", "Rooms"),
    count_column("loops", "Loops"),
    count_column("iterations", "Iterations"),
    residual_column("residual_mass", "Residual of the mass balance"),
    residual_column("residual_head", "Residual of the head balance"),
    residual_column("residual_energy", "Residual of the energy balance"),
    residual_column("residual_inlet", "Residual of the inlet temperatures"),
)


def summary_figures(
    system: SizedSystem, load: BuildingLoad, frames: Mapping[str, pd.DataFrame], plain: SystemDuty | None
) -> dict[str, Any]:
    """Duty of source and pump, heat balance, water content and residuals; `plain` is the duty with plain water, None
    where the survey has no antifreeze."""
    survey, state, balanced, network = system.survey, system.state, system.balance, system.state.network
    flow_l_h = system.duty.flow_l_h
    to_rooms_w = float(sum(room_output_w(state).values()))
    behind_w = float(frames["rooms"]["back_loss_w"].sum())
    return {
        "project": survey.project.name,
        "loops": len(survey.loops),
        "rooms": len(survey.rooms),
        "outdoor_c": survey.project.outdoor_c,
        "flow_temp_c": survey.project.flow_temp_c,
        "return_temp_c": state.source_return_c,
        "heat_loss_w": load.sum_of_rooms_w,
        "building_load_w": load.total_w,
        "heat_from_water_w": float(frames["loops"]["heat_from_water_w"].sum()),
        "heat_to_rooms_w": to_rooms_w,
        "net_heat_to_rooms_w": float(frames["loops"]["net_heat_to_rooms_w"].sum()),
        "trunk_loss_w": float(state.main_loss_w.sum()),
        "source_heat_w": state.given_w,
        "pipe_loss_w": float(frames["loops"]["pipe_loss_w"].sum()),
        "downward_loss_w": float(frames["loops"]["downward_loss_w"].sum()),
        "back_loss_w": behind_w,
        "source_required_w": source_required_w(load.total_w, state.given_w, to_rooms_w, behind_w),
        "source_output_kw": survey.source.output_kw,
        "pump_flow_l_h": flow_l_h,
        "pump_head_kpa": system.duty.head_kpa,
        "pump_control": pump_control_text(system.pumps[0]),
        "pump_head_available_kpa": None
        if survey.source.pump is None
        else available_kpa(survey.source.pump, flow_l_h / 3.6e6),
        "index_loop": network.loops[balanced.index].loop.name,
        "water_content_l": system_water_l(survey, network),
        "always_open_water_l": open_water_l(survey, network),
        "always_open_flow_l_h": open_flow_l_h(system),
        "residual_mass": state.residual_mass,
        "residual_head": state.residual_head,
        "residual_energy": state.residual_energy,
        "residual_inlet": state.residual_inlet,
        "iterations": state.iterations,
        "pump_flow_water_only_l_h": None if plain is None else plain.flow_l_h,
        "pump_head_water_only_kpa": None if plain is None else plain.head_kpa,
    }


def source_required_w(load_w: float, given_w: float, to_rooms_w: float, back_loss_w: float) -> float:
    """Heat in W that a source has to give so that all rooms of a building with this load are warm.

    The load, the back loss, and the losses of pipes, trunks and floor sections: what the water gives up (`given_w`) and
    no room receives. Heat beyond the need of a room is not counted, since its thermostatic valve throttles.
    """
    return load_w + back_loss_w + given_w - to_rooms_w


def open_flow_l_h(system: SizedSystem) -> float:
    """Flow with all thermostatic valves closed, l/h: design flow of loops without a thermostatic valve and of open
    bypasses, and flow of differential bypasses at the shut-off head of the pump."""
    survey, state = system.survey, system.state
    closing = closing_valves(survey)
    flow_kg_s = float(state.bypass_kg_s.sum())
    for path, kg_s in zip(state.network.loops, state.loop_flow_kg_s, strict=True):
        if path.loop.valves.flow not in closing and path.loop.valves.return_ not in closing:
            flow_kg_s += float(kg_s)
    head_kpa = float(system.pumps[0].head_pa(np.zeros(1))[0][0]) / 1000.0
    opening = sum(
        bypass.kv_m3_h * np.sqrt(max(head_kpa - bypass.opens_at_kpa, 0.0) / 100.0)
        for bypass in survey.bypasses
        if bypass.opens_at_kpa is not None
    )
    return flow_kg_s / float(state.density_kg_m3[0]) * 3.6e6 + 1000.0 * float(opening)
