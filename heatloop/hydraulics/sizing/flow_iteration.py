"""The flows that meet their aims when the shares of arms and channels, and the water that comes, follow from them.

Newton's method on the logarithms of all flows; see :mod:`heatloop.hydraulics.sizing.flows` for where it begins.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.sizing.trial_solution import FINE_K, ROUGH_K, TrialSolution, effective_length_m

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

TOLERANCE_K, TOLERANCE_W, SHARE_TOLERANCE = 1e-9, 1e-6, 1e-10
"""Sizing ends when every drop (or shortfall, by loss) is met so closely and the shares stand."""


MAX_STEPS = 60

EASED = 1e-4
"""Share of the last miss to which temperatures are solved on the way; what ends the search, or turns it, is solved to
the end."""


MIN_STEP = 1e-8
"""A step of the logarithm of a flow from which slopes are corrected; less is lost in the rest of the heat."""

PEAK_SHARE = 1e-3
"""How closely, of its flow, the largest drop of a unit is looked for."""


class TemperatureDropNotReachable(Exception):
    """A loop cannot reach its design drop: its name, the drop asked for and the largest there is."""

    def __init__(self, loop: str, required_k: float, max_drop_k: float) -> None:
        self.loop, self.required_k, self.max_drop_k = loop, required_k, max_drop_k
        super().__init__(f"loop {loop!r} cannot reach a drop of {required_k:g} K, the greatest is {max_drop_k:.2f} K")


Arriving = Callable[[Array], Array]
"""Temperature of the water that reaches each loop, (L), at their flows (L), where trunks lose heat."""


@dataclass(frozen=True)
class LoopDuty:
    """Duty of a loop: temperature drop `drop_k`, or, sized by loss, `required_w_m`: heat that each of its rooms
    requires from an open metre of skirting (a covered metre counts by its factor), and `required_w`: heat that rooms
    with only another emitter require from it."""

    drop_k: float
    required_w_m: Mapping[str, float] | None = None
    required_w: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class FlowAims:
    """First flows of the units and what each aims at: its drop, its rooms' loss, or (fixed) neither; the
    slowest flow that makes sense; and how drops change with the logarithm of flows, (U, U), where that is known."""

    flow_kg_s: Array
    slowest_kg_s: Array
    by_loss: Mask
    fixed: Mask
    warm: Mask
    slope_k: Array | None = None


def converged_flows(
    trial: TrialSolution, duties: Sequence[LoopDuty], aim: FlowAims, arriving: Arriving | None
) -> tuple[Array, Array]:
    """Flows (U) that still meet their aims when the shares of arms and channels follow from them, and how their misses
    change with the logarithm of the flows, (U, U).

    Newton's method on all units; the two arms of a loop act on each other through its tails, units of
    different loops do not, but for the little by which trunks cool their water. The slopes are corrected by what each
    step finds (Broyden), and found anew where a step does not help enough.
    """
    miss = misses_of_aims(trial, duties, aim.by_loss)
    close = np.where(aim.by_loss, TOLERANCE_W, TOLERANCE_K)

    def missed(flows: Array) -> tuple[Array, float, float]:
        cooled_k = 0.0
        if arriving is not None:
            before_c, trial.supply = trial.supply, arriving(np.asarray(np.bincount(trial.loop_of_unit, flows), float))
            cooled_k = float(np.abs(trial.supply - before_c).max())
        moved = trial.share_again(flows)
        return np.where(aim.fixed, 0.0, miss(flows)), moved, cooled_k

    flows, last, best = aim.flow_kg_s, np.inf, np.full(aim.flow_kg_s.size, -np.inf)
    slopes = np.zeros((0, 0)) if aim.slope_k is None else aim.slope_k
    peaks, before = _PeakSearch(trial, duties, ~(aim.by_loss | aim.fixed)), None
    for _ in range(MAX_STEPS):
        trial.tolerance_k = min(max(EASED * last * TOLERANCE_K, FINE_K), ROUGH_K)
        misses, moved, cooled_k = missed(flows)
        worst = float(np.abs(misses / close).max())
        slow = bool((flows <= aim.slowest_kg_s).any())
        if trial.tolerance_k > FINE_K and (slow or worst <= 1.0 or worst > 0.3 * last or not slopes.size):
            trial.tolerance_k = FINE_K
            misses, moved, cooled_k = missed(flows)
            worst = float(np.abs(misses / close).max())
        best = np.maximum(best, misses)
        if moved < SHARE_TOLERANCE and worst <= 1.0 and cooled_k < TOLERANCE_K:
            return flows, slopes
        if before is not None and slopes.size:
            slopes = _corrected(
                trial, slopes, np.log(flows / before[0]), misses - before[1], ~(aim.by_loss | aim.fixed)
            )
        before = flows, misses
        renewed = (worst > 0.3 * last and worst > 1.0) or not slopes.size
        if renewed:
            supply_c = trial.supply
            slopes = _slopes(trial, lambda tried: missed(tried)[0], flows, misses)
            trial.supply = supply_c
        # an arm that would have to slow down further gives no more: its loop's tails take the rest
        stuck = np.flatnonzero((flows <= aim.slowest_kg_s) & (misses < -close))
        if stuck.size:
            raise peaks.not_reachable(int(stuck[0]), float(misses[stuck[0]]))
        step = np.exp(np.clip(-np.linalg.solve(slopes, misses), -0.2, 0.2))
        required = peaks.bounded(flows, flows * step, misses, np.diag(slopes)) if renewed else flows * step
        flows = np.where(aim.fixed, flows, np.maximum(required, 0.99 * aim.slowest_kg_s))
        last = worst
    u = int(np.argmax(np.abs(misses / close)))
    if peaks.which[u] and best[u] < 0.0:
        raise peaks.not_reachable(u, float(best[u]))
    raise ArithmeticError(f'loop "{unit_name(trial, u)}": its flow did not converge in {MAX_STEPS} steps')


class _PeakSearch:
    """Where the drop of a unit is largest: less flow cools its water more, until trunks and channels that pass heat to
    each other take more of it than is gained. A drop above that cannot be had; one just below must be looked for on
    the side of more flow."""

    def __init__(self, trial: TrialSolution, duties: Sequence[LoopDuty], which: Mask) -> None:
        self.trial, self.duties, self.which = trial, duties, which
        self.slow_kg_s, self.fast_kg_s = np.zeros(which.size), np.full(which.size, np.inf)

    def bounded(self, flows: Array, required: Array, miss: Array, slope_k: Array) -> Array:
        """The next flows: `required` but for units too slow for their largest drop, or sent there. Raises
        TemperatureDropNotReachable where the drop is less than required on both sides of the largest."""
        short = self.which & (miss < -TOLERANCE_K)
        too_slow = short & (slope_k >= 0.0)
        self.slow_kg_s = np.where(too_slow, np.maximum(self.slow_kg_s, flows), self.slow_kg_s)
        self.fast_kg_s = np.where(short & ~too_slow, np.minimum(self.fast_kg_s, flows), self.fast_kg_s)
        met = short & (self.fast_kg_s < self.slow_kg_s * (1.0 + PEAK_SHARE))
        if met.any():
            raise self.not_reachable(int(np.flatnonzero(met)[0]), float(miss[met][0]))
        between = np.sqrt(self.slow_kg_s * np.where(np.isfinite(self.fast_kg_s), self.fast_kg_s, flows))
        required = np.where(self.which & (required <= self.slow_kg_s), between, required)
        return np.where(too_slow, np.where(np.isfinite(self.fast_kg_s), between, flows * np.exp(0.2)), required)

    def not_reachable(self, unit: int, miss_k: float) -> TemperatureDropNotReachable:
        """That a unit's drop cannot be had, which misses it by miss_k (negative) at best."""
        required_k = self.duties[self.trial.units[unit].loop].drop_k
        return TemperatureDropNotReachable(unit_name(self.trial, unit), required_k, required_k + miss_k)


