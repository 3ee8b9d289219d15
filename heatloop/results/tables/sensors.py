"""Table of rooms that are controlled by a sensor in another room."""

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
    "Heat to each room whose valve is controlled by a sensor in another room; no heat when the valve is closed.",
    (
        text_column("room", "Room"),
        text_column("loop", "Loop"),
        text_column("sensor_room", "Sensor in", "room with the sensor that controls the valve of the loop"),
        number_column("heat_loss_w", "Heat loss", "W", 0),
        number_column(
            "heat_valves_open_w",
            "Heat, valves open",
            "W",
            0,
            "heat to the room with all valves at their nearest settings and none throttled by its thermostatic head, "
            "minus back loss",
        ),
        number_column(
            "controlled_flow_percent", "Controlled flow", "%", 0, "as a share of the loop's flow with all valves open"
        ),
        number_column(
            "heat_controlled_w",
            "Heat, controlled",
            "W",
            0,
            "heat to the room when the thermostatic valves control, minus back loss",
        ),
        change_column("margin_w", "Margin", "W", 0, "heat, controlled, minus heat loss"),
        share_column("coverage", "Net heat", "heat, controlled, as a share of the heat loss"),
    ),
)


def sensors_table(system: SizedSystem) -> pd.DataFrame:
    """One row for each room on a loop whose thermostatic valve has its sensor in another room, at design conditions.

    Heat to the room less back loss: first with all valves open; then with each thermostatic valve throttled until the
    room of its sensor receives its heat loss. `controlled_flow_percent` is the flow of the loop then, as a share of its
    open flow. NaN where the thermostat iteration did not converge.
    """
    survey, losses = system.survey, system.room_losses
    losses_w = {loss.room: loss.total_w for loss in losses}
    opened, controlled = (
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
            heat_w = controlled.get(room, np.nan)
            rows.append(
                {
                    "room": room,
                    "loop": survey.loops[loop].name,
                    "sensor_room": sensor.room,
                    "heat_loss_w": losses_w[room],
                    "heat_valves_open_w": opened.get(room, 0.0),
                    "controlled_flow_percent": 100.0 * share,
                    "heat_controlled_w": heat_w,
                    "margin_w": heat_w - losses_w[room],
                    "coverage": heat_w / losses_w[room],
                }
            )
    return table_frame(SENSORS, rows)
