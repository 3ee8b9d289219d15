"""Two loops with a wall behind every cell that loses heat, and their solved state."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from heatloop.hydraulics.model import LoopPath, TailLoss
from heatloop.hydraulics.network.build import build_network
from heatloop.hydraulics.pumps import ConstantHead
from heatloop.hydraulics.solver.operating_state import OperatingConditions, SystemState, solve_state
from heatloop.physics.water import plain_water
from tests.helpers.dwelling import loop_path

WATER = plain_water()
ROOMS_C = (20.0, 18.0, 16.0)


def with_back_loss(path: LoopPath) -> LoopPath:
    """Every cell in a room of its own temperature, with a wall behind it that loses; tails that lose to one room."""
    arm = path.arms[0]
    cells = tuple(
        replace(cell, room=f"room {cell.room_c:g}", back_w_mk=0.1 + 0.05 * i, useful=1.0)
        for i, cell in enumerate(arm.cells)
    )
    tails = TailLoss(flow_w_k=0.8, return_w_k=0.6, around_c=17.0, useful=0.5, room="room 20")
    return replace(path, arms=(replace(arm, cells=cells),), tail_loss=tails)


PATHS = [
    with_back_loss(loop_path("a", None, 1.2, pieces=6, rooms_c=ROOMS_C, kv_m3_h=0.9)),
    with_back_loss(loop_path("b", None, 0.8, pieces=3, rooms_c=ROOMS_C, film=True)),
]


def solved(head_pa: float, held: list[float] | None = None) -> SystemState:
    """Both loops at this head, with flows held where they are given."""
    conditions = OperatingConditions(
        np.array([55.0, 50.0]), [ConstantHead(head_pa)], held_kg_s=None if held is None else np.array(held)
    )
    return solve_state(build_network(PATHS), conditions, WATER)
