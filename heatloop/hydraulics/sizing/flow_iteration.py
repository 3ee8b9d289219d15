"""Flows that meet their targets, with the shares of arms and channels that follow from them.

Newton's method on the logarithms of all flows; :mod:`heatloop.hydraulics.sizing.flows` gives the start values.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.sizing.trial_solution import FINE_K, ROUGH_K, TrialSolution, effective_length_m
from heatloop.hydraulics.sizing.unit_rooms import RoomNeeds

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

TOLERANCE_K, TOLERANCE_W, SHARE_TOLERANCE = 1e-9, 1e-6, 5e-10
"""Sizing ends when every drop (or shortfall, by loss) is met within this and the shares no longer change."""


FLOW_TOLERANCE, RESIDUAL, TINY_STEPS = 1e-9, 10.0, 3
"""The residual of the solved heat depends on the temperatures from which it was solved. It can leave a deviation of a
few tolerances that no step of flow reduces. Sizing then ends after `TINY_STEPS` steps below `FLOW_TOLERANCE` (of the
logarithm of flow), if the deviation is at most `RESIDUAL` tolerances."""

MAX_STEPS = 60

EASED = 1e-3
"""Share of the last deviation to which temperatures are solved during the search. Values that end the search or
change its direction are solved completely."""


MIN_STEP = 1e-8
"""Minimum step of the logarithm of a flow for a correction of slopes; a smaller step is within the residual of the
heat."""

RENEWALS = 3
"""Slopes between units of different loops, which share trunks, are calculated from this renewal of the slopes on."""

PEAK_SHARE = 1e-3
"""Accuracy of the search for the flow of the largest drop of a unit, as a share of this flow."""


class TemperatureDropNotReachable(Exception):
    """A loop cannot reach its design drop: its name, the drop requested and the largest possible drop.

    `loops`: this loop and others that were found to be out of reach at the same time.
    """

    def __init__(self, loop: str, required_k: float, max_drop_k: float, others: Sequence[str] = ()) -> None:
        self.loop, self.required_k, self.max_drop_k, self.loops = loop, required_k, max_drop_k, (loop, *others)
        super().__init__(f"loop {loop!r} cannot reach a drop of {required_k:g} K, the greatest is {max_drop_k:.2f} K")


Arriving = Callable[[Array], Array]
"""Temperature of the water that reaches each loop, (L), at their flows (L), where trunks lose heat."""


@dataclass(frozen=True)
class LoopDuty:
    """Duty of a loop: a temperature drop `drop_k`, or, if sized by loss, heat.

    `required_w_m`: heat that each of its rooms requires from an open metre of skirting (a covered metre counts by its
    factor). `required_w`: heat that rooms with only another emitter require from it.
    """

    drop_k: float
    required_w_m: Mapping[str, float] | None = None
    required_w: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class FlowAims:
    """Start flows of the units, and the target of each: a temperature drop, the loss of its rooms, or (fixed) none.

    Also the minimum flow that is sensible, and how drops change with the logarithm of flows (U, U), where this is
    known.
    """

    flow_kg_s: Array
    slowest_kg_s: Array
    by_loss: Mask
    fixed: Mask
    warm: Mask
    slope_k: Array | None = None


def converged_flows(
    trial: TrialSolution, duties: Sequence[LoopDuty], aim: FlowAims, arriving: Arriving | None
) -> tuple[Array, Array]:
    """Find flows (U) that meet their targets when the shares of arms and channels follow from them.

    Also returns how the deviations change with the logarithm of the flows, (U, U). Newton's method on all units. The
    two arms of a loop affect each other through its tails. Units of different loops affect each other only slightly,
    through the heat loss of trunks; near the largest drop of a loop this can be more than the effect of its own flow.
    The slopes are corrected by the result of each step (Broyden) and calculated anew where a step does not improve
    enough: at first between the units of one loop, from `RENEWALS` on between all.
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
    related = trial.loop_of_unit[:, None] == trial.loop_of_unit[None, :]
    tiny_steps, stalls, renewals = 0, False, 0
    for _ in range(MAX_STEPS):
        trial.tolerance_k = min(max(EASED * last * TOLERANCE_K, FINE_K), ROUGH_K)
        misses, moved, cooled_k = missed(flows)
        worst = float(np.abs(misses / close).max())
        slow = bool((flows <= aim.slowest_kg_s).any())
        stalls, stalled = worst > 0.3 * last and worst > 1.0, stalls
        renewed = (stalls and stalled) or not slopes.size
        if trial.tolerance_k > FINE_K and (slow or worst <= 1.0 or renewed):
            trial.tolerance_k = FINE_K
            misses, moved, cooled_k = missed(flows)
            worst = float(np.abs(misses / close).max())
        best = np.maximum(best, misses)
        met = worst <= (RESIDUAL if tiny_steps >= TINY_STEPS else 1.0)
        if moved < SHARE_TOLERANCE and met and cooled_k < TOLERANCE_K:
            return flows, slopes
        if before is not None and slopes.size:
            slopes = _corrected(slopes, np.log(flows / before[0]), misses - before[1], ~aim.fixed, related)
        before = flows, misses
        if renewed:
            supply_c, renewals = trial.supply, renewals + 1
            if renewals >= RENEWALS and arriving is not None:
                related = np.ones_like(related)
            slopes = _slopes(lambda tried: missed(tried)[0], flows, misses, aim.fixed, related)
            trial.supply = supply_c
        # an arm that would have to slow down further gives no more: its loop's tails take the rest
        stuck = np.flatnonzero((flows <= aim.slowest_kg_s) & (misses < -close))
        if stuck.size:
            raise peaks.not_reachable(int(stuck[0]), float(misses[stuck[0]]))
        log_step = -np.linalg.solve(slopes, misses) if related.all() else -_solved_by_loop(trial, slopes, misses)
        tiny_steps = tiny_steps + 1 if np.abs(log_step).max() < FLOW_TOLERANCE else 0
        step = np.exp(np.clip(log_step, -0.2, 0.2))
        required = peaks.bounded(flows, flows * step, misses, np.diag(slopes)) if renewed else flows * step
        flows = np.where(aim.fixed, flows, np.maximum(required, 0.99 * aim.slowest_kg_s))
        last = worst
    u = int(np.argmax(np.abs(misses / close)))
    if peaks.which[u] and best[u] < 0.0:
        raise peaks.not_reachable(u, float(best[u]))
    raise ArithmeticError(f'loop "{unit_name(trial, u)}": its flow did not converge in {MAX_STEPS} steps')


