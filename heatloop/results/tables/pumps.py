"""Pumps and their curves as tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from heatloop.hydraulics.analysis.loop_isolation import system_curve
from heatloop.hydraulics.from_survey import pumps_of
from heatloop.hydraulics.pumps import Curve, Differential, HeadLaw, Limited, Proportional, full_speed, power_w
from heatloop.hydraulics.solver.operating_state import Operation
from heatloop.survey.survey import Survey
from heatloop.survey.water_system import PumpCurve

Array = NDArray[np.float64]

SYSTEM, AS_SET, FULL_SPEED = "system", "pump as set", "pump at full speed"

SHARES = np.linspace(0.1, 1.5, 15)
"""Shares of the duty flow, about, at which the curves have points."""

CURVE_COLUMNS = ("pump", "curve", "flow_l_h", "head_kpa")


def curves_table(
    survey: Survey, state: Operation, drives: Sequence[HeadLaw], density_kg_m3: Sequence[float]
) -> pd.DataFrame:
    """One row a point: flow and head of the system with its valves as designed, of the pump as set, and of the pump
    at full speed, pump by pump; density_kg_m3 (P) of the water at each."""
    rows: list[dict[str, Any]] = []

    def add(pump: str, curve: str, flow_m3_s: Array, head_pa: Array) -> None:
        for flow, head in zip(flow_m3_s, head_pa, strict=True):
            rows.append({"pump": pump, "curve": curve, "flow_l_h": flow * 3.6e6, "head_kpa": head / 1000.0})

    density = np.asarray(density_kg_m3, float)
    for p, (circuit, drive, pump) in enumerate(
        zip(state.assembly.circuits, drives, pumps_of(survey, state.assembly), strict=True)
    ):
        duty_m3_s, head_pa = float(state.circuit_flow_kg_s[p]) / density[p], float(state.circuit_head_pa[p])
        if duty_m3_s <= 0.0 or head_pa <= 0.0:
            continue
        heads_pa = head_pa * SHARES**2
        add(circuit.name, SYSTEM, system_curve(state, drives, density, p, heads_pa) / density[p], heads_pa)
        flows = np.concatenate([[0.0], duty_m3_s * SHARES])
        add(circuit.name, AS_SET, flows, drive.head_pa(flows)[0])
        if pump is not None:
            curve = full_speed(pump)
            flows = np.linspace(0.0, min(curve.flow_m3_s[-1], 3.0 * duty_m3_s), 25)
            add(circuit.name, FULL_SPEED, flows, curve.head_pa(flows)[0])
    return pd.DataFrame(rows, columns=CURVE_COLUMNS)


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
