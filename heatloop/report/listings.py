"""What the other commands print: a rated system, two designs side by side, a quotation; plain text of 100 columns."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import pandas as pd

from heatloop.describe import Account, Grid, as_text, grid, named_unit, told
from heatloop.wording import listing, number, plural, printable

if TYPE_CHECKING:
    from heatloop.handover.price import Quotation
    from heatloop.rate import Rating

RATED_LOOPS = {
    "loop": "Loop",
    "state": "State",
    "flow_l_h": "Flow",
    "flow_percent": "Of design",
    "flow_temp_c": "In",
    "return_temp_c": "Back",
    "output_w": "Output",
    "max_velocity_m_s": "Fastest",
}
RATED_ROOMS = {
    "room": "Room",
    "indoor_c": "Indoor",
    "heat_loss_w": "Loss",
    "output_w": "Output",
    "margin_w": "Margin",
    "warm": "Warm",
    "governs": "Governs loop",
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
DIFFERING = {
    "what": "What",
    "name": "Name",
    "quantity": "Quantity",
    "before": "Before",
    "after": "After",
    "change": "Change",
}

PARTS = (("job", "The job"), ("room", "Rooms"), ("loop", "Loops"), ("check", "Checks"))


def rating_text(rating: Rating) -> str:
    """A system as it runs: loops with their state, rooms that are warm or not, source and pump."""
    facts = rating.summary
    rooms = [{**row, "warm": "yes" if row["satisfied"] else "no"} for row in _records(rating.rooms)]
    states = [(facts[f"loops_{state}"], state) for state in ("open", "throttled", "shut")]
    loops = listing(f"{count} {state}" for count, state in states if count)
    cold = int(facts["rooms_cold"])
    return as_text(
        Account(
            f"{facts['project']}, as it runs: flow {told('a_c', facts['flow_temp_c'])} °C, outdoors "
            f"{told('a_c', facts['outdoor_c'])} °C",
            (
                f"{plural(cold, 'room stays', 'rooms stay')} cold." if cold else "Every room with skirting is warm.",
                f"Loops: {loops}.",
                f"Source gives {number(facts['source_w'])} W, {number(facts['source_flow_l_h'])} l/h, back at "
                f"{told('a_c', facts['return_temp_c'])} °C; pump {number(facts['pump_head_kpa'], 1)} kPa, "
                f"{facts['pump_control']}.",
            ),
            (grid("Rooms", rooms, RATED_ROOMS), grid("Loops", _records(rating.loops), RATED_LOOPS)),
        )
    )


def comparison_text(before: str, after: str, differing: pd.DataFrame) -> str:
    """Two designs side by side: what is another in the job, rooms, loops and checks, as far as it can be read."""
    title = f"Before: {before}. After: {after}."
    rows = [row for row in map(_compared, _records(differing)) if row["before"] != row["after"]]
    if not rows:
        return as_text(Account(title, ("Nothing differs that can be read.",)))
    grids = [_part(rows, what, caption) for what, caption in PARTS if any(row["what"] == what for row in rows)]
    return as_text(Account(title, (f"{plural(len(rows), 'figure differs', 'figures differ')}.",), tuple(grids)))


def _part(rows: list[dict[str, object]], what: str, caption: str) -> Grid:
    own = [row for row in rows if row["what"] == what]
    words = {key: heading for key, heading in DIFFERING.items() if key != "what" and (key != "name" or what != "job")}
    found = grid(caption, own, words)
    right = tuple(heading in ("Before", "After", "Change") for heading in found.headings)
    return Grid(found.caption, found.headings, found.rows, right)


def _compared(row: Mapping[str, Any]) -> dict[str, object]:
    """A row as it is read: quantity in words with its unit, values by their unit."""
    name = str(row["quantity"])
    heading, unit, _ = named_unit(name)
    change = row["change"]
    shown = "" if change != change else told(name, change)
    sign = "+" if shown and change > 0 and shown.strip("0.") else ""
    return {
        "what": row["what"],
        "name": printable(row["name"]),
        "quantity": (f"{heading}, {unit}" if unit else heading) if row["what"] != "check" else name,
        "before": told(name, row["before"]),
        "after": told(name, row["after"]),
        "change": f"{sign}{shown}",
    }


def quotation_text(project: str, quotation: Quotation) -> str:
    """The priced parts list with its totals, without waste and as ordered."""
    facts = quotation.summary
    money = quotation.currency
    rows = [
        {**row, "price": number(row["price"], 2), "cost_order": number(row["cost_order"], 2)}
        for row in _records(quotation.table)
    ]
    sentences = [
        f"As ordered {number(facts['cost_order'], 2)} {money}, of which {number(facts['cost_net'], 2)} {money} is "
        f"fitted; {number(facts['labour_min'] / 60.0, 1)} hours of labour.",
    ]
    if facts["estimate"]:
        sentences.append("An estimate: some rooms are quoted before their survey.")
    if quotation.missing:
        missing = plural(len(quotation.missing), "item has", "items have")
        sentences.append(f"Not complete: {missing} no price ({listing(quotation.missing)}).")
    found = grid(f"Lines, prices in {money}", rows, QUOTED)
    right = tuple(heading.split(",")[0] in ("Ordered", "Price", "Cost", "Labour") for heading in found.headings)
    lines = Grid(found.caption, found.headings, found.rows, right)
    return as_text(Account(f"{project}, quotation", tuple(sentences), (lines,)))


def _records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(key): value for key, value in row.items()} for row in frame.to_dict("records")]
