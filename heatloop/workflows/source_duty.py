"""The flow temperature that the source can hold when all valves are open and the heat demand exceeds its output."""

from __future__ import annotations

import math

import numpy as np

from heatloop.hydraulics.from_survey import supply_temp_c
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState, solve_state

HELD_K = 0.02
"""Accuracy of the flow temperature."""


def held_flow_temp_c(system: SizedSystem) -> float | None:
    """The flow temperature (°C) at which the open system takes exactly the output of the source.

    None if it takes at most that output at the design flow temperature. Valves stay at their nearest settings, pumps as
    commissioned, rooms at their temperatures. NaN where no flow temperature above the warmest room has a solution.
    """
    output_kw, design_c = system.survey.source.output_kw, system.survey.project.flow_temp_c
    if output_kw is None or system.state.given_w <= 1000.0 * output_kw:
        return None
    output_w, warmest_c = 1000.0 * output_kw, max(loss.indoor_c for loss in system.room_losses)

    def excess_w(flow_temp_c: float) -> float:
        return _open_state(system, flow_temp_c).given_w - output_w

    from scipy.optimize import root_scalar  # here, because it is slow to import and seldom needed

    first_c = warmest_c + (design_c - warmest_c) * output_w / system.state.given_w
    try:
        root = root_scalar(excess_w, method="secant", x0=design_c, x1=first_c, xtol=HELD_K, maxiter=20)
    except (ArithmeticError, ValueError):  # water too cool for the system to be solved
        return math.nan
    held_c = float(root.root)
    return held_c if root.converged and warmest_c < held_c < design_c else math.nan


def _open_state(system: SizedSystem, flow_temp_c: float) -> SystemState:
    """The sized system at another flow temperature of its source."""
    supply_c = np.array([supply_temp_c(system.survey, loop, flow_temp_c) for loop in system.survey.loops])
    return solve_state(
        system.state.network,
        OperatingConditions(supply_c, system.pumps, source_c=flow_temp_c),
        system.fluid,
        initial_guess_kg_s=system.state.loop_flow_kg_s,
    )
