"""The flow of every loop for its duty: the design drop, or the minimum flow that heats its rooms.

The heat side is solved for all loops together with trial flows. The distribution of a loop's water to arms and parallel
channels follows from the hydraulics of that loop. It is calculated repeatedly until it no longer changes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.group_temperatures import GroupTemperatures
from heatloop.hydraulics.model import LoopPath
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.hydraulics.sizing.flow_iteration import (
    Arriving,
    FlowAims,
    LoopDuty,
    TemperatureDropNotReachable,
    converged_flows,
    design_drops_k,
)
from heatloop.hydraulics.sizing.loop_alone import LoopAlone
from heatloop.hydraulics.sizing.searched_flows import FIRST_SLOPE, SLOWEST_TRANSFER_UNITS, searched_aims, slowest_kg_s
from heatloop.hydraulics.sizing.trial_solution import ROUGH_K, TrialSolution, loops_network
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

MIN_DROP_K = 0.1
"""Minimum design drop of a loop: a smaller one cannot be measured on site."""


@dataclass(frozen=True)
class SizedLoop:
    """Sized flow of one loop and of each arm in kg/s, whether its rooms are warm, and the loop by itself."""

    flow_kg_s: float
    arm_flow_kg_s: tuple[float, ...]
    warm: bool
    alone: LoopAlone


@dataclass(frozen=True, eq=False)
class LoopSizing:
    """The sized loops, and start values for another sizing.

    A unit (U) is a loop, or an arm with its own valve. Of units: the design drop, the mean excess of the water over the
    rooms, and the flows with their targets. Also the maximum supply temperature of the loops (L), and the groups of
    arms solved at the end.
    """

    loops: tuple[SizedLoop, ...]
    duties: tuple[LoopDuty, ...]
    max_supply_c: Array
    drop_k: Array
    excess_k: Array
    met: FlowAims
    heats: tuple[GroupTemperatures, ...]


def size_loops(
    network: PipeNetwork,
    duties: Sequence[LoopDuty],
    supply_c: Array,
    fluid: Fluid,
    arriving: Arriving | None = None,
    initial_guess: LoopSizing | None = None,
) -> LoopSizing:
    """Size all loops of a network of `loops_network`.

    `duties` and `supply_c` (L) in the order of the loops; with `arriving`, supply_c is the maximum. `initial_guess`:
    loops of the same arms, sized in other conditions; the calculation is then faster. An arm with its own valve is
    sized by itself, so that both arms reach the duty. Raises TemperatureDropNotReachable for the first loop whose
    design drop no flow can give; the error states a possible drop.
    """
    try:
        return sized_loops(network, duties, supply_c, fluid, arriving, initial_guess)
    except TemperatureDropNotReachable as error:
        loop = next(i for i, path in enumerate(network.loops) if path.loop.name == error.loop)
        only = None if arriving is None else _only(arriving, loop, len(network.loops))
        max_drop_k = _reachable_k(network.loops[loop], error.max_drop_k, supply_c[[loop]], fluid, only)
        raise TemperatureDropNotReachable(error.loop, error.required_k, max_drop_k) from error


def _only(arriving: Arriving, loop: int, loops: int) -> Arriving:
    """Supply of one loop without the others; with the flow of others the water arrives warmer."""

    def alone_c(flow_kg_s: Array) -> Array:
        flows = np.zeros(loops)
        flows[loop] = flow_kg_s[0]
        return arriving(flows)[[loop]]

    return alone_c


def _reachable_k(
    path: LoopPath, drop_k: float, supply_c: Array, fluid: Fluid, arriving: Arriving | None = None
) -> float:
    """Largest drop, at most `drop_k`, that the loop by itself can give; 0 where it gives none.

    In tenths of a kelvin, or in two figures where it is below 1 K.
    """
    drop_k, network = _rounded_down_k(drop_k), loops_network([path])
    while drop_k >= MIN_DROP_K:
        try:
            sized_loops(network, [LoopDuty(drop_k)], supply_c, fluid, arriving)
        except TemperatureDropNotReachable as error:
            drop_k = min(_rounded_down_k(error.max_drop_k), _rounded_down_k(drop_k * (1.0 - 1e-9)))
        except ArithmeticError:  # so near the largest drop that no flow is found for it: try a slightly smaller drop
            drop_k = _rounded_down_k(drop_k * (1.0 - 1e-9))
        else:
            return drop_k
    return 0.0


def _rounded_down_k(drop_k: float) -> float:
    """A drop rounded down to tenths of a kelvin, or to two figures below 1 K."""
    if drop_k < MIN_DROP_K:
        return 0.0
    decimals = 1 if drop_k >= 1.0 else 1 - math.floor(math.log10(drop_k))
    return math.floor(drop_k * 10.0**decimals) / 10.0**decimals


def sized_loops(
    network: PipeNetwork,
    duties: Sequence[LoopDuty],
    supply_c: Array,
    fluid: Fluid,
    arriving: Arriving | None = None,
    initial_guess: LoopSizing | None = None,
) -> LoopSizing:
    """Size all loops as `size_loops` does; the error of a drop that is out of reach does not state a possible one."""
    trial = TrialSolution(network, supply_c, fluid)
    trial.tolerance_k = ROUGH_K
    if _by_loss(trial, duties).any():
        aim = _first_flows(trial, duties, initial_guess)
    elif initial_guess is None or (guessed := _flows_of_initial_guess(trial, duties, initial_guess)) is None:
        aim = _first_flows(trial, duties)
    else:
        aim = guessed
    flows, slope_k = converged_flows(trial, duties, aim, arriving)
    sized, arm_flow = [], trial.arm_flows(flows)
    for units, alone in zip(trial.units_of_loop, trial.loops_alone(flows), strict=True):
        arms = [a for u in units for a in trial.units[u].arms]
        sized.append(
            SizedLoop(
                flow_kg_s=float(flows[units].sum()),
                arm_flow_kg_s=tuple(arm_flow[arms].tolist()),
                warm=bool(aim.warm[units].all()),
                alone=alone,
            )
        )
    drop_k = design_drops_k(trial, duties)
    return LoopSizing(
        loops=tuple(sized),
        duties=tuple(duties),
        max_supply_c=supply_c,
        drop_k=drop_k,
        excess_k=_mean_excess_k(trial, drop_k),
        met=replace(aim, flow_kg_s=flows, slope_k=slope_k),
        heats=tuple(heat for heat in trial.initial_guess if heat is not None),
    )


def _by_loss(trial: TrialSolution, duties: Sequence[LoopDuty]) -> Mask:
    return np.array([duties[unit.loop].required_w_m is not None for unit in trial.units], dtype=bool)


EXCESS_POWER = 1.25
"""Output, and so flow at a constant drop, is nearly proportional to this power of the excess."""


def _flows_of_initial_guess(
    trial: TrialSolution, duties: Sequence[LoopDuty], initial_guess: LoopSizing
) -> FlowAims | None:
    """Flows of loops sized by drop in other conditions, adapted to these conditions, and their temperatures.

    None where the loops had other arms or were sized by loss.
    """
    arms = np.array([flow for loop in initial_guess.loops for flow in loop.arm_flow_kg_s])
    drop_k = design_drops_k(trial, duties)
    if arms.size != len(trial.network.arms) or initial_guess.drop_k.size != drop_k.size:
        return None
    slope_k = initial_guess.met.slope_k
    if slope_k is None or any(duty.required_w_m is not None for duty in initial_guess.duties):
        return None
    flows = np.array([arms[list(unit.arms)].sum() for unit in trial.units])
    excess = _mean_excess_k(trial, drop_k) / initial_guess.excess_k
    flows = flows * excess**EXCESS_POWER * initial_guess.drop_k / drop_k
    slowest, none = slowest_kg_s(trial), np.zeros(flows.size, bool)
    trial.start_from(initial_guess.heats)
    slope_k = slope_k * (drop_k / initial_guess.drop_k)[:, None]
    return FlowAims(np.maximum(flows, slowest), slowest, none, none, ~none, slope_k)


NEAR_K = 2.0
"""Flows by loss are not used as start values for water that is hotter or colder by more than this."""


def _first_flows(trial: TrialSolution, duties: Sequence[LoopDuty], initial_guess: LoopSizing | None = None) -> FlowAims:
    """Flows that meet every target with the shares at the start of the trial.

    Or those of `initial_guess`, where it has the same duties, nearly the same temperatures, and the same units reach
    their duty.
    """
    by_loss = _by_loss(trial, duties)
    if not by_loss.any() and (quick := _quick_flows(trial, duties)) is not None:
        return FlowAims(quick[0], slowest_kg_s(trial), by_loss, by_loss, ~by_loss, np.diag(quick[1]))
    if initial_guess is not None and _is_same(trial, duties, initial_guess):
        trial.start_from(initial_guess.heats)
        return initial_guess.met
    near = initial_guess is not None and _is_near(trial, duties, initial_guess)
    aims = searched_aims(trial, duties, by_loss, only_targets=near)
    if initial_guess is None or not near:
        return aims
    met = initial_guess.met
    if any((getattr(met, name) != getattr(aims, name)).any() for name in ("by_loss", "fixed", "warm")):
        return searched_aims(trial, duties, by_loss)
    trial.start_from(initial_guess.heats)
    return replace(aims, flow_kg_s=np.where(aims.fixed, aims.flow_kg_s, met.flow_kg_s), slope_k=met.slope_k)


def _is_same(trial: TrialSolution, duties: Sequence[LoopDuty], initial_guess: LoopSizing) -> bool:
    """Whether the same loops were sized for the same duties with the same maximum temperatures.

    The targets of their units, which follow from these, are then the same, whatever water arrived.
    """
    groups = [heat.group for heat in initial_guess.heats]
    return (
        len(groups) == len(trial.network.groups)
        and all(before is group for before, group in zip(groups, trial.network.groups, strict=True))
        and np.array_equal(initial_guess.max_supply_c, trial.supply)
        and initial_guess.duties == tuple(duties)
    )


def _is_near(trial: TrialSolution, duties: Sequence[LoopDuty], initial_guess: LoopSizing) -> bool:
    """Whether loops were sized for the same duties with nearly the same temperatures of the water."""
    if initial_guess.duties != tuple(duties) or initial_guess.met.flow_kg_s.size != len(trial.units):
        return False
    before_c = np.array([loop.alone.supply_c for loop in initial_guess.loops])
    return bool(np.abs(before_c - trial.supply).max() <= NEAR_K)


QUICK_TRIES, QUICK_SHARE = 6, 1e-3
MIN_SLOPE, MAX_SLOPE = -0.3, -1.2


def _quick_flows(trial: TrialSolution, duties: Sequence[LoopDuty]) -> tuple[Array, Array] | None:
    """Flows that give every unit its drop within a thousandth, and the slopes of the drops by ln flow there.

    A drop is nearly proportional to 1/flow, so a few secant steps in logarithms find the flow. They start from the flow
    that would carry the output of the run at its mean temperature. None where they do not converge: the drop may be
    impossible.
    """
    required = design_drops_k(trial, duties)
    # the slowest flow has so many transfer units at the flow temperature: at the mean it gives a little less
    slowest = slowest_kg_s(trial)
    log_flow = np.log(slowest * SLOWEST_TRANSFER_UNITS * _mean_excess_k(trial, required) / required)
    slope, before = np.full(required.size, FIRST_SLOPE), None
    for _ in range(QUICK_TRIES):
        flows = np.exp(log_flow)
        drop = trial.drop_k(flows)
        if not np.all((drop > 0.0) & (flows > slowest)):
            return None
        miss = np.log(drop / required)
        if before is not None:
            moved = log_flow - before[0]
            still = np.abs(moved) < 1e-6
            slope = np.where(still, slope, (miss - before[1]) / np.where(still, 1.0, moved))
            slope = np.clip(slope, MAX_SLOPE, MIN_SLOPE)
        if np.abs(miss).max() < QUICK_SHARE:
            return flows, slope * required
        before = log_flow, miss
        log_flow = log_flow - miss / slope
    return None


def _mean_excess_k(trial: TrialSolution, drop_k: Array) -> Array:
    """Excess of the mean water temperature of each unit over its rooms, at least 1 K."""
    cells, units = trial.cells, drop_k.size
    length = np.bincount(cells.unit, cells.length_m, units)
    warmth = np.bincount(cells.unit, cells.length_m * cells.room_c, units)
    return np.asarray(np.maximum(trial.supply[trial.loop_of_unit] - drop_k / 2.0 - warmth / length, 1.0))
