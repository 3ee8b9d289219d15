"""Conditions of the readings: rooms, weather and water, and the readings as values of the model."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.diagnosis import readings as r
from heatloop.diagnosis.readings import Readings
from heatloop.diagnosis.site_model.as_commissioned import CommissionedSite
from heatloop.diagnosis.site_model.quantity_index import QuantityIndex
from heatloop.hydraulics.from_survey import mean_exponent
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.physics.weather_compensation import compensated_temperatures

Array = NDArray[np.float64]

STEADY_H = 24.0
"""Hours after which rooms are assumed steady; a stone house requires longer (common practice)."""

CONTROL_K = 0.7
"""Deviation of a source from its setting, by its hysteresis (common practice)."""

UNREAD_SOURCE_K = 2.0
"""Deviation of a source whose setting was not read from what weather compensation or the design gives (common
practice)."""

BIAS_K = 2.0
"""Spread of the bias that all readings of one surface probe share where it was not compared: 1 to 3 K either way."""

ROOM_SPREAD_K = 1.5
"""Spread of a room that was not read about its design temperature."""

LOSS_SPREAD = 0.18
"""Relative spread of each room's loss about the calculated one: calculation, gains, air (common practice)."""

MIN_SPAN_K = 5.0
"""Minimum indoor-outdoor difference used in the calculation."""

MIN_SHARE = 0.02
"""A reading below this share of the expected flow counts as no flow."""


@dataclass(frozen=True)
class ReadingConditions:
    """Conditions of the day, and the readings.

    room_c by name with its error; source_c with its spread and origin; outdoor_c where the rooms were steady, else NaN.
    rows (M): rows of the model that were read; value (M) and error (M) of each in the form of the model.
    """

    room_c: Mapping[str, float]
    room_error_k: Mapping[str, float]
    source_c: float
    source_spread_k: float
    source_from: str
    outdoor_c: float
    rows: NDArray[np.intp]
    value: Array
    error: Array
    pump_setting_log: tuple[float, float] | None


def reading_conditions(
    site: CommissionedSite, loop_kg_s: Array, head_pa: float, readings: Readings
) -> ReadingConditions:
    """The day of these readings: loop_kg_s (L) and head_pa are those expected with the pump as designed."""
    rows = QuantityIndex.of(site.network, site.survey)
    rooms, errors = {}, {}
    for room in site.survey.rooms:
        read = readings.get(r.ROOM_TEMP, room.name)
        rooms[room.name] = room.indoor_c if read is None else read.value
        errors[room.name] = ROOM_SPREAD_K if read is None else read.error
    outdoor = readings.get(r.OUTDOOR_TEMP)
    steady = outdoor is not None and (readings.hours_running or 0.0) >= STEADY_H
    outdoor_c = outdoor.value if outdoor is not None and steady else math.nan
    source_c, spread, where = _source_c(site.system, readings)
    observed = [*_temperatures(site, rows, readings), *_flows(site, rows, readings, loop_kg_s, head_pa)]
    observed += _rooms(site, rows, readings, outdoor_c)
    setting = readings.get(r.PUMP_SETTING)
    pump = None
    if setting is not None:
        log = math.log(max(setting.value, 0.02 * head_pa / 1000.0) * 1000.0 / head_pa)
        pump = (log, max(setting.error / max(setting.value, 1e-9), 0.05))
    return ReadingConditions(
        room_c=rooms,
        room_error_k=errors,
        source_c=source_c,
        source_spread_k=spread,
        source_from=where,
        outdoor_c=outdoor_c,
        rows=np.array([row for row, _, _ in observed], dtype=np.intp),
        value=np.array([value for _, value, _ in observed], dtype=float),
        error=np.array([error for _, _, error in observed], dtype=float),
        pump_setting_log=pump,
    )


