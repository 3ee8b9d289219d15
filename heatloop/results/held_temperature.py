"""The temperature that a room would hold at design conditions.

At this temperature the output of its skirting equals its heat loss.
"""

from __future__ import annotations

import math

import pandas as pd

CLOSENESS_C = 1e-7
"""Width in °C of the bounds within which a temperature is found."""


def held_temperature_c(
    indoor_c: float, loss_w: float, conductance_w_k: float, output_w: float, water_c: float, exponent: float
) -> float:
    """Temperature in °C of a room whose output differs from its loss; all adjacent rooms keep theirs.

    The loss falls by `conductance_w_k` for each kelvin. The output varies with the excess of the mean water temperature
    to the power `exponent` (EN 442-2). `loss_w` and `output_w` are those at `indoor_c`.
    """

    def surplus_w(room_c: float) -> float:
        excess = max(water_c - room_c, 0.0) / (water_c - indoor_c)
        return float(output_w * excess**exponent - loss_w + conductance_w_k * (indoor_c - room_c))

    low_c, high_c = min(indoor_c - loss_w / conductance_w_k, indoor_c), water_c
    while high_c - low_c > CLOSENESS_C:  # the surplus falls as the room becomes warmer
        middle_c = (low_c + high_c) / 2.0
        low_c, high_c = (middle_c, high_c) if surplus_w(middle_c) > 0.0 else (low_c, middle_c)
    return (low_c + high_c) / 2.0


def held_temperatures(
    rooms: pd.DataFrame, loops: pd.DataFrame, parts: pd.DataFrame, outdoor_c: float, exponent: float
) -> dict[str, float]:
    """The temperature (°C) that each room would hold, by its name; rooms without a loop or a loss are left out.

    The water in a room is assumed at the mean of flow and return of its loops. The conductance of the room is the sum
    over the parts of its heat loss: area times U; for air and a stated loss, the loss over its temperature difference.
    """
    mean_c = {
        name: (row["flow_temp_c"] + row["return_temp_c"]) / 2.0
        for row in loops.to_dict("records")
        for name in str(row["rooms"]).split(", ")
    }
    held_c = {}
    for row in rooms.to_dict("records"):
        own = parts[parts["room"] == row["room"]].to_dict("records")
        conductance = math.fsum(_conductance_w_k(part, row["indoor_c"], outdoor_c) for part in own)
        water_c, loss_w = mean_c.get(row["room"]), row["heat_loss_w"] + row["back_loss_w"]
        if water_c is not None and water_c > row["indoor_c"] and loss_w > 0.0 and conductance > 0.0:
            held_c[row["room"]] = held_temperature_c(
                row["indoor_c"], loss_w, conductance, row["heat_to_rooms_w"], water_c, exponent
            )
    return held_c


def _conductance_w_k(part: dict[object, float], indoor_c: float, outdoor_c: float) -> float:
    by_area = part["area_m2"] * part["u_w_m2k"]
    if not math.isnan(by_area):
        return by_area
    beyond_c = outdoor_c if math.isnan(part["adjacent_temp_c"]) else part["adjacent_temp_c"]
    return part["heat_loss_w"] / (indoor_c - beyond_c) if indoor_c != beyond_c else 0.0
