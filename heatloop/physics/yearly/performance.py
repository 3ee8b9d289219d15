"""Efficiency and capacity of a heat source between the points of its table."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class PerformanceGrid:
    """Efficiency, or coefficient of performance (COP), of a heat source by outdoor and flow temperature.

    outdoor_c (O) and flow_temp_c (F) rise; efficiency and capacity_kw (O, F). capacity_kw is None where it has no
    limit.
    """

    outdoor_c: Array
    flow_temp_c: Array
    efficiency: Array
    capacity_kw: Array | None = None

    def at(self, outdoor_c: float, flow_temp_c: float) -> tuple[float, float]:
        """Efficiency and capacity in kW (inf: no limit) at these temperatures.

        Linear in both temperatures between the points. Milder weather and cooler water than the table has get the
        values at its end, which are not too favourable. ValueError for colder weather or warmer water than the table
        has.

        >>> grid = PerformanceGrid(np.array([-7.0, 7.0]), np.array([35.0, 45.0]), np.array([[2.8, 2.2], [4.4, 3.4]]))
        >>> efficiency, capacity_kw = grid.at(0.0, 40.0)
        >>> round(efficiency, 6), capacity_kw
        (3.2, inf)
        """
        if outdoor_c < self.outdoor_c[0] or flow_temp_c > self.flow_temp_c[-1]:
            raise ValueError(
                f"outdoor {outdoor_c:g} °C, flow {flow_temp_c:g} °C: must be at least {self.outdoor_c[0]:g} °C and "
                f"at most {self.flow_temp_c[-1]:g} °C"
            )
        (low, high), share = _between(self.outdoor_c, outdoor_c)
        (left, right), across = _between(self.flow_temp_c, flow_temp_c)

        def value(of: Array) -> float:
            cold, mild = (float(of[i, left] + (of[i, right] - of[i, left]) * across) for i in (low, high))
            return cold + (mild - cold) * share

        return value(self.efficiency), np.inf if self.capacity_kw is None else value(self.capacity_kw)


def _between(points: Array, at: float) -> tuple[tuple[int, int], float]:
    """The points on both sides of a value, and its place between them from 0 to 1; the end beyond the last."""
    right = int(np.clip(np.searchsorted(points, at), 1, max(points.size - 1, 1)))
    if points.size == 1:
        return (0, 0), 0.0
    share = (at - points[right - 1]) / (points[right] - points[right - 1])
    return (right - 1, right), float(np.clip(share, 0.0, 1.0))
