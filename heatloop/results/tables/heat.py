"""Tables of heat: heat loss of rooms by building element and by kind, and the heat balance of the source."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum

import numpy as np
import pandas as pd

from heatloop.heat_loss.model import PartKind, RoomLoss
from heatloop.hydraulics.analysis.room_output import back_loss_w, downward_loss_w, room_output_w
from heatloop.hydraulics.solver.operating_state import SystemState
from heatloop.text.column import TableDescription, flag_column, number_column, text_column
from heatloop.text.table_set import table_frame

KINDS: tuple[PartKind, ...] = ("walls", "windows", "doors", "floor", "ceiling", "bridges", "air", "reheat")
SOURCE = "total from the source"
STATED = "stated"
"""Kind of the single part of a room whose heat loss is stated in the survey."""

LOSS_BY_KIND = (
    number_column("loss_walls_w", "Walls", "W", 0, "part of the heat loss; blank where the loss is stated"),
    number_column("loss_windows_w", "Windows", "W", 0, "part of the heat loss, glazed doors included"),
    number_column("loss_doors_w", "Doors", "W", 0, "part of the heat loss"),
    number_column("loss_floor_w", "Floor", "W", 0, "part of the heat loss"),
    number_column("loss_ceiling_w", "Ceiling", "W", 0, "part of the heat loss"),
    number_column("loss_thermal_bridges_w", "Thermal bridges", "W", 0, "part of the heat loss"),
    number_column("loss_ventilation_w", "Ventilation", "W", 0, "part of the heat loss"),
    number_column("reheat_w", "Reheat", "W", 0, "part of the heat loss, after a setback"),
)

LOSSES = TableDescription(
    "heat_loss_parts",
    "Heat loss by building element",
    "Heat loss of each room at the outdoor design temperature by element; negative: heat gained from a warmer space.",
    (
        text_column("room", "Room"),
        text_column("kind", "Kind"),
        text_column("element", "Element", "a wall by its number in the survey; for a stated heat loss its source"),
        text_column("adjacent_space", "Adjacent space"),
        number_column("area_m2", "Area", "m²", 2, "area without openings; for reheat the floor area"),
        number_column("u_w_m2k", "U-value", "W/(m² K)", 2),
        number_column("adjacent_temp_c", "Adjacent temperature", "°C", 1),
        number_column(
            "temperature_factor",
            "Temperature factor",
            "",
            3,
            "multiplies the difference between indoor and outdoor temperature; includes season and heat recovery",
        ),
        number_column("heat_loss_w", "Heat loss", "W", 0, source="EN 12831"),
    ),
)

SOURCE_HEAT = TableDescription(
    "source_heat_balance",
    "Heat balance of the source",
    "Heat that the water gives up between flow and return of the source; the last row is the sum of the rows above.",
    (
        text_column("destination", "Destination"),
        number_column("heat_w", "Heat", "W", 1),
        number_column("share_percent", "Share of the total", "%", 1),
        flag_column(
            "counts_as_output", "Counts as output", "included in the heat to rooms, before back loss is deducted"
        ),
    ),
)


def losses_table(losses: Sequence[RoomLoss]) -> pd.DataFrame:
    """One row for each part of a room's loss, rooms in the order of the survey; a stated loss is one row."""
    rows: list[tuple[str | float | None, ...]] = []
    for loss in losses:
        if loss.loss_source is not None:
            rows.append((loss.room, STATED, loss.loss_source, "", None, None, None, None, loss.total_w))
        rows += [
            (loss.room, p.kind, p.label, p.beyond, p.area_m2, p.u_w_m2k, p.adjacent_temp_c, p.factor, p.heat_w)
            for p in loss.parts
        ]
    frame = table_frame(LOSSES, rows)
    return frame.astype(
        dict.fromkeys(("area_m2", "u_w_m2k", "adjacent_temp_c", "temperature_factor", "heat_loss_w"), float)
    )


def losses_by_kind(losses: Sequence[RoomLoss]) -> pd.DataFrame:
    """Columns loss_walls_w to reheat_w, one row for each room: their sum is its heat loss, empty where it is stated."""
    return pd.DataFrame(
        {
            column.name: [
                np.nan if loss.loss_source is not None else fsum(p.heat_w for p in loss.parts if p.kind == kind)
                for loss in losses
            ]
            for column, kind in zip(LOSS_BY_KIND, KINDS, strict=True)
        }
    )


ROUNDING = 1e-12
"""A part of the heat of the source below this share of it is the rounding of a difference: the part does not exist."""


def source_heat_table(state: SystemState) -> pd.DataFrame:
    """Heat balance of the source, W: heat to rooms, back loss, downward loss, losses of pipes and trunks. The last row
    is the total heat taken from the water.
    """
    behind, below = fsum(back_loss_w(state).values()), fsum(downward_loss_w(state).values())
    useful, trunks = fsum(room_output_w(state).values()), float(state.main_loss_w.sum())
    others = float(state.emitter_w.sum())
    pipes = fsum(
        float(heat_w) * cell.useful
        for path, heat in zip(state.network.arms, state.arms, strict=True)
        for cell, heat_w in zip(path.cells, heat.emitted_w.sum(axis=0), strict=True)
        if not cell.skirting
    ) + fsum(
        float(lost) * loop.tail_loss.useful for loop, lost in zip(state.network.loops, state.tail_loss_w, strict=True)
    )
    rows = [
        ("skirting to its rooms", useful - others - pipes - behind, True),
        ("through walls behind the skirting", behind, True),
        ("other emitters to their rooms", others, True),
        ("pipes to rooms, useful share", pipes, True),
        ("loss of the loops' pipes", state.given_w - useful - below - trunks, False),
        ("loss of trunks", trunks, False),
        ("below floor sections, into the floor", below, False),
        (SOURCE, state.given_w, False),
    ]
    kept = [
        (part, heat_w, 100.0 * heat_w / state.given_w, counts)
        for part, heat_w, counts in rows
        if abs(heat_w) > ROUNDING * abs(state.given_w)
    ]
    return table_frame(SOURCE_HEAT, kept)