def misses_of_aims(trial: TrialSolution, duties: Sequence[LoopDuty], by_loss: Mask) -> Callable[[Array], Array]:
    """How far flows (U) miss their aim, falling with flow: drop less design drop in kelvin, or the largest
    shortfall of a room in watts."""
    required = np.array([duties[unit.loop].drop_k for unit in trial.units])
    metres = [effective_length_m(trial.network.arms[a] for a in unit.arms) for unit in trial.units]

    def miss(flows: Array) -> Array:
        misses = trial.drop_k(flows) - required if not by_loss.all() else np.zeros(flows.size)
        if by_loss.any():
            for u, rooms in enumerate(trial.room_w(flows)):
                if by_loss[u]:
                    owed = _owed_w(duties[trial.units[u].loop], metres[u], trial.units[u].part)
                    misses[u] = max(heat_w - rooms[room] for room, heat_w in owed.items())
        return misses

    return miss


def _owed_w(duty: LoopDuty, metres: Mapping[str, float], part: float) -> dict[str, float]:
    """Heat that each room requires from a unit, W, with so many open metres and this part of the loop's flow."""
    required = duty.required_w_m or {}
    by_emitters = {room: heat_w * part for room, heat_w in duty.required_w.items()}
    return {room: required[room] * metres[room] for room in metres} | by_emitters


def _slopes(trial: TrialSolution, missed: Callable[[Array], Array], flows: Array, miss: Array) -> Array:
    """How each unit's miss changes with the logarithm of the flows, (U, U): the units of one loop only."""
    count, step = flows.size, 1e-4
    same_loop = trial.loop_of_unit[:, None] == trial.loop_of_unit[None, :]
    rank = np.array([int(same_loop[u, :u].sum()) for u in range(count)])
    slopes = np.zeros((count, count))
    for turn in range(int(rank.max()) + 1):
        moved = rank == turn
        change = (missed(np.where(moved, flows * (1.0 + step), flows)) - miss) / np.log1p(step)
        slopes += np.where(same_loop & moved[None, :], change[:, None], 0.0)
    flat = np.abs(np.diag(slopes)) < 1e-9
    slopes[flat, flat] = -1.0
    return slopes


def _corrected(trial: TrialSolution, slopes: Array, step: Array, change: Array, which: Mask) -> Array:
    """The slopes of the units of `which` so that a step of the logarithms of flows (U) gives the change of misses (U)
    that was found, otherwise as they were."""
    same_loop = trial.loop_of_unit[:, None] == trial.loop_of_unit[None, :]
    squares = same_loop @ (step * step)
    missing = np.where(which & (squares > MIN_STEP**2), change - slopes @ step, 0.0) / np.maximum(squares, MIN_STEP**2)
    return np.asarray(slopes + np.where(same_loop, missing[:, None] * step[None, :], 0.0))


def unit_name(trial: TrialSolution, unit: int) -> str:
    """The name of the loop that a unit belongs to."""
    return trial.network.loops[trial.units[unit].loop].loop.name
