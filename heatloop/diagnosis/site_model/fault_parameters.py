"""Parameters of faults at many points: what a fault of one size, or two faults together, change in a site."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class FaultParameters:
    """Fault parameters at N points.

    Changes of the logarithms of arm flows (N, A), arm outputs (N, A) and heads (N, P); change of the supply temperature
    of the loops in K (N, L); which loops are swapped (N, L) bool; the channel of each arm that contains air, from 1, 0
    for none (N, A); the loop whose pipes are read at the distribution under the name of each loop (N, L).
    """

    arm_log: Array
    output_log: Array
    head_log: Array
    supply_k: Array
    swapped: NDArray[np.bool_]
    air: NDArray[np.intp]
    read_at: NDArray[np.intp]

    @classmethod
    def none(cls, count: int, arms: int, circuits: int, loops: int) -> FaultParameters:
        """Points without any fault."""
        return cls(
            np.zeros((count, arms)),
            np.zeros((count, arms)),
            np.zeros((count, circuits)),
            np.zeros((count, loops)),
            np.zeros((count, loops), bool),
            np.zeros((count, arms), dtype=np.intp),
            np.tile(np.arange(loops), (count, 1)),
        )

    @property
    def count(self) -> int:
        return int(self.arm_log.shape[0])

    def __add__(self, other: FaultParameters) -> FaultParameters:
        """Combination of two faults."""
        return FaultParameters(
            self.arm_log + other.arm_log,
            self.output_log + other.output_log,
            self.head_log + other.head_log,
            self.supply_k + other.supply_k,
            self.swapped ^ other.swapped,
            np.maximum(self.air, other.air),
            np.take_along_axis(self.read_at, other.read_at, axis=1),
        )

    def still(self) -> FaultParameters:
        """The same number of points without any change."""
        return self.none(self.count, self.arm_log.shape[1], self.head_log.shape[1], self.supply_k.shape[1])

    def steps(self) -> FaultParameters:
        """Steps between points, as the spread of an even distribution between neighbours: the step over the root of
        12."""
        still = self.still()
        if self.count == 1:
            return still
        root = np.sqrt(12.0)
        return FaultParameters(
            np.gradient(self.arm_log, axis=0) / root,
            np.gradient(self.output_log, axis=0) / root,
            np.gradient(self.head_log, axis=0) / root,
            np.gradient(self.supply_k, axis=0) / root,
            still.swapped,
            still.air,
            still.read_at,
        )

    def take(self, index: NDArray[np.intp] | slice) -> FaultParameters:
        """Some of the points."""
        return FaultParameters(*(getattr(self, field.name)[index] for field in fields(self)))


def concatenate(parts: Sequence[FaultParameters]) -> FaultParameters:
    """Points concatenated."""
    names = [field.name for field in fields(FaultParameters)]
    return FaultParameters(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))
