"""Mixing of streams of water: temperatures by enthalpy, for many scenarios at once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from heatloop.physics.water import Fluid

Array = NDArray[np.float64]

MAX_LOST_J_KG = 6e5
"""Limit of the cooling in a pipe, about 140 K. If a flow falls to nearly zero between two iterations, the heat loss
at the earlier flow can be more than the heat in the present flow."""


def mixed_temperature_c(
    fluid: Fluid,
    member: Array,
    flow_kg_s: Array,
    temp_c: Array,
    initial_guess_c: Array | None = None,
    less_w: Array | None = None,
) -> Array:
    """Temperatures of mixed streams by enthalpy: each row of `member` (K, N) mixes the streams marked 1.

    flow_kg_s and temp_c (N, S). Returns (K, S); where there is no flow, the mean temperature. initial_guess_c (K, S):
    estimated temperatures, which save a step of Newton's method. less_w (K, S): heat in W lost before the streams
    mixed.
    """
    member, weight, whole = _weights(member, flow_kg_s)
    mixed_c = (member @ (weight * temp_c)) / whole if initial_guess_c is None else initial_guess_c
    streams = temp_c.shape[0]
    heat_capacity, enthalpy = fluid.heat_capacity_and_enthalpy(np.concatenate([temp_c, mixed_c]))
    required = (member @ (weight * enthalpy[:streams])) / whole
    if less_w is not None:
        required = required - np.clip(less_w / whole, -MAX_LOST_J_KG, MAX_LOST_J_KG)
    mixed_c = mixed_c + (required - enthalpy[streams:]) / heat_capacity[streams:]
    if initial_guess_c is None:
        heat_capacity, enthalpy = fluid.heat_capacity_and_enthalpy(mixed_c)
        mixed_c = mixed_c + (required - enthalpy) / heat_capacity
    return np.asarray(mixed_c)


def draw_off_share(fluid: Fluid, warm_c: Array, mixed_c: Array, back_c: Array) -> Array:
    """Share (S) of the flow of a mixed circuit that it draws from the supply, by the heat balance with its return.

    The circuit is mixed to `mixed_c`; the supply has the temperature `warm_c`.
    """
    hot, mix, back = fluid.enthalpy_j_kg(np.stack([warm_c, mixed_c, back_c]))
    spread = np.where(hot > back, hot - back, 1.0)
    return np.asarray(np.where(hot > back, np.clip((mix - back) / spread, 0.0, 1.0), 1.0))


def loop_draw_share(fluid: Fluid, join_c: Array, supply_c: Array, back_c: Array) -> Array:
    """Share (L, S) of the flow of each loop that it draws where its tails join.

    The share is 1 for an unmixed loop. For a loop mixed to a lower temperature there, the heat balance with its return
    gives the share.
    """
    return np.where(supply_c < join_c, draw_off_share(fluid, join_c, supply_c, back_c), 1.0)


def estimated_mixed_temperature_c(member: Array, flow_kg_s: Array, temp_c: Array) -> Array:
    """Estimate of :func:`mixed_temperature_c` from mean temperatures."""
    member, weight, whole = _weights(member, flow_kg_s)
    return np.asarray((member @ (weight * temp_c)) / whole)


def _weights(member: Array, flow_kg_s: Array) -> tuple[Array, Array, Array]:
    """Members (all streams for a row that has none), weights of the streams, and the sum of weights of each row."""
    weight = np.maximum(flow_kg_s, 1e-30)
    whole = member @ weight
    if not whole.all():
        member = np.where(member.sum(axis=1) == 0.0, 1.0, member.T).T
        whole = member @ weight
    return member, weight, whole


def repeat_for_scenarios(values: Sequence[float] | Array, scenarios: int) -> Array:
    """An array (n) or (n, S), repeated to (n, S)."""
    array = np.asarray(values, float)
    return np.asarray(np.broadcast_to(array[:, None] if array.ndim == 1 else array, (array.shape[0], scenarios)))
