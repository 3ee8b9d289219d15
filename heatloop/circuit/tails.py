"""Heat lost by the tails of loops: temperatures at their ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from heatloop.circuit.emitters import Passed
from heatloop.circuit.heat import mean_heat_capacity
from heatloop.circuit.model import LoopPath
from heatloop.physics.water import Fluid

if TYPE_CHECKING:
    from heatloop.circuit.assembly import Assembly

Array = NDArray[np.float64]

LEAST_FLOW_KG_S = 1e-9


@dataclass(frozen=True)
class TailSides:
    """Conductance of each loop's flow and return tail, W/K (L), and the temperature round them, degC (L)."""

    flow_w_k: Array
    return_w_k: Array
    around_c: Array

    @classmethod
    def of(cls, loops: Sequence[LoopPath]) -> TailSides:
        """The tails of these loops."""
        losses = [path.tail_loss for path in loops]
        return cls(
            np.array([one.flow_w_k for one in losses]),
            np.array([one.return_w_k for one in losses]),
            np.array([one.around_c for one in losses]),
        )

    @cached_property
    def lossless(self) -> bool:
        """Whether no tail loses anything."""
        return not (self.flow_w_k.any() or self.return_w_k.any())

    def flow_outlet_c(self, flow_kg_s: Array, inlet_c: Array, near_c: Array, water: Fluid) -> Array:
        """Temperature at the end of the flow tails: the exponential approach to the surroundings, with the mean
        heat capacity between inlet and `near_c`, the outlet as known so far. (L, S) all."""
        if self.lossless:
            return inlet_c
        return approach_c(self.flow_w_k, self.around_c, flow_kg_s, inlet_c, near_c, water)

    def return_outlet_c(self, flow_kg_s: Array, inlet_c: Array, near_c: Array, water: Fluid) -> Array:
        """As `flow_outlet_c`, of the return tails."""
        if self.lossless:
            return inlet_c
        return approach_c(self.return_w_k, self.around_c, flow_kg_s, inlet_c, near_c, water)


def approach_c(loss: Array, around: Array, flow: Array, inlet: Array, near: Array, water: Fluid) -> Array:
    """Temperature at the end of pipes that lose `loss` W/K to `around` degC, (L) each: the exponential approach with
    the mean heat capacity between inlet and `near`, the outlet as known so far; flow kg/s and temperatures (L, S)."""
    capacity = np.maximum(flow, LEAST_FLOW_KG_S) * mean_heat_capacity(water, inlet, near)
    round_c = around[:, None]
    return np.asarray(round_c + (inlet - round_c) * np.exp(-loss[:, None] / capacity))


def tail_passed(
    assembly: Assembly,
    flow_kg_s: Array,
    inlet_c: Array,
    water: Fluid,
    side: str,
    loops: NDArray[np.intp] | slice = slice(None),
) -> Passed:
    """Temperature at the end of the "flow" or "return" tails of `loops`, to rounding, one value per loop, and those
    of the other emitters on the way."""
    sides = assembly.frame.tails
    which = np.arange(len(assembly.loops))[loops]
    if side == "return":
        passed = assembly.emitters.passed(side, which, flow_kg_s, inlet_c, water)
        inlet_c = passed.outlet_c
    loss = (sides.flow_w_k if side == "flow" else sides.return_w_k)[loops]
    flow, inlet = flow_kg_s[:, None], inlet_c[:, None]
    outlet = inlet
    for _ in range(0 if sides.lossless else 3):
        outlet = approach_c(loss, sides.around_c[loops], flow, inlet, outlet, water)
    if side == "flow":
        return assembly.emitters.passed(side, which, flow_kg_s, outlet[:, 0], water)
    return Passed(outlet[:, 0], passed.steps)


def tail_loss_w(assembly: Assembly, from_c: Array, to_c: Array, side: str) -> Array:
    """Heat lost by each loop's "flow" or "return" tail, (L) W: its conductance times its log mean excess."""
    sides = assembly.frame.tails
    loss = sides.flow_w_k if side == "flow" else sides.return_w_k
    if sides.lossless:
        return np.zeros(loss.size)
    return loss * log_mean_k(from_c - sides.around_c, to_c - sides.around_c)


def log_mean_k(first: Array, last: Array) -> Array:
    """Log mean of the excess of water over its surroundings at both ends of a pipe, K; none where it has come to
    their very temperature."""
    cold = last == 0.0
    ratio = np.where(cold, np.e, first / np.where(cold, 1.0, last))
    uneven = np.abs(ratio - 1.0) > 1e-12
    log = np.log(np.where(uneven & (ratio > 0), ratio, np.e))
    return np.asarray(np.where(cold, 0.0, np.where(uneven, (first - last) / log, first)))
