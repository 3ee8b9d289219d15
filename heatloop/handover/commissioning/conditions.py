"""Conditions of the day of commissioning."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.hydraulics.analysis.room_output import loop_heat
from heatloop.hydraulics.from_survey import mean_exponent
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.physics.weather_compensation import compensated_temperatures, load_share


@dataclass(frozen=True)
class CommissioningConditions:
    """Outdoor and flow temperature (°C), the share of the design load, and the origin of the flow temperature.

    Outdoor temperature and share are NaN where only the flow temperature is known.
    """

    outdoor_c: float
    flow_temp_c: float
    share: float
    how: str


READ, COMPENSATED, CONSTANT, DESIGN_DAY, HELD = (
    "read at the source",
    "by weather compensation",
    "constant: the source has no weather compensation",
    "design value, because no temperature of the day was entered",
    "the highest that the source can hold with all valves open",
)

OUTDOOR_C, WATER_C = (-60.0, 40.0), (0.1, 110.0)
"""Accepted temperatures of a day, as in a survey."""


def commissioning_conditions(
    system: SizedSystem, outdoor_c: float | None = None, flow_temp_c: float | None = None
) -> CommissioningConditions:
    """Conditions of the day of commissioning; values given here replace those of the survey.

    Raises InputError for impossible temperatures.
    """
    weather, project = system.survey.system.weather, system.survey.project
    arguments = (("outdoor_c", outdoor_c, OUTDOOR_C), ("flow_temp_c", flow_temp_c, WATER_C))
    faults = [
        InputIssue("commissioning", name, f"{value:g}", f"{low:g} to {high:g} °C")
        for name, value, (low, high) in arguments
        if value is not None and not low <= value <= high
    ]
    if flow_temp_c is not None and not faults and flow_temp_c <= warmest_room_c(system):
        required = f"above {warmest_room_c(system):g}, the warmest room: no return can be expected of such water"
        faults.append(InputIssue("commissioning", "flow_temp_c", f"{flow_temp_c:g}", required))
    if faults:
        raise InputError(faults)
    outdoor_c = weather.outdoor_c if outdoor_c is None else outdoor_c
    flow_temp_c = weather.flow_temp_c if flow_temp_c is None else flow_temp_c
    if outdoor_c is None:
        known = flow_temp_c is not None
        if known and flow_temp_c is not None:
            return CommissioningConditions(math.nan, flow_temp_c, math.nan, READ)
        return CommissioningConditions(project.outdoor_c, project.flow_temp_c, 1.0, DESIGN_DAY)
    if flow_temp_c is not None:
        share = load_share(indoor_c(system), outdoor_c, project.outdoor_c)
        return CommissioningConditions(outdoor_c, flow_temp_c, share, READ)
    return compensated_conditions(system, outdoor_c)


def within_source_output(today: CommissioningConditions, held_c: float | None) -> CommissioningConditions:
    """The day with water no warmer than `held_c`, what the source can hold with all valves open; None, or NaN where it
    is not known: as it is. A temperature that was read stays."""
    if held_c is None or today.how == READ or not held_c < today.flow_temp_c:
        return today
    return replace(today, flow_temp_c=held_c, how=HELD)


def compensated_conditions(system: SizedSystem, outdoor_c: float) -> CommissioningConditions:
    """Flow temperature at an outdoor temperature, with or without weather compensation."""
    project, inside_c = system.survey.project, indoor_c(system)
    if not system.survey.system.weather.compensated:
        share = load_share(inside_c, outdoor_c, project.outdoor_c)
        return CommissioningConditions(outdoor_c, project.flow_temp_c, share, CONSTANT)
    part = compensated_temperatures(
        inside_c, outdoor_c, project.outdoor_c, project.flow_temp_c, system.state.source_return_c, exponent(system)
    )
    return CommissioningConditions(outdoor_c, part.flow_c, part.share, COMPENSATED)


def indoor_c(system: SizedSystem) -> float:
    """Indoor temperature of the building in °C for weather compensation: mean of the rooms, weighted by heat loss."""
    losses = [loss for loss in system.room_losses if loss.total_w > 0.0]
    return float(np.average([loss.indoor_c for loss in losses], weights=[loss.total_w for loss in losses]))


def exponent(system: SizedSystem) -> float:
    """Exponent of all loops together: mean, weighted by output."""
    exponents = [mean_exponent(system.survey, loop) for loop in system.survey.loops]
    return float(np.average(exponents, weights=loop_heat(system.state).to_rooms_w))


def warmest_room_c(system: SizedSystem) -> float:
    """Temperature in °C of the warmest heated room."""
    heated = set(system.survey.heated_rooms)
    return max(room.indoor_c for room in system.survey.rooms if room.name in heated)
