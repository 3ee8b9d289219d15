"""Valves, pumps and what happens when loops shut, as tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from heatloop.circuit.balance import Balance, balancing_places
from heatloop.circuit.presets import Preset, thermostatic
from heatloop.circuit.pump import Curve, Differential, HeadLaw, Limited, Proportional, full_speed, power_w
from heatloop.circuit.shutting import Shut
from heatloop.circuit.solve import Operation
from heatloop.physics.valves import setting_for_kv
from heatloop.plant import presettable
from heatloop.survey.catalogue import Valve
from heatloop.survey.model import PumpCurve, Survey


@dataclass(frozen=True)
class Balanced:
    """A design's water side: exact presettings and heads, the system with them, the same with its valves at real
    settings, each loop shut in turn, and the laws of the pumps as commissioned; `sensed`: with thermostatic valves
    at work too, where a valve serves rooms that its sensor does not stand in and the valves find rest."""

    balance: Balance
    exact: Operation
    presets: dict[int, Preset]
    achieved: Operation
    shut: Shut
    drives: tuple[HeadLaw, ...]
    sensed: Operation | None = None


def litres_h(state: Operation, place: int) -> float:
    """Flow of an element in litres an hour at its own temperature."""
    return float(state.flow_kg_s[place] / state.density_kg_m3[place] * 3.6e6)


def valves_table(survey: Survey, water: Balanced) -> pd.DataFrame:
    """One row a valve; `setting` is empty where the wanted Kv is below the valve's lowest."""
    system = water.exact.assembly
    in_body = presettable(survey)
    balancing = {i for loop in range(len(system.loops)) for i in balancing_places(system, loop, in_body)}
    rows = []
    for i, place in enumerate(system.places):
        element = place.element
        if element.kind != "valve" or element.valve is None:
            continue
        valve = survey.catalogue.valve(element.valve)
        kv = float(system.elements.kv_m3_h[i])
        preset, target, found = water.presets[i], litres_h(water.exact, i), litres_h(water.achieved, i)
        closes = thermostatic(survey.catalogue, element.valve)
        closing_pa = float(water.shut.differential_pa[place.loop, place.loop]) if closes else np.nan
        rows.append(
            {
                "loop": system.loops[place.loop].loop.name,
                "arm": element.arm,
                "side": element.direction,
                "valve": element.valve,
                "balancing": i in balancing,
                "kv_m3_h": kv,
                "setting": exact_setting(kv, valve),
                "real_setting": preset.setting,
                "real_kv_m3_h": preset.kv_m3_h,
                "flow_l_h": target,
                "drop_kpa": water.exact.drop_pa[i] / 1000.0,
                "target_l_h": target,
                "achieved_l_h": found,
                "error_percent": 100.0 * (found / target - 1.0),
                "thermostatic": closes,
                "closing_kpa": closing_pa / 1000.0,
                "authority": water.achieved.drop_pa[i] / closing_pa if closes and closing_pa > 0 else np.nan,
            }
        )
    return pd.DataFrame(rows, columns=VALVE_COLUMNS)


VALVE_COLUMNS = (
    "loop", "arm", "side", "valve", "balancing", "kv_m3_h", "setting", "real_setting", "real_kv_m3_h", "flow_l_h",
    "drop_kpa", "target_l_h", "achieved_l_h", "error_percent", "thermostatic", "closing_kpa", "authority",
)  # fmt: skip


def exact_setting(kv_m3_h: float, valve: Valve) -> float:
    """Setting with its fraction, NaN where the valve has none so small."""
    return setting_for_kv(kv_m3_h, valve.kv_m3_h) if kv_m3_h >= valve.kv_m3_h[0] else float(np.nan)