class _PeakSearch:
    """Search for the flow at which the drop of a unit is largest.

    Less flow cools the water more, until the heat lost by trunks and conducted between channels outweighs the gain. A
    larger drop is not possible. A drop just below the largest must be searched on the side of more flow.
    """

    def __init__(self, trial: TrialSolution, duties: Sequence[LoopDuty], which: Mask) -> None:
        self.trial, self.duties, self.which = trial, duties, which
        self.slow_kg_s, self.fast_kg_s = np.zeros(which.size), np.full(which.size, np.inf)

    def bounded(self, flows: Array, required: Array, miss: Array, slope_k: Array) -> Array:
        """The next flows: `required`, except for units too slow for their largest drop, or moved to it.

        Raises TemperatureDropNotReachable where the drop is less than required on both sides of the largest.
        """
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
        """Error for a unit whose drop is not possible; its smallest deviation is miss_k (negative)."""
        required_k = self.duties[self.trial.units[unit].loop].drop_k
        return TemperatureDropNotReachable(unit_name(self.trial, unit), required_k, required_k + miss_k)


def design_drops_k(trial: TrialSolution, duties: Sequence[LoopDuty]) -> Array:
    """Design drop of each unit in K, (U)."""
    return np.array([duties[unit.loop].drop_k for unit in trial.units])


