"""Final settings: every setting of the design with a box for its value as left."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pandas as pd

from heatloop.handover.commissioning.pressure_checks import precharge_to_set_kpa
from heatloop.handover.commissioning.pressures import Pressures
from heatloop.hydraulics import pumps
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.text.column import Column, TableDescription, box_column, figure_column, text_column
from heatloop.text.table_set import table_frame

SETTINGS_AS_LEFT = TableDescription(
    "settings_as_left",
    "Final settings",
    "Design values, with boxes for the settings as left.",
    (
        text_column("item", "Setting"),
        text_column("where", "Where"),
        figure_column("designed", "Designed"),
        Column("unit", "Unit", kind="unit"),
        box_column("as_left", "Final"),
    ),
)

KPA_PER_BAR = 100.0

ROUNDING_KPA = 0.05
"""A pump set to the required head within this has no reserve."""


def settings_table(system: SizedSystem, system_pressures: Pressures, outdoor_steps: pd.DataFrame) -> pd.DataFrame:
    """Every setting of the design with a box for its value as left: source, compensation, pump, pressures, valves."""
    return table_frame(SETTINGS_AS_LEFT, _settings(system, system_pressures, outdoor_steps))


def _settings(
    system: SizedSystem, system_pressures: Pressures, outdoor_steps: pd.DataFrame
) -> Iterator[tuple[str, str, float, str, str]]:
    survey, duty = system.survey, system.duty
    warmest = outdoor_steps.groupby("outdoor_c")["flow_temp_c"].max()
    for outdoor_c, flow_c in warmest.items():
        yield f"flow temperature at {outdoor_c:g} °C outdoors", "heat source", float(flow_c), "degC", ""
    for trunk in survey.trunks:
        if trunk.mixed_to_c is not None:
            yield "temperature of mixing valve", f'trunk "{trunk.name}"', trunk.mixed_to_c, "degC", ""
    for loop in survey.loops:
        if loop.flow_temp_c is not None:
            yield "temperature of mixing valve", f'loop "{loop.name}"', loop.flow_temp_c, "degC", ""
    mixed = [(place, circuit) for place, circuit in enumerate(system.state.network.circuits) if circuit.mixed_to_c]
    where = "pump at the heat source" if mixed else "pump"
    yield _pump_setting(system.pumps[0], duty.head_kpa, where)
    yield "flow rate", where, duty.flow_l_h, "l/h", ""
    for place, circuit in mixed:
        head_kpa = float(system.state.circuit_head_pa[place]) / 1000.0
        yield _pump_setting(system.pumps[place], head_kpa, f'pump of trunk "{circuit.name}"')
    yield from _gauge_settings(system_pressures)
    for valve in system.valves:
        arm = f", arm {valve.arm}" if valve.arm else ""
        where = f"loop {survey.loops[valve.loop].name}, {valve.side}{arm}"
        yield f"setting of {valve.name}", where, float(valve.nearest.setting), "setting", ""


def _gauge_settings(found: Pressures) -> Iterator[tuple[str, str, float, str, str]]:
    """Settings that are read at a gauge or on a valve, in bar as these are marked."""
    yield "precharge", "expansion vessel", precharge_to_set_kpa(found) / KPA_PER_BAR, "bar", ""
    yield "cold fill pressure", "gauge", found.fill_kpa / KPA_PER_BAR, "bar", ""
    yield "relief valve", "heat source", found.relief_kpa / KPA_PER_BAR, "bar", ""


def least_head_kpa(required_kpa: float) -> float:
    """A required head rounded up to a tenth of a kPa, so that the printed figure suffices.

    >>> least_head_kpa(6.68), least_head_kpa(6.6)
    (6.7, 6.6)
    """
    return math.ceil(round(10.0 * required_kpa, 6)) / 10.0


def _pump_setting(
    pump: pumps.PumpCharacteristic, required_kpa: float, where: str = "pump"
) -> tuple[str, str, float, str, str]:
    """Setting of a pump by its kind of control, with the head that the design requires.

    A constant head of no more than the required one is rounded up to a tenth of a kPa, as the requirement then is.
    """
    required = f"(required: {required_kpa:.1f} kPa)"
    match pump:
        case pumps.LimitedByCurve():
            return _pump_setting(pump.required, required_kpa, where)
        case pumps.PumpCurveAtSpeed():
            return "speed", where, 100.0 * pump.speed, "%", ""
        case pumps.ProportionalHead():
            item = f"proportional head at {pump.at_m3_s * 3.6e6:.0f} l/h {required}"
            return item, where, pump.at_pa / 1000.0, "kPa", ""
        case pumps.ConstantHead():
            set_kpa = float(np.max(pump.value_pa)) / 1000.0
            if set_kpa < required_kpa + ROUNDING_KPA:
                set_kpa = least_head_kpa(required_kpa)
                required = f"(required: {set_kpa:.1f} kPa)"
            return f"constant head {required}", where, set_kpa, "kPa", ""
    return "required head", where, required_kpa, "kPa", ""
