"""Thermostatic control: each loop gets the flow that its sensor's room requires, limited by its open valve.

A room is satisfied when its heat less its back loss equals its heat loss. The flows are found by a secant iteration in
the logarithm of flow, all rooms together; each iteration is a full coupled solve. A loop whose valve cannot pass that
flow stays open. Heat rises with flow, so that results below and above the loss bound the next iterate. Rooms affect
each other through trunks, head and adjacent skirting: as the others move, the bounds of each room widen by as much.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.analysis.room_output import net_room_heat_w
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState, solve_state
from heatloop.hydraulics.solver.problem import CLOSED_KG_S
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

TRIES = 80

CAREFUL_AFTER = 30
"""Iterations after which steps are halved."""

FIRST_SLOPE, MIN_SLOPE, MAX_SLOPE = 0.5, 0.02, 1.5
"""Slope of heat by the logarithm of flow, as a share of the heat: initial value, minimum and maximum."""

OWN_SHARE = 0.5
"""A slope is updated only if the flow of its room changed by this share of the largest change of another room."""

ROOM_TOLERANCE = 1e-7
"""Maximum deviation of a satisfied room from its heat loss, in W or as a share of it."""

MIN_STEP = 0.01
"""If the bounds (ln flow) are closer than this, the valve is either closed or at its minimum flow."""

MIN_KG_S = 2.0 * CLOSED_KG_S
"""Minimum flow of an open valve; below it the valve is closed."""


@dataclass(frozen=True)
class SensorDemand:
    """A loop's sensor: its room and the heat that the room requires, W."""

    room: str
    required_w: float


@dataclass(frozen=True, eq=False)
class ThermostaticValves:
    """Loops controlled by a thermostatic valve, by their index, and loops isolated by hand, (L)."""

    demands: Mapping[int, SensorDemand]
    isolated: NDArray[np.bool_] | None = None


@dataclass
class _Search:
    """Search for the flow factor of one room, in ln flow.

    Bounds; the last trial value with its surplus in W; and the slope as a share of the heat given.
    """

    loops: list[int]
    required_w: float
    low: float = -np.inf
    high: float = np.inf
    last: tuple[float, float] | None = None
    slope: float = FIRST_SLOPE


def apply_thermostats(
    network: PipeNetwork,
    conditions: OperatingConditions,
    fluid: Fluid,
    valves: ThermostaticValves,
    initial_guess: SystemState | None = None,
    tolerance: float = ROOM_TOLERANCE,
) -> SystemState:
    """Calculate the system with its thermostatic valves in control of the rooms of their sensors.

    `initial_guess`: a similar state of the network.
    Loops with the same sensor room are throttled together, in proportion to their flows with open valves. Raises
    ArithmeticError if the iteration does not converge.
    """
    loops = len(network.loops)
    shut = np.zeros(loops, bool) if valves.isolated is None else valves.isolated
    held = np.where(shut, 0.0, np.inf)

    def solve(flow_kg_s: Array | None, before: SystemState | None) -> SystemState:
        throttled = held if np.any(np.isfinite(held)) else None
        temperatures = None if before is None else before.initial_temperatures
        return solve_state(network, replace(conditions, held_kg_s=throttled), fluid, flow_kg_s, temperatures)

    state = solve(None if initial_guess is None else initial_guess.loop_flow_kg_s, initial_guess)
    rooms: dict[str, _Search] = {}
    for loop, sensor in valves.demands.items():
        if not shut[loop]:
            rooms.setdefault(sensor.room, _Search([], sensor.required_w)).loops.append(loop)
    open_flow = np.maximum(state.loop_flow_kg_s, MIN_KG_S)
    for tries in range(TRIES):
        heat_w = net_room_heat_w(state)
        positions = [_place(search, state, open_flow) for search in rooms.values()]
        apart = [
            0.0 if own_search.last is None else position - own_search.last[0]
            for own_search, position in zip(rooms.values(), positions, strict=True)
        ]
        share = 1.0 if tries < CAREFUL_AFTER else 0.5
        moves: list[float | None] = []
        for i, ((room, search), position) in enumerate(zip(rooms.items(), positions, strict=True)):
            _learn(search, position, heat_w.get(room, 0.0), _others(apart, i))
            may_stay = _may_stay(search, heat_w.get(room, 0.0), state, tolerance)
            moves.append(None if may_stay else _next(search, position, heat_w.get(room, 0.0), share))
        if all(move is None for move in moves):
            return state
        for search, move in zip(rooms.values(), moves, strict=True):
            if move is not None:
                held[search.loops] = np.exp(move) * open_flow[search.loops]
                held[search.loops] = np.where(held[search.loops] < MIN_KG_S, 0.0, held[search.loops])
        likely_kg_s = np.minimum(np.where(np.isfinite(held), held, state.loop_flow_kg_s), open_flow * 4.0)
        state = solve(likely_kg_s, state)
    short = [room for room, move in zip(rooms, moves, strict=True) if move is not None]
    raise ArithmeticError(f"thermostat iteration did not converge in {TRIES} iterations: {', '.join(short)}")


