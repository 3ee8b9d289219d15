"""Valves, and the effect of isolating a loop, as tables."""

from __future__ import annotations

import numpy as np
import pandas as pd

from heatloop.hydraulics.sizing.sized_system import SizedSystem, SizedValve, flow_l_h
from heatloop.hydraulics.sizing.valve_settings import thermostatic
from heatloop.text.column import TableDescription, change_column, count_column, flag_column, number_column, text_column
from heatloop.text.table_set import table_frame

ACHIEVED = (
    number_column(
        "target_flow_l_h",
        "Target flow",
        "l/h",
        0,
        "flow rate of the design, as a volume at the water temperature of the valve",
    ),
    number_column(
        "achieved_flow_l_h",
        "Achieved flow",
        "l/h",
        0,
        "flow with all valves at their nearest settings, at the required pump head",
    ),
    change_column(
        "flow_error_percent", "Flow error", "%", 1, "achieved flow minus target flow, in % of the target flow"
    ),
)
"""Flows with the valves at their nearest settings, beside the target flows."""

VALVES = TableDescription(
    "valves",
    "Valves",
    "Each valve of each loop at design conditions.",
    (
        text_column("loop", "Loop"),
        count_column("arm", "Arm", "the arm that the valve serves; 0: the whole loop"),
        text_column("side", "Side", "whether the valve is on the flow or on the return"),
        text_column("valve", "Valve"),
        flag_column("is_balancing", "Balancing", "the valve balances its loop by its presetting"),
        number_column("kv_m3_h", "Kv", "m³/h", 3, "flow at a pressure drop of 1 bar", "IEC 60534-1"),
        number_column(
            "calculated_setting",
            "Calculated setting",
            "",
            1,
            "on the scale of the valve; a dash if even the smallest Kv of the valve is too large",
        ),
        count_column("nearest_setting", "Nearest setting", "the nearest whole setting of the valve"),
        number_column("nearest_kv_m3_h", "Kv at nearest setting", "m³/h", 3, "at the nearest setting"),
        number_column("flow_l_h", "Flow rate", "l/h", 0),
        number_column("pressure_drop_kpa", "Pressure drop", "kPa", 2),
        *ACHIEVED,
        flag_column("is_thermostatic", "Thermostatic", "closes when the room reaches its temperature"),
        number_column(
            "open_pressure_drop_kpa",
            "Pressure drop, open",
            "kPa",
            2,
            "all valves at their nearest settings, pumps at their commissioning settings",
        ),
        number_column(
            "closing_pressure_kpa",
            "Closing pressure",
            "kPa",
            2,
            "pressure across the valve when it has closed and nothing else has changed",
        ),
        number_column(
            "authority",
            "Authority",
            "",
            2,
            "pressure drop of the open valve, divided by the pressure across it when it has closed",
        ),
    ),
)

SHUT = TableDescription(
    "loop_isolation",
    "Effect of isolating a loop",
    "One row for each loop: which other loop's flow changes most when this loop is isolated.",
    (
        text_column("isolated_loop", "Isolated loop"),
        text_column("most_affected_loop", "Most affected loop"),
        change_column("flow_change_percent", "Flow change in that loop", "%", 1, "compared with all loops open"),
        text_column(
            "valve", "Valve of that loop", "the valve of the most affected loop with the largest pressure drop"
        ),
        number_column("valve_pressure_drop_kpa", "Pressure drop of that valve", "kPa", 2),
        number_column(
            "pump_head_kpa",
            "Pump head",
            "kPa",
            2,
            "head of the pump of the isolated loop; 0 if the other pumps drive the water through its circuit",
        ),
        number_column(
            "closing_pressure_kpa",
            "Closing pressure",
            "kPa",
            2,
            "pressure across the closed valve of the isolated loop",
        ),
    ),
)


