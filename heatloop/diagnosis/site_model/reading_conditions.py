"""Conditions of the readings: rooms, weather and water, and the readings as values of the model."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.diagnosis import readings as r
from heatloop.diagnosis.readings import Reading, Readings
from heatloop.diagnosis.site_model.as_commissioned import CommissionedSite
from heatloop.diagnosis.site_model.quantity_index import QuantityIndex, SurfaceLocation
from heatloop.hydraulics.from_survey import mean_exponent
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.physics.weather_compensation import compensated_temperatures

Array = NDArray[np.float64]

STEADY_H = 24.0
"""Hours after which rooms are assumed steady; a stone house requires longer (common practice)."""

CONTROL_K = 0.7
"""Deviation of a source from its setting, by its hysteresis (common practice)."""

UNREAD_SOURCE_K = 4.0
"""Deviation of a setting that was not read from the one asked for: users and fitters change it (common practice)."""

BIAS_K = 2.0
"""Spread of the bias that all readings of one surface probe share where it was not compared: 1 to 3 K either way."""

ROOM_SPREAD_K = 1.5
"""Spread of a room that was not read about its design temperature."""

LOSS_SPREAD = 0.18
"""Relative spread of each room's loss about the calculated one: calculation, gains, air (common practice)."""

MIN_SPAN_K = 5.0
"""Minimum indoor-outdoor difference used in the calculation."""

MIN_HEAD_PA = 100.0
"""A pump that is expected to give less moves only what mixed circuits draw: readings of its head are left out."""

MIN_SHARE = 0.02
"""A reading below this share of the expected flow counts as no flow."""


@dataclass(frozen=True)
class ReadingConditions:
    """Conditions of the day, and the readings.

    room_c by name with its error; source_c with the spread of its control, that of a setting that was not read (0 where
    it was) and its origin; outdoor_c where the rooms were steady, else NaN.
    rows (M): rows of the model that were read; value (M) and error (M) of each in the form of the model.
    """

    room_c: Mapping[str, float]
    room_error_k: Mapping[str, float]
    source_c: float
    source_spread_k: float
    setting_spread_k: float
    source_from: str
    outdoor_c: float
    rows: NDArray[np.intp]
    value: Array
    error: Array
    pump_setting_log: tuple[float, float] | None


def reading_conditions(
    site: CommissionedSite, rows: QuantityIndex, loop_kg_s: Array, head_pa: float, readings: Readings
) -> ReadingConditions:
    """The day of these readings: loop_kg_s (L) and head_pa are those expected with the pump as designed."""
    rooms, errors = {}, {}
    for room in site.survey.rooms:
        read = readings.get(r.ROOM_TEMP, room.name)
        rooms[room.name] = room.indoor_c if read is None else read.value
        errors[room.name] = ROOM_SPREAD_K if read is None else read.error
    outdoor = readings.get(r.OUTDOOR_TEMP)
    steady = outdoor is not None and (readings.hours_running or 0.0) >= STEADY_H
    outdoor_c = outdoor.value if outdoor is not None and steady else math.nan
    source_c, spread, unread, where = _source_c(site.system, readings)
    observed = [*_temperatures(site, rows, readings), *_flows(site, rows, readings, loop_kg_s, head_pa)]
    observed += _rooms(site, rows, readings, outdoor_c)
    for item, location in surfaces_read(site.network, readings):
        observed.append((rows.surface(location), item.value, item.error))
    setting = readings.get(r.PUMP_SETTING)
    pump = None
    if setting is not None and head_pa >= MIN_HEAD_PA:
        log = math.log(max(setting.value, 0.02 * head_pa / 1000.0) * 1000.0 / head_pa)
        pump = (log, max(setting.error / max(setting.value, 1e-9), 0.05))
    return ReadingConditions(
        room_c=rooms,
        room_error_k=errors,
        source_c=source_c,
        source_spread_k=spread,
        setting_spread_k=unread,
        source_from=where,
        outdoor_c=outdoor_c,
        rows=np.array([row for row, _, _ in observed], dtype=np.intp),
        value=np.array([value for _, value, _ in observed], dtype=float),
        error=np.array([error for _, _, error in observed], dtype=float),
        pump_setting_log=pump,
    )


def _source_c(system: SizedSystem, readings: Readings) -> tuple[float, float, float, str]:
    """Expected flow temperature of the source, the spread in K of its control and of its setting, and its origin.

    Where the setting was not read, it is assumed between that of the design and that of weather compensation.
    """
    setting = readings.get(r.SOURCE_SETTING)
    if setting is not None:
        return setting.value, math.hypot(setting.error, CONTROL_K), 0.0, "the source's setting"
    asked_c, where = system.survey.project.flow_temp_c, "the design"
    weather, outdoor = system.survey.system.weather, readings.get(r.OUTDOOR_TEMP)
    other_c = asked_c
    if weather.compensated and outdoor is not None:
        other_c, where = _compensated_c(system, outdoor.value), "the design and weather compensation"
    half_k = 0.5 * (other_c - asked_c)
    return asked_c + half_k, CONTROL_K, math.hypot(UNREAD_SOURCE_K, half_k), where


def _compensated_c(system: SizedSystem, outdoor_c: float) -> float:
    """Flow temperature that weather compensation gives at this outdoor temperature."""
    losses = [loss for loss in system.room_losses if loss.total_w > 0.0]
    inside_c = float(np.average([loss.indoor_c for loss in losses], weights=[loss.total_w for loss in losses]))
    exponent = float(np.mean([mean_exponent(system.survey, loop) for loop in system.survey.loops]))
    ends_c = system.survey.project.flow_temp_c, system.state.source_return_c
    colder_c = min(outdoor_c, inside_c - 1.0)
    return compensated_temperatures(inside_c, colder_c, system.survey.project.outdoor_c, *ends_c, exponent).flow_c


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


def surfaces_read(network: PipeNetwork, readings: Readings) -> list[tuple[Reading, SurfaceLocation]]:
    """Readings of surfaces with their locations; a label that a loop has twice is the first in water order.

    Raises ValueError for a place that the network does not have.
    """
    return [(item, _location(network, item)) for item in readings.items if item.quantity == r.SURFACE_TEMP]


def _location(network: PipeNetwork, item: Reading) -> SurfaceLocation:
    own = [a for a in range(len(network.arms)) if network.loops[network.arm_loop[a]].loop.name == item.of]
    for arm in [own[item.arm - 1]] if 0 < item.arm <= len(own) else own:
        path = network.arms[arm]
        for cell, label in [*enumerate(cell.label for cell in path.cells), (-1, r.FAR_END)]:
            if label == item.piece and 0 < item.channel <= len(path.directions):
                return SurfaceLocation(arm, cell, item.channel - 1)
    found = f'loop "{item.of}", arm {item.arm}, channel {item.channel}, piece "{item.piece}"'
    raise ValueError(f"surface temperature: found {found}; required: a place of the design")


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
    if head is not None and head_pa >= MIN_HEAD_PA:
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
