"""What a parts list and a quotation tell of themselves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from heatloop.text.formatting import listing, number, plural
from heatloop.text.summary import Account, Grid, grid

PARTS = {
    "item": "Item",
    "order_quantity": "Order",
    "unit": "Unit",
    "packs": "Packs",
    "pack": "Pack",
    "estimate": "Estimate",
    "note": "Note",
}
QUOTED = {
    "item": "Item",
    "pack": "Pack",
    "quantity_order": "Ordered",
    "unit": "Unit",
    "price": "Price",
    "cost_order": "Cost",
    "labour_min": "Labour",
    "note": "Note",
}
FIGURES = ("Order", "Ordered", "Packs", "Price", "Cost", "Labour")


def handover_account(facts: Mapping[str, Any], parts: pd.DataFrame) -> Account:
    """What is ordered and cut, and whether every straight has room to grow."""
    rows = [
        {
            **row,
            "packs": "" if pd.isna(row["packs"]) else str(row["packs"]),
            "order_quantity": f"{row['order_quantity']:g}",
        }
        for row in _records(parts)
    ]
    stuck = int(facts["straights_without_room"])
    sentences = [f"{plural(int(facts['pieces']), 'piece')}, {number(facts['profile_m'], 1)} m of profile."]
    if "bars" in facts:
        bars = f"{plural(int(facts['bars']), 'bar')}, {number(facts['stock_m'], 1)} m"
        sentences.append(f"Cut from {bars}; {number(facts['waste_m'], 2)} m waste. {facts['cut_message']}.")
    sentences.append(
        f"{plural(stuck, 'straight has', 'straights have')} no room to grow." if stuck else "Every straight can grow."
    )
    if facts["estimate"]:
        sentences.append(f"Of it {number(facts['estimate_m'], 1)} m are an estimate, before a survey.")
    return Account(f"{facts['project']}, parts", tuple(sentences), (_with_figures(grid("Parts", rows, PARTS)),))


def quotation_account(
    facts: Mapping[str, Any], table: pd.DataFrame, missing: Sequence[str], project: str = ""
) -> Account:
    """The priced parts list with its totals, without waste and as ordered."""
    money = facts["currency"]
    rows = [
        {**row, "price": number(row["price"], 2), "cost_order": number(row["cost_order"], 2)} for row in _records(table)
    ]
    sentences = [
        f"As ordered {number(facts['cost_order'], 2)} {money}, of which {number(facts['cost_net'], 2)} {money} is "
        f"fitted; {number(facts['labour_min'] / 60.0, 1)} hours of labour."
    ]
    if facts["estimate"]:
        sentences.append("An estimate: some rooms are quoted before their survey.")
    if missing:
        told = plural(len(missing), "item has", "items have")
        sentences.append(f"Not complete: {told} no price ({listing(missing)}).")
    title = f"{project}, quotation" if project else "Quotation"
    return Account(title, tuple(sentences), (_with_figures(grid(f"Lines, prices in {money}", rows, QUOTED)),))


def _with_figures(one: Grid) -> Grid:
    right = tuple(heading.split(",")[0] in FIGURES for heading in one.headings)
    return Grid(one.caption, one.headings, one.rows, right)


def _records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(key): value for key, value in row.items()} for row in frame.to_dict("records")]