def shut_table(survey: Survey, water: Balanced) -> pd.DataFrame:
    """One row a loop: what the others do when it shuts, its own thermostatic valve's closing pressure beside."""
    state, shut = water.achieved, water.shut
    names = [path.loop.name for path in state.assembly.loops]
    rows = []
    for loop, name in enumerate(names):
        with np.errstate(divide="ignore", invalid="ignore"):
            change = 100.0 * (shut.loop_flow_kg_s[:, loop] / shut.open_loop_flow_kg_s - 1.0)
        change[loop] = 0.0
        worst = int(np.argmax(np.abs(change)))
        alone = len(names) == 1
        drop_kpa, valve = _worst_valve_kpa(water, worst, loop)
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


def _worst_valve_kpa(water: Balanced, loop: int, shut: int) -> tuple[float, str]:
    """The valve of a loop that drops most while another is shut: its drop, kPa, and its name."""
    state = water.achieved
    best, name = float(np.nan), ""
    for i, place in enumerate(state.assembly.places):
        if place.loop != loop or place.element.kind != "valve" or state.flow_kg_s[i] <= 0.0:
            continue
        drop = state.drop_pa[i] * (water.shut.flow_kg_s[i, shut] / state.flow_kg_s[i]) ** 2 / 1000.0
        if not drop <= best:
            best, name = float(drop), place.element.valve or ""
    return best, name


PUMP_COLUMNS = (
    "pump", "flow_temp_c", "return_temp_c", "flow_l_h", "head_kpa", "available_kpa", "control", "speed", "power_w",
    "shut_head_kpa",
)  # fmt: skip


def pumps_table(
    survey: Survey, state: Operation, drives: Sequence[HeadLaw], density_kg_m3: Sequence[float]
) -> pd.DataFrame:
    """One row a pump, the source's first: its duty, what it can give at full speed, how it runs, its power where the
    efficiency is known, and its head when nothing flows. density_kg_m3 (P): of the water at each pump."""
    rows = []
    for p, (circuit, drive) in enumerate(zip(state.assembly.circuits, drives, strict=True)):
        pump = survey.source.pump if circuit.trunk < 0 else state.assembly.trunks[circuit.trunk].pump
        flow_m3_s = float(state.circuit_flow_kg_s[p]) / density_kg_m3[p]
        head_pa = float(state.circuit_head_pa[p])
        rows.append(
            {
                "pump": circuit.name,
                "flow_temp_c": float(state.circuit_c[p]),
                "return_temp_c": float(state.circuit_return_c[p]),
                "flow_l_h": flow_m3_s * 3.6e6,
                "head_kpa": head_pa / 1000.0,
                "available_kpa": available_kpa(pump, flow_m3_s),
                "control": control_words(drive),
                "speed": drive.speed if isinstance(drive, Curve) else np.nan,
                "power_w": np.nan
                if pump is None or pump.efficiency is None
                else power_w(flow_m3_s, head_pa, pump.efficiency),
                "shut_head_kpa": _at(drive, 0.0) / 1000.0,
            }
        )
    return pd.DataFrame(rows, columns=PUMP_COLUMNS)


def available_kpa(pump: PumpCurve | None, flow_m3_s: float) -> float:
    """Head of the pump at a flow, at its stated speed or full speed, kPa; NaN without a curve."""
    if pump is None:
        return float(np.nan)
    curve = full_speed(pump)
    return _at(curve if pump.speed is None else Curve(curve.flow_m3_s, curve.points_pa, pump.speed), flow_m3_s) / 1000.0


def _at(law: HeadLaw, flow_m3_s: float) -> float:
    return float(law.head_pa(np.array([flow_m3_s]))[0][0])


def control_words(drive: HeadLaw) -> str:
    """How a pump runs, in words."""
    match drive:
        case Curve():
            return f"at {100.0 * drive.speed:.0f} % of full speed"
        case Limited():
            return control_words(drive.wanted)
        case Proportional():
            return f"proportional, {drive.at_pa / 1000.0:.3g} kPa at {drive.at_m3_s * 3.6e6:.0f} l/h"
        case Differential():
            return f"constant, {float(np.max(drive.value_pa)) / 1000.0:.3g} kPa"
        case _:
            return ""
