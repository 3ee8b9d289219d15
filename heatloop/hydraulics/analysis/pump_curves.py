"""Curves near the duty point of every pump: of its system, of the pump as set, and of the pump at full speed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.analysis.loop_isolation import system_curve
from heatloop.hydraulics.pumps import PumpCharacteristic, full_speed
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.survey.water_system import PumpCurve

Array = NDArray[np.float64]

CurveKind = Literal["system", "pump as set", "pump at full speed"]

SHARES = np.linspace(0.1, 1.5, 15)
"""Shares of the duty flow, about, at which the curves have points."""

POINTS_AT_FULL_SPEED = 25
MAX_DUTIES = 3.0
"""The curve of a pump at full speed is drawn to this multiple of its duty flow, if it extends so far."""


@dataclass(frozen=True, eq=False)
class FlowCurve:
    """A curve of head in Pa over volume flow in m3/s, for the pump of that name."""

    pump: str
    kind: CurveKind
    flow_m3_s: Array
    head_pa: Array


def pump_curves(
    state: SystemState,
    pumps: Sequence[PumpCharacteristic],
    density_kg_m3: Array,
    stated_curves: Sequence[PumpCurve | None],
) -> tuple[FlowCurve, ...]:
    """Curves of every pump that moves water, pump by pump.

    `pumps` (P): how the pumps run. `density_kg_m3` (P): of the water at each. `stated_curves` (P): the curves in the
    survey; None where it states none. The curve of the system is for its present valve settings. Points of negative
    flow or head are left out.
    """
    return tuple(_curves(state, pumps, np.asarray(density_kg_m3, float), stated_curves))


def _curves(
    state: SystemState, pumps: Sequence[PumpCharacteristic], density: Array, stated_curves: Sequence[PumpCurve | None]
) -> Iterator[FlowCurve]:
    for p, (circuit, pump, stated) in enumerate(zip(state.network.circuits, pumps, stated_curves, strict=True)):
        duty_m3_s, head_pa = float(state.circuit_flow_kg_s[p]) / density[p], float(state.circuit_head_pa[p])
        if duty_m3_s <= 0.0 or head_pa <= 0.0:
            continue
        heads_pa = head_pa * SHARES**2
        yield _forwards(circuit.name, "system", system_curve(state, pumps, density, p, heads_pa) / density[p], heads_pa)
        flows = np.concatenate([[0.0], duty_m3_s * SHARES])
        yield _forwards(circuit.name, "pump as set", flows, pump.head_pa(flows)[0])
        if stated is not None:
            curve = full_speed(stated)
            flows = np.linspace(0.0, min(curve.flow_m3_s[-1], MAX_DUTIES * duty_m3_s), POINTS_AT_FULL_SPEED)
            yield _forwards(circuit.name, "pump at full speed", flows, curve.head_pa(flows)[0])


def _forwards(pump: str, kind: CurveKind, flow_m3_s: Array, head_pa: Array) -> FlowCurve:
    """A curve without impossible points.

    Such points lie beyond the end of a pump's curve, or belong to reverse flow that other pumps cause in a circuit.
    """
    there = (flow_m3_s >= 0.0) & (head_pa >= 0.0)
    return FlowCurve(pump, kind, flow_m3_s[there], head_pa[there])
