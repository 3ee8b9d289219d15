"""States of the interactive plan: a design at other flow temperatures and in other weather."""

from __future__ import annotations

import math
from dataclasses import replace

from heatloop.handover.cutting.model import CuttingOptions
from heatloop.handover.parts.model import PartsOptions
from heatloop.handover.parts.parts_list import PartsListResult
from heatloop.handover.second_fix.fixing_steps import fixing_steps
from heatloop.hydraulics.from_survey import fluid_from
from heatloop.layout.plan_coordinates import rooms_by_storey
from heatloop.report.documents.interactive_plan.page import PlanContents
from heatloop.results.design import DesignResult
from heatloop.results.operating_point import OperatingPoint
from heatloop.results.state_grid import StateGrid
from heatloop.survey.survey import SurveyData
from heatloop.workflows.operating_point import losses_at, simulate
from heatloop.workflows.order import first_fix, parts_list

ABOVE_WARMEST_K = 10.0
"""Minimum difference between flow temperature and the warmest heated room: below it skirting has almost no output."""

ABOVE_DESIGN_K = 5.0
"""The highest flow temperature above that of the design, where the survey states no limit of the source."""

FLOW_STEP_K, LONG_FLOW_STEP_K, MAX_FLOW_STEPS = 2.5, 5.0, 12
"""Steps of the flow temperature; the long one is used where the short one would give more than this number of
states."""

OUTDOOR_STEP_K, COLDER_STEPS, MILDER_STEPS = 3.0, 2, 5


PIECES_ALONE = PartsOptions(cutting=CuttingOptions(time_limit_s=1e-6))
"""Options for the pieces without a search for a cutting plan."""


def plan_contents(design: DesignResult, parts: PartsListResult | None = None) -> PlanContents | None:
    """Contents of the interactive plan of a design, with the pieces of its parts list where there is one.

    None where no room has been surveyed.
    """
    if not rooms_by_storey(design.survey, design.layout):
        return None
    steps = fixing_steps(parts_list(design, PIECES_ALONE) if parts is None else parts)
    return PlanContents(plan_states(design), first_fix(design), steps)


def plan_states(design: DesignResult) -> StateGrid:
    """The design at every step of flow temperature and outdoor temperature, calculated as by `simulate`.

    With the calculated settings, thermostatic heads removed and the pump at the head of the design. ArithmeticError if
    the equations have no solution at the flow temperature of the design.
    """
    own_c = design.survey.project.flow_temp_c
    solved: dict[float, OperatingPoint] = {}
    unsolved = []
    for flow_temp_c in flow_temps_c(design.survey):
        try:
            solved[flow_temp_c] = simulate(
                design,
                flow_temp_c=flow_temp_c,
                pump_head_kpa=design.facts["pump_head_kpa"],
                settings="calculated",
                thermostats=False,
            )
        except ArithmeticError:
            if flow_temp_c == own_c:
                raise
            unsolved.append(flow_temp_c)
    outdoor_c = outdoor_temps_c(design.survey)
    surveys = (replace(design.survey, project=replace(design.survey.project, outdoor_c=temp_c)) for temp_c in outdoor_c)
    return StateGrid(
        flow_temps_c=tuple(solved),
        outdoor_c=outdoor_c,
        points=tuple(solved.values()),
        losses=tuple(losses_at(design.system, survey) for survey in surveys),
        design_flow=list(solved).index(own_c),
        design_outdoor=outdoor_c.index(design.survey.project.outdoor_c),
        unsolved_c=tuple(unsolved),
    )


def flow_temps_c(survey: SurveyData) -> tuple[float, ...]:
    """Flow temperatures in °C in steps from that of the design, rising.

    From somewhat above the warmest heated room to the maximum of the source.
    """
    own_c, limit_c = survey.project.flow_temp_c, survey.source.max_flow_temp_c
    high_c = max(own_c, min(own_c + ABOVE_DESIGN_K if limit_c is None else limit_c, fluid_from(survey).t_max_c))
    low_c = min(own_c, max(survey.room(name).indoor_c for name in survey.heated_rooms) + ABOVE_WARMEST_K)
    step_k = FLOW_STEP_K if (high_c - low_c) / FLOW_STEP_K <= MAX_FLOW_STEPS else LONG_FLOW_STEP_K
    steps = range(-math.floor((own_c - low_c) / step_k), math.floor((high_c - own_c) / step_k) + 1)
    temps_c = [own_c + step_k * k for k in steps]
    return tuple(temps_c if high_c - temps_c[-1] < 0.05 else [*temps_c, high_c])


def outdoor_temps_c(survey: SurveyData) -> tuple[float, ...]:
    """Outdoor temperatures in °C in steps from that of the design, rising.

    At each of them every heated room loses heat.
    """
    own_c = survey.project.outdoor_c
    coolest_c = min(survey.room(name).indoor_c for name in survey.heated_rooms)
    every = (own_c + OUTDOOR_STEP_K * k for k in range(-COLDER_STEPS, MILDER_STEPS + 1))
    return tuple(temp_c for temp_c in every if temp_c == own_c or temp_c < coolest_c)
