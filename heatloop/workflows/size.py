"""From a survey to a finished design: the steps in order, each a function of the one before."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pandas as pd

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.heat_loss.building_load import building_load
from heatloop.hydraulics.analysis.output_range import variant_outputs
from heatloop.hydraulics.analysis.pump_curves import pump_curves
from heatloop.hydraulics.from_survey import fluid_from, pumps_from
from heatloop.hydraulics.sizing.flow_iteration import TemperatureDropNotReachable
from heatloop.hydraulics.sizing.flows import MIN_DROP_K
from heatloop.hydraulics.sizing.size_system import prepare_system, size_system
from heatloop.hydraulics.sizing.sized_system import SizedSystem, SystemDuty
from heatloop.layout.build import validated_survey
from heatloop.layout.model import floor_areas_m2
from heatloop.physics.water import Fluid
from heatloop.results import assumptions
from heatloop.results.checks.design_checks import design_checks
from heatloop.results.design import DesignResult
from heatloop.results.tables import heat, loops_and_rooms, sensors
from heatloop.results.tables.glazing import glazing_table
from heatloop.results.tables.output_range import add_output_range, band_table, ratings_table
from heatloop.results.tables.pumps import curves_table, pumps_table
from heatloop.results.tables.summary import summary_figures
from heatloop.results.tables.valves import design_valves_table, loop_isolation_table
from heatloop.survey.survey import SurveyData
from heatloop.workflows.source_duty import held_flow_temp_c
from heatloop.workflows.verdict import design_verdict


def size_survey(survey: SurveyData | str | Path) -> DesignResult:
    """Choose flows and presettings for the duty of a survey, or of the survey in a file.

    Raises InputError, one line for each issue, if the survey cannot be sized.
    """
    return size_valid(validated_survey("size", survey))


def size_valid(survey: SurveyData) -> DesignResult:
    """The design of a survey that was checked, at other conditions too; InputError where it cannot be designed."""
    system = _sized(survey)
    project = survey.project
    plain = None if project.antifreeze is None else _sized(replace(survey, project=replace(project, antifreeze=None)))
    return _design(system, None if plain is None else plain.duty)


def _sized(survey: SurveyData) -> SizedSystem:
    """The sized system of a survey; InputError if a water temperature or a temperature drop cannot be reached."""
    fluid = fluid_from(survey)
    if survey.project.flow_temp_c > fluid.t_max_c:
        raise InputError([_too_hot(survey, fluid)])
    if faults := _small_drops(survey):
        raise InputError(faults)
    try:
        return size_system(prepare_system(survey))
    except TemperatureDropNotReachable as error:
        raise InputError([_out_of_reach(survey, error)]) from error


def _too_hot(survey: SurveyData, water: Fluid) -> InputIssue:
    required = f"at most {water.t_max_c:g} degrees C, the range of {water.name}"
    return survey.fault("project, flow_temp_c", f"{survey.project.flow_temp_c:g}", required)


def _small_drops(survey: SurveyData) -> list[InputIssue]:
    """Issues for temperature drops that would require more flow than any pipe passes."""
    own = [(f'loop "{loop.name}", delta_t_k', loop.delta_t_k) for loop in survey.loops if loop.delta_t_k is not None]
    given = [("project, delta_t_k", survey.project.delta_t_k), *own]
    required = f"at least {MIN_DROP_K:g} K: smaller differences cannot be measured on site"
    return [survey.fault(place, f"{drop_k:g} K", required) for place, drop_k in given if drop_k < MIN_DROP_K]


def _out_of_reach(survey: SurveyData, error: TemperatureDropNotReachable) -> InputIssue:
    place, found = f'loop "{error.loop}", delta_t_k', f"a design drop of {error.required_k:g} K"
    if error.greatest_k < MIN_DROP_K:
        return survey.fault(
            place, found, "warmer water: at this flow temperature no flow gives this loop a temperature drop"
        )
    return survey.fault(
        place,
        found,
        f"at most {error.greatest_k:.1f} K, the maximum of this loop at any flow: the channels pass heat to each other",
    )


def _design(system: SizedSystem, plain: SystemDuty | None) -> DesignResult:
    """The design of a sized system; `plain` is its duty without antifreeze, None if it contains none."""
    survey, layout, losses = system.survey, system.layout, system.room_losses
    load = building_load(survey, losses, floor_areas_m2(layout))
    frames = _frames(system)
    facts = summary_figures(system, load, frames, plain) | {"held_flow_temp_c": held_flow_temp_c(system)}
    frames["checks"] = design_checks(survey, frames, facts)
    frames["assumptions"] = assumptions.assumptions_table(survey, layout, losses, load)
    verdict = design_verdict(system, frames["rooms"], frames["checks"])
    facts |= {
        "verdict": verdict.outcome,
        "headline": verdict.headline,
        "checks_failed": len(verdict.fails),
        "checks_caution": len(verdict.cautions),
    }
    return DesignResult(system, frames, facts, verdict)


def _frames(system: SizedSystem) -> dict[str, pd.DataFrame]:
    """The tables of a sized system but for its checks and assumptions, and what has to be solved for them."""
    survey, layout, losses, state = system.survey, system.layout, system.room_losses, system.state
    sure = band_table(variant_outputs(survey, layout, state, system.fluid))
    density = system.fluid.density_kg_m3(state.circuit_c)
    curves = pump_curves(state, system.pumps, density, pumps_from(survey, state.network))
    return {
        "loops": loops_and_rooms.design_loops_table(system),
        "rooms": add_output_range(loops_and_rooms.rooms_table(layout, losses, state), sure),
        "elements": loops_and_rooms.elements_table(state),
        "valves": design_valves_table(system),
        "pumps": pumps_table(survey, state, system.pumps, [float(rho) for rho in density]),
        "pump_curves": curves_table(curves),
        "loop_isolation": loop_isolation_table(system),
        "remote_sensors": sensors.sensors_table(system),
        "temperature_profile": loops_and_rooms.temperature_profile_table(state),
        "heat_loss_parts": heat.losses_table(losses),
        "source_heat_balance": heat.source_heat_table(state),
        "glazing_comfort": glazing_table(survey, layout, state),
        "profile_ratings": ratings_table(survey, system.prepared.constants),
        "output_range": sure,
    }
