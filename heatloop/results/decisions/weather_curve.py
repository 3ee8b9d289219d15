"""Weather curve: the flow temperature that a system, and each of its rooms, requires at outdoor temperatures."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import pandas as pd

from heatloop.text.column import Column, TableDescription, change_column, number_column, text_column
from heatloop.text.formatting import number, plural
from heatloop.text.summary import Summary, grid
from heatloop.text.table_set import Table, TableSet

CURVE = TableDescription(
    "weather_curve",
    "Weather curve",
    "Lowest flow temperature at which all heated rooms reach their temperature, by outdoor temperature, with the "
    "valves as they are set and thermostatic valves open.",
    (
        number_column("outdoor_c", "Outdoor", "°C", 1),
        number_column("flow_temp_c", "Flow", "°C", 1, "at the source; blank where a room is short at "
                      "every temperature"),
        text_column("room", "Determined by", "the room that requires this temperature"),
        number_column("return_temp_c", "Return", "°C", 1, "at the source"),
        number_column("heat_loss_w", "Heat loss", "W", 0, "of the heated rooms"),
    ),
)  # fmt: skip

ROOM_CURVES = TableDescription(
    "room_flow_temps",
    "Flow temperature that each room requires",
    "Flow temperature at the source at which each room reaches its temperature, by outdoor temperature.",
    (
        text_column("room", "Room"),
        number_column("outdoor_c", "Outdoor", "°C", 1),
        number_column("heat_loss_w", "Heat loss", "W", 0),
        number_column("flow_temp_c", "Flow", "°C", 1, "blank where the room requires no heat, or is short at every "
                      "temperature"),
        number_column("below_curve_k", "Below the curve", "K", 1, "by how much less than the weather curve"),
        number_column("formula_flow_temp_c", "Flow by formula", "°C", 1, "check value: the flow temperature of the "
                      "first row of the room, scaled by the ratio of their heat losses at constant flow",
                      "EN 442-2 characteristic"),
        change_column("formula_difference_k", "Formula minus calculation", "K", 1),
    ),
)  # fmt: skip

CURVE_SUMMARY: tuple[Column, ...] = (
    text_column("project", "Project"),
    number_column("design_outdoor_c", "Outdoor, design", "°C", 1),
    number_column("design_flow_temp_c", "Flow, design", "°C", 1),
    number_column("max_flow_temp_c", "Maximum flow temperature", "°C", 1),
    text_column("short_rooms", "Rooms short", "rooms that are short of heat at every flow temperature"),
    number_column("slope", "Slope", "", 2, "fall of the flow temperature by the rise of the outdoor temperature, "
                  "between the coldest and the mildest row"),
)  # fmt: skip

NO_HEAT = "A dash: the room requires no heat from the system, or is short of heat even at the maximum flow temperature."

LINE = ("outdoor_c", "flow_temp_c", "room", "return_temp_c", "heat_loss_w")


@dataclass(frozen=True, eq=False, repr=False)
class WeatherCurve(TableSet):
    """The weather curve of a design, from :func:`heatloop.weather_curve`.

    Attributes
    ----------
    weather_curve, room_flow_temps : pandas.DataFrame
        The curve of the system, and the flow temperature that each room requires; the page "Tables" of the
        documentation describes their columns.
    summary : dict
        Key figures by name, each with its unit in the name.

    Examples
    --------
    >>> import heatloop as hl
    >>> curve = hl.weather_curve("data/mill-annexe/survey.toml", [-4.0, 10.0])
    >>> curve.weather_curve["flow_temp_c"].round(1).tolist()
    [66.9, 48.5]
    """

    frames: dict[str, pd.DataFrame]
    facts: dict[str, Any]

    summary_columns = CURVE_SUMMARY
    weather_curve = Table(CURVE)
    room_flow_temps = Table(ROOM_CURVES)

    def flow_temp_c(self, outdoor_c: float) -> float:
        """Flow temperature of the curve at an outdoor temperature between its first and its last row.

        Linear between rows; NaN outside them, and next to a row without a flow temperature.

        Parameters
        ----------
        outdoor_c : float
            Outdoor temperature in °C.

        Returns
        -------
        float
            Flow temperature in °C.

        Examples
        --------
        >>> import heatloop as hl
        >>> curve = hl.weather_curve("data/mill-annexe/survey.toml", [-4.0, 10.0])
        >>> round(curve.flow_temp_c(3.0), 1)
        57.7
        """
        rows = self.frames[CURVE.name][["outdoor_c", "flow_temp_c"]].to_numpy()
        for (cold_c, at_cold_c), (mild_c, at_mild_c) in pairwise(rows):
            if cold_c <= outdoor_c <= mild_c:
                return float(at_cold_c + (at_mild_c - at_cold_c) * (outdoor_c - cold_c) / (mild_c - cold_c))
        return math.nan

    def summary_block(self) -> Summary:
        """The curve and the flow temperature that each room requires, as printed and shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.weather_curve("data/mill-annexe/survey.toml", [-4.0, 10.0]).summary_block().title
        'Mill Annexe, weather curve'
        """
        sentences = [
            "Valves stay at the nearest settings of the design at "
            f"{number(self.facts['design_flow_temp_c'], 1)} °C. Calculated with thermostatic valves open and not "
            "rounded up: the named room just reaches its temperature; the others would be warmer, and in operation "
            "their thermostatic valves throttle. The curve is a calculated minimum."
        ]
        if self.facts["short_rooms"]:
            sentences.append(
                f"Short of heat even at {number(self.facts['max_flow_temp_c'])} °C at the coldest: "
                f"{self.facts['short_rooms']}."
            )
        curve, rooms = self.frames[CURVE.name], self.frames[ROOM_CURVES.name]
        if (apart := rooms["formula_difference_k"].abs().max()) == apart:
            sentences.append(
                "Check: the formula for part load at a constant flow rate differs from the curve of each room by at "
                f"most {number(apart, 1)} K; this is information, not a limit."
            )
        outdoors = curve["outdoor_c"].tolist()
        by_room = rooms.pivot(index="room", columns="outdoor_c", values="flow_temp_c")
        columns = [Column(str(at), f"at {number(at, 0 if at == round(at) else 1)} °C", "", "number", 1)
                   for at in outdoors]  # fmt: skip
        rows = [
            {"room": room, **{str(at): by_room.loc[room, at] for at in outdoors}}
            for room in dict.fromkeys(rooms["room"])
        ]
        grids = (
            grid("Weather curve", curve.to_dict("records"), [CURVE.column(name) for name in LINE]),
            grid("Flow temperature that each room requires, °C, by outdoor temperature", rows,
                 [ROOM_CURVES.column("room"), *columns], NO_HEAT if by_room.isna().any(axis=None) else ""),
        )  # fmt: skip
        return Summary(f"{self.facts['project']}, weather curve", tuple(sentences), grids)

    def __repr__(self) -> str:
        count = plural(len(self.frames[CURVE.name]), "outdoor temperature")
        return f"<WeatherCurve of {self.facts['project']!r}: {count}>"
