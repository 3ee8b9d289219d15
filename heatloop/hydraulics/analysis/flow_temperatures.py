"""Flow temperatures that rooms require of a sized system with its valves as they are set.

Valves are at their nearest settings, thermostatic valves open, pumps as commissioned, rooms at their temperatures. The
net heat of a room rises with the flow temperature of the source; the temperature at which it equals a requirement is
found by secant steps in a bracket, all rooms and requirements together, each step a coupled solve.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.hydraulics.solver.scenarios import ScenarioResults, Scenarios, solve_scenarios

Array = NDArray[np.float64]

TRIED = 17
"""Flow temperatures from which brackets are taken."""

MAX_STEPS = 30

ACCURACY_K = 1e-4
"""Accuracy of a required flow temperature."""


@dataclass(frozen=True, eq=False)
class OpenSystem:
    """The open system at S flow temperatures of the source.

    By room (rooms, S): net_w, the heat to each room less its back loss, in the order of `rooms`. return_c (S): at the
    source. source_w (S): heat from the source.
    """

    rooms: tuple[str, ...]
    net_w: Array
    return_c: Array
    source_w: Array


def open_system_at(system: SizedSystem, flow_temps_c: Array) -> OpenSystem:
    """Solve the open system at each flow temperature (S) in °C. Raises ArithmeticError if one has no solution."""
    found = _solved(system, flow_temps_c)
    ends = system.fluid.enthalpy_j_kg(np.stack([flow_temps_c, found.circuit_return_c[0]]))
    return OpenSystem(
        found.rooms, found.net_room_w, found.circuit_return_c[0], found.flow_kg_s[0] * (ends[0] - ends[1])
    )


def required_flow_temps_c(
    system: SizedSystem, rooms: Sequence[str], required_w: Array, range_c: tuple[float, float]
) -> Array:
    """Flow temperature (R, N) in °C at which each of R rooms has each of its N required heats, required_w (R, N) in W.

    NaN where a room requires no heat, and inf where it does not have the required heat at the upper end of `range_c`.
    Where it has it at the lower end, that is the result. Raises ArithmeticError if the system has no solution.
    """
    tried_c = np.linspace(*range_c, TRIED)
    found = _solved(system, tried_c)
    place = [found.rooms.index(room) for room in rooms]
    at_tried_w = found.net_room_w[place]
    result_c = np.where(required_w > 0.0, np.inf, np.nan)
    result_c[(required_w > 0.0) & (at_tried_w[:, :1] >= required_w)] = range_c[0]
    enough = at_tried_w[:, None, :] >= required_w[:, :, None]
    row, column = np.nonzero(np.isinf(result_c) & enough.any(axis=2))
    above = enough[row, column].argmax(axis=1)
    low_c, high_c = tried_c[above - 1], tried_c[above]
    low_w = at_tried_w[row, above - 1] - required_w[row, column]
    high_w = at_tried_w[row, above] - required_w[row, column]
    if row.size:
        cells = np.asarray(place)[row], required_w[row, column]
        result_c[row, column] = _bracketed_c(system, cells, (low_c, high_c), (low_w, high_w))
    return result_c


def _bracketed_c(
    system: SizedSystem,
    cells: tuple[NDArray[np.intp], Array],
    ends_c: tuple[Array, Array],
    ends_w: tuple[Array, Array],
) -> Array:
    """Roots of the surplus of each cell (its room and its required heat), by the Illinois rule."""
    (room, required_w), (low_c, high_c), (low_w, high_w) = cells, ends_c, ends_w
    side = np.zeros(room.size, int)
    before_c = np.full(room.size, np.nan)
    number = np.arange(room.size)
    for _ in range(MAX_STEPS):
        next_c = high_c - high_w * (high_c - low_c) / (high_w - low_w)
        if np.all((np.abs(next_c - before_c) < ACCURACY_K) | (high_c - low_c < ACCURACY_K)):
            return next_c
        surplus_w = _solved(system, next_c).net_room_w[room, number] - required_w
        over = surplus_w >= 0.0
        low_w = np.where(over & (side > 0), low_w / 2.0, np.where(over, low_w, surplus_w))
        high_w = np.where(~over & (side < 0), high_w / 2.0, np.where(over, surplus_w, high_w))
        low_c, high_c = np.where(over, low_c, next_c), np.where(over, next_c, high_c)
        side, before_c = np.where(over, 1, -1), next_c
    raise ArithmeticError(f"the flow temperatures that rooms require did not converge in {MAX_STEPS} steps")


def _solved(system: SizedSystem, flow_temps_c: Array) -> ScenarioResults:
    own_c = [loop.flow_temp_c for loop in system.survey.loops]
    limits_c = np.array([np.inf if temp_c is None else temp_c for temp_c in own_c])
    return solve_scenarios(
        system.achieved.network,
        Scenarios(flow_temps_c, loop_temp_c=limits_c, pumps=system.pumps),
        system.fluid,
        system.achieved.loop_flow_kg_s,
    )
