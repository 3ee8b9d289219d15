"""Summary of a parts list."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from heatloop.handover.parts import tables
from heatloop.text.column import Column, count_column, flag_column, number_column, residual_column, text_column
from heatloop.text.formatting import number, plural
from heatloop.text.summary import Summary, grid

ORDERED = {
    "item": "Item",
    "order_quantity": "Order",
    "unit": "Unit",
    "pack_count": "Packs",
    "pack": "Pack",
    "is_estimate": "Estimate",
    "note": "Note",
}
"""Columns of the parts list in a summary, with short headings."""

PARTS_SUMMARY: tuple[Column, ...] = (
    text_column("project", "Project"),
    count_column("pieces", "Pieces"),
    number_column("profile_m", "Profile", "m", 1, "cut lengths of all surveyed pieces"),
    count_column("straights", "Straight lengths", "between two corners or ends"),
    count_column("restrained_straight_lengths", "Restrained straight lengths"),
    count_column("anchors", "Anchors", "fixings in the middle of a straight length"),
    flag_column("movement_possible", "All straight lengths are free to expand"),
    number_column("installation_temp_c", "Installation temperature", "°C", 1),
    count_column("items", "Items"),
    flag_column("is_estimate", "Estimate", "includes rooms that have not been surveyed"),
    number_column("estimate_m", "Estimated profile", "m", 1),
    count_column("bars", "Bars"),
    number_column("stock_m", "Stock", "m", 1),
    number_column("kerf_m", "Saw kerfs", "m", 2),
    number_column("offcuts_m", "Offcuts kept", "m", 2),
    number_column("waste_m", "Waste", "m", 2),
    residual_column("cut_balance_mm", "Residual of the cutting balance"),
    flag_column("cut_proved", "Cutting plan proved", "it is proved that no plan requires less stock"),
    text_column("cut_message", "Cutting plan"),
)


def parts_summary(facts: Mapping[str, Any], parts: pd.DataFrame) -> Summary:
    """Order, cutting plan and thermal movement in sentences, with the table of parts."""
    stuck = int(facts["restrained_straight_lengths"])
    sentences = [f"{plural(int(facts['pieces']), 'piece')}, {number(facts['profile_m'], 1)} m of profile."]
    if "bars" in facts:
        bars = f"{plural(int(facts['bars']), 'bar')}, {number(facts['stock_m'], 1)} m"
        sentences.append(f"Cut from {bars}; {number(facts['waste_m'], 2)} m waste. {facts['cut_message']}.")
    sentences.append(
        f"{plural(stuck, 'straight length is', 'straight lengths are')} restrained: no room for expansion."
        if stuck
        else "All straight lengths are free to expand."
    )
    if facts["is_estimate"]:
        sentences.append(
            f"{number(facts['estimate_m'], 1)} m of this is estimated: one or more rooms have not been surveyed."
        )
    shown = grid("Parts", parts.to_dict("records"), tables.PARTS.headed(ORDERED))
    return Summary(f"{facts['project']}, parts", tuple(sentences), (shown,))
