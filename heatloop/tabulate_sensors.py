"""Rooms whose heat hangs on the sensor of another room, as a table."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from heatloop.circuit.rooms import useful_w
from heatloop.heat_loss import RoomLoss
from heatloop.plant import governors_of, rooms_on
from heatloop.survey.model import Survey
from heatloop.tabulate_valves import Balanced

SENSOR_COLUMNS = (
    "room", "loop", "sensor_room", "loss_w", "open_w", "flow_percent", "governed_w", "margin_w", "coverage",
)  # fmt: skip


def sensors_table(survey: Survey, losses: Sequence[RoomLoss], water: Balanced) -> pd.DataFrame:
    """One row a room on a loop whose thermostatic valve has its sensor elsewhere, at the design condition.

    What the room gets (less what the warmed wall behind its skirting loses) with all valves open, and when every
    thermostatic valve has throttled until the room of its sensor has its loss; `flow_percent` is what its loop then
    carries of its open flow. NaN where the valves find no rest.
    """
    wants = {loss.room: loss.total_w for loss in losses}
    opened, governed = useful_w(water.achieved), {} if water.sensed is None else useful_w(water.sensed)
    rows = []
    for loop, sensor in governors_of(survey, losses).items():
        share = np.nan
        if water.sensed is not None:
            share = float(water.sensed.loop_flow_kg_s[loop] / water.achieved.loop_flow_kg_s[loop])
        for room in rooms_on(survey.loops[loop]):
            if room == sensor.room or wants[room] <= 0.0:
                continue
            given = governed.get(room, np.nan)
            rows.append(
                {
                    "room": room,
                    "loop": survey.loops[loop].name,
                    "sensor_room": sensor.room,
                    "loss_w": wants[room],
                    "open_w": opened.get(room, 0.0),
                    "flow_percent": 100.0 * share,
                    "governed_w": given,
                    "margin_w": given - wants[room],
                    "coverage": given / wants[room],
                }
            )
    return pd.DataFrame(rows, columns=SENSOR_COLUMNS)
