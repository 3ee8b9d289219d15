"""Rooms whose heat hangs on the sensor of another room, as a table."""

from __future__ import annotations

import numpy as np
import pandas as pd

from heatloop.hydraulics.analysis.room_output import net_room_heat_w
from heatloop.hydraulics.from_survey import rooms_on_sensor, sensor_demands_from
from heatloop.hydraulics.sizing.sized_system import SizedSystem
from heatloop.text.column import TableDescription, change_column, number_column, share_column, text_column
from heatloop.text.table_set import table_frame

SENSORS = TableDescription(
    "remote_sensors",
    "Rooms with a remote sensor",
    "What they get once thermostatic valves have throttled to the rooms of their sensors; shut, they get nothing.",
    (
        text_column("room", "Room"),
        text_column("loop", "Loop"),
        text_column("sensor_room", "Sensor in", "the room that decides how far the loop's valve opens"),
        number_column("heat_loss_w", "Heat loss", "W", 0),
        number_column(
            "heat_valves_open_w", "Heat, valves open", "W", 0, "what it gets with every valve open, less back loss"
        ),
        number_column("controlled_flow_percent", "Controlled flow", "%", 0, "of the loop's flow with all valves open"),
        number_column(
            "heat_controlled_w", "Heat, controlled", "W", 0, "with thermostatic valves at work, less back loss"
        ),
        change_column("margin_w", "Margin", "W", 0, "what it gets then, less its loss"),
        share_column("coverage", "Coverage", "what it gets then over its loss"),
    ),
)


def sensors_table(system: SizedSystem) -> pd.DataFrame:
    """One row a room on a loop whose thermostatic valve has its sensor elsewhere, at the design condition.

    What the room gets (less what the warmed wall behind its skirting loses) with all valves open, and when every
    thermostatic valve has throttled until the room of its sensor has its loss; `controlled_flow_percent` is
    what its loop then carries of its open flow. NaN where the iteration does not converge.
    """
    survey, losses = system.survey, system.room_losses
    losses_w = {loss.room: loss.total_w for loss in losses}
    opened, governed = (
        net_room_heat_w(system.achieved),
        {} if system.controlled is None else net_room_heat_w(system.controlled),
    )
    rows = []
    for loop, sensor in sensor_demands_from(survey, losses).items():
        share = np.nan
        if system.controlled is not None:
            share = float(system.controlled.loop_flow_kg_s[loop] / system.achieved.loop_flow_kg_s[loop])
        for room in rooms_on_sensor(survey.loops[loop]):
            if room == sensor.room or losses_w[room] <= 0.0:
                continue
            given = governed.get(room, np.nan)
            rows.append(
                {
                    "room": room,
                    "loop": survey.loops[loop].name,
                    "sensor_room": sensor.room,
                    "heat_loss_w": losses_w[room],
                    "heat_valves_open_w": opened.get(room, 0.0),
                    "controlled_flow_percent": 100.0 * share,
                    "heat_controlled_w": given,
                    "margin_w": given - losses_w[room],
                    "coverage": given / losses_w[room],
                }
            )
    return table_frame(SENSORS, rows)
