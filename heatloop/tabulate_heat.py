"""Heat losses to tables: what each room's loss is made of, part by part and by kind."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum

import numpy as np
import pandas as pd

from heatloop.heat_loss import RoomLoss
from heatloop.heat_loss.model import PartKind

LOSS_COLUMNS = ["room", "kind", "label", "beyond", "area_m2", "u_w_m2k", "temp_beyond_c", "factor", "watts"]
KINDS: tuple[PartKind, ...] = ("walls", "windows", "doors", "floor", "ceiling", "bridges", "air", "reheat")
STATED = "stated"
"""Kind of the one part of a room whose loss somebody stated."""


def losses_table(losses: Sequence[RoomLoss]) -> pd.DataFrame:
    """One row a part of a room's loss, rooms in the order of the survey; a stated loss is one row of its room."""
    rows: list[tuple[str | float | None, ...]] = []
    for loss in losses:
        if loss.stated_by is not None:
            rows.append((loss.room, STATED, loss.stated_by, "", None, None, None, None, loss.total_w))
        rows += [
            (loss.room, p.kind, p.label, p.beyond, p.area_m2, p.u_w_m2k, p.temp_beyond_c, p.factor, p.watts)
            for p in loss.parts
        ]
    frame = pd.DataFrame(rows, columns=LOSS_COLUMNS)
    return frame.astype(dict.fromkeys(("area_m2", "u_w_m2k", "temp_beyond_c", "factor", "watts"), float))


def losses_by_kind(losses: Sequence[RoomLoss]) -> pd.DataFrame:
    """Columns loss_walls_w to loss_reheat_w, a row a room: they add up to its loss, empty where that is stated."""
    return pd.DataFrame(
        {
            f"loss_{kind}_w": [
                np.nan if loss.stated_by is not None else fsum(p.watts for p in loss.parts if p.kind == kind)
                for loss in losses
            ]
            for kind in KINDS
        }
    )