def _place(search: _Search, state: SystemState, open_flow: Array) -> float:
    """ln of the ratio of the present flow of a room to its flow with open valves."""
    flow_kg_s = max(float(state.loop_flow_kg_s[search.loops].sum()), MIN_KG_S)
    return float(np.log(flow_kg_s / open_flow[search.loops].sum()))


def _others(apart: Sequence[float], own: int) -> float:
    """Largest change of the flow of any other room, in ln flow."""
    return max((abs(moved) for i, moved in enumerate(apart) if i != own), default=0.0)


def _learn(search: _Search, ln_factor: float, given_w: float, others: float) -> None:
    """Update the slope and the bounds of a search from its last trial.

    `ln_factor`: ln of the ratio of the room's flow to its flow with open valves. `others`: change of this value of
    other rooms since the trial before.
    """
    over_w = given_w - search.required_w
    moved = 0.0 if search.last is None else ln_factor - search.last[0]
    if search.last is not None and abs(moved) > max(OWN_SHARE * others, 1e-12):
        slope = (over_w - search.last[1]) / moved / max(given_w, 1.0)
        search.slope = float(np.clip(slope, MIN_SLOPE, MAX_SLOPE))
    search.last = (ln_factor, over_w)
    search.low, search.high = search.low - others, search.high + others
    if over_w > 0.0:
        search.high, search.low = ln_factor, search.low if search.low < ln_factor else -np.inf
    else:
        search.low, search.high = ln_factor, search.high if search.high > ln_factor else np.inf


def _next(search: _Search, ln_factor: float, given_w: float, share: float) -> float:
    """Next trial value for the flows of a room, as ln of the ratio to the flows with open valves.

    `share`: the part of a secant step that is taken.
    """
    over_w = given_w - search.required_w
    move = ln_factor + share * float(np.clip(-over_w / (search.slope * max(given_w, 1.0)), -3.0, 1.5))
    if not search.low < move < search.high and np.isfinite(search.low) and np.isfinite(search.high):
        move = 0.5 * (search.low + search.high)
    return move


def _may_stay(search: _Search, given_w: float, state: SystemState, tolerance: float) -> bool:
    """Whether a room needs no further change: it has its required heat, or its valves are at a limit.

    At a limit means open, closed, or closed because their minimum flow gives too much heat.
    """
    over_w = given_w - search.required_w
    if abs(over_w) <= tolerance * max(1.0, search.required_w):
        return True
    shut = bool(np.all(state.loop_flow_kg_s[search.loops] <= CLOSED_KG_S))
    if over_w > 0.0:
        return shut
    min_is_too_much = shut and search.high - search.low < MIN_STEP
    return min_is_too_much or not state.throttled[search.loops].any()
