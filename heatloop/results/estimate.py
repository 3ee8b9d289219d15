"""The answer before a survey, by flow temperature: metres required and available, rooms that are short, price."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import pandas as pd

from heatloop.text.column import Column, TableDescription, count_column, number_column, text_column
from heatloop.text.formatting import listing, number, plural
from heatloop.text.summary import Summary, grid
from heatloop.text.table_set import Table, TableSet

Answer = Literal["yes", "probably", "no"]

BY_TEMPERATURE = TableDescription(
    "estimate_temperatures",
    "By flow temperature",
    "Skirting that the house requires at each flow temperature: an estimate with its range.",
    (
        number_column("flow_temp_c", "Flow temperature", "°C", 0),
        text_column("answer", "Enough wall", "yes: in every room, also at the upper end of the range; probably: in "
                    "every room for the estimate, not at the upper end; no: at least one room is short"),
        number_column("needed_m", "Skirting needed", "m", 1, "all rooms together"),
        number_column("needed_min_m", "Needed at least", "m", 1),
        number_column("needed_max_m", "Needed at most", "m", 1),
        number_column("available_m", "Available wall", "m", 1, "length of wall for skirting in the list of rooms"),
        count_column(
            "rooms_with_too_little_wall",
            "Rooms with too little wall",
            "rooms that require more skirting than the available wall",
        ),
        count_column("rooms_doubtful", "Rooms that may be short", (
            "rooms that are short only at the upper end of the "
            "range"
        )),
        number_column("price", "Price", "", 0, "price of the skirting needed, or of what fits on the wall"),
        number_column("price_min", "Price, lower end", "", 0),
        number_column("price_max", "Price, upper end", "", 0),
        text_column("note", "Note"),
    ),
)  # fmt: skip

BY_ROOM = TableDescription(
    "estimate_rooms",
    "Rooms",
    "Skirting that each room requires at each flow temperature: an estimate with its range.",
    (
        text_column("room", "Room"),
        number_column("flow_temp_c", "Flow temperature", "°C", 0),
        text_column("answer", "Enough wall"),
        number_column("heat_loss_w", "Heat loss", "W", 0),
        number_column("output_w_m", "Output", "W/m", 0, "net heat to the room per metre of skirting"),
        number_column("needed_m", "Needed", "m", 1),
        number_column("needed_min_m", "Needed at least", "m", 1),
        number_column("needed_max_m", "Needed at most", "m", 1),
        number_column("available_m", "Available wall", "m", 1),
    ),
)

ESTIMATE_SUMMARY: tuple[Column, ...] = (
    text_column("project", "Project"),
    number_column("outdoor_c", "Outdoor", "°C", 1),
    number_column("heat_loss_w", "Heat loss", "W", 0),
    number_column(
        "loss_range_percent", "Range of the heat losses", "%", 0, "range above and below the stated heat losses"
    ),
    number_column(
        "lowest_sure_c",
        "Lowest flow with enough wall",
        "°C",
        0,
        "lowest flow temperature at which every room has enough wall, also at the upper end of the range",
    ),
    number_column("lowest_probable_c", "Lowest flow with probably enough wall", "°C", 0),
    text_column("currency", "Currency"),
)

SHOWN = {
    "flow_temp_c": "Flow temp.", "answer": "Wall", "needed_m": "Skirting needed",
    "needed_min_m": "Needed, minimum", "needed_max_m": "Needed, maximum",
    "available_m": "Available wall", "rooms_with_too_little_wall": "Rooms with too little wall",
}  # fmt: skip

SHOWN_PRICES = {"price": "Price", "price_min": "Price, minimum", "price_max": "Price, maximum"}

WALL_WORDS = {"yes": "enough", "probably": "probably enough", "no": "too little"}
"""The answers as printed."""

PRICE_NOTE = (
    "Price: in each room for the skirting needed, or for the available wall if that is shorter. Where there is too "
    "little wall, the skirting that is priced is not sufficient."
)


@dataclass(frozen=True, eq=False, repr=False)
class EstimateResult(TableSet):
    """The answer before a survey.

    `assumptions`: the causes of the range and the other assumptions of the estimate, one sentence each.
    """

    frames: dict[str, pd.DataFrame]
    facts: dict[str, Any]
    assumptions: tuple[str, ...]

    summary_columns = ESTIMATE_SUMMARY
    temperatures = Table(BY_TEMPERATURE)
    rooms = Table(BY_ROOM)

    @property
    def answer(self) -> str:
        """Whether skirting can heat the house, and at which flow temperatures, in two or three sentences."""
        rows = self.frames[BY_TEMPERATURE.name].to_dict("records")
        sure, probable = self.facts["lowest_sure_c"], self.facts["lowest_probable_c"]
        sentences = []
        if sure == sure:
            sentences.append(
                f"At {number(sure)} °C and above, every room has enough wall, also at the upper end of the range."
            )
        if probable == probable and probable != sure:
            sentences.append(
                f"At {number(probable)} °C, the wall is probably enough, but not at the upper end of the range."
            )
        if probable != probable:
            sentences.append("At none of these temperatures is there enough wall in every room.")
        if short := [row for row in rows if row["answer"] == "no"]:
            sentences.append(f"At {number(short[-1]['flow_temp_c'])} °C, {self._short(short[-1])}.")
        return " ".join(sentences)

    def _short(self, row: dict[Any, Any]) -> str:
        """Rooms that are short of heat at a temperature."""
        rooms = self.frames[BY_ROOM.name]
        names = rooms[(rooms["flow_temp_c"] == row["flow_temp_c"]) & (rooms["answer"] == "no")]["room"].tolist()
        if not names:
            return str(row["note"] or "no room can be calculated")
        shown = listing(names) if len(names) <= 4 else f"{', '.join(names[:3])} and {len(names) - 3} more"
        return f"{plural(len(names), 'room has', 'rooms have')} too little wall: {shown}"

    def summary_block(self) -> Summary:
        """Answer and table by flow temperature, as printed and shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl, pandas as pd
        >>> rooms = {"name": ["Den"], "indoor_c": [20.0], "heat_loss_w": [500.0], "estimated_wall_m": [9.0]}
        >>> survey = hl.survey_from_schedule(pd.DataFrame(rooms), "data/alder-lodge/catalogue.toml", -3.0, 50.0)
        >>> hl.estimate(survey, flow_temps_c=[55.0]).summary_block().title
        'Estimate'
        """
        shown = {**SHOWN, **(SHOWN_PRICES if self.facts["currency"] else {})}
        money = f", prices in {self.facts['currency']}" if self.facts["currency"] else ""
        table = grid(
            f"Length of skirting by flow temperature{money}",
            [
                row | {"answer": WALL_WORDS[row["answer"]]}
                for row in self.frames[BY_TEMPERATURE.name].to_dict("records")
            ],
            BY_TEMPERATURE.headed(shown),
            PRICE_NOTE if self.facts["currency"] else "",
        )
        sentences = ("Estimate before the survey: no wall has been measured.", self.answer)
        return Summary(estimate_title(self.facts), sentences, (table,))

    def __repr__(self) -> str:
        count = len(self.frames[BY_TEMPERATURE.name])
        return f"<Estimate of {self.facts['project']!r}: {plural(count, 'flow temperature')}>"


def estimate_title(facts: Mapping[str, Any]) -> str:
    """The project's name and the word estimate, once where the project is called so."""
    project = str(facts["project"])
    return project if project.casefold() == "estimate" else f"{project}, estimate"
