"""Bypasses that open at a differential: shut until it is reached, open until their flow ceases."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.network.system import PipeNetwork

Array = NDArray[np.float64]


class BypassState:
    """Which differential bypasses of a system are open in S scenarios."""

    def __init__(self, network: PipeNetwork, scenarios: int) -> None:
        opens_pa = network.solver_index.opens_pa
        self.ways = [
            (int(link), float(opens), np.zeros(scenarios, bool))
            for link, opens in zip(network.bypass_link, opens_pa, strict=True)
            if opens is not None
        ]
        """Link, opening differential in Pa and whether it is open (S), of each."""

    def opening_pa(self, offset_pa: Array | None, shape: tuple[int, ...]) -> Array | None:
        """offset_pa, of links (links, S), with the opening differentials added, which is changed in place."""
        for link, opens_pa, _ in self.ways:
            offset_pa = np.zeros(shape) if offset_pa is None else offset_pa
            offset_pa[link] += opens_pa
        return offset_pa

    def hold(self, held_kg_s: Array, flow_kg_s: Array, spare_pa: Array) -> None:
        """Open or shut each by the flow and the spare differential of its link, both (links, S), and set
        held_kg_s (links, S) of its link: 0 where shut, NaN where open."""
        for link, _, is_open in self.ways:
            is_open[:] = np.where(is_open, flow_kg_s[link] > 0.0, spare_pa[link] > 0.0)
            held_kg_s[link] = np.where(is_open, np.nan, 0.0)
