"""Heat loss of pipes: the tails of loops, and the exponential approach of water to the surroundings of any pipe."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.channel_heat import mean_heat_capacity
from heatloop.hydraulics.model import LoopPath
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

MIN_FLOW_KG_S = 1e-9


@dataclass(frozen=True)
class TailConductances:
    """Conductance of the flow and return tail of each loop in W/K (L), and the temperature around them in °C (L)."""

    flow_w_k: Array
    return_w_k: Array
    around_c: Array

    @classmethod
    def of(cls, loops: Sequence[LoopPath]) -> TailConductances:
        """The tails of these loops."""
        losses = [path.tail_loss for path in loops]
        return cls(
            np.array([loss.flow_w_k for loss in losses]),
            np.array([loss.return_w_k for loss in losses]),
            np.array([loss.around_c for loss in losses]),
        )

    @cached_property
    def lossless(self) -> bool:
        """Whether no tail loses heat."""
        return not (self.flow_w_k.any() or self.return_w_k.any())

    def flow_outlet_c(self, flow_kg_s: Array, inlet_c: Array, initial_guess_c: Array, fluid: Fluid) -> Array:
        """Temperature at the end of the flow tails (L, S): exponential approach to the surroundings.

        The heat capacity is the mean between inlet and `initial_guess_c`, the estimated outlet temperature.
        """
        if self.lossless:
            return inlet_c
        return temperature_after_loss_c(self.flow_w_k, self.around_c, flow_kg_s, inlet_c, initial_guess_c, fluid)

    def return_outlet_c(self, flow_kg_s: Array, inlet_c: Array, initial_guess_c: Array, fluid: Fluid) -> Array:
        """Temperature at the end of the return tails, as in `flow_outlet_c`."""
        if self.lossless:
            return inlet_c
        return temperature_after_loss_c(self.return_w_k, self.around_c, flow_kg_s, inlet_c, initial_guess_c, fluid)


def temperature_after_loss_c(
    loss: Array, around: Array, flow: Array, inlet: Array, initial_guess_c: Array, fluid: Fluid
) -> Array:
    """Temperature at the end of pipes that lose `loss` W/K to `around` °C, (L) each: exponential approach.

    The heat capacity is the mean between inlet and `initial_guess_c`, the estimated outlet temperature. Flow in kg/s
    and temperatures (L, S).
    """
    capacity = np.maximum(flow, MIN_FLOW_KG_S) * mean_heat_capacity(fluid, inlet, initial_guess_c)
    round_c = around[:, None]
    return np.asarray(round_c + (inlet - round_c) * np.exp(-loss[:, None] / capacity))


def log_mean_k(first: Array, last: Array) -> Array:
    """Log mean in K of the excess of water over its surroundings at both ends of a pipe.

    It is 0 where the water has reached the temperature of its surroundings.
    """
    cold = last == 0.0
    ratio = np.where(cold, np.e, first / np.where(cold, 1.0, last))
    uneven = np.abs(ratio - 1.0) > 1e-12
    log = np.log(np.where(uneven & (ratio > 0), ratio, np.e))
    return np.asarray(np.where(cold, 0.0, np.where(uneven, (first - last) / log, first)))
