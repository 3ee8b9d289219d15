"""Temperatures at the ends of tails, and the heat that tails lose."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from heatloop.hydraulics.heat.other_emitters import EmitterPassage
from heatloop.hydraulics.model import Side
from heatloop.hydraulics.network.pipe_loss import log_mean_k, temperature_after_loss_c
from heatloop.hydraulics.network.system import PipeNetwork
from heatloop.physics.water import Fluid

Array = NDArray[np.float64]


def tail_passed(
    network: PipeNetwork,
    flow_kg_s: Array,
    inlet_c: Array,
    fluid: Fluid,
    side: Side,
    loops: NDArray[np.intp] | slice = slice(None),
) -> EmitterPassage:
    """Temperature at the end of the "flow" or "return" tails of `loops`, to rounding, one value for each loop.

    Also the temperatures of the other emitters on the way.
    """
    sides = network.solver_index.tails
    which = np.arange(len(network.loops))[loops]
    if side == "return":
        passed = network.emitters.passed(side, which, flow_kg_s, inlet_c, fluid)
        inlet_c = passed.outlet_c
    loss = (sides.flow_w_k if side == "flow" else sides.return_w_k)[loops]
    flow, inlet = flow_kg_s[:, None], inlet_c[:, None]
    outlet = inlet
    for _ in range(0 if sides.lossless else 3):
        outlet = temperature_after_loss_c(loss, sides.around_c[loops], flow, inlet, outlet, fluid)
    if side == "flow":
        return network.emitters.passed(side, which, flow_kg_s, outlet[:, 0], fluid)
    return EmitterPassage(outlet[:, 0], passed.steps)


def tail_loss_w(network: PipeNetwork, from_c: Array, to_c: Array, side: Side) -> Array:
    """Heat loss of the "flow" or "return" tail of each loop (L) in W: its conductance times its log mean excess."""
    sides = network.solver_index.tails
    loss = sides.flow_w_k if side == "flow" else sides.return_w_k
    if sides.lossless:
        return np.zeros(loss.size)
    return loss * log_mean_k(from_c - sides.around_c, to_c - sides.around_c)
