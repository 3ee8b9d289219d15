"""Uncertain quantities of a site without fault: probe, source control, tolerances and heat losses."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from heatloop.diagnosis.site_model.heat_response import ArmHeatTable
from heatloop.diagnosis.site_model.prediction import SiteModel
from heatloop.diagnosis.site_model.reading_conditions import BIAS_K, ReadingConditions

Array = NDArray[np.float64]

FLOW_SPREAD = 0.06
"""Relative spread of a loop's flow about the calculated one: Kv within some 10 %, bores, fittings (common practice)."""

OUTPUT_SPREAD = 0.05
"""Relative spread of an arm's output: the band of its rating and how it is fixed (common practice)."""

HEAD_SPREAD = 0.07
"""Relative spread of a pump's head about its setting (common practice)."""

MIXED_SPREAD_K = 1.0
"""Deviation of a mixing valve from its setting (common practice)."""

LOSS_SPREAD_ALL = 0.12
"""Relative spread of the heat losses of all rooms together (common practice)."""


@dataclass(frozen=True)
class Tolerances:
    """Uncertain quantities of a site without fault, K of them: their spreads (K) and effects.

    Effects of one unit of each: on flows (K, A), outputs (K, A), heads (K, P), supply (K, L), the bias of the probe (K)
    the losses of all rooms (K) and the setting of the source (K). Order: bias of the probe, losses, water and head of
    every circuit, setting of the source, flow of every arm, output of every arm.
    """

    spread: Array
    flow: Array
    output: Array
    head: Array
    supply: Array
    bias: Array
    loss: Array
    setting: Array

    @property
    def common(self) -> int:
        """Number of unknowns that do not belong to a single arm."""
        return int(self.spread.size - 2 * self.flow.shape[1])


def unknowns(model: SiteModel, day: ReadingConditions) -> Tolerances:
    """Uncertain quantities of a site without fault."""
    arms, loops, circuits = len(model.network.arms), len(model.network.loops), len(model.network.circuits)
    of_circuit = np.asarray(model.network.loop_circuit)
    count = 3 + 2 * circuits + 2 * arms
    spread = np.zeros(count)
    flow, output = np.zeros((count, arms)), np.zeros((count, arms))
    head, supply = np.zeros((count, circuits)), np.zeros((count, loops))
    bias, loss, setting = np.zeros(count), np.zeros(count), np.zeros(count)
    unread = 2 + 2 * circuits
    spread[0], bias[0] = BIAS_K, 1.0
    spread[1], loss[1] = LOSS_SPREAD_ALL, 1.0
    for p in range(circuits):
        fluid, pump = 2 + p, 2 + circuits + p
        if p == 0:
            spread[fluid] = day.source_spread_k
            supply[fluid] = model.site.supply_c(day.source_c + 0.5) - model.site.supply_c(day.source_c - 0.5)
        else:
            spread[fluid], supply[fluid] = MIXED_SPREAD_K, of_circuit == p
        spread[pump], head[pump, p], flow[pump] = HEAD_SPREAD, 1.0, model.head_slope[p]
    spread[unread], supply[unread], setting[unread] = day.setting_spread_k, supply[2], 1.0
    for a, table in enumerate(model.tables.arms):
        k = 3 + 2 * circuits + a
        spread[k], flow[k, a] = FLOW_SPREAD, 1.0
        spread[k + arms], output[k + arms, a] = _output_spread(table, day), 1.0
    return Tolerances(spread, flow, output, head, supply, bias, loss, setting)


def _output_spread(table: ArmHeatTable, day: ReadingConditions) -> float:
    """Relative spread of an arm's output, rooms that were not read included."""
    parts = table.expected_parts
    rooms_k = math.sqrt(
        sum((part * day.room_error_k[room]) ** 2 for part, room in zip(parts, table.rooms, strict=True))
    )
    return math.hypot(OUTPUT_SPREAD, table.exponent * rooms_k / max(table.excess_k, 5.0))
