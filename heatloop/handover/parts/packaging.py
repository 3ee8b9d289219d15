"""Quantities rounded up to units on sale: whole pieces, and packs of one or several sizes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.survey.catalogue import PackSize

EPS = 1e-9


@dataclass(frozen=True)
class PackCount:
    """A number of packs of one kind."""

    name: str
    holds: float
    count: int

    @property
    def quantity(self) -> float:
        return self.holds * self.count


def round_up_to_whole(quantity: float) -> float:
    """The next whole number at or above `quantity`; 1e-9 above a whole number still counts as that number."""
    return float(math.ceil(quantity - EPS))


def fill_packs(quantity: float, packs: Sequence[PackSize]) -> tuple[PackCount, ...]:
    """Packs to order for `quantity` of one item: the smallest sufficient total, then the fewest packs.

    An integer programme over all sizes finds the exact minimum; of packs with equal content the first is used. Empty
    for a quantity of 0. ValueError for a quantity below 0 or no packs.

    >>> sizes = (PackSize("clip", "bag of 10", 10), PackSize("clip", "box of 50", 50))
    >>> [(p.name, p.count) for p in fill_packs(63, sizes)]
    [('box of 50', 1), ('bag of 10', 2)]
    """
    if not (math.isfinite(quantity) and quantity >= 0.0):
        raise ValueError(f"quantity = {quantity:g}: must be 0 or above")
    sizes: dict[float, PackSize] = {}
    for pack in packs:
        sizes.setdefault(pack.holds, pack)
    if not sizes:
        raise ValueError("no packs: must be at least one size")
    ordered = [sizes[holds] for holds in sorted(sizes, reverse=True)]
    counts = _fewest(quantity, [pack.holds for pack in ordered])
    return tuple(PackCount(p.name, p.holds, n) for p, n in zip(ordered, counts, strict=True) if n)


def _fewest(quantity: float, holds: Sequence[float]) -> tuple[int, ...]:
    """Numbers of packs of each size: the minimum total, and the fewest packs for that total."""
    if len(holds) == 1:
        return (math.ceil(quantity / holds[0] - EPS),)
    from scipy.optimize import LinearConstraint  # here, because it is slow to import and not needed to size

    sizes = np.array(holds)
    enough = LinearConstraint(sizes[np.newaxis, :], lb=quantity - EPS)
    minimum = _solved(sizes, [enough])
    total = float(sizes @ minimum)
    no_more = LinearConstraint(sizes[np.newaxis, :], ub=total + EPS)
    return tuple(int(n) for n in _solved(np.ones(len(holds)), [enough, no_more]))


def _solved(weights: NDArray[np.float64], constraints: Sequence[object]) -> NDArray[np.float64]:
    from scipy.optimize import milp  # here, as above

    solution = milp(weights, constraints=constraints, integrality=np.ones(len(weights)), options={"mip_rel_gap": 0.0})
    return np.asarray(np.rint(solution.x))
