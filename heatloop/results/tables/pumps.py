"""Pumps and their curves as tables."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd

from heatloop.hydraulics.analysis.pump_curves import FlowCurve
from heatloop.hydraulics.pumps import (
    ConstantHead,
    LimitedByCurve,
    ProportionalHead,
    PumpCharacteristic,
    PumpCurveAtSpeed,
    full_speed,
    power_w,
    pump_characteristic,
)
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.survey.survey import SurveyData
from heatloop.survey.water_system import PumpCurve
from heatloop.text.column import TableDescription, number_column, text_column
from heatloop.text.table_set import table_frame

PUMPS = TableDescription(
    "pumps",
    "Pumps",
    "One row for each pump, the source's first, at its commissioning setting.",
    (
        text_column("pump", "Pump", "pump of the source, or of a trunk with a mixing valve"),
        number_column("flow_temp_c", "Flow temperature", "°C", 1),
        number_column("return_temp_c", "Return temperature", "°C", 1),
        number_column("flow_l_h", "Flow rate", "l/h", 0),
        number_column("head_kpa", "Required head", "kPa", 2),
        number_column(
            "available_head_kpa",
            "Available head",
            "kPa",
            2,
            "maximum of the pump at this flow rate, at full speed or at the stated speed; 0 if it cannot deliver this "
            "flow rate",
        ),
        text_column("control", "Setting", "control mode and set value"),
        number_column("speed", "Speed", "", 2, "share of full speed"),
        number_column(
            "electric_power_w", "Power", "W", 1, "electric power, if the survey states the efficiency of the pump"
        ),
        number_column("shutoff_head_kpa", "Head without flow", "kPa", 2, "head when all loops are closed"),
    ),
)

PUMP_CURVES = TableDescription(
    "pump_curves",
    "Pump and system curves",
    "Points of the curves of each pump and of the system that it drives, with valves at their calculated settings.",
    (
        text_column("pump", "Pump"),
        text_column("curve", "Curve", "curve of the system, of the pump as set, or of the pump at full speed"),
        number_column("flow_l_h", "Flow rate", "l/h", 0),
        number_column("head_kpa", "Head", "kPa", 2),
    ),
)


def curves_table(curves: Iterable[FlowCurve]) -> pd.DataFrame:
    """One row for each point, curve by curve."""
    rows = [
        (curve.pump, curve.kind, flow_m3_s * 3.6e6, head_pa / 1000.0)
        for curve in curves
        for flow_m3_s, head_pa in zip(curve.flow_m3_s, curve.head_pa, strict=True)
    ]
    return table_frame(PUMP_CURVES, rows)


def pumps_table(
    survey: SurveyData, state: SystemState, pumps: Sequence[PumpCharacteristic], density_kg_m3: Sequence[float]
) -> pd.DataFrame:
    """One row for each pump, the source's first: duty, available head, control, power where the efficiency is known,
    and head at zero flow. density_kg_m3 (P): of the water at each pump."""
    rows = []
    for p, (circuit, pump) in enumerate(zip(state.network.circuits, pumps, strict=True)):
        curve = survey.source.pump if circuit.trunk < 0 else state.network.trunks[circuit.trunk].pump
        flow_m3_s = float(state.circuit_flow_kg_s[p]) / density_kg_m3[p]
        head_pa = float(state.circuit_head_pa[p])
        rows.append(
            {
                "pump": circuit.name,
                "flow_temp_c": float(state.circuit_c[p]),
                "return_temp_c": float(state.circuit_return_c[p]),
                "flow_l_h": flow_m3_s * 3.6e6,
                "head_kpa": head_pa / 1000.0,
                "available_head_kpa": available_kpa(curve, flow_m3_s),
                "control": pump_control_text(pump),
                "speed": pump.speed if isinstance(pump, PumpCurveAtSpeed) else np.nan,
                "electric_power_w": np.nan
                if curve is None or curve.efficiency is None
                else power_w(flow_m3_s, head_pa, curve.efficiency),
                "shutoff_head_kpa": _at(pump, 0.0) / 1000.0,
            }
        )
    return table_frame(PUMPS, rows)


def available_kpa(pump: PumpCurve | None, flow_m3_s: float) -> float:
    """Head of the pump at a flow, at its stated speed or full speed, kPa; 0 beyond its curve, NaN without one."""
    if pump is None:
        return float(np.nan)
    curve = full_speed(pump)
    characteristic = curve if pump.speed is None else PumpCurveAtSpeed(curve.flow_m3_s, curve.points_pa, pump.speed)
    return max(_at(characteristic, flow_m3_s), 0.0) / 1000.0


def set_head_kpa(pump: PumpCurve, flow_m3_s: float) -> float | None:
    """Head of the pump at a flow as the survey sets it, constant or proportional, kPa; None without such a setting."""
    if pump.constant_kpa is None and pump.proportional_kpa is None:
        return None
    return _at(pump_characteristic(pump), flow_m3_s) / 1000.0


def _at(pump: PumpCharacteristic, flow_m3_s: float) -> float:
    return float(pump.head_pa(np.array([flow_m3_s]))[0][0])


def pump_control_text(pump: PumpCharacteristic) -> str:
    """Control mode and setting of a pump, in words."""
    match pump:
        case PumpCurveAtSpeed():
            return f"at {100.0 * pump.speed:.0f} % of full speed"
        case LimitedByCurve():
            return pump_control_text(pump.required)
        case ProportionalHead():
            return f"proportional, {pump.at_pa / 1000.0:.3g} kPa at {pump.at_m3_s * 3.6e6:.0f} l/h"
        case ConstantHead():
            return f"constant, {float(np.max(pump.value_pa)) / 1000.0:.3g} kPa"
        case _:
            return ""
