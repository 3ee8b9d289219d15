"""The lowest flow temperature at which all rooms reach their temperature, with the margin of each room there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.text.column import Column, TableDescription, change_column, number_column, text_column
from heatloop.text.formatting import number
from heatloop.text.summary import Summary, grid
from heatloop.text.table_set import Table, TableSet

RESIZED, KEPT = "resized", "kept"
"""Presettings: set again for each flow temperature, or as the design sets them."""

MARGINS = TableDescription(
    "margins",
    "Rooms at the lowest flow temperature",
    "Heat loss and heat of each heated room at the lowest flow temperature, the room with the smallest margin first.",
    (
        text_column("room", "Room"),
        number_column("heat_loss_w", "Heat loss", "W", 0),
        number_column("net_heat_to_rooms_w", "Net heat to rooms", "W", 0, "heat to rooms minus back loss"),
        change_column("margin_w", "Margin", "W", 0),
    ),
)

LOWEST_SUMMARY: tuple[Column, ...] = (
    text_column("project", "Project"),
    number_column("outdoor_c", "Outdoor", "°C", 1),
    number_column("flow_temp_c", "Lowest flow temperature", "°C", 1, "at the source"),
    text_column("room", "Determined by", "the room with the smallest margin"),
    text_column("presettings", "Presettings", "resized or kept, as requested"),
    number_column("design_flow_temp_c", "Flow, design", "°C", 1, "flow temperature of the survey"),
)  # fmt: skip

HOW = {
    RESIZED: "Valves set anew (presettings: resized). Each flow temperature that was tried is a separate design "
    "with its own flows and valve settings.",
    KEPT: "Valves kept (presettings: kept). They stay at their nearest settings in the design, thermostatic valves "
    "open, the pump as commissioned; the flows are those that result.",
}


STEP_WORDS = {RESIZED: "lowest step of 0.1 °C", KEPT: "rounded up to 0.1 °C"}
"""How the temperature is stated to 0.1 °C: each step is a separate design, or the exact temperature is rounded up."""


@dataclass(frozen=True, eq=False, repr=False)
class LowestFlowResult(TableSet):
    """The lowest flow temperature (°C at the source), the room that determines it, and the margins of all rooms."""

    flow_temp_c: float
    room: str
    frames: dict[str, pd.DataFrame]
    facts: dict[str, Any]

    summary_columns = LOWEST_SUMMARY
    margins = Table(MARGINS)

    @property
    def presettings(self) -> str:
        """Presettings: "resized" or "kept".

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.lowest_flow_temperature("data/mill-annexe/survey.toml").presettings
        'resized'
        """
        return str(self.facts["presettings"])

    def summary_block(self) -> Summary:
        """The temperature, the room that determines it and all margins, as printed and shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> hl.lowest_flow_temperature("data/mill-annexe/survey.toml").summary_block().title
        'Mill Annexe, lowest flow temperature'
        """
        sentences = (
            f"{number(self.flow_temp_c, 1)} °C ({STEP_WORDS[self.presettings]}), determined by {self.room} (survey: "
            f"{number(self.facts['design_flow_temp_c'], 1)} °C; outdoor {number(self.facts['outdoor_c'], 1)} °C).",
            HOW[self.presettings],
        )
        margins = grid("Rooms at this flow temperature", self.frames[MARGINS.name].to_dict("records"), MARGINS.columns)
        return Summary(f"{self.facts['project']}, lowest flow temperature", sentences, (margins,))

    def __repr__(self) -> str:
        return f"<LowestFlowTemperature of {self.facts['project']!r}: {self.flow_temp_c:g} °C, {self.room}>"