def misses_of_aims(trial: TrialSolution, duties: Sequence[LoopDuty], by_loss: Mask) -> Callable[[Array], Array]:
    """Deviation of flows (U) from their targets, falling with flow.

    Drop less design drop in K, or the largest shortfall of a room in W.
    """
    required_k = design_drops_k(trial, duties)
    found = drops_and_shortfalls(trial, duties, by_loss)

    def miss(flows: Array) -> Array:
        drop_k, short_w = found(flows)
        return np.where(by_loss, short_w, drop_k - required_k)

    return miss


def drops_and_shortfalls(
    trial: TrialSolution, duties: Sequence[LoopDuty], by_loss: Mask
) -> Callable[[Array], tuple[Array, Array]]:
    """Drop of each unit in K and the largest shortfall of its rooms in W at flows (U), both falling with flow.

    The shortfall of a unit that is not sized by loss is -inf.
    """
    if not by_loss.any():
        return lambda flows: (trial.drop_k(flows), np.full(by_loss.size, -np.inf))
    needs = RoomNeeds.of(
        trial.rooms, [_owed_w(trial, duties, u) if by_loss[u] else ({}, {}) for u in range(by_loss.size)]
    )

    def found(flows: Array) -> tuple[Array, Array]:
        drop_k, heat_w = trial.drop_and_room_heat(flows)
        return drop_k, needs.shortfall_w(heat_w, trial.part)

    return found


def _owed_w(
    trial: TrialSolution, duties: Sequence[LoopDuty], unit: int
) -> tuple[Mapping[str, float], Mapping[str, float]]:
    """Heat in W that each room requires from a unit for its skirting, and from its loop for other emitters."""
    duty = duties[trial.units[unit].loop]
    required = duty.required_w_m or {}
    metres = effective_length_m(trial.network.arms[a] for a in trial.units[unit].arms)
    return {room: required[room] * own_m for room, own_m in metres.items()}, duty.required_w


def _slopes(missed: Callable[[Array], Array], flows: Array, miss: Array, fixed: Mask, related: Mask) -> Array:
    """Change of the deviation of each unit with the logarithm of the flows (U, U), between `related` units (U, U).

    Fixed units keep their flow and are not varied.
    """
    count, step = flows.size, 1e-4
    rank = np.array([int(related[u, :u].sum()) for u in range(count)])
    slopes = np.zeros((count, count))
    for turn in range(int(rank.max()) + 1):
        moved = (rank == turn) & ~fixed
        change = (missed(np.where(moved, flows * (1.0 + step), flows)) - miss) / np.log1p(step)
        slopes += np.where(related & moved[None, :], change[:, None], 0.0)
    flat = np.abs(np.diag(slopes)) < 1e-9
    slopes[flat, flat] = -1.0
    return slopes


def _solved_by_loop(trial: TrialSolution, slopes: Array, misses: Array) -> Array:
    """Solution x (U) of slopes x = misses, where only slopes between the units of one loop are not 0."""
    x = misses / np.diag(slopes)
    for units in trial.units_of_divided_loops:
        blocks = slopes[units[:, :, None], units[:, None, :]]
        x[units] = np.linalg.solve(blocks, misses[units][:, :, None])[:, :, 0]
    return np.asarray(x)


def _corrected(slopes: Array, step: Array, change: Array, which: Mask, related: Mask) -> Array:
    """Slopes of the units of `which`, corrected to the deviation observed after a step.

    After the correction, the step in ln flow (U) gives the observed change of deviation (U). Slopes between units that
    are not `related` (U, U) are not changed.
    """
    row, column = np.nonzero(related)
    squares = np.bincount(row, step[column] ** 2, step.size)
    missing = np.where(which & (squares > MIN_STEP**2), change - slopes @ step, 0.0) / np.maximum(squares, MIN_STEP**2)
    corrected = slopes.copy()
    corrected[row, column] += missing[row] * step[column]
    return corrected


def unit_name(trial: TrialSolution, unit: int) -> str:
    """Name of the loop to which a unit belongs."""
    return trial.network.loops[trial.units[unit].loop].loop.name
