"""Thermostatic valves at work: each loop gets what its sensor's room wants, and no more than its valve lets through.

A room is satisfied when what its skirting gives (less what the warmed wall behind it loses) equals its loss. The
flows that do so are sought by secants in the logarithm of flow, all rooms together, each try a whole coupled solve;
a loop whose valve cannot let that much through stays open.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.analysis.room_output import net_room_heat_w
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.pumps import PumpCharacteristic
from heatloop.hydraulics.solver.operating_state import SystemState, solve_state
from heatloop.hydraulics.solver.problem import CLOSED_KG_S
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

TRIES = 80
SETTLED = 1e-7
"""A room counts as satisfied when it misses its loss by less than this many watts, or by this share of it."""

MIN_KG_S = 2.0 * CLOSED_KG_S
"""A valve that would let less through than this has shut."""


@dataclass(frozen=True)
class SensorDemand:
    """A loop's sensor: the room it hangs in and the watts that room wants."""

    room: str
    wanted_w: float


@dataclass(frozen=True, eq=False)
class ThermostaticValves:
    """The loops that a thermostatic valve governs, by their place, and which loops are shut by hand, (L)."""

    governed: Mapping[int, SensorDemand]
    closed: NDArray[np.bool_] | None = None


@dataclass
class _Search:
    """The search for the flow factor of one room: brackets and the last try, in ln flow."""

    loops: list[int]
    wanted_w: float
    low: float = -np.inf
    high: float = np.inf
    last: tuple[float, float] | None = None


def apply_thermostats(
    assembly: PipeNetwork,
    supply_c: Array,
    water: Fluid,
    *,
    drives: Sequence[PumpCharacteristic],
    source_c: float,
    valves: ThermostaticValves,
    guess_kg_s: Array | None = None,
    settled: float = SETTLED,
) -> SystemState:
    """The system with its thermostatic valves as the rooms want them.

    Loops with one sensor room throttle together, in proportion to their flows open. Raises ArithmeticError if no
    positions of the valves are found.
    """
    loops = len(assembly.loops)
    shut = np.zeros(loops, bool) if valves.closed is None else valves.closed
    held = np.where(shut, 0.0, np.inf)

    def solve(guess: Array | None) -> SystemState:
        return solve_state(
            assembly,
            supply_c,
            water,
            drives=drives,
            source_c=source_c,
            held_kg_s=held if np.any(np.isfinite(held)) else None,
            guess_kg_s=guess,
        )

    state = solve(guess_kg_s)
    rooms: dict[str, _Search] = {}
    for loop, sensor in valves.governed.items():
        if not shut[loop]:
            rooms.setdefault(sensor.room, _Search([], sensor.wanted_w)).loops.append(loop)
    open_flow = np.maximum(state.loop_flow_kg_s, MIN_KG_S)
    for _ in range(TRIES):
        given = net_room_heat_w(state)
        moves = [
            _next(search, given.get(room, 0.0) - search.wanted_w, given.get(room, 0.0), state, open_flow, settled)
            for room, search in rooms.items()
        ]
        if all(move is None for move in moves):
            return state
        for search, move in zip(rooms.values(), moves, strict=True):
            if move is not None:
                held[search.loops] = np.exp(move) * open_flow[search.loops]
                held[search.loops] = np.where(held[search.loops] < MIN_KG_S, 0.0, held[search.loops])
        state = solve(np.minimum(np.where(np.isfinite(held), held, state.loop_flow_kg_s), open_flow * 4.0))
    short = [room for room, move in zip(rooms, moves, strict=True) if move is not None]
    raise ArithmeticError(f"the thermostatic valves found no rest in {TRIES} tries: {', '.join(short)}")


def _next(
    search: _Search, over_w: float, given_w: float, state: SystemState, open_flow: Array, settled: float
) -> float | None:
    """The next try for a room's flows as ln of their factor on the open flows, None where it may stay."""
    throttled = state.throttled[search.loops]
    if abs(over_w) <= settled * max(1.0, search.wanted_w):
        return None
    if over_w < 0.0 and not throttled.any():
        return None
    flows = state.loop_flow_kg_s[search.loops]
    if over_w > 0.0 and np.all(flows <= CLOSED_KG_S):
        return None
    now = float(np.log(max(flows.sum(), MIN_KG_S) / open_flow[search.loops].sum()))
    if over_w > 0.0:
        search.high = now
        search.low = search.low if search.low < now else -np.inf
    else:
        search.low = now
        search.high = search.high if search.high > now else np.inf
    slope = 0.5 * max(given_w, 1.0)
    if search.last is not None and search.last[0] != now:
        found = (over_w - search.last[1]) / (now - search.last[0])
        slope = float(np.clip(found, 0.02 * max(given_w, 1.0), 1.5 * max(given_w, 1.0)))
    search.last = (now, over_w)
    move = float(np.clip(now - over_w / slope, now - 3.0, now + 1.5))
    if not search.low < move < search.high and np.isfinite(search.low) and np.isfinite(search.high):
        move = 0.5 * (search.low + search.high)
    return move
