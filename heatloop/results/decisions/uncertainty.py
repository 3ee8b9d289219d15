"""Uncertainty: the chance that each room is warm, the range of its margin, and the share of each input in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from heatloop.text.column import (
    Column,
    TableDescription,
    change_column,
    count_column,
    number_column,
    share_column,
    text_column,
)
from heatloop.text.formatting import number
from heatloop.text.summary import Summary, grid
from heatloop.text.table_set import Table, TableSet

ALL_ROOMS = "all rooms together"

CHANCES = TableDescription(
    "room_chances",
    "Chance that each room is warm",
    "Share of the samples in which each heated room reaches its temperature, and the range of its margin.",
    (
        text_column("room", "Room"),
        share_column("warm_share", "Chance", "share of the samples in which the room is warm"),
        change_column("design_margin_w", "Margin, as set", "W", 0, "heat to the room minus back loss and heat loss, "
                      "without deviations: valves at their nearest settings, thermostatic valves open, pump as set; "
                      "the margin of the design is that with the calculated settings"),
        change_column("low_margin_w", "Low", "W", 0, "5 of 100 samples have a smaller margin"),
        change_column("median_margin_w", "Median", "W", 0, "half of the samples have a smaller margin"),
        change_column("high_margin_w", "High", "W", 0, "95 of 100 samples have a smaller margin"),
        text_column("main_input", "Matters most", "the input with the largest share of the variance"),
    ),
)  # fmt: skip

SHARES = TableDescription(
    "input_shares",
    "Share of each input",
    "Share of each uncertain input in the variance of the margin of each room, and of the smallest margin.",
    (
        text_column("room", "Room", "or all rooms together: the smallest margin relative to the heat loss"),
        text_column("input", "Input"),
        share_column("first_share", "By itself", "first-order index", "Saltelli and others (2010)"),
        share_column("total_share", "In total", "with the interactions with other inputs", "Jansen (1999)"),
    ),
)

INPUTS = TableDescription(
    "uncertain_inputs",
    "Uncertain inputs",
    "The bands: deviations from the values of the design.",
    (
        text_column("input", "Input"),
        number_column("low", "Low", "", 2, "lowest deviation; of a normal band, 95 of 100 values are between the ends"),
        number_column("high", "High", "", 2),
        text_column("unit", "Unit", "blank for valve settings, which are numbers of positions"),
        text_column("shape", "Shape"),
    ),
)

UNCERTAINTY_SUMMARY: tuple[Column, ...] = (
    text_column("project", "Project"),
    count_column("samples", "Samples", "for chances and ranges"),
    count_column("solved", "Solutions of the system", "with those for the shares"),
    count_column("seed", "Seed", "the same seed gives the same samples"),
    share_column("all_warm_share", "All rooms warm", "share of the samples in which every heated room is warm"),
    text_column("main_input", "Matters most", "for the smallest margin of the house"),
)

SHOWN = {
    "room": "Room", "warm_share": "Warm", "design_margin_w": "As set", "low_margin_w": "Low",
    "median_margin_w": "Median", "high_margin_w": "High", "main_input": "Matters most",
}  # fmt: skip


@dataclass(frozen=True, eq=False, repr=False)
class Uncertainty(TableSet):
    """The chance that each room is warm, from :func:`heatloop.uncertainty`.

    Attributes
    ----------
    room_chances, input_shares, uncertain_inputs : pandas.DataFrame
        Chance and range of each room, share of each input, and the bands; the page "Tables" of the documentation
        describes their columns.
    margins_w : pandas.DataFrame
        Margin in W of each room (columns) in each sample (rows).
    summary : dict
        Key figures by name.

    Examples
    --------
    >>> import heatloop as hl
    >>> found = hl.uncertainty("data/mill-annexe/survey.toml", {"fabric": 10.0}, samples=64)
    >>> found.room_chances["main_input"].tolist()
    ['heat loss through the fabric']
    """

    frames: dict[str, pd.DataFrame]
    facts: dict[str, Any]
    margins_w: pd.DataFrame

    summary_columns = UNCERTAINTY_SUMMARY
    room_chances = Table(CHANCES)
    input_shares = Table(SHARES)
    uncertain_inputs = Table(INPUTS)

    def summary_block(self) -> Summary:
        """Chances, ranges and the shares for the whole house, as printed and shown in a notebook.

        Examples
        --------
        >>> import heatloop as hl
        >>> found = hl.uncertainty("data/mill-annexe/survey.toml", {"fabric": 10.0}, samples=64)
        >>> found.summary_block().title
        'Mill Annexe, uncertainty'
        """
        facts = self.facts
        sentences = [
            f"All rooms are warm in {number(100.0 * facts['all_warm_share'])} % of {number(facts['samples'])} samples.",
            "Valves are at their nearest settings, thermostatic valves open, the pump as set. The margins as set, "
            "without deviations, therefore differ a little from those of the design, which has calculated settings.",
        ]
        if facts["main_input"]:
            sentences.append(f"For the coldest room, the input that matters most is: {facts['main_input']}.")
        shares = self.frames[SHARES.name]
        of_house = shares[shares["room"] == ALL_ROOMS]
        chances = grid(
            "Chance that each room is warm, and its margin: 90 of 100 samples are between low and high",
            self.frames[CHANCES.name].to_dict("records"), CHANCES.headed(SHOWN),
        )  # fmt: skip
        inputs = grid(
            "Share of each input in the variance of the smallest margin",
            of_house.to_dict("records"),
            SHARES.columns[1:],
        )
        return Summary(f"{facts['project']}, uncertainty", tuple(sentences), (chances, inputs))

    def __repr__(self) -> str:
        return f"<Uncertainty of {self.facts['project']!r}: {self.facts['samples']} samples>"
