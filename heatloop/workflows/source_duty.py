"""Flow temperatures of a system whose open valves draw more than the output of its source.

One that the source can hold, and the lowest at which all rooms are warm.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from heatloop.hydraulics.analysis.room_output import net_room_heat_w
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
    output_kw = system.survey.source.output_kw
    if output_kw is None or system.state.given_w <= 1000.0 * output_kw:
        return None
    output_w = 1000.0 * output_kw
    return _flow_temp_c(system, lambda state: state.given_w - output_w, output_w / system.state.given_w)


def warm_flow_temp_c(system: SizedSystem) -> tuple[float, float] | None:
    """The lowest flow temperature (°C) at which all rooms are warm with all valves open, and the heat drawn then (W).

    Flows are those of the valves at their nearest settings. None under the same condition as for `held_flow_temp_c`,
    NaN where a room is short of heat at the design flow temperature.
    """
    output_kw = system.survey.source.output_kw
    if output_kw is None or system.state.given_w <= 1000.0 * output_kw:
        return None
    heated = system.survey.heated_rooms
    losses_w = {loss.room: loss.total_w for loss in system.room_losses if loss.room in heated and loss.total_w > 0.0}

    def least_margin(state: SystemState) -> float:
        heat_w = net_room_heat_w(state)
        return min((heat_w[room] / loss_w - 1.0 for room, loss_w in losses_w.items()), default=0.0)

    margin = least_margin(system.state)
    if margin <= 0.0:
        return math.nan, math.nan
    temp_c = _flow_temp_c(system, least_margin, 1.0 / (1.0 + margin))
    return temp_c, math.nan if math.isnan(temp_c) else _open_state(system, temp_c).given_w


def _flow_temp_c(system: SizedSystem, excess: Callable[[SystemState], float], first_share: float) -> float:
    """The flow temperature below that of the design at which `excess` of the open system is zero; NaN where there is
    none. `first_share`: first estimate, as a share of the excess of the flow temperature over the warmest room."""
    design_c, warmest_c = system.survey.project.flow_temp_c, max(loss.indoor_c for loss in system.room_losses)
    from scipy.optimize import root_scalar  # here, because it is slow to import and seldom needed

    first_c = warmest_c + (design_c - warmest_c) * first_share
    try:
        root = root_scalar(
            lambda temp_c: excess(_open_state(system, temp_c)),
            method="secant", x0=design_c, x1=first_c, xtol=HELD_K, maxiter=20,
        )  # fmt: skip
    except (ArithmeticError, ValueError):  # water too cool for the system to be solved
        return math.nan
    temp_c = float(root.root)
    return temp_c if root.converged and warmest_c < temp_c < design_c else math.nan


def _open_state(system: SizedSystem, flow_temp_c: float) -> SystemState:
    """The sized system at another flow temperature of its source."""
    supply_c = np.array([supply_temp_c(system.survey, loop, flow_temp_c) for loop in system.survey.loops])
    return solve_state(
        system.state.network,
        OperatingConditions(supply_c, system.pumps, source_c=flow_temp_c),
        system.fluid,
        initial_guess_kg_s=system.state.loop_flow_kg_s,
    )
