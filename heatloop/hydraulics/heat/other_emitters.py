"""Other emitters in series with skirting, on the tails of loops: their positions, and how the water cools in them.

Each emitter is single-pass, in one room, and carries the whole flow of its loop. Its outlet temperature follows from a
closed formula. Its heat capacity is the mean between inlet and outlet, as in every cell of skirting.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.channel_heat import mean_heat_capacity
from heatloop.hydraulics.model import ElementLocation, Side
from heatloop.physics.emitters import one_way_emission_w, one_way_outlet_excess_k
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]
Index = NDArray[np.intp]

MIN_FLOW_KG_S = 1e-9
PASSES = 4
"""Iterations of the mean heat capacity; each reduces the error by a factor of about a thousand."""


@dataclass(frozen=True)
class Emitters:
    """All other emitters of a system, M of them; those on one side of a loop are in water order.

    Their position among the elements, their loop, and whether they are on the flow. K in W/K^n, exponent, and the
    temperature of their rooms.
    """

    place: Index
    loop: Index
    on_flow: NDArray[np.bool_]
    k_w_kn: Array
    exponent: Array
    room_c: Array

    @classmethod
    def of(cls, locations: Sequence[ElementLocation]) -> Emitters:
        """The other emitters among the elements of a system."""
        placed = [(i, place, place.element.emits) for i, place in enumerate(locations)]
        own = [(i, place, emits) for i, place, emits in placed if emits is not None]
        return cls(
            np.array([i for i, _, _ in own], dtype=np.intp),
            np.array([place.loop for _, place, _ in own], dtype=np.intp),
            np.array([place.element.direction == "flow" for _, place, _ in own], dtype=bool),
            np.array([emits.k_w_kn for _, _, emits in own]),
            np.array([emits.exponent for _, _, emits in own]),
            np.array([emits.room_c for _, _, emits in own]),
        )

    @property
    def count(self) -> int:
        return int(self.place.size)

    def passed(self, side: Side, loop: Index, flow_kg_s: Array, inlet_c: Array, fluid: Fluid) -> EmitterPassage:
        """Water of rows (N or N, S) of loops `loop` (N) after the emitters on that side, "flow" or "return"."""
        outlet, steps = inlet_c, []
        for emitters in self._in_turn[side]:
            own = np.full(int(max(loop.max(initial=-1), self.loop.max())) + 1, -1)
            own[self.loop[emitters]] = emitters
            emitter = own[loop]
            rows = np.flatnonzero(emitter >= 0)
            if not rows.size:
                continue
            before = outlet[rows]
            after = self.outlet_c(emitter[rows], flow_kg_s[rows], before, fluid)
            outlet = outlet.copy()
            outlet[rows] = after
            steps.append(EmitterTemperatures(emitter[rows], rows, before, after))
        return EmitterPassage(outlet, tuple(steps))

    @cached_property
    def _in_turn(self) -> dict[Side, tuple[Index, ...]]:
        """The first emitter of every loop on each side, then the second of those that have one, and so on."""
        turns: dict[Side, tuple[Index, ...]] = {}
        for side in ("flow", "return"):
            own = np.flatnonzero(self.on_flow == (side == "flow"))
            turn = np.array([int((self.loop[own[:i]] == self.loop[m]).sum()) for i, m in enumerate(own)], dtype=np.intp)
            turns[side] = tuple(own[turn == number] for number in range(int(turn.max(initial=-1)) + 1))
        return turns

    def tail_ends_c(self, temp_in_c: Array, temp_out_c: Array, head_c: Array, foot_c: Array) -> tuple[Array, Array]:
        """Temperatures where the flow tail of each loop ends and where its return tail begins, (L) each.

        These are `head_c` and `foot_c`, except for loops with emitters there. temp_in_c and temp_out_c (E) are those of
        the elements.
        """
        flow_end, return_start = head_c.copy(), foot_c.copy()
        for m in reversed(range(self.count)):
            if self.on_flow[m]:
                flow_end[self.loop[m]] = temp_in_c[self.place[m]]
        for m in range(self.count):
            if not self.on_flow[m]:
                return_start[self.loop[m]] = temp_out_c[self.place[m]]
        return flow_end, return_start

    def outlet_c(self, emitter: Index, flow_kg_s: Array, inlet_c: Array, fluid: Fluid) -> Array:
        """Temperature after these emitters, one for each row, by the closed formula for a single-pass run."""
        flow, shape = np.maximum(flow_kg_s, MIN_FLOW_KG_S), (-1, *(1,) * (inlet_c.ndim - 1))
        k_w_kn, exponent, room = (of[emitter].reshape(shape) for of in (self.k_w_kn, self.exponent, self.room_c))
        outlet = inlet_c
        for _ in range(PASSES):
            capacity = flow * mean_heat_capacity(fluid, inlet_c, outlet)
            outlet = room + one_way_outlet_excess_k(inlet_c - room, k_w_kn, exponent, 1.0, capacity)
        return outlet

    def emission_w(self, flow_kg_s: Array, inlet_c: Array, outlet_c: Array, fluid: Fluid) -> Array:
        """Heat of all emitters in W (M), by quadrature of their characteristics, not from the heat of the water."""
        capacity = np.maximum(flow_kg_s, MIN_FLOW_KG_S) * mean_heat_capacity(fluid, inlet_c, outlet_c)
        return one_way_emission_w(inlet_c - self.room_c, self.k_w_kn, self.exponent, 1.0, capacity)


@dataclass(frozen=True)
class EmitterTemperatures:
    """Temperatures of the water of some rows (R or R, S) before and after the emitter of each, (R)."""

    emitter: Index
    rows: Index
    inlet_c: Array
    outlet_c: Array


@dataclass(frozen=True)
class EmitterPassage:
    """Temperatures after the emitters of one side, and before and after those that the water reaches in turn."""

    outlet_c: Array
    steps: tuple[EmitterTemperatures, ...]
