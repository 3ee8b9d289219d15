"""Valves, and the effect of isolating a loop, as tables."""

from __future__ import annotations

import numpy as np
import pandas as pd

from heatloop.hydraulics.sizing.sized_system import SizedSystem, litres_h
from heatloop.hydraulics.sizing.valve_settings import thermostatic


def valves_table(system: SizedSystem) -> pd.DataFrame:
    """One row a valve; `setting` is empty where the wanted Kv is below the valve's lowest."""
    loops, rows = system.state.assembly.loops, []
    for valve in system.valves:
        target, found = litres_h(system.state, valve.place), litres_h(system.achieved, valve.place)
        closes = thermostatic(system.survey.catalogue, valve.name)
        closing_pa = float(system.isolation.differential_pa[valve.loop, valve.loop]) if closes else np.nan
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
    return pd.DataFrame(rows, columns=VALVE_COLUMNS)


VALVE_COLUMNS = (
    "loop", "arm", "side", "valve", "balancing", "kv_m3_h", "setting", "real_setting", "real_kv_m3_h", "flow_l_h",
    "drop_kpa", "target_l_h", "achieved_l_h", "error_percent", "thermostatic", "closing_kpa", "authority",
)  # fmt: skip


def shut_table(system: SizedSystem) -> pd.DataFrame:
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
                "pump_head_kpa": float(shut.head_pa[state.assembly.loop_circuit[loop], loop]) / 1000.0,
                "closing_kpa": float(shut.differential_pa[loop, loop]) / 1000.0,
            }
        )
    return pd.DataFrame(rows, columns=SHUT_COLUMNS)


SHUT_COLUMNS = (
    "loop", "worst_loop", "flow_change_percent", "valve", "valve_drop_kpa", "pump_head_kpa", "closing_kpa",
)  # fmt: skip


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