def _source_c(system: SizedSystem, readings: Readings) -> tuple[float, float, str]:
    """Expected flow temperature of the source, its spread in K and its origin."""
    setting = readings.get(r.SOURCE_SETTING)
    if setting is not None:
        return setting.value, math.hypot(setting.error, CONTROL_K), "the source's setting"
    weather, flow_c = system.survey.system.weather, system.survey.project.flow_temp_c
    outdoor = readings.get(r.OUTDOOR_TEMP)
    if weather.compensated and outdoor is not None:
        losses = [loss for loss in system.room_losses if loss.total_w > 0.0]
        inside_c = float(np.average([loss.indoor_c for loss in losses], weights=[loss.total_w for loss in losses]))
        exponent = float(np.mean([mean_exponent(system.survey, loop) for loop in system.survey.loops]))
        colder_c = min(outdoor.value, inside_c - 1.0)
        back_c = system.state.source_return_c
        part = compensated_temperatures(inside_c, colder_c, system.survey.project.outdoor_c, flow_c, back_c, exponent)
        return part.flow_c, UNREAD_SOURCE_K, "weather compensation"
    return flow_c, UNREAD_SOURCE_K, "the design"


Found = tuple[int, float, float]


def _temperatures(site: CommissionedSite, rows: QuantityIndex, readings: Readings) -> list[Found]:
    observed = []
    for i, path in enumerate(site.network.loops):
        name = path.loop.name
        both = (readings.get(r.FLOW_TEMP, name), readings.get(r.RETURN_TEMP, name))
        for read, row in zip(both, (rows.flow_temp(i), rows.return_temp(i)), strict=True):
            if read is not None:
                observed.append((row, read.value, read.error))
        arms = [a for a in range(len(site.network.arms)) if site.network.arm_loop[a] == i]
        for number, a in enumerate(arms, start=1):
            read = readings.get(r.RETURN_TEMP, name, number)
            if read is not None:
                observed.append((rows.arm_return(a), read.value, read.error))
    source, bias = readings.get(r.SOURCE_TEMP), readings.get(r.PROBE_BIAS)
    for read, row in ((source, rows.source_temp), (bias, rows.bias)):
        if read is not None:
            observed.append((row, read.value, read.error))
    return observed


def _flows(
    site: CommissionedSite, rows: QuantityIndex, readings: Readings, loop_kg_s: Array, head_pa: float
) -> list[Found]:
    """Flows and heads as logarithms of their share of the expected one."""
    observed = []
    density = site.fluid.density_kg_m3(site.supply_c(site.source_c))
    litres_h = loop_kg_s / density * 3.6e6
    for i, path in enumerate(site.network.loops):
        read = readings.get(r.FLOW, path.loop.name)
        if read is not None:
            observed.append((rows.flow(i), *_share(read.value, read.error, float(litres_h[i]))))
    total, head = readings.get(r.TOTAL_FLOW), readings.get(r.PUMP_HEAD)
    if total is not None and loops_on_own_pipe(site.network):
        observed.append((rows.total_flow, *_share(total.value, total.error, float(litres_h.sum()))))
    if head is not None:
        observed.append((rows.head, *_share(head.value, head.error, head_pa / 1000.0)))
    return observed


def loops_on_own_pipe(network: PipeNetwork) -> bool:
    """Whether the source's flow is that of the loops: no mixed circuits, no bypasses."""
    return len(network.circuits) == 1 and not network.bypasses


def _share(value: float, error: float, expected: float) -> tuple[float, float]:
    """Logarithm of a reading as a share of the expected value, and its error; a reading near zero only counts as
    low."""
    minimum = MIN_SHARE * expected
    if value <= 1.5 * minimum:
        return math.log(MIN_SHARE), 0.7
    return math.log(value / expected), max(error / value, 0.01)


def _rooms(site: CommissionedSite, rows: QuantityIndex, readings: Readings, outdoor_c: float) -> list[Found]:
    """Heat to steady rooms less their heat loss, as a share of the design's loss: zero is expected.

    Rooms with another emitter are left out: its heat is not calculated.
    """
    if math.isnan(outdoor_c):
        return []
    observed = []
    others = {site.network.locations[i].element.room for i in site.network.emitters.place}
    for room, loss in zip(rows.rooms, rows.losses_w(site.system), strict=True):
        read = readings.get(r.ROOM_TEMP, room)
        if read is not None and loss > 0.0 and room not in others:
            span = max(site.survey.room(room).indoor_c - site.survey.project.outdoor_c, MIN_SPAN_K)
            observed.append((rows.room(room), 0.0, math.hypot(LOSS_SPREAD, read.error / span)))
    return observed
