"""The weather curve of a design, solved with its valves as they are set."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from heatloop.findings.input_errors import InputError, InputIssue, is_number, quoted_value
from heatloop.handover.commissioning.conditions import exponent
from heatloop.hydraulics.analysis.flow_temperatures import open_system_at, required_flow_temps_c
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.layout.build import validated_survey
from heatloop.physics.weather_compensation import temperatures_at_share
from heatloop.results.decisions.weather_curve import CURVE, ROOM_CURVES, WeatherCurve
from heatloop.results.design import DesignResult
from heatloop.survey.editing import Survey
from heatloop.survey.survey import SurveyData
from heatloop.text.formatting import listing
from heatloop.text.table_set import table_frame
from heatloop.workflows.operating_point import losses_at
from heatloop.workflows.size import size_survey

Array = NDArray[np.float64]

GREATEST_FLOW_C = 90.0
"""Upper end of the search for a source without a stated maximum flow temperature."""

MILDEST_C, STEP_C = 15.0, 5.0
"""Usual outdoor temperatures: that of the design, then every 5 K up to 15 °C."""

OUTDOOR_C = (-60.0, 40.0)
"""Accepted outdoor temperatures, as in a survey."""


def max_flow_temp_c(survey: SurveyData) -> float:
    """Maximum flow temperature of the source, or the upper end of the search where the survey states none."""
    return survey.source.max_flow_temp_c or GREATEST_FLOW_C


@dataclass(frozen=True)
class WeatherLosses:
    """Heat losses in W of the heated rooms, linear in the outdoor temperature: at 0 °C, and per kelvin above it."""

    at_zero_w: dict[str, float]
    per_kelvin_w: dict[str, float]

    @classmethod
    def of(cls, system: SizedSystem) -> WeatherLosses:
        """The losses of a sized system, from those at its design outdoor temperature and at a colder one."""
        design_c = system.survey.project.outdoor_c
        mild_w, cold_w = _heated_losses_w(system, design_c), _heated_losses_w(system, design_c - STEP_C)
        slope = {room: (loss_w - cold_w[room]) / STEP_C for room, loss_w in mild_w.items()}
        return cls({room: loss_w - slope[room] * design_c for room, loss_w in mild_w.items()}, slope)

    def at(self, outdoor_c: float) -> dict[str, float]:
        """Heat loss in W of each heated room at an outdoor temperature; negative where the room gains heat."""
        return {room: loss_w + self.per_kelvin_w[room] * outdoor_c for room, loss_w in self.at_zero_w.items()}


def _heated_losses_w(system: SizedSystem, outdoor_c: float) -> dict[str, float]:
    survey = replace(system.survey, project=replace(system.survey.project, outdoor_c=outdoor_c))
    heated = system.survey.heated_rooms
    return {loss.room: loss.total_w for loss in losses_at(system, survey) if loss.room in heated}


def required_by_rooms_c(system: SizedSystem, required_w: dict[str, Array]) -> dict[str, Array]:
    """Flow temperature in °C at which each room has each of its required heats, W, with the valves as they are set.

    NaN: no heat required; inf: short at every flow temperature that the source can give.
    """
    rooms = list(required_w)
    coldest_c = min(system.survey.room(room).indoor_c for room in rooms)
    range_c = coldest_c, max_flow_temp_c(system.survey)
    found_c = required_flow_temps_c(system, rooms, np.array([required_w[room] for room in rooms]), range_c)
    return dict(zip(rooms, found_c, strict=True))


def weather_curve(system: DesignResult | Survey | str | Path, outdoor_c: Sequence[float] | None = None) -> WeatherCurve:
    """The lowest flow temperature by outdoor temperature, for the whole system and for each room.

    Valves stay at their nearest settings in the design, thermostatic valves are open, the pump is as commissioned.

    Parameters
    ----------
    system : Design, Survey, str or pathlib.Path
        A design, or a survey or its file, which is sized first.
    outdoor_c : sequence of float, optional
        Outdoor temperatures in °C; None uses that of the design and every 5 K above it up to 15 °C.

    Returns
    -------
    WeatherCurve

    Raises
    ------
    InputError
        If an outdoor temperature is out of range, or the survey cannot be sized.
    ArithmeticError
        If the equations of the system have no solution.

    See Also
    --------
    lowest_flow_temperature : The lowest flow temperature at design conditions.

    Notes
    -----
    Heat losses change with the weather as in EN 12831-1, without sun, people or heating-up. Each flow temperature is
    solved with the flows that result. The column `formula_flow_temp_c` of each room is a check.

    Examples
    --------
    >>> import heatloop as hl
    >>> curve = hl.weather_curve("data/mill-annexe/survey.toml")
    >>> curve.weather_curve["outdoor_c"].tolist()
    [-4.0, 0.0, 5.0, 10.0, 15.0]
    """
    design = system if isinstance(system, DesignResult) else size_survey(validated_survey("weather_curve", system))
    return curve_of(design.system, _outdoors(design.survey, outdoor_c))


def curve_of(system: SizedSystem, outdoors: Sequence[float]) -> WeatherCurve:
    """The weather curve of a sized system at these outdoor temperatures, coldest first."""
    losses = WeatherLosses.of(system)
    by_outdoor = [losses.at(outdoor_c) for outdoor_c in outdoors]
    losses_w = {room: np.array([loss_w[room] for loss_w in by_outdoor]) for room in by_outdoor[0]}
    rooms_c = required_by_rooms_c(system, losses_w)
    required_c = np.array(list(rooms_c.values()))
    highest_c = np.where(np.isnan(required_c), -np.inf, required_c)
    first = highest_c.argmax(axis=0)
    curve_c = np.where(np.isneginf(highest_c.max(axis=0)), np.nan, highest_c.max(axis=0))
    names = list(rooms_c)
    binding = [names[i] if np.isfinite(at) else "" for i, at in zip(first, curve_c, strict=True)]
    return_c = np.full(curve_c.size, np.nan)
    solved = np.isfinite(curve_c)
    if solved.any():
        return_c[solved] = open_system_at(system, curve_c[solved]).return_c
    curve = [
        (at, flow, room, back, sum(loss_w.values()))
        for at, flow, room, back, loss_w in zip(outdoors, _known(curve_c), binding, return_c, by_outdoor, strict=True)
    ]
    known_c = {room: _known(temps_c) for room, temps_c in rooms_c.items()}
    formula_c = _by_formula(system, losses_w, known_c)
    rooms = [
        (room, at, losses_w[room][i], own_c, _known(curve_c)[i] - own_c, by_formula_c, by_formula_c - own_c)
        for room in names
        for i, (at, own_c, by_formula_c) in enumerate(zip(outdoors, known_c[room], formula_c[room], strict=True))
    ]
    project, short = system.survey.project, [room for room in names if np.isinf(rooms_c[room][0])]
    facts = {
        "project": project.name,
        "design_outdoor_c": project.outdoor_c,
        "design_flow_temp_c": project.flow_temp_c,
        "max_flow_temp_c": max_flow_temp_c(system.survey),
        "short_rooms": listing(short) if short else "",
        "slope": _slope(outdoors, curve_c),
    }
    frames = {CURVE.name: table_frame(CURVE, curve), ROOM_CURVES.name: table_frame(ROOM_CURVES, rooms)}
    return WeatherCurve(frames, facts)


def _outdoors(survey: SurveyData, outdoor_c: Sequence[float] | None) -> list[float]:
    """The outdoor temperatures of a curve, coldest first; InputError with every fault of those given."""
    design_c = survey.project.outdoor_c
    if outdoor_c is None:
        steps = np.arange(math.floor(design_c / STEP_C) + 1, MILDEST_C / STEP_C + 1)
        return [design_c, *(float(step) * STEP_C for step in steps)]
    low, high = OUTDOOR_C
    if isinstance(outdoor_c, str) or not isinstance(outdoor_c, Sequence | np.ndarray) or len(outdoor_c) == 0:
        required = "a list of outdoor temperatures in °C"
        raise InputError([InputIssue("weather_curve", "outdoor_c", quoted_value(outdoor_c), required)])
    faults = [
        InputIssue("weather_curve", f"outdoor_c, number {place}", quoted_value(at), f"{low:g} to {high:g} °C")
        for place, at in enumerate(outdoor_c, start=1)
        if not is_number(at) or not low <= at <= high
    ]
    if faults:
        raise InputError(faults)
    return sorted({float(at) for at in outdoor_c})


def _by_formula(system: SizedSystem, losses_w: dict[str, Array], rooms_c: dict[str, Array]) -> dict[str, list[float]]:
    """Flow temperatures by the closed form, from the solved temperature of each room at the coldest."""
    first_c = np.array([temps_c[0] for temps_c in rooms_c.values()])
    return_c = np.full(first_c.size, np.nan)
    if np.isfinite(first_c).any():
        return_c[np.isfinite(first_c)] = open_system_at(system, first_c[np.isfinite(first_c)]).return_c
    n, by_formula = exponent(system), {}
    for room, flow_c, back_c in zip(rooms_c, first_c, return_c, strict=True):
        inside_c = system.survey.room(room).indoor_c
        known = losses_w[room][0] > 0.0 and inside_c < back_c <= flow_c
        by_formula[room] = [
            temperatures_at_share(loss_w / losses_w[room][0], inside_c, flow_c, back_c, n).flow_c
            if known and loss_w > 0.0
            else math.nan
            for loss_w in losses_w[room]
        ]
    return by_formula


def _slope(outdoors: Sequence[float], curve_c: Array) -> float:
    """Fall of the curve by the rise of the outdoor temperature, between its ends."""
    if len(outdoors) < 2 or not np.isfinite(curve_c[[0, -1]]).all():
        return math.nan
    return float((curve_c[0] - curve_c[-1]) / (outdoors[-1] - outdoors[0]))


def _known(temps_c: Array) -> Array:
    """NaN where a temperature is infinite."""
    return np.where(np.isfinite(temps_c), temps_c, np.nan)
