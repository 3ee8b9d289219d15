"""Heat, energy and cost of a year: the operating point at each outdoor temperature, times its hours.

The flow temperature follows the weather curve. Rooms with a thermostatic valve get the heat that they require; losses
are those of the solved system. Between the solved outdoor temperatures, heats are linear.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from heatloop.findings.input_errors import InputError, InputIssue, check_given, number_faults
from heatloop.hydraulics.analysis.room_output import loop_heat, net_room_heat_w
from heatloop.hydraulics.analysis.thermostat_control import SensorDemand, ThermostaticValves, apply_thermostats
from heatloop.hydraulics.from_survey import sensor_demands_from, supply_temp_c
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.hydraulics.solver.operating_state import OperatingConditions
from heatloop.layout.build import validated_survey
from heatloop.physics.yearly.bins import degree_days
from heatloop.physics.yearly.performance import PerformanceGrid
from heatloop.physics.yearly.seasonal import bivalent_point_c, off_mode_kwh, season_energy
from heatloop.results.decisions.yearly_energy import YEAR_BINS, YearlyEnergy
from heatloop.results.design import DesignResult
from heatloop.survey.editing import Survey
from heatloop.survey.energy.model import Year
from heatloop.survey.read import read_year
from heatloop.text.table_set import table_frame
from heatloop.workflows.energy.weather_curve import WeatherLosses, max_flow_temp_c, required_by_rooms_c
from heatloop.workflows.size import size_survey

Array = NDArray[np.float64]

MAX_SOLVED = 6
"""Outdoor temperatures at which the system is solved with its thermostatic valves in control."""

CONTROLLED = 1e-4
"""Tolerance for rooms under control, as a share of their heat."""


def yearly_energy(
    system: DesignResult | Survey | str | Path, year: Year | str | Path, flow_temp_c: float | None = None
) -> YearlyEnergy:
    """Heat, energy and running cost of a year, from the weather, the source and the price of a year file.

    Parameters
    ----------
    system : Design, Survey, str or pathlib.Path
        A design, or a survey or its file, which is sized first.
    year : Year, str or pathlib.Path
        A year file (TOML) or what :func:`heatloop.read_year` reads from it: hours by outdoor temperature, efficiency of
        the source by outdoor and flow temperature, price. No weather, efficiency or price is built in.
    flow_temp_c : float, optional
        A constant flow temperature in °C; None: the weather curve of the system, or the design flow temperature if the
        survey states that the source has no weather compensation.

    Returns
    -------
    YearlyEnergy

    Raises
    ------
    InputError
        If the year file has faults (all are listed), does not contain the temperatures of the system, or the survey
        cannot be sized.
    ArithmeticError
        If the equations of the system have no solution.

    See Also
    --------
    read_year : Read a year file.
    weather_curve : The flow temperature by outdoor temperature.

    Notes
    -----
    Valves stay at their nearest settings in the design. Thermostatic valves are in control, so that a room with a valve
    of its own gets the heat that it requires. Back loss and pipe losses are those of the solved system. With `base_c`
    in the year file, sun and people cover the heat loss of each room at that outdoor temperature. Hot water and the
    energy of pumps are not included. Part load, backup and bivalent point are those of the bin method of EN 14825.

    Examples
    --------
    >>> import heatloop as hl
    >>> year = hl.yearly_energy("data/mill-annexe/survey.toml", "data/mill-annexe/year.toml")
    >>> bool(year.summary["energy_kwh"] > year.summary["source_heat_kwh"])  # a boiler
    True
    """
    check_given("yearly_energy", year=(year, Year | str | Path, "the path of a year file"))
    held = year if isinstance(year, Year) else read_year(year)
    design = system if isinstance(system, DesignResult) else size_survey(validated_survey("yearly_energy", system))
    if flow_temp_c is not None:
        _check_flow_temp(design.system, flow_temp_c)
    return _energy(design.system, held, flow_temp_c)


def _check_flow_temp(system: SizedSystem, flow_temp_c: float) -> None:
    """Raise InputError where a constant flow temperature is no number, or heats no room, or is no water."""
    faults = number_faults("yearly_energy", {"flow_temp_c": flow_temp_c})
    warmest_c, hottest_c = max(loss.indoor_c for loss in system.room_losses), system.fluid.t_max_c
    if not faults and not warmest_c < flow_temp_c <= hottest_c:
        required = f"above {warmest_c:g}, the warmest room, and at most {hottest_c:g} °C"
        faults = [InputIssue("yearly_energy", "flow_temp_c", f"{flow_temp_c:g}", required)]
    if faults:
        raise InputError(faults)


@dataclass(frozen=True, eq=False)
class _Season:
    """Outdoor temperatures, coldest first, with hours, flow temperature (NaN: no heating), and heats in W (N each)."""

    outdoor_c: Array
    hours: Array
    flow_temp_c: Array
    required_w: Array
    to_rooms_w: Array
    short_w: Array
    back_w: Array
    pipes_w: Array

    @property
    def source_w(self) -> Array:
        return np.asarray(self.to_rooms_w + self.back_w + self.pipes_w)


def _energy(system: SizedSystem, year: Year, flow_temp_c: float | None) -> YearlyEnergy:
    bins = sorted(year.bins, key=lambda one: one.outdoor_c)
    outdoor_c, hours = np.array([one.outdoor_c for one in bins]), np.array([one.hours for one in bins])
    constant_c = flow_temp_c
    if constant_c is None and not system.survey.system.weather.compensated:
        constant_c = system.survey.project.flow_temp_c
    season = _season(system, year, (outdoor_c, hours), constant_c)
    efficiency, capacity_kw = _performance(year, season)
    heat_kw = season.source_w / 1000.0
    energy = season_energy(heat_kw, hours, efficiency, capacity_kw, year.degradation)
    has_backup = year.backup_efficiency is not None
    backup_kwh = energy.short_kwh / (year.backup_efficiency or 1.0) * has_backup
    backup_price = year.price_per_kwh if year.backup_price_per_kwh is None else year.backup_price_per_kwh
    cost = energy.input_kwh * year.price_per_kwh + backup_kwh * backup_price
    heating = season.source_w > 0.0
    at_load = energy.source_kwh / np.where(energy.input_kwh > 0.0, energy.input_kwh, np.nan)
    load = np.where(heating & np.isfinite(capacity_kw), heat_kw / capacity_kw, np.nan)
    columns = (
        outdoor_c, hours, season.flow_temp_c, season.required_w, season.to_rooms_w, season.short_w, season.back_w,
        season.pipes_w, season.source_w, at_load, load,
        energy.required_kwh, energy.input_kwh, backup_kwh, energy.short_kwh * (not has_backup), cost,
    )  # fmt: skip
    frame = table_frame(YEAR_BINS, [tuple(map(float, row)) for row in zip(*columns, strict=True)])
    sums = {name: float(frame[name].sum()) for name in frame.columns}
    standby_kwh = off_mode_kwh(hours[~heating], np.full(int((~heating).sum()), year.standby_w))
    facts = _facts(system, year, season, sums, standby_kwh, constant_c) | {
        "bivalent_c": bivalent_point_c(outdoor_c[heating], heat_kw[heating], capacity_kw[heating])
    }
    return YearlyEnergy({YEAR_BINS.name: frame}, facts)


def _facts(
    system: SizedSystem, year: Year, season: _Season, sums: dict[str, float], standby_kwh: float,
    constant_c: float | None,
) -> dict[str, Any]:  # fmt: skip
    """Key figures without the bivalent point; `sums` of the columns."""
    project, weights = system.survey.project, season.source_w * season.hours
    energy_kwh = sums["energy_kwh"] + sums["backup_energy_kwh"] + standby_kwh
    base_c = year.base_c
    if base_c is None:
        base_c = sum(room.indoor_c for room in system.survey.rooms) / len(system.survey.rooms)
    flow_c = np.where(np.isnan(season.flow_temp_c), 0.0, season.flow_temp_c)
    constant = "weather curve" if constant_c is None else f"constant, {constant_c:g} °C"
    return {
        "project": project.name,
        "year": year.name,
        "currency": year.currency,
        "flow_temperature": constant,
        "source_heat_kwh": sums["source_heat_kwh"],
        "net_heat_to_rooms_kwh": float((season.to_rooms_w * season.hours).sum() / 1000.0),
        "max_shortage_w": float(season.short_w.max()),
        "loss_kwh": float(((season.back_w + season.pipes_w) * season.hours).sum() / 1000.0),
        "energy_kwh": sums["energy_kwh"],
        "backup_energy_kwh": sums["backup_energy_kwh"],
        "standby_energy_kwh": standby_kwh,
        "uncovered_heat_kwh": sums["uncovered_heat_kwh"],
        "cost": sums["cost"] + standby_kwh * year.price_per_kwh,
        "seasonal_performance": _ratio(sums["source_heat_kwh"] - sums["uncovered_heat_kwh"], energy_kwh),
        "mean_flow_temp_c": _ratio(float((flow_c * weights).sum()), float(weights.sum())),
        "heating_hours": float(season.hours[season.source_w > 0.0].sum()),
        "full_load_hours": _ratio(1000.0 * sums["source_heat_kwh"], float(season.source_w[0])),
        "degree_days": degree_days(season.outdoor_c, season.hours, base_c),
    }


def _ratio(value: float, by: float) -> float:
    return value / by if by > 0.0 else math.nan


def _season(system: SizedSystem, year: Year, bins: tuple[Array, Array], constant_c: float | None) -> _Season:
    """The season with its flow temperatures and heats: solved at some outdoor temperatures, linear between them."""
    outdoor_c, hours = bins
    losses = WeatherLosses.of(system)
    covered = {} if year.base_c is None else losses.at(year.base_c)

    def required_at(at_c: float) -> dict[str, float]:
        return {room: max(loss_w - max(covered.get(room, 0.0), 0.0), 0.0) for room, loss_w in losses.at(at_c).items()}

    required = [required_at(float(at)) for at in outdoor_c]
    required_w = np.array([sum(rooms.values()) for rooms in required])
    heated = required_w > 0.0
    flow_c = np.full(outdoor_c.size, np.nan)
    heats = np.zeros((4, outdoor_c.size))
    if heated.any():
        heated_c = outdoor_c[heated]
        solved_c = heated_c if heated_c.size <= MAX_SOLVED else np.linspace(heated_c[0], heated_c[-1], MAX_SOLVED)
        flow_c[heated] = _flow_temps_c(system, losses, heated_c, constant_c)
        at_solved_c = _flow_temps_c(system, losses, solved_c, constant_c)
        solved = np.array(
            [
                _heats_w(system, float(flow), required_at(float(at)))
                for at, flow in zip(solved_c, at_solved_c, strict=True)
            ]
        ).T
        heats[:, heated] = [np.interp(heated_c, solved_c, row) for row in solved]
    return _Season(outdoor_c, hours, flow_c, required_w, *heats)


def _flow_temps_c(system: SizedSystem, losses: WeatherLosses, outdoor_c: Array, constant_c: float | None) -> Array:
    """Flow temperature at each outdoor temperature: constant, or of the weather curve, at most that of the source."""
    if constant_c is not None:
        return np.full(outdoor_c.size, constant_c)
    by_outdoor = [losses.at(float(at)) for at in outdoor_c]
    required_w = {room: np.array([loss_w[room] for loss_w in by_outdoor]) for room in by_outdoor[0]}
    by_room = np.array(list(required_by_rooms_c(system, required_w).values()))
    return np.asarray(np.minimum(np.nanmax(by_room, axis=0), max_flow_temp_c(system.survey)))


def _heats_w(
    system: SizedSystem, flow_temp_c: float, required_w: dict[str, float]
) -> tuple[float, float, float, float]:
    """Net heat to rooms, shortage of rooms, back loss and other losses in W, with thermostatic valves in control."""
    survey, achieved = system.survey, system.achieved
    demands = {
        loop: SensorDemand(demand.room, required_w.get(demand.room, 0.0))
        for loop, demand in sensor_demands_from(survey, system.room_losses).items()
    }
    supply_c = np.array([supply_temp_c(survey, loop, flow_temp_c) for loop in survey.loops])
    state = apply_thermostats(
        achieved.network,
        OperatingConditions(supply_c, system.pumps, source_c=flow_temp_c),
        system.fluid,
        ThermostaticValves(demands),
        initial_guess=achieved,
        tolerance=CONTROLLED,
    )
    heat = loop_heat(state)
    to_rooms_w, net_w = float(heat.to_rooms_w.sum()), float(heat.net_to_rooms_w.sum())
    by_room = net_room_heat_w(state)
    short_w = sum(max(heat_w - by_room.get(room, 0.0), 0.0) for room, heat_w in required_w.items())
    return net_w, short_w, to_rooms_w - net_w, state.given_w - to_rooms_w


def _performance(year: Year, season: _Season) -> tuple[Array, Array]:
    """Efficiency and capacity in kW at each outdoor temperature; 1 and no limit where there is no heating.

    InputError where the table has no row as cold as the weather, or no water as warm as the system requires.
    """
    grid = _grid(year)
    heated = season.source_w > 0.0
    faults = []
    if heated.any():
        coldest_c, warmest_c = season.outdoor_c[heated].min(), season.flow_temp_c[heated].max()
        if coldest_c < grid.outdoor_c[0]:
            required = f"rows from {coldest_c:g} °C outdoors on, the coldest hours with heating"
            faults.append(
                InputIssue(year.file, "performance", f"rows from {grid.outdoor_c[0]:g} °C outdoors", required)
            )
        if warmest_c > grid.flow_temp_c[-1]:
            required = f"rows up to {warmest_c:.1f} °C, the highest of this system"
            faults.append(
                InputIssue(
                    year.file, "performance", f"rows up to a flow temperature of {grid.flow_temp_c[-1]:g} °C", required
                )
            )
    if faults:
        raise InputError(faults)
    found = [
        grid.at(float(at), float(flow)) if runs else (1.0, math.inf)
        for at, flow, runs in zip(season.outdoor_c, season.flow_temp_c, heated, strict=True)
    ]
    return np.array([one for one, _ in found]), np.array([most for _, most in found])


def _grid(year: Year) -> PerformanceGrid:
    outdoor_c = sorted({point.outdoor_c for point in year.performance})
    flow_c = sorted({point.flow_temp_c for point in year.performance})
    by_pair = {(point.outdoor_c, point.flow_temp_c): point for point in year.performance}
    rows: Sequence[Sequence[Any]] = [[by_pair[at, flow] for flow in flow_c] for at in outdoor_c]
    capacity = [[point.capacity_kw for point in row] for row in rows]
    has_capacity = capacity[0][0] is not None
    return PerformanceGrid(
        np.array(outdoor_c),
        np.array(flow_c),
        np.array([[point.efficiency for point in row] for row in rows]),
        np.array(capacity, float) if has_capacity else None,
    )
