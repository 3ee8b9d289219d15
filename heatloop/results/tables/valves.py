"""Valves, and the effect of isolating a loop, as tables."""

from __future__ import annotations

import numpy as np
import pandas as pd

from heatloop.hydraulics.sizing.sized_system import SizedSystem, flow_l_h
from heatloop.hydraulics.sizing.valve_settings import thermostatic
from heatloop.text.column import TableDescription, change_column, count_column, flag_column, number_column, text_column
from heatloop.text.table_set import table_frame

ACHIEVED = (
    number_column("target_l_h", "Target flow", "l/h", 0, "what the design wants"),
    number_column("achieved_l_h", "Achieved flow", "l/h", 0, "with every valve at a real setting"),
    change_column("error_percent", "Error", "%", 1, "achieved flow over target flow, less one"),
)
"""Flows with the valves at their real settings, beside what they should be."""

VALVES = TableDescription(
    "valves",
    "Valves",
    "Every valve of every loop at the design condition.",
    (
        text_column("loop", "Loop"),
        count_column("arm", "Arm", "the arm it serves; 0 serves the whole loop"),
        text_column("side", "Side", "on the flow or the return"),
        text_column("valve", "Valve"),
        flag_column("balancing", "Balances", "its presetting shares out the flow"),
        number_column("kv_m3_h", "Kv", "m³/h", 3, "flow at a pressure drop of 1 bar", "IEC 60534-1"),
        number_column("setting", "Setting", "", 1, "on its own scale; a dash where none is small enough"),
        count_column("real_setting", "Real setting", "the nearest that the valve has"),
        number_column("real_kv_m3_h", "Kv at it", "m³/h", 3, "at the real setting"),
        number_column("flow_l_h", "Flow", "l/h", 0),
        number_column("drop_kpa", "Pressure drop", "kPa", 2),
        *ACHIEVED,
        flag_column("thermostatic", "Thermostatic", "it closes by itself when the room is warm"),
        number_column("closing_kpa", "Closing pressure", "kPa", 2, "across it when it has shut"),
        number_column("authority", "Authority", "", 2, "its drop open over its drop shut"),
    ),
)

SHUT = TableDescription(
    "shut",
    "When a loop shuts",
    "Each loop shut by itself: the other loop whose flow changes most.",
    (
        text_column("loop", "Loop shut"),
        text_column("worst_loop", "Loop most changed"),
        change_column("flow_change_percent", "Its flow", "%", 1, "change against all loops open"),
        text_column("valve", "Its valve", "the one of its valves that drops most"),
        number_column("valve_drop_kpa", "Drop of that valve", "kPa", 2),
        number_column("pump_head_kpa", "Pump head", "kPa", 2, "0 where other pumps draw more than this one moves"),
        number_column("closing_kpa", "Closing pressure", "kPa", 2, "across the valve that has shut"),
    ),
)


def design_valves_table(system: SizedSystem) -> pd.DataFrame:
    """One row a valve; `setting` is empty where the wanted Kv is below the valve's lowest."""
    loops, rows = system.state.assembly.loops, []
    for valve in system.valves:
        target, found = flow_l_h(system.state, valve.place), flow_l_h(system.achieved, valve.place)
        closes = thermostatic(system.survey.catalogue, valve.name)
        closing_pa = max(float(system.isolation.differential_pa[valve.loop, valve.loop]), 0.0) if closes else np.nan
        achieved_pa = system.achieved.drop_pa[valve.place]
        rows.append(
            {
                "loop": loops[valve.loop].loop.name,
                "arm": valve.arm,
                "side": valve.side,
                "valve": valve.name,
                "balancing": valve.balancing,
                "kv_m3_h": valve.kv_m3_h,
                "setting": valve.setting,
                "real_setting": valve.nearest.setting,
                "real_kv_m3_h": valve.nearest.kv_m3_h,
                "flow_l_h": target,
                "drop_kpa": valve.drop_pa / 1000.0,
                "target_l_h": target,
                "achieved_l_h": found,
                "error_percent": 100.0 * (found / target - 1.0),
                "thermostatic": closes,
                "closing_kpa": closing_pa / 1000.0,
                "authority": achieved_pa / closing_pa if closes and closing_pa > 0 else np.nan,
            }
        )
    return table_frame(VALVES, rows)


def loop_isolation_table(system: SizedSystem) -> pd.DataFrame:
    """One row a loop: what the others do when it shuts, its own thermostatic valve's closing pressure beside."""
    state, shut = system.achieved, system.isolation
    names = [path.loop.name for path in state.assembly.loops]
    rows = []
    for loop, name in enumerate(names):
        with np.errstate(divide="ignore", invalid="ignore"):
            change = 100.0 * (shut.loop_flow_kg_s[:, loop] / shut.open_loop_flow_kg_s - 1.0)
        change[loop] = 0.0
        worst = int(np.argmax(np.abs(change)))
        alone = len(names) == 1
        drop_kpa, valve = _worst_valve_kpa(system, worst, loop)
        rows.append(
            {
                "loop": name,
                "worst_loop": "" if alone else names[worst],
                "flow_change_percent": np.nan if alone else float(change[worst]),
                "valve": "" if alone else valve,
                "valve_drop_kpa": np.nan if alone else drop_kpa,
                "pump_head_kpa": max(float(shut.head_pa[state.assembly.loop_circuit[loop], loop]), 0.0) / 1000.0,
                "closing_kpa": max(float(shut.differential_pa[loop, loop]), 0.0) / 1000.0,
            }
        )
    return table_frame(SHUT, rows)


def _worst_valve_kpa(system: SizedSystem, loop: int, shut: int) -> tuple[float, str]:
    """The valve of a loop that drops most while another is shut: its drop, kPa, and its name."""
    state = system.achieved
    best, name = float(np.nan), ""
    for i, place in enumerate(state.assembly.places):
        if place.loop != loop or place.element.kind != "valve" or state.flow_kg_s[i] <= 0.0:
            continue
        drop = state.drop_pa[i] * (system.isolation.flow_kg_s[i, shut] / state.flow_kg_s[i]) ** 2 / 1000.0
        if not drop <= best:
            best, name = float(drop), place.element.valve or ""
    return best, name
