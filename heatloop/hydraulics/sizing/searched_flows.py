"""Flows that meet their targets one unit at a time: the range of each, and a search in it.

Newton's method on all units begins from them (:mod:`heatloop.hydraulics.sizing.flow_iteration`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.sizing.flow_iteration import (
    FlowAims,
    LoopDuty,
    TemperatureDropNotReachable,
    design_drops_k,
    drops_and_shortfalls,
    unit_name,
)
from heatloop.hydraulics.sizing.trial_solution import TrialSolution

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

MIN_DROP_BY_LOSS_K = 2.0
"""When sizing by loss, flow is not raised beyond the one with this drop (common practice)."""

SLOWEST_TRANSFER_UNITS = 12.0
"""Number of transfer units at which the water has practically reached its limit; the largest drop is calculated
there."""

FIRST_SLOPE = -0.9
"""Power of the flow to which a drop is nearly proportional."""

FIRST_SHARE = 1e-2
"""Accuracy of a searched flow as a share of it, or of its target in K or W: Newton's method begins there."""


Found = Callable[[Array], tuple[Array, Array]]
"""Drops of the units in K and the largest shortfalls of their rooms in W at flows, as `drops_and_shortfalls`."""


@dataclass(frozen=True, eq=False)
class Tried:
    """Flows of the units (U), and what was found there: drops in K, largest shortfalls of their rooms in W."""

    flow_kg_s: Array
    drop_k: Array
    short_w: Array

    @classmethod
    def at(cls, flow_kg_s: Array, found: Found) -> Tried:
        """What is found at these flows."""
        return cls(flow_kg_s, *found(flow_kg_s))


def searched_aims(
    trial: TrialSolution, duties: Sequence[LoopDuty], by_loss: Mask, *, only_targets: bool = False
) -> FlowAims:
    """Target of each unit and a flow that nearly meets it.

    A unit by loss whose rooms are warm below the last doubling of the flow is searched there. Of the others the maximum
    flow is searched: where a room is short of heat even then, the design drop is the target. `only_targets`: flows are
    searched only where the target depends on them.
    """
    required_k = design_drops_k(trial, duties)
    lowest_k = np.where(by_loss, np.minimum(MIN_DROP_BY_LOSS_K, required_k), required_k)
    found = drops_and_shortfalls(trial, duties, by_loss)
    minimum, maximum = flow_range(trial, found, required_k, lowest_k)
    within = Tried.at(maximum.flow_kg_s / 2.0, found) if by_loss.any() else minimum
    fixed, far = by_loss & (minimum.short_w <= 0.0), by_loss & (within.short_w > 0.0)
    warm = ~far

    def miss(tried: Tried) -> Array:
        return np.where(by_loss & warm, tried.short_w, tried.drop_k - lowest_k)

    low, high = _either(far, within, minimum), _either(by_loss & warm, within, maximum)
    start = np.where(fixed, minimum.flow_kg_s, high.flow_kg_s)
    flows = _root(
        lambda tried: miss(Tried.at(tried, found)),
        ((low.flow_kg_s, miss(low)), (high.flow_kg_s, miss(high))),
        far if only_targets else ~fixed,
        start,
    )
    if far.any():
        short, short_at_most = within.short_w, found(flows)[1]
        reached = far & (short_at_most <= 0.0)
        share = np.where(reached, short, 0.0) / np.where(reached, short - short_at_most, 1.0)
        by_drop = flows * (required_k / lowest_k) ** (1.0 / FIRST_SLOPE)
        by_share = within.flow_kg_s * (flows / within.flow_kg_s) ** share
        flows = np.where(reached, by_share, np.where(far, by_drop, flows))
        warm = warm | reached
    return FlowAims(flows, slowest_kg_s(trial), by_loss & warm, fixed, warm)


def _either(which: Mask, one: Tried, other: Tried) -> Tried:
    """`one` for the units of `which`, and `other` for the rest."""
    return Tried(
        np.where(which, one.flow_kg_s, other.flow_kg_s),
        np.where(which, one.drop_k, other.drop_k),
        np.where(which, one.short_w, other.short_w),
    )


