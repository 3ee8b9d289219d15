"""Bypasses with an opening pressure: closed until it is reached, then open until their flow becomes zero."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.network.system import PipeNetwork

Array = NDArray[np.float64]


class BypassState:
    """Which bypasses with an opening pressure are open, in S scenarios."""

    def __init__(self, network: PipeNetwork, scenarios: int) -> None:
        opens_pa = network.solver_index.opens_pa
        self.ways = [
            (int(link), float(opens), np.zeros(scenarios, bool))
            for link, opens in zip(network.bypass_link, opens_pa, strict=True)
            if opens is not None
        ]
        """Link, opening differential in Pa and whether it is open (S), of each."""

    def opening_pa(self, offset_pa: Array | None, shape: tuple[int, ...]) -> Array | None:
        """Add the opening pressures to offset_pa, of links (links, S), in place, and return it."""
        for link, opens_pa, _ in self.ways:
            offset_pa = np.zeros(shape) if offset_pa is None else offset_pa
            offset_pa[link] += opens_pa
        return offset_pa

    def hold(self, held_kg_s: Array, flow_kg_s: Array, spare_pa: Array) -> None:
        """Open or close each bypass by the flow and the spare differential of its link, both (links, S).

        Sets held_kg_s (links, S) of its link: 0 where closed, NaN where open.
        """
        for link, _, is_open in self.ways:
            is_open[:] = np.where(is_open, flow_kg_s[link] > 0.0, spare_pa[link] > 0.0)
            held_kg_s[link] = np.where(is_open, np.nan, 0.0)
