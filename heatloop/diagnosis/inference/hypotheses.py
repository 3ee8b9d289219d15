"""All single faults of a system as points of the model, with the prior probability of each size."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from heatloop.diagnosis.fault_types import (
    AIR,
    INTERCHANGED,
    KINDS,
    LITTLE_HEAD,
    LITTLE_HEAT,
    LITTLE_WATER,
    MUCH_HEAD,
    MUCH_WATER,
    NO_FAULT,
    SWAPPED,
    TOO_COOL,
    TOO_WARM,
    FaultKind,
    LocatedFault,
)
from heatloop.diagnosis.site_model.fault_parameters import FaultParameters, concatenate
from heatloop.diagnosis.site_model.prediction import SiteModel, fault_free
from heatloop.diagnosis.site_model.reading_conditions import ReadingConditions

Array = NDArray[np.float64]

FAULTLESS = 0.4
"""Share of sites without fault, before any reading: readings are taken where something seems wrong (a judgement)."""

TWO_FAULTS = 0.15
"""Share of the sites with faults that have two faults (a judgement)."""

SHUT_PART = 0.35
"""Share of loops with too little water that have no flow at all (a judgement)."""

FILTER_PART = 0.4
"""Share of systems with too little head whose pump is right: a resistance before the loops takes the head (a
judgement)."""

LOG_SHUT = np.log(1e-5)
MIN_MUCH = 1.15
"""A flow above this share of the expected flow is too much; below it is tolerance."""


@dataclass(frozen=True)
class Hypothesis:
    """One fault, two faults or none.

    Points (N); probability of each point (N, sum 1). For each fault that has a size: the sizes (N), and the steps (as
    points, and as sizes) that represent all sizes between a point and its neighbours.
    """

    faults: tuple[LocatedFault, ...]
    prior: float
    points: FaultParameters
    weight: Array
    sizes: tuple[Array, ...] = ()
    steps: tuple[FaultParameters, ...] = ()
    size_steps: tuple[Array, ...] = ()


def single_faults(model: SiteModel, day: ReadingConditions) -> list[Hypothesis]:
    """No fault, then every single fault; the prior of each kind is divided among its locations."""
    hypotheses = [Hypothesis((LocatedFault(NO_FAULT),), FAULTLESS, fault_free(model), np.ones(1))]
    singles = [*_of_water(model, day), *_of_heat(model), *_swapped(model), *_interchanged(model)]
    count: dict[FaultKind, int] = {}
    for single in singles:
        count[single.faults[0].kind] = count.get(single.faults[0].kind, 0) + 1
    whole = sum(KINDS[kind].weight for kind in count)
    left = (1.0 - FAULTLESS) * (1.0 - TWO_FAULTS)
    for single in singles:
        kind = single.faults[0].kind
        hypotheses.append(replace(single, prior=left * KINDS[kind].weight / whole / count[kind]))
    return hypotheses


def _of_water(model: SiteModel, day: ReadingConditions) -> Iterator[Hypothesis]:
    warmest_c = max(day.room_c.values())
    supply_c = model.site.supply_c(day.source_c)
    for response in model.responses.of:
        kind = response.fault.kind
        keep = np.ones(response.sizes.size, bool)
        if kind == MUCH_WATER:
            keep = response.sizes >= MIN_MUCH
        if kind == TOO_COOL:
            keep = (supply_c + response.supply_k).min(axis=1) > warmest_c + 2.0
        if not keep.any():
            continue
        count = int(keep.sum())
        sizes = response.sizes[keep]
        points = replace(
            fault_free(model, count),
            arm_log=response.arm_log[keep],
            head_log=response.head_log[keep],
            supply_k=response.supply_k[keep],
        )
        if kind == AIR:
            yield _air(model, response.fault, points)
            continue
        scale = sizes if kind in (LITTLE_WATER, TOO_COOL, TOO_WARM) else np.log(sizes)
        hypothesis = _sized(response.fault, points, _even(scale), sizes)
        if kind == LITTLE_WATER:
            yield _with_shut(model, hypothesis)
        else:
            yield _with_filter(hypothesis) if kind == LITTLE_HEAD else hypothesis


def _air(model: SiteModel, fault: LocatedFault, points: FaultParameters) -> Hypothesis:
    """Air in one of several parallel channels; it has no size."""
    own = np.asarray(model.network.arm_loop) == fault.loop
    air = points.air.copy()
    air[:, np.flatnonzero(own) if fault.arm < 0 else [fault.arm]] = fault.channel + 1
    return Hypothesis((fault,), 0.0, replace(points, air=air), np.ones(1))


def _interchanged(model: SiteModel) -> Iterator[Hypothesis]:
    """Each two loops interchanged at the distribution."""
    loops = len(model.network.loops)
    for i in range(loops):
        for j in range(i + 1, loops):
            points = fault_free(model)
            read_at = points.read_at.copy()
            read_at[:, [i, j]] = [j, i]
            fault = LocatedFault(INTERCHANGED, i, other=j)
            yield Hypothesis((fault,), 0.0, replace(points, read_at=read_at), np.ones(1))


def _sized(fault: LocatedFault, points: FaultParameters, weight: Array, sizes: Array) -> Hypothesis:
    """A fault of unknown size."""
    step = np.zeros(1) if sizes.size == 1 else np.gradient(sizes) / np.sqrt(12.0)
    return Hypothesis((fault,), 0.0, points, weight, (sizes,), (points.steps(),), (step,))


def _with_shut(model: SiteModel, hypothesis: Hypothesis) -> Hypothesis:
    """The same, preceded by a point without flow."""
    fault = hypothesis.faults[0]
    owner = np.asarray(model.network.arm_loop)
    own = owner == fault.loop if fault.arm < 0 else np.arange(owner.size) == fault.arm
    first = hypothesis.points.take(slice(0, 1))
    arm_log = first.arm_log.copy()
    arm_log[:, own] = LOG_SHUT
    shut = replace(first, arm_log=arm_log)
    return replace(
        hypothesis,
        points=concatenate([shut, hypothesis.points]),
        weight=np.concatenate([[SHUT_PART], (1.0 - SHUT_PART) * hypothesis.weight]),
        sizes=(np.concatenate([[0.0], hypothesis.sizes[0]]),),
        steps=(concatenate([first.still(), hypothesis.steps[0]]),),
        size_steps=(np.concatenate([[0.0], hypothesis.size_steps[0]]),),
    )


def _with_filter(hypothesis: Hypothesis) -> Hypothesis:
    """The same flows with the expected head at the pump: a resistance between pump and loops takes the difference."""
    behind = replace(hypothesis.points, head_log=np.zeros_like(hypothesis.points.head_log))
    steps = replace(hypothesis.steps[0], head_log=np.zeros_like(hypothesis.points.head_log))
    return replace(
        hypothesis,
        points=concatenate([hypothesis.points, behind]),
        weight=np.concatenate([(1.0 - FILTER_PART) * hypothesis.weight, FILTER_PART * hypothesis.weight]),
        sizes=(np.tile(hypothesis.sizes[0], 2),),
        steps=(concatenate([hypothesis.steps[0], steps]),),
        size_steps=(np.tile(hypothesis.size_steps[0], 2),),
    )


def _of_heat(model: SiteModel) -> Iterator[Hypothesis]:
    sizes = np.array(KINDS[LITTLE_HEAT].sizes)
    owner = np.asarray(model.network.arm_loop)
    for loop in range(len(model.network.loops)):
        arms = np.flatnonzero(owner == loop)
        for arm in (-1, *arms) if arms.size > 1 else (-1,):
            points = fault_free(model, sizes.size)
            output_log = points.output_log.copy()
            output_log[:, arms if arm < 0 else [arm]] = np.log(sizes)[:, None]
            points = replace(points, output_log=output_log)
            yield _sized(LocatedFault(LITTLE_HEAT, loop, int(arm)), points, _even(sizes), sizes)


def _swapped(model: SiteModel) -> Iterator[Hypothesis]:
    for loop in range(len(model.network.loops)):
        points = fault_free(model)
        swapped = points.swapped.copy()
        swapped[:, loop] = True
        yield Hypothesis((LocatedFault(SWAPPED, loop),), 0.0, replace(points, swapped=swapped), np.ones(1))


def _even(scale: Array) -> Array:
    """Weights of points for a uniform prior over the scale."""
    if scale.size == 1:
        return np.ones(1)
    width = np.abs(np.gradient(scale))
    return np.asarray(width / width.sum())


def two_faults(singles: list[Hypothesis], first: list[Hypothesis]) -> list[Hypothesis]:
    """Pairs of a fault of `first` with any other that can occur together with it."""
    alone = {single.faults[0]: single.prior for single in singles[1:]}
    whole = sum(alone.values())
    scale = (1.0 - FAULTLESS) * TWO_FAULTS / (whole * whole)
    pairs, seen = [], set()
    for a in first:
        for b in singles[1:]:
            pair = frozenset((a.faults[0], b.faults[0]))
            if len(pair) < 2 or pair in seen or _against(a.faults[0], b.faults[0]):
                continue
            seen.add(pair)
            pairs.append(_pair(a, b, 2.0 * scale * a.prior * b.prior))
    return pairs


def _against(a: LocatedFault, b: LocatedFault) -> bool:
    """Whether two faults cannot occur together.

    They are the same, or of the same pump or water, or of the water of one loop; or air with another fault of its loop.
    """
    if INTERCHANGED in (a.kind, b.kind):
        return a.kind == b.kind and bool({a.loop, a.other} & {b.loop, b.other})
    if AIR in (a.kind, b.kind):
        return a.loop == b.loop
    if a.loop < 0 or b.loop < 0:
        heads = (LITTLE_HEAD, MUCH_HEAD)
        return a.circuit == b.circuit and (a.kind in heads) == (b.kind in heads) and a.loop == b.loop
    fluid = (LITTLE_WATER, MUCH_WATER)
    same_side = (a.kind in fluid) == (b.kind in fluid) and SWAPPED not in (a.kind, b.kind)
    return a.loop == b.loop and same_side and (a.arm < 0 or b.arm < 0 or a.arm == b.arm)


def _pair(a: Hypothesis, b: Hypothesis, prior: float) -> Hypothesis:
    i = np.repeat(np.arange(a.weight.size), b.weight.size)
    j = np.tile(np.arange(b.weight.size), a.weight.size)
    return Hypothesis(
        a.faults + b.faults,
        prior,
        a.points.take(i) + b.points.take(j),
        a.weight[i] * b.weight[j],
        tuple(s[i] for s in a.sizes) + tuple(s[j] for s in b.sizes),
        tuple(s.take(i) for s in a.steps) + tuple(s.take(j) for s in b.steps),
        tuple(s[i] for s in a.size_steps) + tuple(s[j] for s in b.size_steps),
    )