def slowest_kg_s(trial: TrialSolution) -> Array:
    """Flow of each unit at which its water has practically reached the largest drop that it can give."""
    supply = trial.supply[trial.loop_of_unit]
    cells = trial.cells
    excess_k = np.maximum(np.abs(supply[cells.unit] - cells.room_c), 1.0)
    conductance = np.bincount(cells.unit, cells.k_w_kn * excess_k ** (cells.exponent - 1.0), supply.size).astype(float)
    others = trial.network.emitters
    for loop, k_w_kn, exponent, room_c in zip(others.loop, others.k_w_kn, others.exponent, others.room_c, strict=True):
        own = trial.loop_of_unit == loop
        excess_k = np.maximum(np.abs(supply[own] - room_c), 1.0)
        conductance[own] += k_w_kn * excess_k ** (exponent - 1.0)
    return np.asarray(conductance / (trial.fluid.heat_capacity_j_kgk(supply) * SLOWEST_TRANSFER_UNITS))


def _root(miss: Callable[[Array], Array], ends: Sequence[tuple[Array, Array]], which: Mask, flows: Array) -> Array:
    """Flows between two at which `miss`, which falls with flow, is zero, for the units of `which`.

    `ends`: the lower and the higher flows (U), each with its `miss`. The other units keep their `flows`. scipy's
    vectorised Chandrupatla search in the logarithm of the flow, accurate enough to start Newton's method.
    """
    if not which.any():
        return flows
    from scipy.optimize import elementwise  # here, because it is slow to import and seldom needed

    tried, index = flows.copy(), np.flatnonzero(which)
    known = [(np.log(at[index]), found[index]) for at, found in ends]

    def some(log_flow: Array, units: Array) -> Array:
        for at, found in known:
            if np.array_equal(at, log_flow):  # the search begins at both ends
                return found
        rows = units.astype(np.intp)
        tried[rows] = np.exp(log_flow)
        return miss(tried)[rows]

    root = elementwise.find_root(
        some,
        (known[0][0], known[1][0]),
        args=(index.astype(float),),
        tolerances={"xatol": FIRST_SHARE, "xrtol": 0.0, "fatol": FIRST_SHARE, "frtol": 0.0},
    )
    result = flows.copy()
    # where the range holds no sign change the flows stay: the next search begins from there
    result[index] = np.where(np.isfinite(root.x), np.exp(root.x), flows[index])
    return result


def flow_range(trial: TrialSolution, found: Found, required_k: Array, lowest_k: Array) -> tuple[Tried, Tried]:
    """Flows of each unit: one with at least the required drop, and one with at most the lowest.

    Half the second has more than the lowest drop. Raises TemperatureDropNotReachable where even a very small flow does
    not give the required drop.
    """
    slowest = slowest_kg_s(trial)
    minimum, greatest = slowest * SLOWEST_TRANSFER_UNITS / 2.0, np.zeros(slowest.size)
    while True:
        least = Tried.at(minimum, found)
        greatest = np.maximum(greatest, least.drop_k)
        low = least.drop_k < required_k
        if not low.any():
            break
        stuck = np.flatnonzero(low & (minimum <= slowest))
        if stuck.size:
            u, *others = stuck.tolist()
            names = [unit_name(trial, other) for other in others]
            raise TemperatureDropNotReachable(unit_name(trial, u), float(required_k[u]), float(greatest[u]), names)
        minimum = np.where(low, np.maximum(minimum / 2.0, slowest), minimum)
    # heat rises with flow, so a drop falls at most as 1/flow: it is above the lowest up to this many doublings
    maximum = minimum * 2.0 ** (np.floor(np.log2(least.drop_k / lowest_k)) + 1.0)
    while (high := (most := Tried.at(maximum, found)).drop_k > lowest_k).any():
        maximum = np.where(high, maximum * 2.0, maximum)
    return least, most
