"""From a survey to a complete design: the steps in order, each a function of the one before."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from heatloop.findings.input_errors import InputError, InputIssue
from heatloop.findings.verdict import Verdict
from heatloop.heat_loss.building_load import BuildingLoad, building_load
from heatloop.hydraulics.analysis.output_range import variant_outputs
from heatloop.hydraulics.analysis.pump_curves import pump_curves
from heatloop.hydraulics.from_survey import fluid_from, pumps_from
from heatloop.hydraulics.sizing.flow_iteration import TemperatureDropNotReachable
from heatloop.hydraulics.sizing.flows import MIN_DROP_K
from heatloop.hydraulics.sizing.size_system import prepare_system, size_system
from heatloop.hydraulics.sizing.sized_system import SizedSystem, SystemDuty
from heatloop.hydraulics.solver.coupled import FlowReversed
from heatloop.layout.build import validated_survey
from heatloop.layout.model import floor_areas_m2
from heatloop.physics.water import Fluid
from heatloop.results.assumptions import assumptions_table
from heatloop.results.checks.design_checks import design_checks
from heatloop.results.design import DesignResult
from heatloop.results.tables import heat, loops_and_rooms, sensors
from heatloop.results.tables.glazing import glazing_table
from heatloop.results.tables.output_range import add_output_range, output_range_table, ratings_table
from heatloop.results.tables.pumps import curves_table, pumps_table
from heatloop.results.tables.summary import summary_figures
from heatloop.results.tables.valves import design_valves_table, loop_isolation_table
from heatloop.survey.survey import SurveyData
from heatloop.text.table_set import TablesOnDemand
from heatloop.workflows.source_duty import held_flow_temp_c, warm_flow_temp_c
from heatloop.workflows.verdict import design_verdict


def size_survey(survey: SurveyData | str | Path, initial_guess: SizedSystem | None = None) -> DesignResult:
    """Choose flows and presettings for the duty of a survey, or of the survey in a file.

    `initial_guess`: a system sized for other conditions, from which the iteration starts. Raises InputError, with one
    line for each issue, if the survey cannot be sized.
    """
    known = None if initial_guess is None else initial_guess.survey
    return size_valid(validated_survey("size", survey, known), initial_guess)


def size_valid(survey: SurveyData, initial_guess: SizedSystem | None = None) -> DesignResult:
    """The design of a checked survey, also at other conditions; InputError where it cannot be designed."""
    return design_of(balanced_system(survey, initial_guess))


def balanced_system(survey: SurveyData, initial_guess: SizedSystem | None = None) -> SizedSystem:
    """The sized system of a checked survey, as from `sized_system`; InputError also if flow is reversed in a bypass."""
    system = sized_system(survey, initial_guess)
    if (bypass := system.reversed_bypass) is not None:
        raise InputError([_reversed_bypass(survey, bypass)])
    return system


def design_of(system: SizedSystem) -> DesignResult:
    """The design of a sized system."""
    survey, project = system.survey, system.survey.project
    plain = None
    if project.antifreeze is not None:
        plain = sized_system(replace(survey, project=replace(project, antifreeze=None)), initial_guess=system)
    return DesignResult(system, DesignFigures(system, None if plain is None else plain.duty))


def sized_system(survey: SurveyData, initial_guess: SizedSystem | None = None) -> SizedSystem:
    """The sized system of a checked survey; InputError if a water temperature or a drop cannot be reached,
    or if flow is reversed in a loop."""
    check_duty(survey, fluid_from(survey))
    try:
        return size_system(
            prepare_system(survey, None if initial_guess is None else initial_guess.prepared), initial_guess
        )
    except TemperatureDropNotReachable as error:
        raise InputError([_out_of_reach(survey, error)]) from error
    except FlowReversed as error:
        raise InputError([_reversed(survey, error)]) from error


def check_duty(survey: SurveyData, fluid: Fluid) -> None:
    """Raise InputError if the water cannot be as hot as required, or a temperature drop is too small."""
    if survey.project.flow_temp_c > fluid.t_max_c:
        raise InputError([_too_hot(survey, fluid)])
    if faults := _small_drops(survey):
        raise InputError(faults)


def _reversed_bypass(survey: SurveyData, name: str) -> InputIssue:
    return survey.fault(
        f'bypass "{name}"',
        "flow from the return pipe to the flow pipe, driven by buoyancy or by the pumps of other circuits",
        "an opening pressure (opens_at_kpa), so that it closes, or a higher pump head",
    )


def _reversed(survey: SurveyData, error: FlowReversed) -> InputIssue:
    return survey.fault(
        f'loop "{error.loop}"',
        "flow from its return to its flow pipe, driven by the pumps of other loops",
        "a balancing valve in every loop, or shared pipes wide enough for the flow of loops without one",
    )


def _too_hot(survey: SurveyData, fluid: Fluid) -> InputIssue:
    required = f"at most {fluid.t_max_c:g} °C, the range of {fluid.name}"
    return survey.fault("project, flow_temp_c", f"{survey.project.flow_temp_c:g}", required)


def _small_drops(survey: SurveyData) -> list[InputIssue]:
    """Issues for temperature drops that would require more flow than any pipe can carry."""
    own = [(f'loop "{loop.name}", delta_t_k', loop.delta_t_k) for loop in survey.loops if loop.delta_t_k is not None]
    stated = [("project, delta_t_k", survey.project.delta_t_k), *own]
    required = f"at least {MIN_DROP_K:g} K: smaller differences cannot be measured on site"
    return [survey.fault(place, f"{drop_k:g} K", required) for place, drop_k in stated if drop_k < MIN_DROP_K]


def _out_of_reach(survey: SurveyData, error: TemperatureDropNotReachable) -> InputIssue:
    place, found = f'loop "{error.loop}", delta_t_k', f"a design drop of {error.required_k:g} K"
    if error.max_drop_k < MIN_DROP_K:
        return survey.fault(
            place, found, "warmer water: at this flow temperature no flow gives this loop a temperature drop"
        )
    return survey.fault(
        place,
        found,
        f"at most {error.max_drop_k:.1f} K: with less flow the water of this loop cools no further, "
        "because its channels pass heat to each other",
    )


@dataclass(frozen=True, eq=False)
class DesignFigures:
    """Tables, summary and verdict of a sized system, each calculated when first used.

    `plain` is its duty without antifreeze; None if it contains none.
    """

    system: SizedSystem
    plain: SystemDuty | None

    @cached_property
    def frames(self) -> TablesOnDemand:
        """The tables by name."""
        return TablesOnDemand(self, TABLES)

    @cached_property
    def facts(self) -> dict[str, Any]:
        """The key figures."""
        verdict = self.verdict
        return self.duty_facts | {
            "verdict": verdict.outcome,
            "headline": verdict.headline,
            "checks_failed": len(verdict.fails),
            "checks_caution": len(verdict.cautions),
        }

    @cached_property
    def verdict(self) -> Verdict:
        """Whether the design is ready."""
        return design_verdict(self.system, self.frames["rooms"], self.frames["checks"])

    @cached_property
    def duty_facts(self) -> dict[str, Any]:
        """The key figures without those of the verdict."""
        facts = summary_figures(self.system, self.load, self.frames, self.plain)
        warm_c, warm_w = warm_flow_temp_c(self.system) or (None, None)
        return facts | {
            "held_flow_temp_c": held_flow_temp_c(self.system),
            "warm_flow_temp_c": warm_c,
            "warm_source_heat_w": warm_w,
        }

    @cached_property
    def load(self) -> BuildingLoad:
        """The load of the whole building."""
        system = self.system
        return building_load(system.survey, system.room_losses, floor_areas_m2(system.layout))

    @cached_property
    def pump_densities_kg_m3(self) -> NDArray[np.float64]:
        """Density of the water at the pump of each circuit, (P)."""
        return self.system.fluid.density_kg_m3(self.system.state.circuit_c)


def _rooms(figures: DesignFigures) -> pd.DataFrame:
    system = figures.system
    rooms = loops_and_rooms.rooms_table(system.layout, system.room_losses, system.state)
    return add_output_range(rooms, figures.frames["output_range"])


def _output_range(figures: DesignFigures) -> pd.DataFrame:
    system = figures.system
    return output_range_table(variant_outputs(system.survey, system.prepared.constants, system.state, system.fluid))


def _pumps(figures: DesignFigures) -> pd.DataFrame:
    system, density = figures.system, figures.pump_densities_kg_m3
    return pumps_table(system.survey, system.state, system.pumps, [float(rho) for rho in density])


def _pump_curves(figures: DesignFigures) -> pd.DataFrame:
    system, state = figures.system, figures.system.state
    stated = pumps_from(system.survey, state.network)
    return curves_table(pump_curves(state, system.pumps, figures.pump_densities_kg_m3, stated))


def _ratings(figures: DesignFigures) -> pd.DataFrame:
    return ratings_table(figures.system.survey, figures.system.prepared.constants[0])


def _checks(figures: DesignFigures) -> pd.DataFrame:
    return design_checks(figures.system.survey, figures.frames, figures.duty_facts)


def _assumptions(figures: DesignFigures) -> pd.DataFrame:
    system = figures.system
    return assumptions_table(system.survey, system.layout, system.room_losses, figures.load)


def _loops(figures: DesignFigures) -> pd.DataFrame:
    return loops_and_rooms.design_loops_table(figures.system)


def _elements(figures: DesignFigures) -> pd.DataFrame:
    return loops_and_rooms.elements_table(figures.system.state)


def _valves(figures: DesignFigures) -> pd.DataFrame:
    return design_valves_table(figures.system)


def _loop_isolation(figures: DesignFigures) -> pd.DataFrame:
    return loop_isolation_table(figures.system)


def _remote_sensors(figures: DesignFigures) -> pd.DataFrame:
    return sensors.sensors_table(figures.system)


def _temperature_profile(figures: DesignFigures) -> pd.DataFrame:
    return loops_and_rooms.temperature_profile_table(figures.system.state)


def _heat_loss_parts(figures: DesignFigures) -> pd.DataFrame:
    return heat.losses_table(figures.system.room_losses)


def _source_heat_balance(figures: DesignFigures) -> pd.DataFrame:
    return heat.source_heat_table(figures.system.state)


def _glazing_comfort(figures: DesignFigures) -> pd.DataFrame:
    return glazing_table(figures.system.survey, figures.system.layout, figures.system.state)


TABLES: dict[str, Callable[[DesignFigures], pd.DataFrame]] = {
    "loops": _loops,
    "rooms": _rooms,
    "elements": _elements,
    "valves": _valves,
    "pumps": _pumps,
    "pump_curves": _pump_curves,
    "loop_isolation": _loop_isolation,
    "remote_sensors": _remote_sensors,
    "temperature_profile": _temperature_profile,
    "heat_loss_parts": _heat_loss_parts,
    "source_heat_balance": _source_heat_balance,
    "glazing_comfort": _glazing_comfort,
    "profile_ratings": _ratings,
    "output_range": _output_range,
    "checks": _checks,
    "assumptions": _assumptions,
}
"""How each table of a design is made, in the order of its tables."""