def design_valves_table(system: SizedSystem) -> pd.DataFrame:
    """One row for each valve; `calculated_setting` is empty where the required Kv is below the valve's minimum."""
    loops, rows = system.state.network.loops, []
    for valve in system.valves:
        target_l_h, achieved_l_h = flow_l_h(system.state, valve.place), flow_l_h(system.achieved, valve.place)
        closes = thermostatic(system.survey.catalogue, valve.name)
        closing_pa = max(float(system.isolation.differential_pa[valve.loop, valve.loop]), 0.0) if closes else np.nan
        open_pa = _open_drop_pa(system, valve) if closes else np.nan
        rows.append(
            {
                "loop": loops[valve.loop].loop.name,
                "arm": valve.arm,
                "side": valve.side,
                "valve": valve.name,
                "is_balancing": valve.balancing,
                "kv_m3_h": valve.kv_m3_h,
                "calculated_setting": valve.setting,
                "nearest_setting": valve.nearest.setting,
                "nearest_kv_m3_h": valve.nearest.kv_m3_h,
                "flow_l_h": target_l_h,
                "pressure_drop_kpa": valve.drop_pa / 1000.0,
                "target_flow_l_h": target_l_h,
                "achieved_flow_l_h": achieved_l_h,
                "flow_error_percent": 100.0 * (achieved_l_h / target_l_h - 1.0),
                "is_thermostatic": closes,
                "open_pressure_drop_kpa": open_pa / 1000.0,
                "closing_pressure_kpa": closing_pa / 1000.0,
                "authority": open_pa / closing_pa if closes and closing_pa > 0 else np.nan,
            }
        )
    return table_frame(VALVES, rows)


def _open_drop_pa(system: SizedSystem, valve: SizedValve) -> float:
    """Pressure drop of a valve with all loops open, Pa, with the pump characteristics used for loop isolation."""
    flow_share = system.isolation.open_loop_flow_kg_s[valve.loop] / system.achieved.loop_flow_kg_s[valve.loop]
    return float(system.achieved.drop_pa[valve.place] * flow_share**2)


def loop_isolation_table(system: SizedSystem) -> pd.DataFrame:
    """One row for each loop isolated: the other loop whose flow changes most, and the closing pressure."""
    state, shut = system.achieved, system.isolation
    names = [path.loop.name for path in state.network.loops]
    rows = []
    for loop, name in enumerate(names):
        with np.errstate(divide="ignore", invalid="ignore"):
            change = 100.0 * (shut.loop_flow_kg_s[:, loop] / shut.open_loop_flow_kg_s - 1.0)
        worst = int(np.argmax([-1.0 if other == loop else abs(change[other]) for other in range(len(names))]))
        alone = len(names) == 1
        drop_kpa, valve = _worst_valve_kpa(system, worst, loop)
        rows.append(
            {
                "isolated_loop": name,
                "most_affected_loop": "" if alone else names[worst],
                "flow_change_percent": np.nan if alone else float(change[worst]),
                "valve": "" if alone else valve,
                "valve_pressure_drop_kpa": np.nan if alone else drop_kpa,
                "pump_head_kpa": max(float(shut.head_pa[state.network.loop_circuit[loop], loop]), 0.0) / 1000.0,
                "closing_pressure_kpa": max(float(shut.differential_pa[loop, loop]), 0.0) / 1000.0,
            }
        )
    return table_frame(SHUT, rows)


def _worst_valve_kpa(system: SizedSystem, loop: int, shut: int) -> tuple[float, str]:
    """The valve of a loop with the largest pressure drop while another loop is isolated: its drop, kPa, and name."""
    state = system.achieved
    best, name = float(np.nan), ""
    for i, place in enumerate(state.network.locations):
        if place.loop != loop or place.element.kind != "valve" or state.flow_kg_s[i] <= 0.0:
            continue
        drop = state.drop_pa[i] * (system.isolation.flow_kg_s[i, shut] / state.flow_kg_s[i]) ** 2 / 1000.0
        if not drop <= best:
            best, name = float(drop), place.element.valve or ""
    return best, name
