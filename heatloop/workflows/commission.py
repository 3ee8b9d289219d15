"""Figures of the commissioning sheet: settings, and expected flow and return temperatures in the weather of the day.

Rooms are at their design temperatures, valves at their nearest settings, thermostatic valves at their proportional
band or with their heads removed, the pump as commissioned for the design. The flow temperature of the day is the one
read at the source, or follows from weather compensation; without weather compensation it is that of the design.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pandas as pd

from heatloop.findings.limits import TOUCH_C
from heatloop.handover.commissioning import final_settings, user_documents, water_treatment
from heatloop.handover.commissioning.conditions import (
    commissioning_conditions,
    warmest_room_c,
    within_source_output,
)
from heatloop.handover.commissioning.filling import fill_and_vent_table, filling_steps
from heatloop.handover.commissioning.pack import CommissioningResult, pack_figures
from heatloop.handover.commissioning.pressure_checks import pressure_checks, pressures_table
from heatloop.handover.commissioning.pressures import Pressures, pressures
from heatloop.handover.commissioning.purging import purge_table, purges
from heatloop.handover.commissioning.tables import (
    commissioning_table,
    contents_table,
    handover_checks_table,
    part_load_days,
    part_load_table,
    surfaces_table,
)
from heatloop.hydraulics.analysis.water_content import content_l, contents
from heatloop.hydraulics.from_survey import supply_temp_c
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.physics.water import Fluid
from heatloop.results.design import DesignResult
from heatloop.workflows.operating_conditions import RequestedConditions, survey_at_conditions
from heatloop.workflows.operating_point import solve_conditions

MIN_EXCESS_K = 3.0
"""Minimum difference between flow and warmest room for a conclusion from temperatures; common practice."""


def state_at_conditions(
    system: SizedSystem, flow_temp_c: float, thermostatic_heads_removed: bool = False
) -> SystemState | None:
    """The balanced system at a flow temperature of `flow_temp_c` (°C): valves at the settings that a fitter makes.

    Pumps run as commissioned for the design, thermostatic valves at their proportional band. `heads_off`: thermostatic
    heads are removed, so that their valves have their full Kv. None where the water is too cool for any conclusion.
    Raises the errors of `simulate`.
    """
    survey = system.survey
    coolest_c = min(supply_temp_c(survey, loop, flow_temp_c) for loop in survey.loops)
    if coolest_c < warmest_room_c(system) + MIN_EXCESS_K:
        return None
    if thermostatic_heads_removed:
        system = _heads_removed(system)
    requested = RequestedConditions(flow_temp_c, thermostats=False)
    return solve_conditions(system, survey_at_conditions(system.survey, requested), requested).state


def _heads_removed(system: SizedSystem) -> SizedSystem:
    """The system with every thermostatic valve at its Kv without head.

    At a lower presetting, Kv is reduced in the same proportion: common practice.
    """
    stock, state = system.survey.catalogue, system.state
    share = {valve.name: valve.kvs_m3_h / valve.kv_open_m3_h for valve in stock.valves if valve.kvs_m3_h is not None}
    valves = tuple(
        replace(valve, kv_m3_h=tuple(kv * share.get(valve.name, 1.0) for kv in valve.kv_m3_h)) for valve in stock.valves
    )
    kv = {
        i: float(state.network.elements.kv_m3_h[i]) * share[place.element.valve]
        for i, place in enumerate(state.network.locations)
        if place.element.kind == "valve" and place.element.valve in share
    }
    survey = replace(system.survey, catalogue=replace(stock, valves=valves))
    return replace(
        system,
        prepared=replace(system.prepared, survey=survey),
        state=replace(state, network=state.network.with_kv(kv)),
    )


def commission(
    design: DesignResult,
    outdoor_c: float | None = None,
    flow_temp_c: float | None = None,
    treatment_rules: str | Path | None = None,
) -> CommissioningResult:
    """Commissioning results of a design for the temperatures of the day.

    `outdoor_c` and `flow_temp_c` (°C) replace the weather in the survey. Water treatment rules in a TOML file replace
    those of the package. Unless it is read, the flow temperature is at most what the source can hold with all valves
    open.

    Raises InputError for impossible temperatures, ValueError for invalid rules, OSError if they cannot be read.
    """
    rules = None if treatment_rules is None else water_treatment.load_rules(Path(treatment_rules))
    system = design.system
    survey, layout, fluid = system.survey, system.layout, system.fluid
    today = within_source_output(
        commissioning_conditions(system, outdoor_c, flow_temp_c), design.facts["held_flow_temp_c"]
    )
    held = contents(survey, layout, system.state.network)
    filling_pressures = pressures(survey, layout, content_l(held), float(system.state.supply_c.max()), fluid)
    purged = purges(survey, system.state.network.loops, fluid)
    facts = water_treatment.treatment_inputs(survey, content_l(held))
    operating_state = state_at_conditions(system, today.flow_temp_c)
    targets = commissioning_table(
        system, today, operating_state, state_at_conditions(system, today.flow_temp_c, thermostatic_heads_removed=True)
    )
    by_day = [(that, state_at_conditions(system, that.flow_temp_c)) for that in part_load_days(system)]
    outdoor_steps = part_load_table(system, [(that, state) for that, state in by_day if state is not None])
    frames = {
        "commissioning": targets,
        "part_load": outdoor_steps,
        "surface_temperatures": surfaces_table(system, operating_state, TOUCH_C),
        "water_content": contents_table(held),
        "pressures": pressures_table(survey, filling_pressures),
        "fill_and_vent": fill_and_vent_table(filling_steps(survey, layout, filling_pressures, purged)),
        "purging": purge_table(purged),
        "treatment": water_treatment.treatment_table(facts, rules),
        "doses": water_treatment.doses_table(facts),
        "settings_as_left": final_settings.settings_table(system, filling_pressures, outdoor_steps),
        "water_record": user_documents.water_record_table(facts),
        "user_guide": user_documents.user_table(system, filling_pressures, outdoor_steps),
        "annual_checks": user_documents.annual_checks_table(system, filling_pressures, facts),
        "commissioning_checks": handover_checks_table(
            [*pressure_checks(filling_pressures), *water_treatment.treatment_checks(facts)]
        ),
    }
    figures = pack_figures(
        system, today, filling_pressures, content_l(held), _running_kpa(filling_pressures, targets, fluid)
    )
    return CommissioningResult(system, today, held, filling_pressures, purged, frames, figures, design.verdict)


def _running_kpa(system_pressures: Pressures, targets: pd.DataFrame, fluid: Fluid) -> float:
    """Pressure expected on the day in kPa, for water at the mean of flow and return.

    The temperature is limited to the maximum of the system.
    """
    mean_c = float((targets["expected_flow_temp_c"] + targets["expected_return_temp_c"]).mean() / 2.0)
    if pd.isna(mean_c):
        return float("nan")
    return system_pressures.running_kpa(fluid, min(mean_c, system_pressures.max_temp_c))
