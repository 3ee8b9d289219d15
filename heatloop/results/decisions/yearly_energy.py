"""Energy of a year: heat, energy and running cost by outdoor temperature."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.text.column import Column, TableDescription, number_column, share_column, text_column
from heatloop.text.formatting import number, plural
from heatloop.text.summary import Summary, grid
from heatloop.text.table_set import Table, TableSet

YEAR_BINS = TableDescription(
    "year_bins",
    "Energy of a year",
    "Heat, energy and cost of the hours at each outdoor temperature, coldest first.",
    (
        number_column("outdoor_c", "Outdoor", "°C", 1),
        number_column("hours", "Hours", "", 0, "of the year"),
        number_column("flow_temp_c", "Flow", "°C", 1, "at the source; blank where no heat is required"),
        number_column("heat_required_w", "Heat required", "W", 0, "heat loss of the heated rooms, less what sun and "
                      "people cover", "EN 12831-1"),
        number_column("net_heat_to_rooms_w", "Net heat to rooms", "W", 0, "with thermostatic valves in control; more "
                      "than required where a room has no valve of its own"),
        number_column("shortage_w", "Shortage", "W", 0, "of rooms that get less than they require, for example on the "
                      "sensor of another room"),
        number_column("back_loss_w", "Back loss", "W", 0, "through walls behind skirting"),
        number_column("pipe_loss_w", "Pipe loss", "W", 0, "of pipes and trunks, and below floor sections"),
        number_column("source_heat_w", "Heat from source", "W", 0),
        number_column("efficiency", "Efficiency", "", 2, "heat over energy of the source, at part load", "EN 14825"),
        share_column("load_ratio", "Load", "heat from the source over the source output"),
        number_column("source_heat_kwh", "Heat", "kWh", 0, "that the system takes from source and backup"),
        number_column("energy_kwh", "Energy", "kWh", 0, "for the source"),
        number_column("backup_energy_kwh", "Backup", "kWh", 0, "energy for the backup"),
        number_column("uncovered_heat_kwh", "Not covered", "kWh", 0, "heat beyond the source output, without backup"),
        number_column("cost", "Cost", "", 2, "in the currency of the year file"),
    ),
)  # fmt: skip

YEAR_SUMMARY: tuple[Column, ...] = (
    text_column("project", "Project"),
    text_column("year", "Weather and source"),
    text_column("currency", "Currency"),
    text_column("flow_temperature", "Flow temperature", "weather curve, or constant"),
    number_column("source_heat_kwh", "Heat", "kWh", 0, "that the system takes from source and backup"),
    number_column("net_heat_to_rooms_kwh", "Net heat to rooms", "kWh", 0),
    number_column("max_shortage_w", "Maximum shortage", "W", 0, "of rooms that get less than they require"),
    number_column("loss_kwh", "Losses", "kWh", 0, "back loss, pipe loss, and loss below floor sections"),
    number_column("energy_kwh", "Energy", "kWh", 0, "for the source while it heats"),
    number_column("backup_energy_kwh", "Backup", "kWh", 0, "energy for the backup"),
    number_column("standby_energy_kwh", "Standby", "kWh", 0, "energy for the source in hours without heating"),
    number_column("uncovered_heat_kwh", "Not covered", "kWh", 0, "heat beyond the source output, without backup"),
    number_column("cost", "Cost", "", 2),
    number_column("seasonal_performance", "Seasonal performance", "", 2, "heat over all energy", "EN 14825"),
    number_column("mean_flow_temp_c", "Mean flow temperature", "°C", 1, "weighted by heat"),
    number_column("heating_hours", "Heating", "h", 0),
    number_column("full_load_hours", "Full-load hours", "h", 0, "heat over the heat from the source at the coldest "
                  "temperature of the year file"),
    number_column("degree_days", "Degree days", "K d", 0, "below the base temperature, or below the mean of the rooms"),
    number_column("bivalent_c", "Bivalent point", "°C", 1, "outdoor temperature below which the source output is too "
                  "small; blank where it is enough"),
)  # fmt: skip

NOTABLE_SHORTAGE = 0.02
"""Shortage of rooms as a share of the heat required above which the summary states it."""

SHOWN = {
    "outdoor_c": "Outdoor", "hours": "Hours", "flow_temp_c": "Flow",
    "net_heat_to_rooms_w": "To rooms after sun and people", "source_heat_w": "From source",
    "efficiency": "Efficiency", "energy_kwh": "Energy", "backup_energy_kwh": "Backup", "cost": "Cost",
}  # fmt: skip


@dataclass(frozen=True, eq=False, repr=False)
class YearlyEnergy(TableSet):
    """Heat, energy and cost of a year, from :func:`heatloop.yearly_energy`.

    Attributes
    ----------
    year_bins : pandas.DataFrame
        Heat, energy and cost by outdoor temperature; the page "Tables" of the documentation describes its columns.
    summary : dict
        Key figures by name, each with its unit in the name.

    Examples
    --------
    >>> import heatloop as hl
    >>> year = hl.yearly_energy("data/mill-annexe/survey.toml", "data/mill-annexe/year.toml")
    >>> year.summary["currency"]
    'EUR'
    """

    frames: dict[str, pd.DataFrame]
    facts: dict[str, Any]

    summary_columns = YEAR_SUMMARY
    year_bins = Table(YEAR_BINS)

    def summary_block(self) -> Summary:
        """Energy and cost with the table by outdoor temperature, as printed and shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> year = hl.yearly_energy("data/mill-annexe/survey.toml", "data/mill-annexe/year.toml")
        >>> year.summary_block().title
        'Mill Annexe, energy of a year'
        """
        facts = self.facts
        energy_kwh = facts["energy_kwh"] + facts["backup_energy_kwh"] + facts["standby_energy_kwh"]
        sentences = [
            f"Energy: {number(energy_kwh)} kWh for {number(facts['source_heat_kwh'])} kWh of heat; seasonal "
            f"performance {number(facts['seasonal_performance'], 2)}. Cost: {number(facts['cost'])} "
            f"{facts['currency']}.",
            f"Heat: {number(facts['net_heat_to_rooms_kwh'])} kWh to the rooms, {number(facts['loss_kwh'])} kWh lost.",
            f"Flow temperature: {facts['flow_temperature']}, mean {number(facts['mean_flow_temp_c'], 1)} °C. Weather "
            f"and source: {facts['year']}.",
        ]
        if (at_c := facts["bivalent_c"]) == at_c:
            rest = "the backup gives the rest" if facts["uncovered_heat_kwh"] == 0.0 else (
                f"{number(facts['uncovered_heat_kwh'])} kWh are not covered: rooms stay colder"
            )  # fmt: skip
            sentences.append(f"The source output is too small below {number(at_c, 1)} °C outdoors; {rest}.")
        rows = self.frames[YEAR_BINS.name]
        worst = max(rows.to_dict("records"), key=lambda row: row["shortage_w"])
        if worst["shortage_w"] > NOTABLE_SHORTAGE * worst["heat_required_w"]:
            at_c = number(worst["outdoor_c"], 1)
            sentences.append(f"Rooms are short of heat: {number(worst['shortage_w'])} W at {at_c} °C outdoors.")
        table = grid(
            f"By outdoor temperature, cost in {facts['currency']}", rows.to_dict("records"), YEAR_BINS.headed(SHOWN)
        )
        return Summary(f"{facts['project']}, energy of a year", tuple(sentences), (table,))

    def __repr__(self) -> str:
        count = plural(len(self.frames[YEAR_BINS.name]), "outdoor temperature")
        return f"<YearlyEnergy of {self.facts['project']!r}: {count}>"
