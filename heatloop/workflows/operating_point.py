"""Operating point of a sized system at given pump, settings, flow temperature and weather, with thermostatic control.

Rooms are at their temperatures. A thermostatic valve passes the flow that its room requires, up to its maximum.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from heatloop.heat_loss.building_load import building_load_w
from heatloop.heat_loss.model import RoomLoss
from heatloop.heat_loss.rooms import room_losses
from heatloop.hydraulics.analysis.thermostat_control import SensorDemand, ThermostaticValves, apply_thermostats
from heatloop.hydraulics.from_survey import fluid_from, network_from, pumps_from, sensor_demands_from, supply_temp_c
from heatloop.hydraulics.loop_paths import loop_paths
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.pumps import PumpCharacteristic, pump_as_commissioned
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.hydraulics.sizing.valve_settings import valve_locations
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState
from heatloop.layout.build import validated_survey
from heatloop.layout.model import floor_areas_m2
from heatloop.physics.water import Fluid
from heatloop.results.checks.operating_checks import operating_checks
from heatloop.results.design import DesignResult
from heatloop.results.operating_point import OperatingPoint
from heatloop.results.tables import loops_and_rooms, operating_point
from heatloop.results.tables.pumps import pumps_table
from heatloop.survey.editing import Survey
from heatloop.survey.survey import SurveyData
from heatloop.text.table_set import TablesOnDemand
from heatloop.workflows.operating_conditions import (
    RequestedConditions,
    Settings,
    check_arguments,
    check_conditions,
    pump_from_argument,
    settings_kv,
    survey_at_conditions,
)
from heatloop.workflows.size import size_survey


def simulate(
    system: DesignResult | Survey | str | Path,
    *,
    flow_temp_c: float | None = None,
    outdoor_c: float | None = None,
    room_c: float | Mapping[str, float] | None = None,
    pump_speed: float | None = None,
    pump_head_kpa: float | None = None,
    proportional_m3_h: float | None = None,
    settings: Settings = "nearest",
    isolated_loops: Collection[str] = (),
    thermostats: bool = True,
) -> OperatingPoint:
    """The operating point of a system at conditions other than those of its design.

    Rooms are at their temperatures. A thermostatic valve passes the flow that its room requires, up to its maximum.

    Parameters
    ----------
    system : Design, Survey, str or pathlib.Path
        A design, or a survey or its file, which is sized first.
    flow_temp_c : float, optional
        Flow temperature at the source in °C; None: that of the design.
    outdoor_c : float, optional
        Outdoor temperature in °C; None: that of the design.
    room_c : float or mapping of str to float, optional
        Room temperature in °C, one for all rooms or by room; None: those of the design.
    pump_speed : float, optional
        Speed of the source's pump as a share of full speed; None: as the survey states, else as commissioned.
    pump_head_kpa : float, optional
        Head in kPa that the source's pump keeps.
    proportional_m3_h : float, optional
        Proportional control: the head is `pump_head_kpa` at this flow in m³/h, and falls to half of that head at zero
        flow.
    settings : {"nearest", "calculated"} or mapping, default "nearest"
        Valve settings: the nearest settings, the calculated settings, or settings by the name of a valve (all of that
        kind), by (loop, side) or by (loop, side, arm); valves that a mapping leaves out are at their nearest setting.
    isolated_loops : collection of str, default ()
        Loops that are isolated by hand.
    thermostats : bool, default True
        Whether thermostatic valves control; otherwise they are open to their stated Kv.

    Returns
    -------
    OperatingPoint

    Raises
    ------
    InputError
        If a condition contains an unknown name or is out of range. Every issue is listed.
    ArithmeticError
        If the equations of the system have no solution.

    Examples
    --------
    >>> import heatloop as hl
    >>> mild = hl.simulate("data/mill-annexe/survey.toml", outdoor_c=8.0)
    >>> mild.loops["loop"].tolist()
    ['Annexe']
    """
    requested = RequestedConditions(
        flow_temp_c, outdoor_c, room_c, settings, isolated_loops, thermostats,
        pump_speed, pump_head_kpa, proportional_m3_h,
    )  # fmt: skip
    check_arguments(requested)
    design = system if isinstance(system, DesignResult) else size_survey(validated_survey("simulate", system))
    survey = survey_at_conditions(design.survey, requested)
    check_conditions(survey, _heated(design.system), requested, fluid_from(survey))
    return _operating_point(design, solve_conditions(design.system, survey, requested))


@dataclass(frozen=True, eq=False)
class SolvedConditions:
    """A sized system at other conditions: the changed survey, its losses, the solved state and the pumps."""

    survey: SurveyData
    losses: tuple[RoomLoss, ...]
    fluid: Fluid
    state: SystemState
    pumps: tuple[PumpCharacteristic, ...]


def solve_conditions(system: SizedSystem, survey: SurveyData, conditions: RequestedConditions) -> SolvedConditions:
    """Solve a sized system at the temperatures of `survey`, with the requested conditions.

    Requested are pump, settings, isolated loops and thermostats. Apart from its temperatures, `survey` is that of the
    system. Raises ArithmeticError if the equations have no solution.
    """
    fluid = fluid_from(survey)
    paths = loop_paths(survey, system.layout)
    table = system.state.network.elements
    network = network_from(survey, paths, table.table)
    exact = {place: float(table.kv_m3_h[place]) for place in valve_locations(network)}
    network = network.with_kv(settings_kv(network, exact, conditions.settings, survey.catalogue))
    losses = losses_at(system, survey)
    source_c = survey.project.flow_temp_c
    supply_c = np.array([supply_temp_c(survey, loop, source_c) for loop in survey.loops])
    pumps = _pumps(system, network, conditions, fluid)
    state = apply_thermostats(
        network,
        OperatingConditions(supply_c, pumps, source_c=source_c),
        fluid,
        ThermostaticValves(
            sensor_demands_from(survey, losses) if conditions.thermostats else {},
            np.array([loop.name in set(conditions.isolated_loops) for loop in survey.loops]),
        ),
        initial_guess=system.state,
    )
    return SolvedConditions(survey, losses, fluid, state, pumps)


def _heated(system: SizedSystem) -> set[str]:
    """The rooms with skirting or another emitter."""
    others = {item.room for loop in system.survey.loops for item in loop.emitters}
    return others | {cell.room for arm in system.state.network.arms for cell in arm.cells if cell.skirting}


def losses_at(system: SizedSystem, survey: SurveyData) -> tuple[RoomLoss, ...]:
    """Heat losses at the temperatures of `survey`; stated losses scale with the indoor-outdoor difference."""
    own = system.survey
    if survey.rooms == own.rooms and survey.project.outdoor_c == own.project.outdoor_c:
        return system.room_losses
    losses = []
    for loss in room_losses(survey, floor_areas_m2(system.layout)):
        if loss.loss_source is not None:
            before_k = own.room(loss.room).indoor_c - own.project.outdoor_c
            difference_k = survey.room(loss.room).indoor_c - survey.project.outdoor_c
            loss = replace(loss, total_w=max(loss.total_w * difference_k / before_k, 0.0))
        losses.append(loss)
    return tuple(losses)


def _pumps(
    system: SizedSystem, network: PipeNetwork, conditions: RequestedConditions, fluid: Fluid
) -> tuple[PumpCharacteristic, ...]:
    """Characteristics of all pumps: of the source by the conditions; of others as stated or as commissioned."""
    state = system.state
    density = fluid.density_kg_m3(state.circuit_c)
    characteristics = [
        pump_as_commissioned(curve, float(flow / rho), float(head))
        for curve, flow, rho, head in zip(
            pumps_from(system.survey, network), state.circuit_flow_kg_s, density, state.circuit_head_pa, strict=True
        )
    ]
    if conditions.pump:
        characteristics[0] = pump_from_argument(system.survey.source.pump, conditions)
    return tuple(characteristics)


def _operating_point(design: DesignResult, solved: SolvedConditions) -> OperatingPoint:
    figures = _OperatingFigures(design, solved)
    return OperatingPoint(solved.survey, design.layout, solved.losses, solved.state, figures.frames, figures.facts)


@dataclass(frozen=True, eq=False)
class _OperatingFigures:
    """Tables and summary of solved conditions of a design, each calculated when first used."""

    design: DesignResult
    solved: SolvedConditions

    @cached_property
    def frames(self) -> TablesOnDemand:
        """The tables by name."""
        return TablesOnDemand(self, TABLES)

    @cached_property
    def facts(self) -> dict[str, Any]:
        """The key figures."""
        solved = self.solved
        load_w = building_load_w(solved.survey, solved.losses, floor_areas_m2(self.design.layout))
        return operating_point.operating_summary(
            solved.survey, solved.losses, solved.state, self.frames, self.pump_densities_kg_m3[0], load_w
        )

    @cached_property
    def demands(self) -> dict[int, SensorDemand]:
        """The room of the sensor of each controlled loop, by the index of the loop."""
        return sensor_demands_from(self.solved.survey, self.solved.losses)

    @cached_property
    def pump_densities_kg_m3(self) -> list[float]:
        """Density of the water at the pump of each circuit, (P)."""
        return [float(rho) for rho in self.solved.fluid.density_kg_m3(self.solved.state.circuit_c)]


def _loops(figures: _OperatingFigures) -> pd.DataFrame:
    return operating_point.operating_loops_table(figures.solved.state, figures.design.operation, figures.demands)


def _rooms(figures: _OperatingFigures) -> pd.DataFrame:
    solved = figures.solved
    rooms = loops_and_rooms.rooms_table(figures.design.layout, solved.losses, solved.state)
    return operating_point.add_sensor_rooms(rooms, solved.state, figures.demands)


def _elements(figures: _OperatingFigures) -> pd.DataFrame:
    return loops_and_rooms.elements_table(figures.solved.state)


def _valves(figures: _OperatingFigures) -> pd.DataFrame:
    return operating_point.operating_valves_table(figures.solved.survey, figures.solved.state)


def _pumps_table(figures: _OperatingFigures) -> pd.DataFrame:
    solved = figures.solved
    return pumps_table(solved.survey, solved.state, solved.pumps, figures.pump_densities_kg_m3)


def _temperature_profile(figures: _OperatingFigures) -> pd.DataFrame:
    return loops_and_rooms.temperature_profile_table(figures.solved.state)


def _checks(figures: _OperatingFigures) -> pd.DataFrame:
    return operating_checks(figures.solved.survey, figures.frames, figures.facts)


TABLES: dict[str, Callable[[_OperatingFigures], pd.DataFrame]] = {
    "loops": _loops,
    "rooms": _rooms,
    "elements": _elements,
    "valves": _valves,
    "pumps": _pumps_table,
    "temperature_profile": _temperature_profile,
    "checks": _checks,
}
"""How each table of an operating point is made, in the order of its tables."""
