"""Curves of pumps and of what they drive, as a table of points for a picture."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from heatloop.circuit.pump import HeadLaw, full_speed
from heatloop.circuit.shutting import system_curve
from heatloop.circuit.solve import Operation
from heatloop.plant import pumps_of
from heatloop.survey.model import Survey

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
